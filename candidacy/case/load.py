"""Load a case record from a YAML or JSON file, telling everything that is wrong with it at once."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml

from candidacy.case.catalogue import LISTS, catalogue
from candidacy.case.facts import CaseFacts
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, Document, EntryList, FactEntry
from candidacy.dates import DateError, day
from candidacy.digest import digest
from candidacy.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.files import Node, parse, plain_text, read_text, validate


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
        tree = parse(text, name)
    except InputError as error:
        raise CaseError(error.problems) from None
    try:
        record = validate(CaseRecord, tree, name, _known_keys)
    except InputError as error:
        raise CaseError(_with_content(error, tree, name)) from None
    return _finish(record, tree, name)


def case_from_record(record: CaseRecord, name: str = "case") -> Case:
    """Check a record built in memory, as the forms and readers do; see `load_case`."""
    return _finish(record, None, name)


def _finish(record: CaseRecord, tree: Node | None, name: str) -> Case:
    facts, found = gather(record)
    problems = [_placed(problem, path, tree, name) for path, problem in found]
    if record.as_of is not None:
        try:
            day(record.as_of)
        except DateError as error:
            problem = Problem(Code.BAD_DATE, str(error), field="as_of", found=shorten(record.as_of))
            problems.append(_placed(problem, ("as_of",), tree, name))
    if problems:
        raise CaseError(sorted(problems, key=lambda p: (p.line, p.column)))
    return Case(record, facts, digest(record.plain()), name)


def _placed(problem: Problem, path: tuple[str | int, ...], tree: Node | None, name: str) -> Problem:
    if tree is None:
        return replace(problem, file=name)
    line, column = tree.at(path[:-1]).key_place(str(path[-1]))
    return replace(problem, file=name, line=line, column=column)


def _with_content(error: InputError, tree: Node, name: str) -> list[Problem]:
    """Add what the catalogue finds in the well-formed parts, so that one run shows everything."""
    problems = list(error.problems)
    data = tree.plain()
    if isinstance(data, dict):
        partial = _well_formed(data)
        if partial is not None:
            _, found = gather(partial)
            problems += [_placed(problem, path, tree, name) for path, problem in found]
    return sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))


def _well_formed(data: dict[str, Any]) -> CaseRecord | None:
    def keep(table: Any) -> dict[str, Any]:
        return {k: v for k, v in table.items() if _fits(FactEntry, v)} if isinstance(table, dict) else {}

    documents = data.get("documents")
    documents = documents if isinstance(documents, dict) else {}
    discs = data.get("discs")
    discs = discs if isinstance(discs, dict) else {}
    try:
        return CaseRecord.model_validate(
            {
                "schema_version": "1",
                "id": "partial",
                "documents": {k: v for k, v in documents.items() if _fits(Document, v)},
                "patient": keep(data.get("patient")),
                "discs": {level: keep(table) for level, table in discs.items()},
                **{name: data[name] for name in LISTS if _fits(EntryList, data.get(name))},
            }
        )
    except ValueError:
        return None


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
    """Quotes every text that our reader would otherwise take for a number, true, false or nothing."""


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.Node:
    style = None if plain_text(text) else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text)


def element_names(scope: str) -> list[str]:
    """Names that may stand in a record for a scope; for forms and messages."""
    return list(catalogue().statable(scope))
