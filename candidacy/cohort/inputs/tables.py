"""Tables of cases as a frame: patients with their discs in the same row or in a table of their own, and lists."""

from collections.abc import Mapping as Table
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from candidacy.case.element import LEVELS
from candidacy.cohort.columns.fact_columns import Code, CodeList, FactColumn, Flag, Mask, Numbers, Text
from candidacy.cohort.columns.facts_table import FactsTable, ListColumn
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.disc_tables import beside, take_discs
from candidacy.cohort.inputs.entry_lists import EntryTable, open_lists, problem_of
from candidacy.cohort.inputs.fractions import refuse_open_fractions
from candidacy.cohort.inputs.intake import Fault, Intake, subject_of
from candidacy.cohort.inputs.mapping import Mapping, TableMap, canonical
from candidacy.cohort.inputs.mapping_check import check
from candidacy.cohort.inputs.opening import open_table
from candidacy.cohort.inputs.references import case_text
from candidacy.cohort.inputs.rows import open_row
from candidacy.cohort.inputs.sources import OWN, Staged
from candidacy.cohort.inputs.unmatched_rows import Homeless
from candidacy.cohort.inputs.unread_words import Wordy, tell_words
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code as Reason
from candidacy.foundation.errors import Problem, TableError, shorten
from candidacy.foundation.usual_forms import NO, YES


@dataclass
class OpenedTable:
    """A table made ready: its frame, the rows set aside, and notes on columns that are not read."""

    frame: FactsTable
    faults: list[Fault]
    intake: Intake
    rows: int
    notes: tuple[Problem, ...] = ()
    homeless: list[Homeless] = field(default_factory=list)
    homeless_discs: int = 0
    lists: dict[str, EntryTable] = field(default_factory=dict)


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
    columns = [name for name in types if name not in OWN]
    table = mapping.patients if mapping else canonical([*columns, *patients.left_out])
    notes = check(table, columns, "patient", patients.name, patients.left_out, bare=discs is not None)
    wordy: list[Wordy] = []
    notes = tell_words(engine, "patients", types, table, patients.name, notes, wordy)
    refuse_open_fractions(engine, "patients", types, table, patients.name)
    per_disc: TableMap | None = None
    relation, homeless = "patients", []
    entry_tables, list_notes, list_homeless = open_lists(
        engine, folder, lists or {}, mapping, patients, table, types, wordy
    )
    if discs is not None:
        found = beside(engine, folder, patients, discs, table, types, mapping, wordy)
        relation, types, per_disc, homeless = found.relation, found.types, found.table, found.homeless
        notes += found.notes
        _one_place(table, per_disc, types, patients.name)
    intake = Intake(engine, relation, types, table)
    intake.look(table.columns.items())
    for column, item in table.columns.items():
        intake.take(column, item, subject_of(item, None))
    if per_disc is not None:
        intake.table = per_disc
        take_discs(intake, per_disc)
        intake.table = table
    frame, rows = _frame(intake, patients, per_disc, entry_tables, wordy)
    lost = sum(each.count for each in homeless)
    notes += _wholly_unread(intake, patients.name)
    return OpenedTable(
        frame, intake.faults, intake, rows, notes + list_notes, homeless + list_homeless, lost, entry_tables
    )


def _wholly_unread(intake: Intake, name: str) -> tuple[Problem, ...]:
    """Columns of which no cell can be read: they are probably mapped wrongly."""
    found = []
    for fault in intake.unread:
        cell = case_text(intake.types, fault.column)
        ((filled,),) = intake.engine.rows(
            f"SELECT SUM(CASE WHEN COALESCE({cell}, '') <> '' THEN 1 ELSE 0 END) FROM {intake.relation}"
        )
        if fault.count >= (filled or 0):
            first = next(iter(fault.problems.values()), None)
            found.append(Problem(
                Reason.BAD_TABLE, "no cell of this column can be read, so its facts are unknown", name,
                field=shown_column(fault.column), found=first.found if first else "",
                expected=first.expected if first else fault.expected,
                next_step="check what the column holds and how the mapping reads it",
            ))  # fmt: skip
    return tuple(found)


