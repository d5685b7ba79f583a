"""Rows of a table of hold intervals: which of them concern a medicine, and what their cells say.

Pure reading of the tables; what follows for a date stands in `hold_times` and `holds`.
"""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from msgspec import Struct

from candidacy.derive.base import Inputs, once_a_case
from candidacy.foundation.values import Options

_INTERVAL = re.compile(r"(>)?(\d+)(?:-(\d+))? (d|h)\Z")
HALF_LIVES = re.compile(r"\d+ half-lives\Z")
# Cell of a table -> code of the element medicine_hold_action.
_CELLS = {
    "no stop": "no_stop",
    "consider": "consider",
    "shared decision": "shared_decision",
    "continue": "continue",
}


class Wait(Struct, frozen=True):
    """An interval from the last dose as printed: days ("d") or hours ("h"), perhaps a range, perhaps "more than"."""

    least: float
    most: float
    unit: str
    beyond: bool = False

    @property
    def words(self) -> str:
        """The interval as a person writes it."""
        unit = {"d": "day", "h": "hour"}[self.unit]
        number = f"{self.least:g}" if self.least == self.most else f"{self.least:g} to {self.most:g}"
        return f"{'more than ' if self.beyond else ''}{number} {unit}{'' if number == '1' else 's'}"

    def to_its(self, end: str) -> "Wait":
        """The interval with only the ``longest`` or ``shortest`` end of its range."""
        need = self.most if end == "longest" else self.least
        return Wait(need, need, self.unit, self.beyond)

    def times(self, factor: float) -> "Wait":
        """The interval multiplied, as below a renal limit."""
        return Wait(self.least * factor, self.most * factor, self.unit, self.beyond)


class Rule(Struct, frozen=True):
    """What one row says for one risk class.

    Attributes
    ----------
    table, row
        Where it stands, so that its citations can be shown; ``bands`` are rows of ``renal_holds`` used with it.
    action
        Code of the element ``medicine_hold_action`` before the indication is looked at.
    waits
        The intervals that must all be over; empty where none is printed.
    normal_inr
        Whether a normal INR is needed besides.
    restart
        When to restart, as printed; empty where not printed.
    remark
        What a reader must know about the row.
    """

    table: str
    row: str
    action: str
    waits: tuple[Wait, ...]
    normal_inr: bool
    restart: str
    remark: str = ""
    bands: tuple[str, ...] = ()


@cache  # the cells of a few tables, read for every medicine of every case
def read_wait(cell: str) -> Wait:
    """Read "5 d", "12-24 h" or ">96 h".

    Raises
    ------
    ValueError
        If the text is no interval.
    """
    match = _INTERVAL.match(cell)
    if match is None:
        raise ValueError(f"{cell!r} is no interval such as 5 d, 12-24 h or >96 h")
    beyond, least, most, unit = match.groups()
    return Wait(float(least), float(most or least), unit, beyond is not None)


@cache
def read_cell(cell: str) -> tuple[str, Wait | None]:
    """Read a cell: its action, and its interval where it has one.

    Raises
    ------
    ValueError
        If the cell is none of those that the tables may hold.
    """
    if cell in _CELLS:
        return _CELLS[cell], None
    if HALF_LIVES.match(cell):
        return "interval", None
    return "interval", read_wait(cell)


# What a name is counted as that bears on no bleeding, though lists may count it in several classes.
_WITHOUT_BEARING = frozenset(
    ("no_weight", "no_weight_counted_apart", "antibody_counted_apart", "nsaid_on_a_surface")
)


@once_a_case
def group_of(entry: Inputs) -> str | None:
    """Group of a medicine (table ``bleeding_medicine_groups``), ``none``, or ``None`` where it is not known."""
    groups = entry.table("bleeding_medicine_groups")
    agent = entry.options("medicine_agent")
    kind = None if agent is not None and not agent.codes & {"other"} else entry.options("medicine_class")
    if agent is None and (kind is None or not kind.exact):
        # a name that tells no class, or leaves it open, but that none of these groups has
        named = entry.options("medicine_named_class")
        if named is not None and named.codes <= _WITHOUT_BEARING:
            return "none"
    found = {_group(groups, one, other) for one in _codes(agent) for other in _codes(kind)}
    return found.pop() if len(found) == 1 else None


def _codes(value: Options | None) -> tuple[str | None, ...]:
    return (None,) if value is None else tuple(sorted(str(code) for code in value.codes))


def _group(groups: Mapping[str, Mapping[str, Any]], agent: str | None, kind: str | None) -> str | None:
    by_class = agent in (None, "other")
    if by_class and kind is None:
        return None
    for name, row in groups.items():
        if (kind in row["classes"]) if by_class else (agent in row["agents"]):
            return name
    return "none"


def possible_agents(entry: Inputs) -> tuple[str | None, ...]:
    """Codes that the agent may have; one ``None`` where it is not recorded."""
    return _codes(entry.options("medicine_agent"))


def rows_for(entry: Inputs, agent: str | None) -> dict[str, Mapping[str, Any]]:
    """Rows of the table in use of which one is the medicine's, if its agent is this one.

    Several while a fact is missing. A medicine that the table does not name has the row of its class, where there is
    one; a medicine without a recorded agent may be any of its class.
    """
    rows = entry.table(entry.setting("antithrombotic_guideline"))
    found = {key: row for key, row in rows.items() if agent is not None and row["agent"] == agent}
    if not found:
        classes = set(_classes(entry, agent))
        found = {
            key: row
            for key, row in rows.items()
            if row["medicine_class"] in classes and (row["agent"] is None or agent is None)
        }
    for column in ("indication", "route", "intensity"):
        found = _narrowed(found, entry, column)
    return found


def _classes(entry: Inputs, agent: str | None) -> list[str]:
    if agent in (None, "other"):
        return [code for code in _codes(entry.options("medicine_class")) if code is not None]
    groups = entry.table("bleeding_medicine_groups").values()
    return [str(code) for row in groups if agent in row["agents"] for code in row["classes"]]


def _narrowed(rows: dict[str, Mapping[str, Any]], entry: Inputs, column: str) -> dict[str, Mapping[str, Any]]:
    """Keep the rows that a fact leaves possible; a fact that fits no row leaves them all."""
    if all(row[column] is None for row in rows.values()):
        return rows
    value = entry.options(f"medicine_{column}")
    if value is None:
        return rows
    kept = {key: row for key, row in rows.items() if row[column] is None or value.codes & set(row[column])}
    return kept or rows


def rule_of(table: str, key: str, row: Mapping[str, Any], risk: str) -> Rule:
    """The rule that a row states for a risk class; the prescriber decides where its cell was not read."""
    restart = row[f"restart_{risk}"] or ""
    inr = row["also"] == "normal INR"
    if row[risk] is None:
        remark = "the table in use, as far as it was read, has no interval at this risk class"
        return Rule(table, key, "shared_decision", (), inr, restart, remark)
    action, wait = read_cell(row[risk])
    remark = f"{row[risk]} of this agent; its half-life is looked up" if HALF_LIVES.match(row[risk]) else ""
    return Rule(table, key, action, () if wait is None else (wait,), inr, restart, remark)
