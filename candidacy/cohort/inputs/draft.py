"""A mapping while a person makes it: what each column holds, what is still open, and which columns were compared.

It reads and writes the file that `candidacy.cohort.inputs.mapping` loads. It becomes confirmed when every column of every
table was compared, and a column that is changed has to be compared again.
"""

from copy import deepcopy
from typing import Any

import yaml
from msgspec import Struct
from pydantic import ValidationError

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Element
from candidacy.cohort.inputs.guessed_cells import OPEN
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.foundation.errors import Code, InputError, Problem, TableError
from candidacy.foundation.files import parse

PATIENTS, DISCS = "patients", "discs"
# what a column may hold besides an element
CASE, LEVEL, DAYS, COMPLETE, UNREAD, DAY_OF = "case", "level", "days", "complete", "unread", "day_of"
_HEAD = "# Which column is which data element. Read only where confirmed: true stands, which a person answers for.\n"
_WIDTH = 110


class Holds(Struct, frozen=True):
    """What a column holds: an element, or one of `CASE`, `LEVEL`, `DAYS`, `COMPLETE`, `DAY_OF` and `UNREAD`.

    Attributes
    ----------
    name
        The element; of `COMPLETE` the list of the record; of `DAY_OF` the column whose day it is.
    """

    kind: str
    name: str = ""


def scope_of(table: str) -> str:
    """The scope of the rows of a table of a mapping."""
    return {PATIENTS: "patient", DISCS: "disc"}.get(table) or LISTS[table]


