"""The sheet of the day for the planned discs: what people are asked, and what the record says beside each line.

Nothing is ticked, and nothing of another disc is on it: what is told of the patient but names another disc is left out,
and says so.
"""

from datetime import date
from typing import Literal

from candidacy import __version__
from candidacy.assessment.assess import Assessment
from candidacy.case.element import Rows, Strict
from candidacy.case.load import Case
from candidacy.day.checklist import Checklist, ChecklistLine, When, Word, checklist, of_ones_own
from candidacy.day.other_discs import OtherDiscs
from candidacy.day.planned import assessed_for, planned_discs, standings
from candidacy.day.record_words import Said, State, medicines_beside, said_beside, worst
from candidacy.explain.build import build_document
from candidacy.explain.cautions import EMERGENCY, INVENTED
from candidacy.explain.companions import stop_sentences
from candidacy.explain.headline import headline
from candidacy.explain.record import fact_info, fact_words
from candidacy.explain.wording import listed, remarks_first
from candidacy.foundation import dates
from candidacy.foundation.digest import short
from candidacy.foundation.values import Span
from candidacy.rules.libraries import library_in_use
from candidacy.rules.replacing import in_place
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Standing

_MOST_OPEN = 10
_MOST_DANGERS = 6


class SheetLine(Strict):
    """One line of the sheet.

    ``state`` is what the record says of it as of the day: ``stop`` or ``wait`` (a criterion fails), ``open`` (it is
    undetermined), ``recorded`` (it speaks for going on), or ``asked`` where the record has nothing to say. None of them
    answers the line.
    """

    id: str
    disc: str
    part: str
    asked: When
    ask: str
    state: State
    record: Rows[str]
    medicines: Rows[str]
    if_no: Word
    means: str
    not_applicable: str


class DaySheet(Strict):
    """The checklist of one day for the planned discs, or the reason why there is none."""

    schema_version: Literal["1"]
    program: str
    title: str
    case: str
    invented: bool
    on: str
    discs: Rows[str]
    rule_set: str
    rule_set_version: str
    rule_set_digest: str
    standing: Standing
    standing_name: str
    safety_rule_set: str
    safety_rule_set_version: str
    safety_rule_set_digest: str
    safety: str
    engine: str
    checklist_version: str
    notices: Rows[str]
    no_checklist: Rows[str]
    parts: dict[str, str]
    lines: Rows[SheetLine]
    dangers: Rows[str]
    still_open: Rows[str]
    case_digest: str

    @property
    def made_of(self) -> str:
        """What the sheet was made of: program, engine, checklist, rule sets and case."""
        safety = f"{self.safety_rule_set} {self.safety_rule_set_version} {short(self.safety_rule_set_digest)}"
        rules = f"{self.rule_set} {self.rule_set_version} {short(self.rule_set_digest)}"
        both = rules if self.safety_rule_set == self.rule_set else f"{rules}, {safety}"
        return f"{self.program}; engine {self.engine}; checklist {self.checklist_version}; rules {both}; case {short(self.case_digest)}"

    def to_json(self) -> str:
        """The sheet as JSON text with a final newline."""
        return self.model_dump_json(indent=2) + "\n"


def conference_told(lines: Checklist, decided: str) -> Said | None:
    """A decision of a conference to treat, as it was named by who makes the sheet; ``None`` for no words."""
    return Said("recorded", lines.words.conference_known.format(decided=decided)) if decided else None


def day_sheet(
    case: Case,
    rule_set: RuleSet,
    discs: tuple[str, ...],
    on: date,
    conference: Said | None = None,
    *,
    asked: Checklist | None = None,
) -> DaySheet:
    """The checklist of a day.

    Parameters
    ----------
    rule_set
        Says who is a candidate; the checklist names the rule set of safety beside it.
    discs
        Planned discs, one or two; see `planned_discs`.
    conference
        What is known of a decision of a case conference: ``recorded`` where it decided to treat, ``wait`` or ``stop`` where
        it did not; see `conference_told`.
    asked
        The checklist; by default that of the library in use.

    Raises
    ------
    InputError
        For discs that cannot be planned, see `planned_discs`.
    RuleError
        For a checklist or rule set that cannot be used.
    """
    discs = planned_discs(case, discs)
    lines = checklist() if asked is None else asked
    main = assessed_for(case, rule_set, discs, on)
    safety = (
        main
        if lines.rule_set == rule_set.id
        else assessed_for(case, library_in_use().companion(lines.rule_set), discs, on)
    )
    found = standings(main, discs)
    gravest = next(iter(found))
    others = OtherDiscs(discs, lines.words.left_out)
    reasons = _no_checklist(lines, main, safety, discs, others)
    rows = () if reasons else _lines(lines, main, safety, discs, conference, others)
    return DaySheet(
        schema_version="1",
        program=f"candidacy {__version__}",
        title=lines.title,
        case=case.record.id,
        invented=case.record.invented,
        on=on.isoformat(),
        discs=discs,
        rule_set=rule_set.id,
        rule_set_version=rule_set.file.version,
        rule_set_digest=rule_set.digest,
        standing=gravest,
        standing_name=found[gravest],
        safety_rule_set=safety.rule_set.id,
        safety_rule_set_version=safety.rule_set.file.version,
        safety_rule_set_digest=safety.rule_set.digest,
        engine=main.engine,
        safety=safety.outlook.name,
        checklist_version=lines.version,
        notices=tuple(_notices(lines, case, rule_set, safety.rule_set, on)),
        no_checklist=tuple(reasons),
        parts=dict(lines.parts),
        lines=rows,
        dangers=() if reasons else tuple(_dangers(lines, main, safety, discs, others)),
        still_open=() if reasons else tuple(_still_open(lines, main, discs, others)),
        case_digest=case.digest,
    )


