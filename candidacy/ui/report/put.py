"""Accepted facts into the referral: what it can take, at once; the rest stays on the desk, each with its reason."""

from collections.abc import Collection
from datetime import date

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import entry_named, facts_of
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, Document
from candidacy.explain.said import found_words
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.reading.elements import ReadFact
from candidacy.reading.letters.entries import naming
from candidacy.reading.merge import document_key, merge
from candidacy.reading.whose import person_recorded, told_anew
from candidacy.ui.desk import Desk, Place
from candidacy.ui.report.desk import (
    KIND_WORDS,
    Report,
    accepted,
    change,
    placed_in,
    refuse_of_another,
    reports_of,
)

_TOLD = 6  # findings that the history names


class Put(Struct, frozen=True):
    """How many facts were written into the referral, and how many stayed on the desk."""

    written: int
    left: int


def put(desk: Desk, number: int) -> Put:
    """Put the accepted facts of a report into the referral as one step, each with its words and source.

    Raises
    ------
    CaseError
        E211 for a report that tells of another patient, where no person said that it is this one's.
    """
    report = reports_of(desk)[number]
    refuse_of_another(desk, report)
    chosen = [row.place for row in accepted(desk.record, report)]
    left = {p: d.problems for p in chosen if (d := desk.drafts.get((f"report {number} {p[0]}", p[1])))}
    key = report.taken if report.is_taken(desk.record) else document_key(desk.record, report.kind)
    left = {place: (_NOT_MENDED, *problems) for place, problems in left.items()}
    record, written, refused = _written(desk.record, report, key, [p for p in chosen if p not in left])
    left |= refused
    if written:
        desk.take(record, _label(report, written))
    change(desk, number, left=left, **({"taken": key} if written else {}))
    return Put(len(written), len(left))


_NOT_MENDED = Problem(
    Code.CONTRADICTION,
    "its correction was refused, so the value as it was read is not put either",
    next_step="correct it, or drop the refused text",
)
_HELD = Problem(
    Code.CONTRADICTION,
    "the referral holds a value, and the report leaves this open or contradicts itself",
    next_step="change the value on the Referral page if the report is right to doubt it",
)


def _written(
    record: CaseRecord, report: Report, key: str, chosen: Collection[Place]
) -> tuple[CaseRecord, list[ReadFact], dict[Place, tuple[Problem, ...]]]:
    """The record with what it can take, the facts that were written, and why others were not."""
    known = person_recorded(record, date.today())
    whose = "" if report.ours else told_anew(report.person, known, report.facts())
    document = Document(
        kind=report.document_kind,
        date=report.day or None,
        title=report.name,
        note="; ".join(filter(None, (report.unread_dangers, whose))),
    )
    left: dict[Place, tuple[Problem, ...]] = {}
    wanted = set(chosen)
    while True:
        own = tuple(f for f in report.facts() if f.subject in {subject for subject, _ in wanted})
        room, there = placed_in(record, report, own)
        both = [
            (place, fact)
            for one, fact in zip(own, there, strict=True)
            if (place := (one.subject, one.element)) in wanted
        ]
        nameless = _nameless(record, both)
        if nameless:
            left |= nameless
            wanted -= set(nameless)
            continue
        result, written, refused = _one_by_one(room, both, key, document)
        empty = {place for place, fact in both if not facts_of(result, fact.subject)}
        left |= refused
        if not empty:
            return (result if written else record), written, left
        wanted -= empty  # an entry of which nothing could be written gets no room


def _one_by_one(
    record: CaseRecord, chosen: list[tuple[Place, ReadFact]], key: str, document: Document
) -> tuple[CaseRecord, list[ReadFact], dict[Place, tuple[Problem, ...]]]:
    """Write facts as long as any can be written: one may need another beside it."""
    waiting, written = list(chosen), []
    refused: dict[Place, tuple[Problem, ...]] = {}
    again = True
    while again and waiting:
        again, rest = False, []
        for place, fact in waiting:
            try:
                merged = merge(record, (fact,), key, document, differing="accept")
                case_from_record(merged.record)
            except CaseError as error:
                refused[place] = error.problems
                rest.append((place, fact))
                continue
            refused.pop(place, None)
            if merged.kept or merged.in_conflict:
                refused[place] = (_HELD,)
                continue
            record, again = merged.record, True
            written.append(fact)
        waiting = rest
    return record, written, refused


def _nameless(record: CaseRecord, chosen: list[tuple[Place, ReadFact]]) -> dict[Place, tuple[Problem, ...]]:
    """Facts of a new entry of a list of which nobody accepted what it is."""
    found: dict[Place, tuple[Problem, ...]] = {}
    for subject in dict.fromkeys(fact.subject for _, fact in chosen):
        name, at = entry_named(subject)
        if name is None:
            continue
        listed = getattr(record, name)
        held = listed.entries[at - 1] if listed is not None and at <= len(listed.entries) else {}
        own = [(place, fact) for place, fact in chosen if fact.subject == subject]
        names = naming(name)
        if not any(n in held for n in names) and not any(fact.element in names for _, fact in own):
            said = " or ".join(catalogue()[n].label for n in names)
            why = Problem(
                Code.MISSING_KEY, f"what it belongs to is not accepted: {said}", next_step="accept that too"
            )
            found |= {place: (why,) for place, _ in own}
    return found


def _label(report: Report, written: list[ReadFact]) -> str:
    told = [found_words(f.subject, f.element, f.entry) for f in written[:_TOLD]]
    more = f" and {len(written) - _TOLD} more" if len(written) > _TOLD else ""
    what = "findings" if report.kind == "imaging" else f"facts of the {KIND_WORDS[report.kind]}"
    ours = ", of this patient as a person said" if report.ours else ""
    return f"{len(written)} {what} from {report.name}{ours}: {'; '.join(told)}{more}"
