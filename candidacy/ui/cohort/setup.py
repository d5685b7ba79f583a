"""What a cohort is screened from: the tables on the desk, how they are written, the mapping. Nothing is read here."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Problem, shorten
from candidacy.rules.resolved import RuleSet

CASES, DISCS = "cases", "discs"
SLOTS: dict[str, str] = {
    CASES: "Cases",
    DISCS: "Discs, one row per disc",
    "medicines": "Medicines, one row per medicine",
    "treatments": "Treatments, one row per treatment",
    "injections": "Injections, one row per injection",
    "surgeries": "Surgeries, one row per operation",
    "intradiscal_procedures": "Earlier intradiscal procedures, one row each",
}
_BOOKS, _BASES = (".xlsx", ".xlsm"), (".duckdb", ".db", ".ddb")
_TEXTS = (".csv", ".tsv", ".txt")
ENDINGS = [e.removeprefix(".") for e in (*_TEXTS, *_BOOKS, ".parquet", ".pq", *_BASES)]
DELIMITERS = {"": "as the header shows", ",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}


@dataclass(frozen=True, slots=True)
class Table:
    """An uploaded table, or a folder of case files that is already on this machine."""

    path: Path
    name: str
    folder: Any = field(default=None, compare=False)  # removes the upload when nothing refers to it any more

    @property
    def in_parts(self) -> bool:
        """Whether it may hold several sheets or tables."""
        return self.path.suffix in (*_BOOKS, *_BASES)

    @property
    def delimited(self) -> bool:
        """Whether its cells are parted by a sign."""
        return self.path.suffix in _TEXTS

    @property
    def of_case_files(self) -> bool:
        return self.folder is None


def columns_of(slot: str) -> list[str]:
    """Headers that a table of discs or of a list may have, as they are read without a mapping."""
    scope = LISTS.get(slot, "disc")
    found = [element for element in catalogue().all if element.scope == scope and element.statable]
    own = ["case_id", "disc"] if slot == DISCS else ["case_id"]
    return own + [f"{each.name} [{each.unit}]" if each.unit else each.name for each in found]


def uploaded(slot: str, name: str, content: bytes | memoryview) -> Table:
    """Put an upload into a private folder, under a name of our own with its ending."""
    folder = tempfile.TemporaryDirectory(prefix="candidacy-table-", ignore_cleanup_errors=True)
    ending = "".join(sign for sign in Path(name).suffix.lower()[1:10] if sign.isalnum())
    path = Path(folder.name) / f"{slot}.{ending}"
    path.write_bytes(content)
    return Table(path, shorten(name), folder)


class Setup(Struct, frozen=True):
    """Tables by what they hold (see `SLOTS`), and how they are to be read.

    Attributes
    ----------
    parts
        Sheet of a workbook or table of a database, by what the table holds; only where it may have several.
    delimiter
        Sign between the cells of text tables; empty where the header shows it.
    mapping
        What the columns hold (YAML); empty where the headers say so themselves.
    """

    tables: Mapping[str, Table] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)
    delimiter: str = ""
    mapping: str = ""

    @property
    def cases(self) -> Table | None:
        return self.tables.get(CASES)

    def path(self, slot: str) -> str | None:
        """Where a table lies, with its sheet behind ``#``; ``None`` where there is none."""
        table, part = self.tables.get(slot), self.parts.get(slot, "")
        if table is None:
            return None
        return f"{table.path}#{part}" if part else str(table.path)

    @property
    def lists(self) -> dict[str, str]:
        """Paths by list of the record."""
        return {name: path for name in LISTS if (path := self.path(name)) is not None}

    @property
    def free_slots(self) -> list[str]:
        """What no table on the desk holds yet."""
        return [slot for slot in SLOTS if slot not in self.tables]


class Asked(Struct, frozen=True):
    """Everything that decides the result of a screening."""

    setup: Setup
    rule_set: RuleSet
    as_of: date

    def differs_from(self, other: "Asked") -> list[str]:
        """What has another value there, in words."""
        pairs = {
            "rule set or local trial": (self.rule_set.digest, other.rule_set.digest),
            "date": (self.as_of, other.as_of),
            "tables": (self.setup.tables, other.setup.tables),
            "mapping": (self.setup.mapping.strip(), other.setup.mapping.strip()),
            "sheet or delimiter": (
                (self.setup.parts, self.setup.delimiter),
                (other.setup.parts, other.setup.delimiter),
            ),
        }
        return [words for words, (one, two) in pairs.items() if one != two]


def on_page(problem: Problem, setup: Setup) -> Problem:
    """A finding in the words of this page: the name a person gave a file, and the field instead of an option."""
    slot = next((s for s, t in setup.tables.items() if problem.file.partition("#")[0] == str(t.path)), "")
    file = (
        problem.file.replace(str(setup.tables[slot].path), setup.tables[slot].name) if slot else problem.file
    )
    return replace(problem, file=file, next_step=_step(problem.next_step, slot))


def _step(step: str, slot: str) -> str:
    if "--part" in step:
        return f"choose it under “Sheet or table of {what(slot or CASES)}”"
    if "--delimiter" in step:
        return "choose it under “Delimiter”"
    if "--discs" in step:
        return "add that table, or take it out of the mapping"
    if "--suggest-mapping" in step:
        if slot and slot != CASES:
            return "name its columns as shown at “Add a table”, or press “Propose a mapping” and check every line"
        return "press “Propose a mapping”, check every line and confirm it"
    if "--memory" in step:
        return "free some space on this machine; nothing was left half-written"
    return "change it above and try again" if "--" in step else step


def what(slot: str) -> str:
    """What a table holds, in lower case without its shape."""
    return SLOTS[slot].partition(",")[0].lower()