def _one_place(table: TableMap, per_disc: TableMap, types: dict[str, str], name: str) -> None:
    """Refuse a fact of a disc that stands in the table of patients and in that of discs."""
    second = {item.element for item in per_disc.columns.values()}
    twice = [
        Problem(
            Reason.BAD_MAPPING, "the table of discs holds this element too", name, field=shorten(column),
            found=item.element, expected="one of the two columns", next_step="list the other under ignore",
        )
        for column, item in table.columns.items()
        if item.disc and item.element in second and f"{subject_of(item, None)}|rows" in types
    ]  # fmt: skip
    if twice:
        raise TableError(twice)


# --- the frame


def _frame(
    intake: Intake,
    patients: Staged,
    per_disc: TableMap | None,
    lists: dict[str, EntryTable],
    wordy: list[Wordy],
) -> tuple[FactsTable, int]:
    engine, table = intake.engine, intake.table
    quote = sql.identifier
    case = case_text(intake.types, table.case_id)
    intake.faults.append(
        Fault(
            f"(COALESCE({case}, '') = '')",
            table.case_id,
            message="there is no case reference",
            expected="a reference of its own for each case",
        )
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
            Fault(
                f"COALESCE({entries.relation}_bad, FALSE)",
                name,
                message="a bad entry",
                told_by=f"{entries.relation}_why",
            )
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
    frame = FactsTable(
        engine,
        "cases",
        "case_id",
        facts,
        {level: quote(f"disc {level}") for level in intake.present},
        tuple(level for level in LEVELS if level in listed),
        lambda reference: open_row(intake, per_disc, lists, wordy, case, reference, patients.name),
        list_columns,
        kept,
    )
    if not kept:
        raise TableError(_no_row(intake, patients, total))
    return frame, total


def _no_row(intake: Intake, patients: Staged, total: int) -> list[Problem]:
    """Why no row can be used: each fault once, with how many rows it concerns."""
    if not total:
        return [Problem(Reason.EMPTY, "there is no row", patients.name, expected="one row for each case")]
    found = []
    for fault in intake.faults:
        first = list(fault.problems.values())[:3] or _first_told(intake, fault, patients.name)
        message = "; ".join(dict.fromkeys(each.message for each in first)) or fault.message
        found.append(
            Problem(
                Reason.BAD_TABLE,
                f"no row can be used: {message}",
                patients.name,
                field=shown_column(fault.column),
                found=f"{fault.count} of {total} rows"
                + "".join(f", {each.found}" for each in first if each.found),
                expected=fault.expected or "; ".join(dict.fromkeys(each.expected for each in first)),
                next_step="check the column, or map it: candidacy screen TABLE --suggest-mapping mapping.yaml",
            )
        )
    return found


def _first_told(intake: Intake, fault: Fault, name: str) -> list[Problem]:
    """The first problem of a fault that is told row by row."""
    if not fault.told_by:
        return []
    rows = intake.engine.rows(f"SELECT {fault.told_by} FROM {intake.source} WHERE {fault.where} LIMIT 1")
    return [problem_of(row[0], name, 0, fault.column) for row in rows]


def shown_column(column: str) -> str:
    """A column as a person knows it: ``L4-L5|slip`` is column slip of the row of that disc."""
    level, sign, name = column.partition("|")
    if sign and level in LEVELS:
        return level if name == "rows" else shorten(f"{level} {name}")
    return shorten(column)


def _twice(intake: Intake, case: str) -> None:
    """Rows whose case reference occurs more than once: which is right must be asked."""
    different, all_ = intake.engine.rows(
        f"SELECT COUNT(DISTINCT HASH({case})), COUNT({case}) FROM {intake.relation}"
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
    text = f"LOWER(TRIM(CAST({raw} AS VARCHAR)))"
    yes, no = (", ".join(map(sql.text, words)) for words in (YES, NO))
    noted = intake.unread if intake.table.keeps_row() else intake.faults
    noted.append(
        Fault(
            f"({text} NOT IN ({yes}, {no}, ''))",
            column,
            message="not true or false, so the list is not taken as complete",
            expected="true or false, yes or no",
        )
    )
    return f"COALESCE({text} IN ({yes}), FALSE)"


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
    if not (column.day and column.day[0].isdigit()):  # else it is the same for all
        column = replace(column, day=named(column.day, "|day"), last_day=named(column.last_day, "|last_day"))
    return chosen, replace(column, cells=made, why=named(column.why, "|why"))
