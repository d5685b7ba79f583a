"""The request for an addendum in the form of the other letters, with the words that `request_letter` gives it."""

from collections.abc import Mapping

from candidacy.case.load import Case
from candidacy.letters.compose import BLANK
from candidacy.letters.draft import Answered, drafts, foot_of, warnings_of
from candidacy.letters.frame import frame, shown
from candidacy.letters.letter import Letter, Line, Section
from candidacy.letters.load import ADDENDUM
from candidacy.letters.values import state_of
from candidacy.reading.ask import Told, request
from candidacy.reading.request_letter import cannot_be_judged, intro, nothing_to_ask, points
from candidacy.rules.library import Library


def any_letters(
    kind: str, answer: Answered, library: Library, filled: Mapping[str, str], medicine: str = ""
) -> list[Letter]:
    """Letters of any kind: the request for an addendum, or one with a template; see `candidacy.letters.draft.drafts`."""
    return [addendum_letter(answer)] if kind == ADDENDUM else drafts(kind, answer, library, filled, medicine)


def addendum_letter(answer: Answered) -> Letter:
    """Ask the author of an imaging report for what the record lacks and such a report can tell.

    Where the text of the report is at hand, `candidacy.reading.ask.request` also looks at what it says already.
    """
    case, rule_set, document = answer.asked, answer.rule_set, answer.document
    considered = tuple(disc.level for disc in document.discs if disc.considered == "met")
    asked = request(
        Told((), (), _study(case), considered), rule_set, answer.as_of, considered, case=case.record
    )
    words = frame()[ADDENDUM]
    title = rule_set.file.title
    if asked.items:
        lines = [Line("paragraph", f"{words['study']}: {BLANK}"), Line("paragraph", shown(intro(asked), 1000)), *(Line("item", shown(point)) for point in points(asked)),
                 Line("paragraph", cannot_be_judged(asked))]  # fmt: skip
        if asked.more:
            lines.append(Line("paragraph", words["more"].format(asked.more)))
    else:
        lines = [Line("paragraph", shown(nothing_to_ask(asked, title), 1000))]
    return Letter(
        kind=ADDENDUM,
        title=words["title"],
        reader="clinician",
        state=state_of(document),
        sections=(Section(words["heading"], tuple(lines)),),
        notes=(*warnings_of(document), words["note"]),
        open=(words["study"],),
        sources=(),
        foot=foot_of(None, answer),
        signature=tuple(frame()["signature"]),
    )


def _study(case: Case) -> str:
    fact = case.record.patient.get("imaging_modality")
    return str(fact.value) if fact is not None and fact.value in ("mri", "ct") else "mri"
