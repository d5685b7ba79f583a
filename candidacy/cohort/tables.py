"""Tables of cases as a frame: patients with their discs in the same row or in a table of their own, and lists."""

from collections.abc import Mapping as Table
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from candidacy.case.catalogue import LEVELS, LISTS
from candidacy.cohort import sqltext as sql
from candidacy.cohort.beside import beside, open_table, take_discs
from candidacy.cohort.columns import Code, CodeList, FactColumn, Flag, Mask, Numbers, Text
from candidacy.cohort.engines import Engine
from candidacy.cohort.entry_lists import EntryTable
from candidacy.cohort.frame import Frame, ListColumn
from candidacy.cohort.intake import Fault, Intake, subject_of
from candidacy.cohort.mapping import Mapping, TableMap, canonical, check
from candidacy.cohort.rows import open_row
from candidacy.cohort.sources import PLACE, Staged
from candidacy.errors import Code as Reason
from candidacy.errors import Problem, TableError


@dataclass
class OpenedTable:
    """A table made ready: its frame, the rows set aside, and notes on columns that are not read."""

    frame: Frame
    faults: list[Fault]
    faulty: str
    intake: Intake
    rows: int
    notes: tuple[Problem, ...] = ()
    orphans: list[Problem] = field(default_factory=list)


def open_tables(
    engine: Engine,
    folder: Path,
    patients: Staged,
    discs: Staged | None = None,
    lists: Table[str, Staged] | None = None,
    mapping: Mapping | None = None,
) -> OpenedTable:
    """Make a frame of one table, or of a table of patients and one of discs.

    Raises
    ------
    TableError
        For a mapping that does not fit, or a table without usable rows.
    """
    types = open_table(engine, "patients", patients)
    columns = [name for name in types if name != PLACE]
    table = mapping.patients if mapping else canonical(columns)
    per_disc: TableMap | None = None
    notes: tuple[Problem, ...] = ()
    orphans: list[Problem] = []
    relation = "patients"
    if discs is not None:
        relation, types, per_disc, disc_notes, orphans = beside(
            engine, folder, patients, discs, table, types, mapping
        )
        notes += disc_notes
        if not table.columns:
            table = table.model_copy(update={"columns": {}})
    if per_disc is None or table.columns:
        notes = check(table, columns, "patient", patients.name) + notes
    intake = Intake(engine, relation, types, table)
    for column, item in table.columns.items():
        intake.take(column, item, subject_of(item, None))
    if per_disc is not None:
        intake.table = per_disc
        take_discs(intake, per_disc)
        intake.table = table
    entry_tables = _entry_tables(engine, lists or {}, mapping, intake)
    frame, faulty, rows = _frame(intake, patients, per_disc, entry_tables)
    return OpenedTable(frame, intake.faults, faulty, intake, rows, notes, orphans)


# --- lists of the record


def _entry_tables(
    engine: Engine, lists: Table[str, Staged], mapping: Mapping | None, intake: Intake
) -> dict[str, EntryTable]:
    found = {}
    for name, staged in lists.items():
        types = open_table(engine, f"list_{name}", staged)
        columns = [each for each in types if each != PLACE]
        table = (mapping.table_of(name) if mapping else None) or canonical(columns, LISTS[name])
        check(table, columns, LISTS[name], staged.name)
        found[name] = EntryTable.read(engine, f"list_{name}", name, table)
    return found


# --- the frame


