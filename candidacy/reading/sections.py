"""Which section of a report is in force, from its first line to its last; it knows headings and moods, not medicine."""

import re
from collections.abc import Iterable
from functools import cache
from typing import NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.levels import PATTERN
from candidacy.reading.lexicon import Heading
from candidacy.reading.model import BODY
from candidacy.reading.phrases import any_of

_LEVEL_START = re.compile(
    rf"\s*(?:{PATTERN})\s*(?:level|disc|disk)?s?\s*(?::|\s[-–]\s|\.{{4}}|\.(?:[ \t]\.){{2}}|…{{2}}|$)",
    re.IGNORECASE,
)
_LEVEL = re.compile(PATTERN)
_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")
_LETTERS = re.compile(r"[^\W\d_]+")
_BEFORE = frozenset(("header", "details"))
"""Sections that end with their line."""
_PREAMBLE = frozenset(("technique", "comparison", "history"))
_LONGEST = 400
"""Longer text is no sentence that opens a section."""


class _Cues(NamedTuple):
    """The data file: what speaks of an earlier time, a person, a question, the present; what reports speak of."""

    opens: re.Pattern[str]
    begins: re.Pattern[str]
    images_only: re.Pattern[str]
    title: frozenset[str]
    modality: frozenset[str]
    earlier: re.Pattern[str]
    patient: re.Pattern[str]
    asks: re.Pattern[str]
    present: re.Pattern[str]
    things: re.Pattern[str]
    findings: re.Pattern[str]
    studies: re.Pattern[str]
    telling: re.Pattern[str]
    none_before: re.Pattern[str]
    old: frozenset[str]
    current: frozenset[str]


def _any_of(phrases: Iterable[str]) -> str:
    rows = sorted(phrases, key=len, reverse=True)
    return "|".join(r"\s+".join(map(re.escape, str(p).split())) for p in rows)


@cache
def _cues() -> _Cues:
    data = rows_of("sections")

    def anywhere(name: str) -> re.Pattern[str]:
        return any_of(data[name], r"\s+")

    def first(name: str) -> re.Pattern[str]:
        return re.compile(rf"\s*(?:{_any_of(data[name])})(?!\w)", re.IGNORECASE)

    return _Cues(
        opens=first("opens"),
        begins=first("begins"),
        images_only=first("images_only"),
        title=frozenset(data["title"].split()),
        modality=frozenset(data["modality"]),
        earlier=anywhere("earlier"),
        patient=anywhere("patient"),
        asks=anywhere("asks"),
        present=anywhere("present"),
        things=anywhere("things"),
        findings=anywhere("findings"),
        studies=anywhere("studies"),
        telling=anywhere("telling"),
        none_before=first("none_before"),
        old=frozenset(data["old"]),
        current=frozenset(data["current"]),
    )


