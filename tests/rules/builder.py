"""A small rule library on disk, made of the test library's files with changes, for tests of loading and checking."""

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import yaml

from candidacy.foundation.errors import Problem, RuleError
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library

SMALL = Path(__file__).resolve().parents[1] / "data" / "rulesets"
CITE = {"source": "test_rules", "supports": "value", "tag": "local"}
CHANGE = {"reason": "Invented for a test.", "cites": [CITE]}
Edit = Callable[[dict[str, Any]], object]


def data_of(path: str) -> dict[str, Any]:
    """A file of the test library as plain data."""
    found: dict[str, Any] = yaml.safe_load((SMALL / path).read_text(encoding="utf-8"))
    return found


def criterion_file(identifier: str) -> str:
    """Path of a criterion of the test library, inside it."""
    (path,) = (SMALL / "criteria").rglob(f"{identifier}.yaml")
    return str(path.relative_to(SMALL))


class _WrittenOut(yaml.SafeDumper):
    """YAML without anchors, which the reader refuses."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


class Builder:
    """Writes files into a folder and loads them as a library on top of the shipped one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.write("sources.yaml", data_of("sources.yaml"))

    def write(self, path: str, data: object) -> Path:
        file = self.folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        text = data if isinstance(data, str) else yaml.dump(data, Dumper=_WrittenOut, sort_keys=False)
        file.write_text(text, encoding="utf-8")
        return file

    def criterion(
        self, identifier: str = "number_less_than", edit: Edit = lambda data: None, name: str = ""
    ) -> Path:
        """Write a criterion of the test library, edited, under its own or another id."""
        data = copy.deepcopy(data_of(criterion_file(identifier)))
        data["id"] = name or identifier
        edit(data)
        return self.write(f"criteria/{data['group']}/{name or identifier}.yaml", data)

    def rule_set(
        self,
        name: str = "a_rule_set",
        edit: Edit = lambda data: None,
        criteria: tuple[str, ...] = ("number_less_than",),
    ) -> Path:
        """Write a rule set that selects criteria, edited."""
        data = data_of("sets/every_operator/ruleset.yaml")
        data["id"], data["criteria"] = name, [{"id": each} for each in criteria]
        edit(data)
        return self.write(f"sets/{name}/ruleset.yaml", data)

    def order(self, edit: Edit = lambda data: None, name: str = "lenient_order") -> Path:
        """Write an order of decision rules, edited."""
        data = data_of("decisions/lenient_order.yaml")
        data["id"] = name
        edit(data)
        return self.write(f"decisions/{name}.yaml", data)

    def library(self) -> Library:
        return Library(self.folder, base=shipped())

    def problems(self, name: str = "a_rule_set") -> tuple[Problem, ...]:
        """What is wrong with a rule set; nothing if it loads."""
        try:
            self.library().rule_set(name)
        except RuleError as error:
            return error.problems
        return ()
