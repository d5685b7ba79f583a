"""From a note reading to facts of a case record; an injection becomes an entry of its list."""

from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import scope_of, with_entry
from candidacy.case.element import STANDARD_LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.case.record import CaseRecord, DocumentKind, FactEntry
from candidacy.foundation.units import convert
from candidacy.foundation.values import Span
from candidacy.reading.ask import Passage, Told
from candidacy.reading.elements import BY, ReadFact
from candidacy.reading.notes.merged import quoted
from candidacy.reading.notes.model import INJECTION, PATIENT, WITHOUT_NUMBER, NoteFact, NoteReading

DOCUMENTS: dict[str, DocumentKind] = {
    "discography": "discography_record",
    "procedure": "procedure_note",
    "letter": "referral_letter",
}
"""What a note of a kind is called among the documents of a case record."""
_MAX_WORDS = 200
_DAYS = ("discography_date", "facet_block_date", "sacroiliac_block_date", "injection_date")


def day_of(reading: NoteReading) -> str:
    """The day that the note gives itself (``YYYY-MM-DD``), or nothing."""
    found = {
        str(f.form["value"])
        for f in reading.facts
        if f.element in (*_DAYS, "anaesthetic_test_date") and "value" in f.form
    }
    return found.pop() if len(found) == 1 else ""


def note_facts(reading: NoteReading, source: str = "", day: str = "") -> tuple[ReadFact, ...]:
    """Give the facts a case record can take from a note.

    Parameters
    ----------
    source
        Key of the document in the case record, written into every fact.
    day
        Day of the procedure (``YYYY-MM-DD``) as someone gives it; one that the note contradicts is unknown.
    """
    rows = _dated(list(reading.facts), day)
    return tuple(_entry(reading, fact, source) for fact in rows)


def told(reading: NoteReading) -> Told:
    """Give what a discography record told, for the question what else to ask of its author."""
    found = note_facts(reading)
    doubtful = [Passage(f.entry.words, (f.subject,)) for f in found if f.entry.unknown and f.entry.words]
    unread = [Passage(reading.words(a.span), ()) for a in reading.unread]
    discs = tuple(dict.fromkeys(f.subject for f in found if normal_level(f.subject) is not None))
    known = tuple(f for f in found if f.subject == PATIENT or f.subject in discs)
    return Told(known, (*doubtful, *unread), "discography", discs or STANDARD_LEVELS)


def _dated(rows: list[NoteFact], day: str) -> list[NoteFact]:
    if not day:
        return rows
    wanted = {f.subject: _day_element(f) for f in rows if _day_element(f)}
    stated = {(f.subject, f.element) for f in rows}
    out = [
        f._replace(form={"unknown": "conflicting"}, note=f"the note and the day given ({day}) differ")
        if f.element in (*_DAYS, "anaesthetic_test_date") and f.form != {"value": day}
        else f
        for f in rows
    ]
    for subject, element in dict.fromkeys(
        (PATIENT if e == "discography_date" else s, e) for s, e in wanted.items()
    ):
        if (subject, element) not in stated:
            out.append(NoteFact(subject, element, {"value": day}, (), (), "day as given, not in the text"))
    return out


def _day_element(fact: NoteFact) -> str:
    if fact.subject == INJECTION:
        return "injection_date"
    for stem in ("facet_block", "sacroiliac_block"):
        if fact.element.startswith(stem):
            return f"{stem}_date"
    if fact.element.startswith("anaesthetic_"):
        return "anaesthetic_test_date"
    return "discography_date" if fact.element.startswith("discography_") else ""


def _entry(reading: NoteReading, fact: NoteFact, source: str) -> ReadFact:
    element = catalogue()[fact.element]
    data: dict[str, Any] = {name: _plain(element, value) for name, value in fact.form.items()}
    words = quoted(reading.text, fact.spans)
    data |= {"by": BY}
    data |= {"words": words[:_MAX_WORDS]} if words else {}
    data |= {"note": fact.note} if fact.note else {}
    data |= {"source": source} if source else {}
    entry = FactEntry.model_validate(data)
    doubted = entry.unknown == "uncertain_in_source" and not fact.note.startswith(WITHOUT_NUMBER)
    perhaps = FactEntry(unknown="uncertain_in_source") if doubted else None
    return ReadFact(fact.subject, fact.element, entry, fact.spans, perhaps)


def _plain(element: Element, value: Any) -> Any:
    if isinstance(value, list):
        return tuple(_plain(element, v) for v in value)
    if isinstance(value, float) and value == int(value):
        return int(value)
    return value


def with_place_for(
    record: CaseRecord, facts: tuple[ReadFact, ...]
) -> tuple[CaseRecord, tuple[ReadFact, ...]]:
    """Make room for the injection of a note: the entry of that kind and day if the record has it, else a new one."""
    own = [f for f in facts if f.subject == INJECTION]
    if not own:
        return record, facts
    number = _same_entry(record, own)
    if not number:
        record = with_entry(record, "injections")
        number = record.injections.numbers[-1] if record.injections else 1
    subject = f"injections[{number}]"
    return record, tuple(f._replace(subject=subject) if f.subject == INJECTION else f for f in facts)


def _same_entry(record: CaseRecord, own: list[ReadFact]) -> int:
    wanted = {f.element: f.entry.value for f in own if f.element in ("injection_kind", "injection_date")}
    if len(wanted) < 2 or record.injections is None:
        return 0
    for number, entry in zip(record.injections.numbers, record.injections.entries, strict=True):
        if all(name in entry and entry[name].value == value for name, value in wanted.items()):
            return number
    return 0


def possible(fact: NoteFact) -> bool:
    """Say whether a record could hold the value: within what the catalogue calls possible, on a disc it knows."""
    element = catalogue()[fact.element]
    if scope_of(fact.subject) == "disc" and normal_level(fact.subject) is None:
        return False
    numbers = [v for value in fact.form.values() for v in (value if isinstance(value, list) else [value])]
    numbers = [v for v in numbers if isinstance(v, float)]
    if element.kind == "integer" and any(v != int(v) for v in numbers):
        return False
    span, unit = element.possible, fact.form.get("unit", "")
    if span is None:
        return True
    if unit and unit != element.unit:
        numbers = [convert(Span(v, v), unit, element.unit or "").low for v in numbers]
    return all((span.low is None or v >= span.low) and (span.high is None or v <= span.high) for v in numbers)
