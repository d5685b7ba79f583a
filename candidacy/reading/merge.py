"""Facts of a reading into a case record, with provenance, overwriting nothing unasked."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

from candidacy.case.edit import facts_of, with_document, with_fact
from candidacy.case.facts import SOURCES_CONFLICT
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.reading.elements import ReadFact
from candidacy.reading.ranges import is_conflict

_CONFLICTING: Literal["conflicting"] = "conflicting"
_YES_NO = {"True": "yes", "False": "no"}
_PROVENANCE = {"source", "date", "words", "by", "note"}


# Where a value differs from the record's: nothing is written, the report's is taken, or it is written that they conflict.
Differing = Literal["refuse", "accept", "conflict"]


class Merged(NamedTuple):
    """The new record and what became of each fact; those ``in_conflict`` have no value until a person settles them."""

    record: CaseRecord
    added: tuple[ReadFact, ...]
    replaced: tuple[ReadFact, ...]
    kept: tuple[ReadFact, ...]
    in_conflict: tuple[ReadFact, ...] = ()


def document_key(record: CaseRecord, stem: str) -> str:
    """Give a key for the report that the record does not use yet."""
    base = "".join(c if c.isalnum() else "_" for c in stem.lower()).strip("_")[:40] or "report"
    key, number = base, 2
    while key in record.documents:
        key, number = f"{base}_{number}", number + 1
    return key


def merge(
    record: CaseRecord,
    facts: tuple[ReadFact, ...],
    key: str,
    document: Document,
    *,
    differing: Differing = "refuse",
    name: str = "case",
    beside: Mapping[str, str] = MappingProxyType({}),
) -> Merged:
    """Write facts into a record, each naming the report as its source.

    A fact the record does not have, or has as unknown, is added. The same value stays as it is, and one that the record
    tells more precisely. A doubtful reading, and one in which the report contradicts itself, never replaces a value: where it
    differs, that is refused or written as a conflict. No value that is read settles a conflict that the record tells of.

    Parameters
    ----------
    beside
        Documents that arrived together with this one, key to name: their values are not replaced by its own.

    Raises
    ------
    CaseError
        E211 for each value that differs from the record's, where that is to be refused; the record stays as it was.
    """
    added: list[ReadFact] = []
    replaced: list[ReadFact] = []
    kept: list[ReadFact] = []
    in_conflict: list[ReadFact] = []
    problems: list[Problem] = []
    result = with_document(record, key, document)
    for fact in facts:
        old = facts_of(record, fact.subject).get(fact.element)
        entry = fact.entry.model_copy(update={"source": key})
        if old is None or (old.unknown not in (None, _CONFLICTING) and not _leaves_open(entry)):
            added.append(fact)
        elif _told(old, entry, fact.perhaps):
            kept.append(fact)
            continue
        elif fact.perhaps is None and _within(entry, old):
            added.append(fact)  # the same, more precisely
        elif differing == "conflict" or (differing == "accept" and _doubtful(fact)):
            entry = _conflict(old, entry)
            in_conflict.append(fact)
        elif differing == "accept" and old.source not in beside:
            replaced.append(fact)
        else:
            problems.append(_differs(fact, entry, old, beside.get(old.source or "", ""), name))
            continue
        result = with_fact(result, fact.subject, fact.element, entry)
    if problems:
        raise CaseError(problems)
    return Merged(result, tuple(added), tuple(replaced), tuple(kept), tuple(in_conflict))


def _conflict(old: FactEntry, new: FactEntry) -> FactEntry:
    """What two sources say of one fact, none of it taken for its value; behind what was said of a conflict before."""
    about, told = "documents differ", f'{old.source or "record"} "{_quoted(old)}"'
    if old.unknown == _CONFLICTING and is_conflict(old):
        before, _, told = (old.note or "").partition("): ")
        about = before.removeprefix(f"{SOURCES_CONFLICT} (")
    said = [told, f'{new.source} "{_quoted(new)}"']
    return FactEntry(
        unknown=_CONFLICTING,
        source=new.source,
        words=new.words,
        by=new.by,
        note=f"{SOURCES_CONFLICT} ({about}): {'; '.join(said)}",
    )


def _quoted(entry: FactEntry) -> str:
    words = f" ({shorten(entry.words)})" if entry.words else ""
    return f"{_shown(entry)}{words}".replace('"', "'")


def _differs(fact: ReadFact, entry: FactEntry, old: FactEntry, other: str, name: str) -> Problem:
    """Why a value is not taken over: the record states another one, or the ``other`` document that arrived beside it does."""
    field, said = f"{fact.subject}.{fact.element}", f"{_shown(entry)} ({shorten(entry.words or '')})"
    if other:
        return Problem(
            Code.CONTRADICTION,
            "two of the documents say different things",
            name,
            field=field,
            found=f"{entry.source}: {said}; {other}: {_shown(old)} ({shorten(old.words or '')})",
            next_step="find out which is right and put that one in by itself, or use --conflict to write down what each says",
        )
    return Problem(
        Code.CONTRADICTION,
        "the report says something else than the case record",
        name,
        field=field,
        found=f"report: {said}; record: {_shown(old)}",
        next_step="check the report, then use --accept to take its values, or --conflict to write down what each says",
    )


def _same(old: FactEntry, new: FactEntry) -> bool:
    return old.model_dump(exclude=_PROVENANCE) == new.model_dump(exclude=_PROVENANCE)


def _told(old: FactEntry, new: FactEntry, perhaps: FactEntry | None) -> bool:
    """Whether the record tells it already: as it is, more precisely, or as a part of a conflict.

    What a source doubts is told where the record holds what is suspected, and what is left open wherever it is nothing that a
    source doubts or contradicts.
    """
    if is_conflict(old) and f'"{_quoted(new)}"' in (old.note or ""):
        return True
    if perhaps is not None and (_leaves_open(new) or new.one_of is not None):
        return old.unknown is not None or _same(old, perhaps) or _within(old, perhaps)
    if new.unknown == _CONFLICTING or is_conflict(new):
        return old.unknown is not None
    return _leaves_open(new) or _same(old, new) or _within(old, new)


def _leaves_open(entry: FactEntry) -> bool:
    return entry.unknown not in (None, _CONFLICTING)


def _doubtful(fact: ReadFact) -> bool:
    """Whether a source doubts what it tells, or contradicts itself, so that none of it can take the place of a value."""
    return fact.perhaps is not None or fact.entry.unknown is not None or is_conflict(fact.entry)


def _within(one: FactEntry, other: FactEntry) -> bool:
    """Whether one tells the same more precisely: "none" where the other says none or a bulge."""
    if is_conflict(one) or is_conflict(other) or one.unknown is not None:
        return False
    told = [one.value] if one.one_of is None else one.one_of
    return other.one_of is not None and all(code in other.one_of for code in told)


def _shown(entry: FactEntry) -> str:
    data = entry.model_dump(exclude=_PROVENANCE, exclude_none=True, mode="json")
    unit = data.pop("unit", "")
    form, value = next(iter(data.items()))
    words = [_YES_NO.get(str(each), str(each)) for each in (value if isinstance(value, list) else [value])]
    shown = " or ".join(words)
    return shorten(f"{'' if form == 'value' else form.replace('_', ' ') + ' '}{shown} {unit}".strip())
