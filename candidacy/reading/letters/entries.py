"""Which entry of its list each mention is: the same medicine or treatment named twice is one entry."""

from collections.abc import Sequence
from typing import Any

from candidacy.case.edit import entry_named, with_entry
from candidacy.case.record import CaseRecord
from candidacy.reading.elements import ReadFact

_KEYS = {
    "medicines": (("medicine_agent",), ("medicine_name",)),
    "treatments": (("treatment_kind",),),
    "surgeries": (("surgery_kind", "surgery_levels", "surgery_date"),),
    "injections": (("injection_kind", "injection_date", "injection_levels"),),
}

_VAGUE = ("other", "other_ssri_or_snri")
"""Codes that two different things share."""


def naming(name: str) -> tuple[str, ...]:
    """The elements of which one says what an entry of a list is."""
    return tuple(dict.fromkeys(names[0] for names in _KEYS[name]))


def key_of(name: str, values: dict[str, Any]) -> tuple[str, ...]:
    """What tells an entry from others of its list: the first of its keys that the entry holds."""
    for names in _KEYS[name]:
        if names[0] in values and values[names[0]] not in _VAGUE:
            return (name, *(str(values.get(n, "")).lower() for n in names))
    return (name, str(values.get(_KEYS[name][-1][0], "")).lower())


def subjects(entries: Sequence[tuple[str, dict[str, dict[str, Any]]]]) -> list[str]:
    """Give each entry its subject (``medicines[1]``), the same for mentions of one thing."""
    numbers: dict[tuple[str, ...], int] = {}
    count: dict[str, int] = {}
    out = []
    for name, forms in entries:
        key = key_of(name, {e: f.get("value") for e, f in forms.items()})
        if key not in numbers:
            count[name] = count.get(name, 0) + 1
            numbers[key] = count[name]
        out.append(f"{name}[{numbers[key]}]")
    return out


def _same(name: str, one: dict[str, Any], other: dict[str, Any]) -> bool:
    for names in _KEYS[name]:
        if all(n in one and n in other for n in names[:1]) and one[names[0]] not in _VAGUE:
            return all(str(one.get(n, "")).lower() == str(other.get(n, "")).lower() for n in names)
    return False


def with_places_for(
    record: CaseRecord, facts: tuple[ReadFact, ...]
) -> tuple[CaseRecord, tuple[ReadFact, ...]]:
    """Make room for the entries of a letter: the record's entry of the same medicine, treatment or day, else a new one.

    A list that gains an entry is no longer stated to be complete.
    """
    placed: dict[str, str] = {}
    for subject in dict.fromkeys(f.subject for f in facts):
        name, _ = entry_named(subject)
        if name is None:
            continue
        own = {f.element: _flat(f.entry.value) for f in facts if f.subject == subject}
        listed = getattr(record, name)
        held = [] if listed is None else [
            (number, {e: _flat(x.value) for e, x in row.items()})
            for number, row in zip(listed.numbers, listed.entries, strict=True)
        ]  # fmt: skip
        number = next((n for n, row in held if _same(name, own, row)), 0)
        if not number:
            record = with_entry(record, name)
            number = getattr(record, name).numbers[-1]
        placed[subject] = f"{name}[{number}]"
    return record, tuple(f._replace(subject=placed.get(f.subject, f.subject)) for f in facts)


def _flat(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value