class Draft:
    """A mapping file as plain content; every change is made on a copy."""

    def __init__(self, tree: dict[str, Any]) -> None:
        self.tree = tree

    @classmethod
    def of(cls, text: str) -> "Draft":
        """Read a mapping, confirmed or not, with questions that are still open.

        Raises
        ------
        TableError
            If it is no YAML, or has not the shape of a mapping.
        """
        try:
            tree = parse(text, "mapping").plain()
        except InputError as error:
            raise TableError(error.problems) from None
        problem = _misshapen(tree)
        if problem:
            raise TableError([Problem(Code.BAD_MAPPING, "not the shape of a mapping", "mapping", field=problem,
                                      expected="version, confirmed, patients with columns")])  # fmt: skip
        return cls(tree)

    def text(self) -> str:
        """The mapping as a file."""
        body: str = yaml.safe_dump(self.tree, sort_keys=False, allow_unicode=True, width=_WIDTH)
        return _HEAD + body

    @property
    def confirmed(self) -> bool:
        """A person answers for the whole."""
        return self.tree.get("confirmed") is True

    def table(self, name: str) -> dict[str, Any]:
        """The mapping of a table; an empty one where it has none yet."""
        found = self.tree.get(name) if name in (PATIENTS, DISCS) else (self.tree.get("lists") or {}).get(name)
        return found or {}

    # --- what columns hold

    def holds(self, table: str, column: str) -> Holds:
        """What a column holds."""
        here = self.table(table)
        entries: dict[str, Any] = here.get("columns") or {}
        if column == here.get("case_id"):
            return Holds(CASE)
        if table == DISCS and column == here.get("disc"):
            return Holds(LEVEL)
        if column in entries:
            return Holds("element", str(entries[column].get("element", "")))
        if column == here.get("facts_dated_by"):
            return Holds(DAYS)
        for name, each in (here.get("lists_complete") or {}).items():
            if each == column:
                return Holds(COMPLETE, name)
        dated = [other for other, entry in entries.items() if entry.get("dated_by") == column]
        return Holds(DAY_OF, ", ".join(dated)) if dated else Holds(UNREAD)

    def entry(self, table: str, column: str) -> dict[str, Any]:
        """What the mapping says of a column that holds an element."""
        return dict((self.table(table).get("columns") or {}).get(column) or {})

    def element(self, table: str, column: str) -> Element | None:
        """The element that a column holds; ``None`` where it holds none that there is."""
        return catalogue().get(str(self.entry(table, column).get("element", "")))

    def questions(self, table: str, column: str) -> list[str]:
        """What has to be answered before the cells of a column can be read."""
        holds, entry = self.holds(table, column), self.entry(table, column)
        if holds.kind != "element":
            return []
        element = self.element(table, column)
        if element is None:
            return ["element: choose one"]
        found = [f"{name}: choose" for name, value in entry.items() if value == OPEN and name != "unit"]
        if element.unit is not None and entry.get("unit") in (None, OPEN):
            found.append("unit: choose")
        if element.scope == "disc" and table == PATIENTS and not entry.get("disc"):
            found.append("disc: choose")
        return found

    def item(self, table: str, column: str) -> ColumnMap | None:
        """The column as the table is read by it; ``None`` while a question is open."""
        if self.holds(table, column).kind != "element" or self.questions(table, column):
            return None
        try:
            return ColumnMap.model_validate(self.entry(table, column))
        except ValidationError:
            return None

    def table_map(self, name: str) -> TableMap:
        """The mapping of a table without columns that have an open question."""
        here = {key: value for key, value in self.table(name).items() if value not in (OPEN, None)}
        here["columns"] = {
            column: self.entry(name, column)
            for column in here.get("columns") or {}
            if self.item(name, column) is not None
        }
        return TableMap.model_validate(here)

    # --- changes

    def with_holds(
        self, table: str, column: str, holds: Holds, entry: dict[str, Any] | None = None
    ) -> "Draft":
        """The column holds something else; ``entry`` says how an element is written there."""
        made, here = self._copy(table)
        columns = here.setdefault("columns", {})
        columns.pop(column, None)
        here["ignore"] = [each for each in here.get("ignore") or [] if each != column]
        for key in ("case_id", "disc", "facts_dated_by"):
            if here.get(key) == column:
                here[key] = OPEN if key == "case_id" or (key == "disc" and table == DISCS) else None
        complete = {name: each for name, each in (here.get("lists_complete") or {}).items() if each != column}
        if holds.kind == CASE:
            here["case_id"] = column
        elif holds.kind == LEVEL:
            here["disc"] = column
        elif holds.kind == DAYS:
            here["facts_dated_by"] = column
        elif holds.kind == COMPLETE:
            complete[holds.name] = column
        elif holds.kind == "element":
            columns[column] = {"element": holds.name, **(entry or {})}
        else:
            here["ignore"].append(column)
        if holds.kind != "element":
            for each in columns.values():
                if each.get("dated_by") == column:
                    del each["dated_by"]
        here["lists_complete"] = complete
        return made._tidy(table, column)

    def with_field(self, table: str, column: str, name: str, value: Any) -> "Draft":
        """One more, another or no answer about a column (``None`` takes it out)."""
        made, here = self._copy(table)
        entry = here["columns"][column]
        entry.pop(name, None)
        if value not in (None, "", {}, []):
            entry[name] = value
        return made._tidy(table, column)

    def with_table_field(self, table: str, name: str, value: Any, column: str) -> "Draft":
        """Another answer about a whole table, which was given at this column (``None`` takes it out)."""
        made, here = self._copy(table)
        here.pop(name, None)
        if value is not None:
            here[name] = value
        if here.get("compared"):
            days = (DAYS, DAY_OF)
            here["compared"] = [each for each in here["compared"] if self.holds(table, each).kind not in days]
        return made._tidy(table, column)

    def with_compared(
        self, tables: dict[str, list[str]], table: str, columns: list[str], said: bool
    ) -> "Draft":
        """These columns were compared, or have to be once more; ``tables`` are all tables with their columns."""
        made, here = self._copy(table)
        before = self.compared(table, tables[table])
        after = before | set(columns) if said else before - set(columns)
        here["compared"] = [each for each in tables[table] if each in after]
        made.tree["confirmed"] = all(made.compared(name, each) >= set(each) for name, each in tables.items())
        return made._tidy(table)

    def spelled_out(self, tables: dict[str, list[str]]) -> "Draft":
        """The same with every column named that was confirmed with the whole, so that one can be changed alone."""
        made = Draft(deepcopy(self.tree))
        for name, columns in tables.items():
            done = self.compared(name, columns)
            if done and not made.table(name).get("compared"):
                made.table(name)["compared"] = [each for each in columns if each in done]
        return made

    def compared(self, table: str, columns: list[str]) -> set[str]:
        """Columns that a person has compared."""
        here = self.table(table)
        if here.get("compared"):
            return set(here["compared"]) & set(columns)
        return set(columns) if self.confirmed and here else set()

    def _copy(self, table: str) -> tuple["Draft", dict[str, Any]]:
        tree = deepcopy(self.tree)
        home = tree if table in (PATIENTS, DISCS) else tree.setdefault("lists", {})
        here = home.setdefault(table, {"case_id": OPEN, "columns": {}})
        return Draft(tree), here

    def _tidy(self, table: str, changed: str = "") -> "Draft":
        """Without empty keys; a column that was changed has to be compared again."""
        here = self.table(table)
        if changed:
            self.tree["confirmed"] = False
            if here.get("compared"):
                here["compared"] = [each for each in here["compared"] if each != changed]
        for key in ("ignore", "lists_complete", "compared", "disc", "facts_dated_by"):
            if key in here and not here[key]:
                del here[key]
        return self


def _misshapen(tree: Any) -> str:
    """Where a tree has not the shape of a mapping, as far as a draft needs it; empty where it has."""
    if not isinstance(tree, dict) or not isinstance(tree.get(PATIENTS), dict):
        return PATIENTS
    tables = {PATIENTS: tree[PATIENTS], DISCS: tree.get(DISCS) or {}}
    lists = tree.get("lists") or {}
    if not isinstance(lists, dict) or set(lists) - set(LISTS):
        return "lists"
    for name, table in (tables | lists).items():
        if not isinstance(table, dict):
            return name
        columns = table.get("columns") or {}
        if not isinstance(columns, dict) or not all(isinstance(each, dict) for each in columns.values()):
            return f"{name}.columns"
        if any(not isinstance(each.get("codes") or {}, dict) for each in columns.values()):
            return f"{name}.columns"
        for key, kind in (("ignore", list), ("compared", list), ("lists_complete", dict)):
            if not isinstance(table.get(key) or kind(), kind):
                return f"{name}.{key}"
    return ""
