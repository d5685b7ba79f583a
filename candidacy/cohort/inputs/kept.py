"""What is known of the tables that a cohort was made from: the frame, its name, its rows, and those set aside."""

from dataclasses import dataclass, field
from pathlib import Path

from candidacy.cohort.columns.facts_table import FactsTable
from candidacy.cohort.inputs.digests import Inputs
from candidacy.foundation.errors import Problem


@dataclass
class Kept:
    """What is known of the input: its frame, its name, its rows, those set aside, and cells that were not read."""

    folder: Path
    frame: FactsTable = field(init=False)
    name: str = ""
    rows: int = 0
    set_aside: int = 0
    discs_set_aside: int = 0
    entries_set_aside: int = 0
    unread_cells: int = 0
    problems: tuple[Problem, ...] = ()
    cell_problems: tuple[Problem, ...] = ()
    notes: tuple[Problem, ...] = ()
    with_remarks: int = 0
    # For `candidacy.cohort.inputs.digests.input_digests`.
    inputs: Inputs = field(default_factory=Inputs)

    @property
    def set_aside_file(self) -> Path:
        return self.folder / "set_aside.csv"

    @property
    def unread_cells_file(self) -> Path:
        return self.folder / "cells_not_read.csv"
