"""An assessment on one screen: what stands, why, and what to do next. Nothing that warns is left out for brevity."""

from typing import TYPE_CHECKING

from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.asked import asked_first
from candidacy.explain.cautions import INVENTED
from candidacy.explain.companions import companions_line
from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.explain.first_page import PAGE_CAUTIONS
from candidacy.explain.hold_plan import NO_INTERVAL, hold_title
from candidacy.explain.holds_document import HoldInfo
from candidacy.explain.labels import SHOWN
from candidacy.explain.lines import (
    STYLES,
    Line,
    Lines,
    Pairs,
    alert_lines,
    emergency_lines,
    head_line,
    heading,
    line,
    record_lines,
)
from candidacy.explain.marks import marks_of
from candidacy.explain.missing_document import Asked, asked_together
from candidacy.explain.plain import plain
from candidacy.explain.printable import printable
from candidacy.explain.record import other_unread
from candidacy.explain.wording import listed
from candidacy.foundation.digest import short

if TYPE_CHECKING:
    from rich.console import Console

_MOST_ASKED = 5
_MOST_LATER = 3
_MOST_FAILING = 6
_MOST_EXPLAINED = 3
_MOST_REMARKS, _SIGNS_OF_A_REMARK = 4, 200
_FORCES = {"stop": 0, "absolute": 1, "relative": 2}
# `BURDEN_WORDS`, short enough for a line.
_HOW = {
    "in_chart": "chart",
    "questionnaire": "questionnaire",
    "blood_test": "blood test",
    "imaging": "imaging",
    "invasive_test": "invasive test",
}
_MORE = "Every criterion, value, source and caution: --full"


def print_brief(console: "Console", document: AssessmentDocument) -> None:
    """Print the short form: about 24 to 40 lines of 80 signs, more only for what warns or contradicts."""
    from rich.console import Group

    from candidacy.explain.rich_lines import in_colour

    console.print(Group(*in_colour(_parts(printable(document)))))


def brief_text(document: AssessmentDocument, width: int) -> str:
    """The same as plain text, without colour and without what colours a terminal being loaded.

    Raises
    ------
    Unusual
        Where the text needs the layout of the terminal; see `candidacy.explain.plain`.
    """
    return plain(_parts(printable(document)), width)


def _parts(document: AssessmentDocument) -> Lines:
    rules = document.rule_set
    parts: Lines = [*alert_lines(document, cited=False), head_line(document)]
    if document.standing == "urgent":
        parts.reverse()
    parts.append(_dim(f"{rules.title} ({rules.id} {rules.version}, {rules.status}), as of {document.as_of}"))
    parts += [line(f"! {notice}", "yellow") for notice in document.notices]
    parts += emergency_lines(document)
    parts += record_lines(document, _MOST_REMARKS, _SIGNS_OF_A_REMARK)
    parts += [
        line(f"\nWhy: {_upper(document.reason[0].split(': ', 1)[1])}"),
        line(f"Next: {_next(document)}"),
    ]
    if document.not_yet is not None:
        parts += [
            heading("What has to happen first"),
            *(line(f"- {each}") for each in not_yet_lines(document)),
        ]
    parts += [*_failing(document), *_discs(document), *_asked(document), *_first(document), *_holds(document)]
    return [*parts, *_rest(document)]


def _next(document: AssessmentDocument) -> str:
    """What comes next; of an emergency with what to do now, since nothing else is as short as that."""
    return document.reason[1] if document.standing == "urgent" else document.next_step


def _failing(document: AssessmentDocument) -> Lines:
    """Deciding criteria that fail for the patient or a disc that may be treated, the gravest first."""
    apart = {disc.level for disc in document.discs if disc.considered == "not_met"}
    judged = [c for c in document.criteria if c.subject not in apart]
    failing = sorted(
        (c for c in judged if c.outcome == "fail" and c.force in _FORCES), key=lambda c: _FORCES[c.force]
    )
    parts: Lines = []
    if failing:
        parts.append(heading("Criteria that fail"))
        # an emergency is never left out
        shown = [c for place, c in enumerate(failing) if place < _MOST_FAILING or c.force == "stop"]
        parts += [
            _criterion(row, place < _MOST_EXPLAINED, document.reason[0]) for place, row in enumerate(shown)
        ]
        if len(failing) > len(shown):
            parts.append(_dim(f"  and {len(failing) - len(shown)} more: --full lists them"))
    return parts


def _criterion(row: CriterionInfo, explained: bool, said: str) -> Line:
    """One criterion; why it fails, unless that was said already."""
    explained = explained and bool(row.because) and row.because[0] not in said
    subject = "" if row.subject == "patient" else f"{row.subject}: "
    found = row.found + (f" ({row.because[0]})" if explained else "")
    pieces = ((f"{SHOWN[row.shown][0]} {subject}", ""), (found, "default"), (f" [{row.id}]", "dim"))
    return Line(pieces, STYLES[row.shown])


