"""Load a case record from a YAML or JSON file, telling everything that is wrong with it at once."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml

from candidacy.case.catalogue import LISTS, catalogue
from candidacy.case.facts import CaseFacts
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, Document, EntryList, FactEntry
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import CaseError, Code, InputError, Problem
from candidacy.foundation.files import MAX_PROBLEMS, Node, parse_collecting, plain_text, read_text
from candidacy.foundation.shape import validate


@dataclass(frozen=True, slots=True)
class Case:
    """A loaded case: the record as written, its facts, and the digest of its content."""

    record: CaseRecord
    facts: CaseFacts
    digest: str
    name: str = ""


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


def case_from_record(record: CaseRecord, name: str = "case") -> Case:
    """Check a record built in memory, as the forms and readers do; see `load_case`."""
    return _finish(record, None, name)


def _finish(record: CaseRecord, tree: Node | None, name: str) -> Case:
    facts, found = gather(record)
    if found:
        raise CaseError(_in_order(_placed(problem, path, tree, name) for path, problem in found))
    return Case(record, facts, digest(record.plain()), name)


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
    return yaml.dump(record.plain(), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)


class _Dumper(yaml.SafeDumper):
    """Quotes every text that would otherwise be read back as something else."""


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.Node:
    escaped = any(ch in "\r\x85\u2028\u2029\ufeff" for ch in text)  # unescaped, these are line ends or lost
    style = None if plain_text(text) and not escaped else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text)


def element_names(scope: str) -> list[str]:
    """Names that may stand in a record for a scope; for forms and messages."""
    return list(catalogue().statable(scope))