def _frame(
    intake: Intake, patients: Staged, per_disc: TableMap | None, lists: dict[str, EntryTable]
) -> tuple[Frame, str, int]:
    engine, table = intake.engine, intake.table
    quote = engine.dialect.identifier
    case = f"CAST({quote(table.case_id)} AS {engine.dialect.text_type})"
    intake.faults.append(
        Fault(f"(COALESCE(TRIM({case}), '') = '')", table.case_id, message="there is no case reference")
    )
    _twice(intake, case)
    list_columns = {}
    complete: dict[str, str] = {
        name: _complete(intake, column) for name, column in table.lists_complete.items()
    }
    for name, entries in lists.items():
        intake.joins.append(
            f"LEFT JOIN {entries.relation} ON {case} = {entries.relation}.{entries.relation}_case"
        )
        intake.faults.append(
            Fault(f"COALESCE({entries.relation}_bad, FALSE)", name, entries.problems, "a bad entry")
        )
    intake.check_rows()
    total = intake.count_faults()
    bad = sql.any_of(f"COALESCE({fault.where}, FALSE)" for fault in intake.faults)
    chosen = [f"{case} AS case_id"]
    facts = {}
    for key, column in intake.facts.items():
        parts, facts[key] = _projected(column, quote)
        chosen += parts
    for level, parts in intake.present.items():
        chosen.append(f"{sql.any_of(parts)} AS {quote(f'disc {level}')}")
    for name in {*complete, *lists}:
        entry_table = lists.get(name)
        text = f"COALESCE({entry_table.relation}_entries, '[]')" if entry_table else "'[]'"
        chosen.append(f"{text} AS {quote(f'list {name}')}")
        chosen.append(f"{complete.get(name, sql.FALSE)} AS {quote(f'list {name}|complete')}")
        list_columns[name] = ListColumn(
            quote(f"list {name}"), f"COALESCE({quote(f'list {name}|complete')}, FALSE)"
        )
    where = "" if bad == sql.FALSE else f" WHERE NOT {bad}"
    keep = engine.hold if intake.translations or intake.joins else engine.view
    keep("cases", f"SELECT {', '.join(chosen)} FROM {intake.source}{where}")
    listed = {level for level in LEVELS if level in intake.present} | intake.levels
    kept = total
    if bad != sql.FALSE:
        kept = int(engine.rows("SELECT COUNT(*) FROM cases")[0][0])
    frame = Frame(
        engine,
        "cases",
        "case_id",
        facts,
        {level: quote(f"disc {level}") for level in intake.present},
        tuple(level for level in LEVELS if level in listed),
        lambda reference: open_row(intake, per_disc, lists, case, reference),
        list_columns,
        kept,
    )
    if not kept:
        raise TableError(
            [
                Problem(
                    Reason.BAD_TABLE,
                    "no row can be used",
                    patients.name,
                    field=fault.column,
                    found=f"{fault.count} of {total} rows",
                    expected=fault.expected
                    or "; ".join(dict.fromkeys(p.expected for p in list(fault.problems.values())[:3])),
                    next_step=fault.message
                    or "; ".join(dict.fromkeys(p.message for p in list(fault.problems.values())[:3])),
                )
                for fault in intake.faults
            ]
            or [Problem(Reason.EMPTY, "there is no row", patients.name)]
        )
    return frame, bad, total


def _twice(intake: Intake, case: str) -> None:
    """Rows whose case reference occurs more than once: which is right must be asked."""
    different, all_ = intake.engine.rows(
        f"SELECT COUNT(DISTINCT {intake.engine.dialect.hash}({case})), COUNT({case}) FROM {intake.relation}"
    )[0]
    if different == all_:
        return
    alias = f"{intake.relation}_twice"
    intake.engine.view(
        alias, f"SELECT {case} AS twice_case FROM {intake.relation} GROUP BY {case} HAVING COUNT(*) > 1"
    )
    intake.joins.append(f"LEFT JOIN {alias} ON {case} = twice_case")
    intake.faults.append(
        Fault(
            "(twice_case IS NOT NULL)",
            intake.table.case_id,
            message="the case reference occurs more than once",
            expected="one row for each case",
        )
    )


def _complete(intake: Intake, column: str) -> str:
    """Two-valued SQL of a column that says whether a list is complete."""
    raw, kind = intake.raw(column)
    if kind == "boolean":
        return f"COALESCE({raw}, FALSE)"
    text = f"LOWER(TRIM({raw}))"
    intake.faults.append(
        Fault(
            f"({text} NOT IN ('true', 'false', ''))",
            column,
            message="not true or false",
            expected="true or false",
        )
    )
    return f"COALESCE({text} = 'true', FALSE)"


def _projected(column: FactColumn, quote: Any) -> tuple[list[str], FactColumn]:
    """The columns of a fact under names of our own, and the fact that reads them."""
    base = f"{column.element.name}@{column.subject}"
    cells = column.cells
    chosen: list[str] = []

    def named(expression: str, suffix: str) -> str:
        if not expression:
            return ""
        name = quote(base + suffix)
        chosen.append(f"{expression} AS {name}")
        return str(name)

    made: Any
    if isinstance(cells, Numbers):
        made = Numbers(
            named(cells.low, ""),
            named(cells.high, "|high"),
            named(cells.low_open, "|low_open"),
            named(cells.high_open, "|high_open"),
        )
    elif isinstance(cells, Code):
        made = Code(named(cells.code, ""))
    elif isinstance(cells, Mask):
        made = Mask(named(cells.mask, ""))
    elif isinstance(cells, Flag):
        name = named(cells.truth, "")
        made = Flag(name, f"({name} IS NOT NULL)")
    elif isinstance(cells, CodeList):
        made = CodeList(named(cells.certain, ""), named(cells.possible, "|possible"))
    else:
        assert isinstance(cells, Text)
        made = Text(named(cells.text, ""))
    constant = bool(column.day) and column.day[0].isdigit()
    day = column.day if constant else named(column.day, "|day")
    return chosen, replace(column, cells=made, day=day, why=named(column.why, "|why"))
