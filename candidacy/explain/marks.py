"""Which marks and colours an assessment may bear: ticks and green for considered discs alone, and none beside an emergency.

Marks are asked for by what is shown (an outcome or a standing) and the subject it is of, so that text, pages, print and
screens cannot differ.
"""

from candidacy.explain.document import AssessmentDocument, DiscInfo
from candidacy.explain.labels import SHOWN, STANDING_SYMBOLS, standing_words
from candidacy.rules.vocabulary import STANDINGS

# What bears a tick, and green with it.
_TICKED = ("pass", "candidate")
PLAIN = "plain"
NOT_CONSIDERED = "not_considered"
_CONSIDERED_WORDS = {"met": "considered", "unknown": "considered?", "not_met": ""}


class Marks:
    """The marks of one assessment."""

    def __init__(self, document: AssessmentDocument) -> None:
        self._considered = {disc.level: disc.considered for disc in document.discs}
        self._criteria = document.criteria
        self.urgent = document.standing == "urgent" or any(
            companion.standing == "urgent" for companion in document.companions
        )
        """Whether anything here is an emergency: beside it nothing is ticked or green."""

    def tone(self, shown: str, subject: str = "patient") -> str:
        """The colour of a mark: its own, or ``plain`` or ``not_considered``, which are none."""
        considered = self._of(subject)
        if considered == "not_met" and shown != "urgent":
            return NOT_CONSIDERED
        return PLAIN if self._unticked(shown, considered) else shown

    def symbol(self, shown: str, subject: str = "patient") -> str:
        """The sign of an outcome or a standing; empty where it may not be ticked."""
        signs = STANDING_SYMBOLS.get(shown) or SHOWN[shown][0]
        return "" if self._unticked(shown, self._of(subject)) else signs

    def row(self, shown: str, subject: str = "patient") -> str:
        """Sign and word of an outcome at the head of its row."""
        return f"{self.symbol(shown, subject)} {SHOWN[shown][1]}".strip()

    def cell(self, shown: str, subject: str) -> str:
        """Sign and word of an outcome in a table of discs; of a disc that is not considered the word alone."""
        return SHOWN[shown][1].lower() if self._of(subject) == "not_met" else self.row(shown, subject)

    def disc(self, disc: DiscInfo) -> str:
        """Sign and name of a disc's standing; one that is not considered bears neither, unless it is urgent."""
        if disc.considered == "not_met" and disc.standing != "urgent":
            return "not considered"
        name = disc.standing_name or STANDINGS[disc.standing]
        return f"{self.symbol(disc.shown, disc.level)} {name}".strip()

    def standing(self, shown: str, name: str) -> str:
        """Sign and name of a standing beside that of the case."""
        return name if self._unticked(shown, "met") else standing_words(shown, name)

    def tally(self) -> list[tuple[str, str, int]]:
        """How many outcomes bear each mark: mark, sign with word, and number; discs not considered are left out."""
        counts: dict[str, int] = {}
        for row in self._criteria:
            if self._of(row.subject) != "not_met":
                counts[row.shown] = counts.get(row.shown, 0) + 1
        return [(shown, self.row(shown), counts[shown]) for shown in SHOWN if shown in counts]

    def _of(self, subject: str) -> str:
        return self._considered.get(subject, "met")

    def _unticked(self, shown: str, considered: str) -> bool:
        return shown in _TICKED and (self.urgent or considered != "met")


def marks_of(document: AssessmentDocument) -> Marks:
    """The marks of an assessment."""
    return Marks(document)


def level_words(disc: DiscInfo) -> str:
    """A disc with whether it is considered."""
    return f"{disc.level} {_CONSIDERED_WORDS[disc.considered]}".rstrip()