class Where:
    """The section in force while a report is read.

    ``said`` is where the text of the section begins; ``old`` that it belongs to an earlier report copied in.
    """

    __slots__ = ("_added", "_body", "_inner", "_told", "old", "said", "section")

    def __init__(self) -> None:
        self.section = "findings"
        self.said = 0
        self.old = False
        self._inner: set[str] = set()
        self._told = self._body = self._added = False

    def open(self, found: Heading, at: int, *, line: bool) -> None:
        """Take a heading; ``at`` is where its text begins, ``line`` says it stands at the beginning of a line."""
        late = found.section == "details" or (found.section == "history" and not line)
        if self._body and late and found.id not in _cues().old:
            return  # "Age: indeterminate.", "Reason: motion." among the findings are no new section
        self.said = at
        if found.id in _cues().old:
            self.old, self._told, self._inner, self.section = True, False, set(), "history"
            return
        if self.old and not self._ends_old(found):
            self._inner.add(found.section)
            return
        self.old = False
        if found.section == "addendum":
            self._added = self._body
        elif self._added and found.section in BODY:
            return  # headings within an addendum do not end it
        else:
            self._added = False
        self.section = found.section

    def _ends_old(self, found: Heading) -> bool:
        """Say whether a heading cannot belong to the earlier report any more."""
        if found.id in _cues().current:
            return True
        if found.section == "impression" and "findings" in self._inner and found.section not in self._inner:
            return False
        return self._told or found.section in self._inner or "impression" in self._inner

    def note(self, text: str, start: int, end: int) -> None:
        """Take notice of a statement of the section."""
        if not self._body and self.section in BODY:
            self._body = _cues().findings.search(text, start, min(end, start + _LONGEST)) is not None
        if self.old and not self._inner and not self._told:
            self._told = _cues().findings.search(text, start, min(end, start + _LONGEST)) is not None

    def is_over(
        self, text: str, start: int, end: int, *, line: bool, blank: bool, first: bool, ahead: str
    ) -> bool:
        """Say whether findings begin with the words given, in a report that gives them no heading of their own.

        Parameters
        ----------
        line
            They stand at the beginning of a line.
        blank
            A blank line stands before them.
        first
            They are the first words of the section.
        ahead
            The section that the next heading opens, if there is one.
        """
        section, cues = self.section, _cues()
        if self.old or first or section in BODY:
            return False
        if section == "history" and ahead in _BEFORE | _PREAMBLE:
            return False  # findings do not come before the technique
        if line and section in _BEFORE:
            return True
        spoken = text[max(self.said, start - _LONGEST) : start]
        quoting = spoken.rstrip().endswith(":") and cues.earlier.search(spoken) is not None
        quoting = quoting or _within_quotation(text, self.said, start)
        none_before = section == "comparison" and cues.none_before.match(text[self.said : start].lstrip(" :"))
        if line and section in _PREAMBLE and not quoting and (blank or none_before):
            return True
        return not quoting and _opens(text[start : min(end, start + _LONGEST)], spoken, section, line=line)


def _within_quotation(text: str, said: int, at: int) -> bool:
    """Say whether a quotation that a section began is still open: an earlier report read out word for word."""
    low = max(said, at - 4 * _LONGEST)
    return text.count('"', low, at) % 2 == 1 or text.count("“", low, at) > text.count("”", low, at)


def _opens(words: str, spoken: str, section: str, *, line: bool) -> bool:
    """Say whether a sentence of a section is one of findings."""
    cues = _cues()
    told_of_earlier = cues.earlier.search(words) is not None
    labelled = line and _LEVEL_START.match(words) is not None and cues.telling.search(spoken) is None
    told_on = section == "recommendation" or not line or cues.studies.search(spoken) is not None
    told_on = told_on and not labelled
    if section in ("history", "recommendation") and cues.earlier.search(spoken) and told_on:
        return False
    asked = "?" in words or cues.asks.search(words) is not None
    told = cues.telling.search(re.split(r"[\r\n]", spoken)[-1]) is not None and not line
    if _LEVEL_START.match(words):
        return (line or not told_of_earlier) and not (told or asked)
    if told or told_of_earlier or asked or cues.patient.search(words):
        return False
    only_images = section != "recommendation" and cues.images_only.match(words) and not _YEAR.search(words)
    if cues.opens.match(words) or only_images:
        return True
    if line and section == "history" and _is_title(words, cues.title):
        return True
    if section == "recommendation":
        return False
    of_a_level = _LEVEL.search(words) is not None
    if section != "history" and of_a_level and cues.findings.search(words):
        return True
    if not (cues.present.search(words) and cues.things.search(words)):
        return False
    return cues.begins.match(words) is not None or (of_a_level and cues.findings.search(words) is not None)


def _is_title(words: str, title: frozenset[str]) -> bool:
    """Say whether a line is the title of a study, its date with it: ``MRI L-SPINE WITHOUT CONTRAST 3/4/2026``."""
    found = [w.lower() for w in _LETTERS.findall(words)]
    return len(found) > 1 and title.issuperset(found) and any(m in found for m in _cues().modality)