def _discs(document: AssessmentDocument) -> Lines:
    if not document.discs:
        return [line("\nDiscs: none is recorded.")]
    lines = list(document.which_disc.says)
    said = " ".join(lines)
    left, marks = [d for d in document.discs if d.level not in said], marks_of(document)
    considered = [f"{d.level} ({marks.disc(d)})" for d in left if d.considered == "met"]
    groups = (
        ("Considered", considered),
        ("Not known whether considered", [d.level for d in left if d.considered == "unknown"]),
        ("Recorded but not considered", [d.level for d in left if d.considered == "not_met"]),
    )
    lines += [f"{words}: {listed(levels)}." for words, levels in groups if levels]
    return [line(f"\nDiscs: {_lower(' '.join(lines))}")]


def _asked(document: AssessmentDocument) -> Lines:
    """Missing facts that could decide, each with the name under which it goes into the case record."""
    wanted = asked_first(document)
    many = len(document.missing)
    if not wanted:
        more = f" ({_count(many, 'fact')} that cannot: --full)" if many else ""
        return [line(f"\nAsk for: nothing that could change the standing is missing{more}.")]
    shown = asked_together(wanted)[: _MOST_ASKED if wanted[0].weight == "alone" else _MOST_LATER]
    rows = []
    for asked in shown:
        m = asked.row
        how = "" if m.burden == "question" else f" ({_HOW[m.burden]})"
        why = "" if m.why == "not recorded" else f"; {m.why}"
        later = "" if m.weight == "alone" else "Later: "
        rows.append((_name(asked), later + m.ask + how + why))
    table = Pairs(tuple(rows), "bold", 42)
    parts: Lines = [heading("Ask for, under these names of the case record"), table]
    left = len(wanted) - sum(asked.facts for asked in shown)
    others = many - len(wanted)
    counted = [f"{left} more that could decide"] * (left > 0) + [f"{others} single signs or others"] * (
        others > 0
    )
    return [*parts, _dim(f"and {listed(counted)}: --full")] if counted else parts


def _first(document: AssessmentDocument) -> Lines:
    """What to ask first, and what would change the standing, in a few lines; where that was asked for."""
    lines = [*(document.settle.ask_first if document.settle else [])]
    lines += document.change.says if document.change else []
    return [line(""), *(line(each) for each in lines)] if lines else []


def _name(asked: Asked) -> str:
    return asked.row.element if asked.row.subject == "patient" else f"{asked.of}: {asked.row.element}"


def _holds(document: AssessmentDocument) -> Lines:
    """Each medicine before a planned procedure on one line, with every alarm."""
    holds = document.holds
    if holds is None:
        return []
    free = [m for m in holds.medicines if m.no_date_because == NO_INTERVAL and not (m.alarm or m.goes_on)]
    waiting = [m for m in holds.medicines if m not in free]
    title = f"Medicines before the procedure planned for {holds.planned}"
    if free and not waiting and holds.list_complete:
        return [line(f"\n{title}: {NO_INTERVAL} for {listed([m.name or hold_title(m) for m in free])}.")]
    parts: Lines = [heading(title)]
    if not holds.list_complete:
        parts.append(line("! The list of medicines is not known to be complete.", "yellow"))
    for medicine in waiting:
        parts.append(line(f"{hold_title(medicine)}: {_hold(medicine)}"))
        if medicine.alarm:
            parts.append(line(f"‼ {medicine.alarm}", "bold red", 2))
    if free:
        parts.append(line(f"No interval has to pass: {listed([m.name or hold_title(m) for m in free])}."))
    if not holds.medicines:
        parts.append(line("No medicine is listed."))
    if waiting and holds.cautions:
        parts.append(line(f"! {holds.cautions[0]} All {len(holds.cautions)} cautions: --full", "yellow"))
    return parts


def _hold(medicine: HoldInfo) -> str:
    pieces = [medicine.goes_on]
    if medicine.hold_until:
        pieces.append(f"interval over on {medicine.hold_until}")
    elif not medicine.goes_on:
        pieces.append(medicine.no_date_because or listed(medicine.says))
    if medicine.who_must_agree and not medicine.goes_on:
        pieces.append(f"must agree: {medicine.who_must_agree}")
    return "; ".join(piece for piece in pieces if piece)


def _rest(document: AssessmentDocument) -> Lines:
    told = ", ".join(f"{number} {SHOWN[shown][1].lower()}" for shown, _, number in marks_of(document).tally())
    others = len(other_unread(document))
    unread = f" Recorded facts that no criterion reads: {others}." if others else ""
    companions = companions_line(document) if any(c.applies for c in document.companions) else ""
    lines = [companions, f"Criteria, without discs that are not considered: {told}.{unread}"]
    cautions = [*([INVENTED] if document.case.invented else []), *PAGE_CAUTIONS]
    parts: Lines = [line(""), *(_dim(each) for each in lines if each)]
    parts.append(_dim(" ".join(cautions)))
    digests = f"rules {short(document.rule_set.digest)}; case {short(document.case.digest)}"
    return [*parts, _dim(f"{document.program}; {digests}"), _dim(_MORE)]


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _dim(text: str) -> Line:
    return line(text, "dim")
