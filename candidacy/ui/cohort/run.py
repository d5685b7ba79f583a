"""A screened cohort as the page uses it: small tables made once, long ones never whole, all safe between threads."""

import tempfile
import threading
import weakref
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from candidacy.assessment.assess import Assessment
from candidacy.cohort import Cohort, Comparison, attrition_diagram, screen, sweep_plot
from candidacy.cohort.answers.counts import Flow
from candidacy.cohort.inputs.mapping import Mapping, load_mapping
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import InputError, Problem, TableError
from candidacy.rules.libraries import load_rule_set
from candidacy.ui.cohort.setup import CASES, DISCS, Asked, on_page
from candidacy.ui.cohort.tried import Tried, Wanted, read_values

if TYPE_CHECKING:
    import pandas as pd

SHOWN_ROWS = 5000


class Compared(Struct, frozen=True, eq=False):
    """Who moves under another rule set: the comparison, and the first `SHOWN_ROWS` of the cases that move."""

    title: str
    comparison: Comparison
    first: "pd.DataFrame"


@dataclass(eq=False)
class Run:
    """A screened cohort with what it was asked. Its working files go when nothing refers to it any more.

    Attributes
    ----------
    tried, compared, firm
        The last values tried, the last rule set compared with, and how firm the standings of a sample are, once asked.
    files
        A private folder for files to take away.
    notes
        Columns that were not read, by the name a person gave the file.
    ready
        Files written so far: what was wished, and where it lies.
    """

    asked: Asked
    cohort: Cohort
    tried: Tried | None = None
    compared: Compared | None = None
    firm: "pd.DataFrame | None" = None
    files: Path = field(init=False)
    notes: tuple[Problem, ...] = ()
    ready: dict[str, tuple[object, Path]] = field(default_factory=dict)
    _kept: dict[Any, Any] = field(default_factory=dict, repr=False)
    # downloads are made on threads of their own, and one connection serves one at a time
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def __post_init__(self) -> None:
        folder = tempfile.TemporaryDirectory(prefix="candidacy-results-", ignore_cleanup_errors=True)
        self.files = Path(folder.name)
        self.notes = tuple(on_page(note, self.asked.setup) for note in self.cohort.notes)
        weakref.finalize(self, _let_go, self.cohort, folder)

    def _once(self, key: Any, make: Callable[[], Any]) -> Any:
        with self._lock:
            if key not in self._kept:
                self._kept[key] = make()
            return self._kept[key]

    @property
    def set_aside_elsewhere(self) -> int:
        """Rows of the tables of discs and lists that could not be used or have no case."""
        return int(self.cohort.discs_set_aside) + int(self.cohort.entries_set_aside)

    def frame(self, name: str) -> "pd.DataFrame":
        """A table of counts by the name of the method that makes it."""
        return self._once(name, getattr(self.cohort, name))

    def flows(self) -> list[Flow]:
        """The participant flows that anyone enters: of discs and of cases."""
        return [flow for flow in self._once("flows", self.cohort.flows) if flow.start]

    def diagram(self, flow: Flow, form: Any, below: int = 0) -> bytes:
        """A participant flow drawn as ``svg`` or ``png``, small counts masked where a threshold is given."""
        drawn: bytes = self._once((flow.unit, form, below), lambda: attrition_diagram(flow, form, below))
        return drawn

    def first_cases(self) -> "pd.DataFrame":
        """Outcomes of the first `SHOWN_ROWS` cases by reference."""
        return self._once("first", lambda: self.cohort.outcomes(limit=SHOWN_ROWS))

    def first_of(self, standing: str) -> "pd.DataFrame":
        """Outcomes of up to `SHOWN_ROWS` cases of one standing, by reference."""
        return self._once(
            ("first", standing), lambda: self.cohort.outcomes(limit=SHOWN_ROWS, standing=standing)
        )

    def first_set_aside(self) -> "pd.DataFrame":
        """The first `SHOWN_ROWS` rows that were set aside, with their row number and the reason."""
        return self._once("aside", self._read_set_aside)

    def _read_set_aside(self) -> "pd.DataFrame":
        import pandas as pd

        found = pd.read_csv(
            self.cohort.set_aside_path, dtype="string", keep_default_na=False, nrows=SHOWN_ROWS
        )
        found["reason"] = found["reason"].map(self.without_folders)
        return found

    def first_unread_cells(self) -> "pd.DataFrame":
        """The first `SHOWN_ROWS` cells that could not be read, with their place and what is allowed."""
        return self._once("unread cells", self._read_unread_cells)

    def _read_unread_cells(self) -> "pd.DataFrame":
        import pandas as pd

        path = self.cohort.cells_not_read_path
        found = pd.read_csv(path, dtype="string", keep_default_na=False, nrows=SHOWN_ROWS)
        found["table"] = found["table"].map(self.without_folders)
        return found

    def without_folders(self, text: str) -> str:
        """Text without the private folders in which uploads lie."""
        for table in self.asked.setup.tables.values():
            if not table.of_case_files:
                text = text.replace(f"{table.path.parent}/", "")
        return text

    def find(self, reference: str) -> Assessment:
        """A case as a full assessment.

        Raises
        ------
        TableError
            If there is no such case.
        """
        with self._lock:
            return self.cohort.open_case(reference)

    def try_values(self, wanted: list[Wanted]) -> None:
        """Count standings for every combination of the values of one or two parameters, and keep them.

        Raises
        ------
        InputError
            With everything that is wrong with the values typed.
        """
        ranges = read_values(self.cohort.rule_set, wanted)
        with self._lock:
            self.tried = Tried(tuple(ranges), self.cohort.sweep(ranges))

    def plot(self, form: Any) -> bytes:
        """The values tried, drawn as ``svg`` or ``png``."""
        assert self.tried is not None
        if form not in self.tried.drawn:
            self.tried.drawn[form] = sweep_plot(
                self.tried.frame, form, self.cohort.rule_set.decisions.counted
            )
        return self.tried.drawn[form]

    def compare(self, name: str, title: str) -> None:
        """Read the same cases under another shipped rule set, and keep who moves."""
        with self._lock:
            found = self.cohort.compare(load_rule_set(name))
            first = found.moved.engine.arrow(f"{found.moved.cases()} LIMIT {SHOWN_ROWS}").to_pandas()
            self.compared = Compared(title, found, first)

    def ask_how_firm(self, sample: int) -> None:
        """Ask of up to so many cases whether one repeat of what was measured would change their standing, and keep it."""
        with self._lock:
            self.firm = self.cohort.firm(sample)

    def moved_cases(self) -> Iterator[dict[str, Any]]:
        """Every case that moves, one at a time."""
        assert self.compared is not None
        moved = self.compared.comparison.moved
        with self._lock:
            found = moved.engine.arrow(moved.cases())
        for batch in found.to_batches(max_chunksize=10_000):
            yield from batch.to_pylist()

    def summary(self, below: int = 0) -> str:
        """The summary page, small counts masked where a threshold is given."""
        with self._lock:
            return self.cohort.summary(below)

    def write(self, folder: Path, **options: Any) -> Path:
        """Write everything to a folder; see `Cohort.write`."""
        with self._lock:
            sweep = self.tried.frame if self.tried is not None else None
            comparison = self.compared.comparison if self.compared is not None else None
            return self.cohort.write(folder, sweep=sweep, comparison=comparison, **options)


def _let_go(cohort: Cohort, folder: Any) -> None:
    cohort.close()
    folder.cleanup()


def run(asked: Asked, progress: Callable[[str, int, int], None]) -> Run:
    """Screen the tables of a setup.

    Raises
    ------
    InputError
        With everything that is wrong with the tables or the mapping, in the words of the page.
    """
    setup = asked.setup
    assert setup.cases is not None
    try:
        cohort = screen(
            setup.path(CASES) or "", asked.rule_set, asked.as_of, discs=setup.path(DISCS), lists=setup.lists,
            mapping=_checked(setup.mapping), delimiter=setup.delimiter, progress=progress,
        )  # fmt: skip
    except InputError as error:
        raise type(error)([on_page(problem, setup) for problem in error.problems]) from None
    cohort.name = setup.cases.name
    return Run(asked, cohort)


def _checked(mapping: str) -> Mapping | None:
    if not mapping.strip():
        return None
    with tempfile.TemporaryDirectory(prefix="candidacy-mapping-") as folder:
        path = Path(folder) / "mapping.yaml"
        path.write_text(mapping, encoding="utf-8")
        try:
            return load_mapping(path)
        except TableError as error:
            raise TableError([replace(problem, file="mapping") for problem in error.problems]) from None