def _notices(lines: Checklist, case: Case, rule_set: RuleSet, safety: RuleSet, on: date) -> list[str]:
    found = [INVENTED] if case.record.invented else []
    found += [remarks_first(len(case.facts.remarks))] if case.facts.remarks else []
    told = case.facts.patient.get("planned_procedure_date")
    if (
        told is not None
        and isinstance(told.value, Span)
        and not told.value.low <= on.toordinal() <= told.value.high
    ):
        found.append(lines.words.other_day.format(recorded=dates.words(told.value), day=on.isoformat()))
    if of_ones_own():
        found.append(lines.words.replaced)
    own = in_place(f"{each.kind} {each.id}" for each in (*rule_set.replaced, *safety.replaced))
    found += [own] if own else []
    found += (*rule_set.departs_words, *safety.departs_words)
    found += [
        f"Rule set {each} is {status.replace('_', ' ')}: not approved for use by a local committee."
        for each, status in {(rule_set.id, rule_set.file.status)}
        if status != "in_use"
    ]
    return found


def _no_checklist(
    lines: Checklist,
    main: Assessment,
    safety: Assessment,
    discs: tuple[str, ...],
    others: OtherDiscs,
) -> list[str]:
    """Why there is no checklist: an emergency under either rule set, or a standing that bars the injection."""
    words = lines.words
    urgent = [found for found in (main, safety) if "urgent" in standings(found, discs)]
    if urgent:
        return [words.no_checklist_urgent, EMERGENCY, *_failing(urgent, ("stop",), discs, others)]
    named = standings(main, discs)
    if "not_candidate" not in named:
        return []
    standing = headline(build_document(main)) if main.standing == "not_candidate" else named["not_candidate"]
    begun = words.no_checklist_not_candidate.format(rule_set=main.rule_set.file.title, standing=standing)
    return [begun, *_failing([main], ("absolute",), discs, others)]


def _failing(
    found: list[Assessment], forces: tuple[str, ...], discs: tuple[str, ...], others: OtherDiscs
) -> list[str]:
    said: dict[tuple[str, str], str] = {}
    for assessment in found:
        for result in assessment.results:
            if (
                result.outcome == "fail"
                and result.resolved.force in forces
                and result.subject in ("patient", *discs)
            ):
                said.setdefault((result.id, result.subject), Said.failing(result, others).text)
    return list(said.values())


def _lines(
    lines: Checklist,
    main: Assessment,
    safety: Assessment,
    discs: tuple[str, ...],
    conference: Said | None,
    others: OtherDiscs,
) -> tuple[SheetLine, ...]:
    found = []
    for line in lines.lines:
        if line.only and line.only not in standings(main, discs):
            continue
        for disc in discs if line.per_disc else ("",):
            found.append(_line(lines, line, disc, main, safety, discs, conference, others))
    return tuple(found)


def _line(
    lines: Checklist,
    line: ChecklistLine,
    disc: str,
    main: Assessment,
    safety: Assessment,
    discs: tuple[str, ...],
    conference: Said | None,
    others: OtherDiscs,
) -> SheetLine:
    subjects = (disc,) if disc else discs
    said = said_beside(line, lines.words, (safety, main), subjects, others)
    medicines: list[Said] = []
    if line.only == "borderline":
        said.append(Said("wait", lines.words.conference_unknown) if conference is None else conference)
    if line.medicines:
        medicines = medicines_beside(lines.words, safety, others)
    return SheetLine(
        id=line.id,
        disc=disc,
        part=line.part,
        asked=line.asked,
        ask=line.ask.format(disc=disc or listed(list(discs))),
        state=worst([*said, *medicines]),
        record=tuple(dict.fromkeys(each.text for each in said if each.text)),
        medicines=tuple(each.text for each in medicines),
        if_no=line.no.word,
        means=line.no.means,
        not_applicable=line.not_applicable,
    )


def _dangers(
    lines: Checklist, main: Assessment, safety: Assessment, discs: tuple[str, ...], others: OtherDiscs
) -> list[str]:
    """What another rule set stops on, and signs of danger of the patient or a planned disc that nothing on the sheet weighs."""
    companions = [c for c in main.companions if c.declared.id != safety.rule_set.id]
    shown = {name for line in lines.lines for name in line.shows}
    unread = {(u.fact.element, u.fact.subject) for u in safety.unread if u.dangers}
    levels = _other_levels(main, discs)
    found = [others.kept(sentence) for sentence in stop_sentences(main, companions)]
    found += [
        others.kept(fact_words(fact_info(u.fact)))
        for u in main.unread
        if u.dangers
        and (u.fact.element, u.fact.subject) in unread
        and u.fact.subject not in levels
        and u.fact.element not in shown
    ]
    return _first(lines, found, _MOST_DANGERS)


def _other_levels(assessment: Assessment, discs: tuple[str, ...]) -> set[str]:
    return {disc.level for disc in assessment.discs} - set(discs)


def _still_open(lines: Checklist, main: Assessment, discs: tuple[str, ...], others: OtherDiscs) -> list[str]:
    """What could change the standing and is missing, beside what the lines ask for."""
    asked = {name for line in lines.lines for name in line.criteria}
    levels = _other_levels(main, discs)
    found = [
        others.kept(missing.ask)
        for missing in main.missing
        if missing.weight != "no" and missing.subject not in levels and not asked & set(missing.criteria)
    ]
    return _first(lines, list(dict.fromkeys(found)), _MOST_OPEN)


def _first(lines: Checklist, found: list[str], most: int) -> list[str]:
    left = len(found) - most
    return [*found[:most], *([lines.words.more.format(count=left)] if left > 0 else [])]
