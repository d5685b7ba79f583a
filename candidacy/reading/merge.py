"""Facts of a reading into a case record, with provenance, overwriting nothing unasked."""

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import facts_of, with_document, with_fact, with_remark_of
from candidacy.case.facts import SOURCES_CONFLICT
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.reading.elements import DENIED_IN_PART, ReadFact
from candidacy.reading.ranges import is_conflict

_CONFLICTING: Literal["conflicting"] = "conflicting"
_YES_NO = {"True": "yes", "False": "no"}
_PROVENANCE = {"source", "date", "words", "by", "note"}
# Why something is unknown of which a source told; any other unknown says that nothing was told.
_DOUBTS = ("uncertain_in_source", "not_readable")


# Where a value differs from the record's: nothing is written, the report's is taken, or it is written that they conflict.
Differing = Literal["refuse", "accept", "conflict"]


class Beside(NamedTuple):
    """A document that arrived together with another: how it is named, and what it tells, with it as the source."""

    name: str
    facts: tuple[ReadFact, ...]


class Merged(NamedTuple):
    """The new record and what became of each fact; those ``in_conflict`` have no value until a person settles them."""

    record: CaseRecord
    added: tuple[ReadFact, ...]
    replaced: tuple[ReadFact, ...]
    kept: tuple[ReadFact, ...]
    in_conflict: tuple[ReadFact, ...] = ()

    @property
    def taken(self) -> tuple[ReadFact, ...]:
        """What was written into the record."""
        return (*self.added, *self.replaced, *self.in_conflict)


def document_key(record: CaseRecord, stem: str) -> str:
    """Give a key for the report that the record does not use yet."""
    base = "".join(c if c.isalnum() else "_" for c in stem.lower()).strip("_")[:40] or "report"
    key, number = base, 2
    while key in record.documents:
        key, number = f"{base}_{number}", number + 1
    return key


def listed_as(record: CaseRecord, document: Document) -> str:
    """The key under which a record lists a document by its title, kind and day, with its note; empty where it does not."""
    same = document.kind, document.date, document.title
    listed = record.documents.items()
    found = (
        key
        for key, each in listed
        if (each.kind, each.date, each.title) == same and document.note in each.note
    )
    return next(found, "")


