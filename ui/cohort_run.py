"""A table on the desk and what screening it gave; files lie in a private folder that goes when the desk goes."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.cohort import Cohort, attrition_diagram, screen, suggest_mapping, sweep_plot
from candidacy.cohort.mapping import load_mapping
from candidacy.rules.library import load_rule_set
from candidacy.rules.trial_file import value_from_text
from ui.desk import Desk

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Table:
    """An uploaded table, or a folder of case files that is already on this machine."""

    path: Path
    name: str
    folder: Any = None  # removes the uploaded file when nothing refers to it any more


def uploaded(name: str, content: bytes) -> Table:
    """Put an upload into a private folder, under a name of our own with its ending."""
    folder = tempfile.TemporaryDirectory(prefix="candidacy-table-", ignore_cleanup_errors=True)
    path = Path(folder.name) / f"table{Path(name).suffix.lower()[:10]}"
    path.write_bytes(content)
    return Table(path, name, folder)


def proposal(table: Table) -> str:
    """A mapping to start from, for a person to check."""
    return suggest_mapping(table.path)


@dataclass(slots=True)
class Run:
    """A screened cohort and its tables, each made once."""

    cohort: Cohort
    frames: dict[str, "pd.DataFrame"] = field(default_factory=dict)
    drawn: dict[str, bytes] = field(default_factory=dict)

    def frame(self, name: str) -> "pd.DataFrame":
        """A table of the result by the name of the method that makes it."""
        if name not in self.frames:
            self.frames[name] = getattr(self.cohort, name)()
        return self.frames[name]

    def diagrams(self) -> list[tuple[str, bytes]]:
        """The participant flow of discs and of cases, drawn."""
        for flow in self.cohort.flows():
            if flow.start and flow.unit not in self.drawn:
                self.drawn[flow.unit] = attrition_diagram(flow, "png")
        return list(self.drawn.items())

    def what_if(self, criterion: str, name: str, typed: list[str]) -> tuple["pd.DataFrame", bytes]:
        """Standings for each of several values of a parameter, as a table and drawn.

        Raises
        ------
        RuleError
            If a value is not of the parameter's kind or outside its bounds.
        """
        rule_set = self.cohort.rule_set
        parameter = rule_set.criterion(criterion).parameters[name]
        values = [value_from_text(parameter, text) for text in typed]
        for value in values:
            rule_set.with_trial({(criterion, name): value})
        found = self.cohort.sweep({f"{criterion}.{name}": values})
        return found, sweep_plot(found, "png")


def run(desk: Desk, table: Table, discs: Table | None, mapping: str, progress: Any) -> Run:
    """Screen a table under the desk's rule set and day.

    Raises
    ------
    InputError
        With everything that is wrong with the table or its mapping.
    """
    checked = None
    if mapping.strip():
        with tempfile.TemporaryDirectory(prefix="candidacy-mapping-") as folder:
            path = Path(folder) / "mapping.yaml"
            path.write_text(mapping, encoding="utf-8")
            checked = load_mapping(path)
    cohort = screen(table.path, desk.rule_set(), desk.today(), discs=discs.path if discs else None, mapping=checked,
                    progress=progress)  # fmt: skip
    return Run(cohort)


def other_rule_set(run_: Run, name: str) -> Any:
    """Who moves under another rule set, and because of which criterion."""
    return run_.cohort.compare(load_rule_set(name))
