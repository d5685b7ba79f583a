"""An invented record while it is put together: facts by subject and element, which can be taken out one by one."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from msgspec import Struct, field

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import DateError, day

# A fact as a record writes it, by subject ("patient", "L4-L5", "medicines[1]") and element.
Facts = dict[tuple[str, str], dict[str, Any]]
NOTE = "Invented by the proofs of candidacy: the smallest record found that shows what was proved. Nobody's record."


class Draft(Struct, frozen=True):
    """Facts, the discs that are named, and for each list its entries and whether it is complete."""

    facts: Facts = field(default_factory=dict)
    discs: frozenset[str] = frozenset()
    entries: Mapping[str, int] = field(default_factory=dict)
    complete: frozenset[str] = frozenset()

    def record(self, as_of: date, identifier: str, title: str) -> CaseRecord:
        """The case record as a file holds it; it says that it is invented."""
        tables: dict[str, dict[str, Any]] = {}
        for (subject, element), entry in self.facts.items():
            tables.setdefault(subject, {})[element] = entry
        lists = {
            name: {"complete": name in self.complete or None, "entries": self._rows(name, tables)}
            for name in LISTS
            if name in self.complete or self.entries.get(name)
        }
        discs = sorted(
            self.discs | {subject for subject in tables if subject != "patient" and "[" not in subject}
        )
        return CaseRecord.model_validate(
            {
                "schema_version": "1", "id": identifier, "title": title, "invented": True, "as_of": as_of.isoformat(),
                "note": NOTE, "patient": tables.get("patient", {}), "discs": {level: tables.get(level, {}) for level in discs},
                **lists,
            }
        )  # fmt: skip

    def _rows(self, name: str, tables: Mapping[str, Any]) -> tuple[Any, ...]:
        return tuple(
            tables.get(f"{name}[{number}]", {}) for number in range(1, self.entries.get(name, 0) + 1)
        )

    def case(self, as_of: date, identifier: str = "witness", title: str = "") -> Case:
        """The record, checked as any case file is.

        Raises
        ------
        CaseError
            For what no record may say.
        """
        return case_from_record(self.record(as_of, identifier, title), identifier)

    # --- smaller ones

    def parts(self) -> list[Any]:
        """What can be taken out: facts, the completeness of lists, last entries, and named discs."""
        entries = [(name, number) for name, number in self.entries.items() for _ in range(number)]
        return [
            *self.facts,
            *sorted(self.complete),
            *entries,
            *sorted(f"disc {level}" for level in self.discs),
        ]

    def without(self, parts: list[Any]) -> "Draft":
        """The record with some of its parts taken out."""
        gone = set(map(repr, parts))
        entries = dict(self.entries)
        for part in parts:
            if isinstance(part, tuple) and part[0] in LISTS and isinstance(part[1], int):
                entries[part[0]] -= 1
        kept = {
            key: entry
            for key, entry in self.facts.items()
            if repr(key) not in gone and _there(key[0], entries)
        }
        return replace(
            self,
            facts=kept,
            entries=entries,
            complete=frozenset(name for name in self.complete if repr(name) not in gone),
            discs=frozenset(level for level in self.discs if repr(f"disc {level}") not in gone),
        )

    def joined(self, other: "Draft") -> "Draft":
        """Both together; what this one says stands."""
        most = {
            name: max(self.entries.get(name, 0), other.entries.get(name, 0))
            for name in {*self.entries, *other.entries}
        }
        return Draft(
            {**other.facts, **self.facts}, self.discs | other.discs, most, self.complete | other.complete
        )


def _there(subject: str, entries: Mapping[str, int]) -> bool:
    name, _, number = subject.rstrip("]").partition("[")
    return not number or int(number) <= entries.get(name, 0)


def draft_of(record: CaseRecord, days: int) -> Draft | None:
    """A written record as a draft, all its whole dates moved by some days; nothing where a date is not whole.

    The day of a document becomes the day of its facts.
    """
    facts: Facts = {}
    try:
        moved = {
            key: _moved(each.date, days) for key, each in record.documents.items() if each.date is not None
        }
        for subject, table in _tables(record):
            for name, entry in table.items():
                written = entry.model_dump(mode="json", exclude_defaults=True)
                source = written.pop("source", None)
                if "date" in written:
                    written["date"] = _moved(written["date"], days)
                elif source in moved:
                    written["date"] = moved[source]
                element = catalogue().get(name)
                if element is not None and element.kind == "date" and "value" in written:
                    written["value"] = _moved(written["value"], days)
                facts[subject, name] = written
    except DateError:
        return None
    listed = {name: getattr(record, name) for name in LISTS if getattr(record, name) is not None}
    return Draft(
        facts,
        frozenset(record.discs),
        {name: len(each.entries) for name, each in listed.items()},
        frozenset(name for name, each in listed.items() if each.complete),
    )


def _tables(record: CaseRecord) -> Iterator[tuple[str, Any]]:
    yield "patient", record.patient
    yield from record.discs.items()
    for name in LISTS:
        listed = getattr(record, name)
        for number, table in enumerate(listed.entries if listed is not None else (), start=1):
            yield f"{name}[{number}]", table


def _moved(text: str, days: int) -> str:
    return date.fromordinal(day(text).toordinal() + days).isoformat()
