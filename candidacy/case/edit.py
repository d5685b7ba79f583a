"""Changes to a case record, one at a time: each gives a new record and leaves the old one as it was.

Subjects are named as everywhere: ``patient``, a disc ("L4-L5"), or an entry of a list ("medicines[1]").
"""

import re
from typing import Any, Literal, cast

from candidacy.case.element import LEVELS, LISTS, Scope
from candidacy.case.facts import normal_level
from candidacy.case.reader_notes import is_own
from candidacy.case.record import CaseRecord, Document, EntryList, FactEntry, FactTable
from candidacy.foundation.errors import CaseError, Code, Problem

ListName = Literal["medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"]
_ENTRY = re.compile(r"([a-z_]+)\[([0-9]+)\]\Z")


def empty_record(identifier: str = "new-referral") -> CaseRecord:
    """A record that says nothing yet."""
    return CaseRecord(schema_version="1", id=identifier)


def scope_of(subject: str) -> Scope:
    """The catalogue scope of a subject."""
    entry = _ENTRY.match(subject)
    if entry is not None:
        return LISTS[entry[1]]
    return "patient" if subject == "patient" else "disc"


def entry_named(subject: str) -> tuple[ListName | None, int]:
    """The list and the number, counted from 1, of an entry ("medicines[1]"); no list where the text names none."""
    entry = _ENTRY.match(subject)
    return (cast("ListName", entry[1]), int(entry[2])) if entry and entry[1] in LISTS else (None, 0)


def facts_of(record: CaseRecord, subject: str) -> FactTable:
    """The facts written for a subject; empty where there are none, as for an entry that was taken out."""
    entry = _ENTRY.match(subject)
    if entry is not None:
        listed = getattr(record, entry[1])
        number = int(entry[2])
        there = listed is not None and number in listed.numbers
        return listed.entries[listed.numbers.index(number)] if there else {}
    if subject == "patient":
        return record.patient
    written = _written_level(record, subject)
    return record.discs[written] if written is not None else {}


def _written_level(record: CaseRecord, level: str) -> str | None:
    """How the record spells a disc level ("L4/5" is "L4-L5")."""
    return next((written for written in record.discs if normal_level(written) == level), None)


def with_fact(record: CaseRecord, subject: str, element: str, entry: FactEntry | None) -> CaseRecord:
    """The record with one fact written, or taken out where ``entry`` is ``None``.

    A disc that had no entry gets one; a disc keeps its entry when its last fact is taken out.

    Raises
    ------
    CaseError
        For an entry of a list that is not there, such as one that was taken out.
    """
    table = dict(facts_of(record, subject))
    if entry is None:
        table.pop(element, None)
    else:
        table[element] = entry
    place = _ENTRY.match(subject)
    if place is not None:
        listed = getattr(record, place[1]) or EntryList()
        if int(place[2]) not in listed.numbers:
            there = ", ".join(f"{place[1]}[{number}]" for number in listed.numbers) or "the list has no entry"
            raise CaseError([Problem(Code.BAD_CHOICE, "this entry of the list is not there, or was taken out",
                                     field=element, found=subject, expected=there)])  # fmt: skip
        entries = list(listed.entries)
        entries[listed.numbers.index(int(place[2]))] = table
        return _with(record, {place[1]: listed.model_copy(update={"entries": tuple(entries)})})
    if subject == "patient":
        return _with(record, {"patient": table})
    written = _written_level(record, subject) or subject
    return _with(record, {"discs": _in_order({**record.discs, written: table})})


def without_disc(record: CaseRecord, level: str) -> CaseRecord:
    """The record without a disc's entry."""
    written = _written_level(record, level)
    return _with(record, {"discs": {k: v for k, v in record.discs.items() if k != written}})


def with_entry(record: CaseRecord, name: ListName) -> CaseRecord:
    """The record with one more, empty entry in a list; the list is no longer stated to be complete, on whatever day."""
    listed = getattr(record, name) or EntryList()
    grown = {"complete": None, "date": None, "source": None, "entries": (*listed.entries, {})}
    return _with(record, {name: listed.model_copy(update=grown)})


def without_entry(record: CaseRecord, name: ListName, number: int) -> CaseRecord:
    """The record without the entry of that number; every other entry keeps its number."""
    listed = getattr(record, name) or EntryList()
    if number not in listed.numbers:
        return record
    entries = tuple(e for each, e in zip(listed.numbers, listed.entries, strict=True) if each != number)
    taken_out = (*listed.taken_out, number)
    return _with(record, {name: listed.model_copy(update={"entries": entries, "taken_out": taken_out})})


def with_list_complete(record: CaseRecord, name: ListName, complete: bool | None) -> CaseRecord:
    """The record in which a list is stated to be complete, or not complete, or neither."""
    listed = getattr(record, name) or EntryList()
    if complete is None and not listed.entries and not listed.taken_out:
        return _with(record, {name: None})
    # the day that is on record is that of another answer
    day = {} if complete == listed.complete else {"date": None, "source": None}
    return _with(record, {name: listed.model_copy(update={"complete": complete, **day})})


def with_remark_of(old: FactEntry, new: FactEntry) -> FactEntry:
    """A fact that keeps what a person noted beside the one whose place it takes."""
    if old.note is None or is_own(old.note):
        return new
    remark = f"noted before: {old.note}"
    return new.model_copy(update={"note": f"{new.note}; {remark}" if new.note else remark})


def with_document(record: CaseRecord, key: str, document: Document) -> CaseRecord:
    """The record with a document that facts can name as their source."""
    return _with(record, {"documents": {**record.documents, key: document}})


def with_header(record: CaseRecord, **changes: str | bool | None) -> CaseRecord:
    """The record with another id, title, note or as-of date.

    Raises
    ------
    ValueError
        If the id is not allowed.
    """
    return CaseRecord.model_validate(record.model_dump() | changes)


def _with(record: CaseRecord, changes: dict[str, Any]) -> CaseRecord:
    return record.model_copy(update=changes)


def _in_order(discs: dict[str, FactTable]) -> dict[str, FactTable]:
    def place(written: str) -> int:
        level = normal_level(written)
        return LEVELS.index(level) if level else len(LEVELS)

    return dict(sorted(discs.items(), key=lambda item: place(item[0])))