def merge(
    record: CaseRecord,
    facts: tuple[ReadFact, ...],
    key: str,
    document: Document,
    *,
    differing: Differing = "refuse",
    name: str = "case",
    beside: Sequence[Beside] = (),
) -> Merged:
    """Write facts into a record, each naming the report as its source.

    A fact the record does not have, or has as unknown, is added. The same value stays as it is, and one that the record
    tells more precisely. A doubtful reading, and one in which the report contradicts itself, never replaces a value: where it
    differs, that is refused or written as a conflict. Unasked, no value that is read settles a conflict that the record tells
    of, and no denial a danger that an earlier source doubted. What a person noted beside a fact stays.

    Parameters
    ----------
    beside
        Documents that arrived together with this one: none of what they tell gives way to it, in whatever order they come.

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
    arrived: dict[tuple[str, str], list[tuple[Beside, ReadFact]]] = {}
    for each in beside:
        for other in each.facts:
            arrived.setdefault((other.subject, other.element), []).append((each, other))
    result = with_document(record, key, document)
    for fact in facts:
        old = facts_of(record, fact.subject).get(fact.element)
        entry = fact.entry.model_copy(update={"source": key})
        apart = [
            (each, other)
            for each, other in arrived.get((fact.subject, fact.element), ())
            if _apart(other, fact)
        ]
        if old is None:
            added.append(fact)
        elif _is_part(old, entry) or (not apart and _told(old, entry, fact.perhaps)):
            kept.append(fact)
            continue
        elif not apart and settles(old, fact):
            entry = with_remark_of(old, entry)
            added.append(fact)
        elif differing == "conflict" or (
            differing == "accept" and any(map(_doubtful, (fact, *(other for _, other in apart))))
        ):
            entry = _conflict(old, entry)
            in_conflict.append(fact)
        elif differing == "accept" and not apart:
            replaced.append(fact)
        else:
            problems.append(_differs(fact, entry, old, apart, name))
            continue
        result = with_fact(result, fact.subject, fact.element, entry)
    if problems:
        raise CaseError(problems)
    return Merged(result, tuple(added), tuple(replaced), tuple(kept), tuple(in_conflict))


def _apart(one: ReadFact, other: ReadFact) -> bool:
    """Whether two documents say different things of one fact, or one doubts what the other says."""
    return not (_told(one.entry, other.entry, other.perhaps) or _told(other.entry, one.entry, one.perhaps))


def settles(old: FactEntry, fact: ReadFact) -> bool:
    """Whether a fact takes the place of what the record leaves open: as its value, more precisely, or as a doubt about it."""
    if old.unknown in (None, _CONFLICTING):
        return fact.perhaps is None and _within(fact.entry, old)
    if old.unknown in _DOUBTS:
        return not (_leaves_open(fact.entry) or (_denies_danger(fact) and old.note not in DENIED_IN_PART))
    return not _leaves_open(fact.entry) or fact.entry.unknown in _DOUBTS


def _denies_danger(fact: ReadFact) -> bool:
    """Whether a fact of the patient says nothing of the danger that its element may tell."""
    element = catalogue()[fact.element]
    if fact.entry.unknown is not None or is_conflict(fact.entry):
        return False
    if element.scope != "patient" or element.kind not in ("boolean", "choice"):
        return False
    dangers = {code for danger in element.danger for code in danger.limits}
    told = [fact.entry.value] if fact.entry.one_of is None else fact.entry.one_of
    return bool(dangers) and not dangers.intersection(told)


def _conflict(old: FactEntry, new: FactEntry) -> FactEntry:
    """What two sources say of one fact, none of it taken for its value; behind what was said of a conflict before."""
    about, told = "documents differ", f'{old.source or "record"} "{_quoted(old)}"'
    goes_on = old.unknown == _CONFLICTING and is_conflict(old)
    if goes_on:
        before, _, told = (old.note or "").partition("): ")
        about = before.removeprefix(f"{SOURCES_CONFLICT} (")
    said = [told, f'{new.source} "{_quoted(new)}"']
    entry = FactEntry(
        unknown=_CONFLICTING,
        source=new.source,
        words=new.words,
        by=new.by,
        note=f"{SOURCES_CONFLICT} ({about}): {'; '.join(said)}",
    )
    return entry if goes_on else with_remark_of(old, entry)


def _quoted(entry: FactEntry) -> str:
    words = f" ({shorten(entry.words)})" if entry.words else ""
    return f"{_shown(entry)}{words}".replace('"', "'")


def _differs(
    fact: ReadFact, entry: FactEntry, old: FactEntry, apart: Iterable[tuple[Beside, ReadFact]], name: str
) -> Problem:
    """Why a value is not taken over: the record states another one, or a document that arrived beside it does."""
    field, said = f"{fact.subject}.{fact.element}", f"{_shown(entry)} ({shorten(entry.words or '')})"
    others = [
        f"{each.name}: {_shown(other.entry)} ({shorten(other.entry.words or '')})" for each, other in apart
    ]
    if others:
        return Problem(
            Code.CONTRADICTION,
            "two of the documents say different things",
            name,
            field=field,
            found="; ".join((f"{entry.source}: {said}", *others)),
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
    """Whether the record tells it already: as it is, or more precisely.

    What a source doubts is told where the record holds what is suspected, and what is left open wherever it is nothing that a
    source doubts or contradicts.
    """
    if perhaps is not None and (_leaves_open(new) or new.one_of is not None):
        told = _same(old, new) or _same(old, perhaps) or _within(old, perhaps)
        return told or old.unknown in (*_DOUBTS, _CONFLICTING)
    if new.unknown == _CONFLICTING or is_conflict(new):
        return old.unknown == _CONFLICTING or (is_conflict(old) and _same(old, new))
    if _leaves_open(new):
        return new.unknown not in _DOUBTS or old.unknown is None or old.unknown in (*_DOUBTS, _CONFLICTING)
    return _same(old, new) or _within(old, new)


def _is_part(old: FactEntry, new: FactEntry) -> bool:
    """Whether it is told already as a part of a conflict that is on record."""
    return is_conflict(old) and f'"{_quoted(new)}"' in (old.note or "")


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
