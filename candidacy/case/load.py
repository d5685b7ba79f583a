"""Load a case record from a YAML or JSON file, telling everything that is wrong with it at once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from candidacy.case.catalogue import catalogue
from candidacy.case.checked_edit import Change
from candidacy.case.element import LISTS
from candidacy.case.facts import CaseFacts, Fact
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, Document, DocumentKind, EntryList, FactEntry, Scalar
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import CaseError, Code, InputError, Problem
from candidacy.foundation.files import MAX_PROBLEMS, Node, parse_collecting, plain_text, read_text
from candidacy.foundation.notebook import table
from candidacy.foundation.plain_data import tree_of
from candidacy.foundation.plain_json import plain_json
from candidacy.foundation.shape import validate


@dataclass(frozen=True, repr=False)
class Case:
    """A loaded case: the record as written, its facts, and the digest of its content. It never changes.

    Examples
    --------
    >>> case = parse_case("schema_version: '1'\\nid: case-17")
    >>> case.with_fact("body_weight", 71, unit="kg").with_fact("pfirrmann_grade", "III", disc="L4/5")
    Case(case-17: 1 fact of the patient, 1 disc)
    """

    record: CaseRecord
    facts: CaseFacts
    name: str = ""

    @cached_property
    def digest(self) -> str:
        """The digest of the content of the record."""
        return digest(self.record.plain())

    def with_fact(
        self,
        element: str,
        value: Scalar | Sequence[Scalar] | None = None,
        *,
        disc: str | None = None,
        entry: str | None = None,
        unit: str | None = None,
        source: str | None = None,
        on: date | str | None = None,
        words: str | None = None,
        by: str | None = None,
        note: str | None = None,
        between: tuple[int | float | str, int | float | str] | None = None,
        at_least: int | float | None = None,
        at_most: int | float | None = None,
        more_than: int | float | None = None,
        less_than: int | float | None = None,
        not_before: date | str | None = None,
        not_after: date | str | None = None,
        one_of: Sequence[Scalar] | None = None,
        includes: Sequence[str] | None = None,
        unknown: str | None = None,
    ) -> "Case":
        """The case with one fact written, in place of what was written of that element before.

        Parameters
        ----------
        element
            Name in the catalogue ("body_weight").
        value
            The exact value. An imprecise one is given by ``between``, ``at_least``, ``at_most``, ``more_than``,
            ``less_than``, ``not_before``, ``not_after``, ``one_of`` or ``includes``, and one that is not known by
            ``unknown`` with the reason; exactly one of them.
        disc
            Level of the disc it belongs to; without it the fact is the patient's.
        entry
            Entry of a list it belongs to, counted from 1: "medicines[1]". One beyond the last adds an entry, and
            then the list is no longer stated to be complete.
        unit
            Needed for every number that has one.
        source
            Key of a document of the record; see `with_document`.
        on
            Day the fact was true, where it differs from the date of the document.
        words, by, note
            The exact words of the source; the role of who recorded it, never a name; a remark.

        Raises
        ------
        CaseError
            With everything that a case file would be refused for, each naming its field.
        """
        written = {
            "value": value, "between": between, "at_least": at_least, "at_most": at_most, "more_than": more_than,
            "less_than": less_than, "not_before": not_before, "not_after": not_after, "one_of": one_of,
            "includes": includes, "unknown": unknown, "unit": unit, "source": source, "date": on, "words": words,
            "by": by, "note": note,
        }  # fmt: skip
        given = {key: part for key, part in written.items() if part is not None}
        return self._changed(self._change.fact(element, given, disc, entry))

    def without(self, element: str, *, disc: str | None = None, entry: str | None = None) -> "Case":
        """The case without what was written of an element.

        Raises
        ------
        CaseError
            E202 if nothing is written of it, E208 for an entry and E209 for a disc that is none.
        """
        return self._changed(self._change.no_fact(element, disc, entry))

    def with_document(
        self, key: str, kind: DocumentKind, *, date: date | str | None = None, title: str = ""
    ) -> "Case":
        """The case with a document that facts can name as their ``source``.

        Raises
        ------
        CaseError
            For a kind or date that is none, and a key that the record has already with other content.
        """
        given = {"kind": kind, "title": title} | ({} if date is None else {"date": date})
        return self._changed(self._change.document(key, given))

    def to_yaml(self) -> str:
        """The record as YAML text that loads back to an equal case."""
        return case_to_yaml(self.record)

    def __repr__(self) -> str:
        patient, discs = len(self.facts.patient), len(self.facts.discs)
        entries = sum(len(group.entries) for group in self.facts.lists.values())
        told = [f"{patient} fact{'s' * (patient != 1)} of the patient", f"{discs} disc{'s' * (discs != 1)}"]
        told += [f"{entries} list {'entries' if entries != 1 else 'entry'}"] if entries else []
        return f"Case({self.record.id}: {', '.join(told)})"

    def _repr_html_(self) -> str:
        rows = [
            (fact.subject, _name(fact), fact.provenance.as_written or _why(fact),
             fact.provenance.document, fact.provenance.day_words)
            for fact in self.facts.stated()
        ]  # fmt: skip
        title = f"Case {self.record.id}" + (f": {self.record.title}" if self.record.title else "")
        notes = ["Invented for demonstration."] if self.record.invented else []
        return table(title, ("of", "element", "as written", "source", "date"), rows, notes)

    @property
    def _change(self) -> Change:
        return Change(self.record, self.name)

    def _changed(self, record: CaseRecord) -> "Case":
        return case_from_record(record, self.name)


def _name(fact: Fact) -> str:
    element = catalogue().get(fact.element)
    return element.label if element is not None else fact.element  # of a library that is no longer open


def _why(fact: Fact) -> str:
    return fact.why.words if fact.why else ""


def load_case(path: Path | str) -> Case:
    """Load a case record file.

    Raises
    ------
    CaseError
        With every problem found, each with file, line, column, field, value and what is allowed.
    """
    path = Path(path)
    try:
        text = read_text(path)
    except InputError as error:
        raise CaseError(error.problems) from None
    return parse_case(text, str(path))


def parse_case(text: str, name: str = "case") -> Case:
    """Load a case record from YAML or JSON text; see `load_case`."""
    found = _from_plain_json(text, name)
    if found is not None:
        return found
    try:
        tree, problems = parse_collecting(text, name)
    except InputError as error:
        raise CaseError(error.problems) from None
    try:
        record = validate(CaseRecord, tree, name, _known_keys)
    except InputError as error:
        problems += error.problems
    if problems:
        raise CaseError(_with_content(problems, tree, name))
    return _finish(record, tree, name)


def _from_plain_json(text: str, name: str) -> Case | None:
    """The case of a record in which nothing is wrong; whatever is wrong is told by who knows where it stands."""
    data = plain_json(text)
    if data is None:
        return None
    try:
        record = CaseRecord.model_validate(data)
    except ValidationError:
        return None
    facts, problems = gather(record)
    return None if problems else Case(record, facts, name)


def case_from_mapping(data: Mapping[str, object], name: str = "case") -> Case:
    """Load a case record from plain data, as a reader of YAML or JSON gives it; see `load_case`."""
    try:
        tree = tree_of(data, name)
        record = validate(CaseRecord, tree, name, _known_keys)
    except InputError as error:
        raise CaseError(error.problems) from None
    return _finish(record, tree, name)


def case_from_record(record: CaseRecord, name: str = "case") -> Case:
    """Check a record built in memory, as the forms and readers do; see `load_case`."""
    return _finish(record, None, name)


def _finish(record: CaseRecord, tree: Node | None, name: str) -> Case:
    facts, found = gather(record)
    if found:
        raise CaseError(_in_order(_placed(problem, path, tree, name) for path, problem in found))
    return Case(record, facts, name)


def _in_order(problems: Iterable[Problem]) -> list[Problem]:
    return sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))[:MAX_PROBLEMS]


def _placed(problem: Problem, path: tuple[str | int, ...], tree: Node | None, name: str) -> Problem:
    if tree is None:
        return replace(problem, file=name)
    line, column = tree.at(path[:-1]).key_place(str(path[-1]))
    return replace(problem, file=name, line=line, column=column)


def _with_content(problems: list[Problem], tree: Node, name: str) -> list[Problem]:
    """Add what the catalogue finds in the well-formed parts, so that one run shows everything."""
    refused = [".".join(map(str, path)) for path in _refused(tree)]
    data = tree.plain()
    found = list(problems)
    if isinstance(data, dict):
        _, more = gather(_well_formed(data))
        found += [_placed(problem, path, tree, name) for path, problem in more]
    return _in_order(p for p in found if not _follows(p, refused))


def _follows(problem: Problem, refused: list[str]) -> bool:
    """Whether a finding only repeats that a scalar could not be read, which has been told already."""
    if problem.code not in (Code.MISSING_KEY, Code.WRONG_TYPE) or not problem.field:
        return False
    return any(f"{path}.".startswith(f"{problem.field}.") for path in refused)


def _refused(tree: Node) -> Iterator[tuple[str | int, ...]]:
    stack: list[tuple[tuple[str | int, ...], Node]] = [((), tree)]
    while stack:
        path, node = stack.pop()
        if node.refused:
            yield path
        elif isinstance(node.value, dict):
            stack += [((*path, key), part) for key, part in node.value.items()]
        elif isinstance(node.value, list):
            stack += [((*path, number), part) for number, part in enumerate(node.value)]


def _well_formed(data: dict[str, Any]) -> CaseRecord:
    """The parts of a record that have the right shape; parts that do not are left out or emptied."""

    def mapping(part: Any) -> dict[str, Any]:
        return part if isinstance(part, dict) else {}

    def keep(table: Any) -> dict[str, Any]:
        return {k: v for k, v in mapping(table).items() if _fits(FactEntry, v)}

    lists: dict[str, Any] = {}
    for name in LISTS:
        entries = mapping(data.get(name)).get("entries")
        if isinstance(entries, list):
            lists[name] = {"entries": [keep(entry) for entry in entries]}
    documents = mapping(data.get("documents"))
    as_of = data.get("as_of")
    return CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": "partial",
            "as_of": as_of if isinstance(as_of, str) else None,
            "documents": {k: v if _fits(Document, v) else {"kind": "other"} for k, v in documents.items()},
            "patient": keep(data.get("patient")),
            "discs": {level: keep(table) for level, table in mapping(data.get("discs")).items()},
            **lists,
        }
    )


def _fits(model: type[Any], value: Any) -> bool:
    try:
        model.model_validate(value)
    except ValueError:
        return False
    return True


def _known_keys(path: tuple[Any, ...]) -> list[str]:
    if not path:
        return list(CaseRecord.model_fields)
    if path[0] == "documents":
        return list(Document.model_fields)
    if path[0] in LISTS and len(path) == 1:
        return list(EntryList.model_fields)
    return list(FactEntry.model_fields)


def case_to_yaml(record: CaseRecord) -> str:
    """Write a record as YAML that loads back to an equal record."""
    plain = record.plain()
    text = yaml.dump(plain, Dumper=_QuickDumper, sort_keys=False, allow_unicode=True, width=100)
    # the writer in C takes a third of the time, but escapes what lies beyond the first 65 536 signs, which is hard to read
    if "\\U" in text:
        text = yaml.dump(plain, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)
    return text


def yaml_dumper() -> type[yaml.SafeDumper]:
    """The dumper of `case_to_yaml`, for parts of a record."""
    return _Dumper


class _Dumper(yaml.SafeDumper):
    """Quotes every text that would otherwise be read back as something else."""


class _QuickDumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """The same in C, where it is installed."""


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.Node:
    escaped = any(ch in "\r\x85\u2028\u2029\ufeff" for ch in text)  # unescaped, these are line ends or lost
    style = None if plain_text(text) and not escaped else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text)
_QuickDumper.add_representer(str, _text)
