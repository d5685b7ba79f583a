"""Tables of cases as a frame: patients with their discs in the same row or in a table of their own, and lists."""

import re
from collections.abc import Mapping as Table
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from candidacy.case.catalogue import LEVELS, LISTS
from candidacy.case.facts import normal_level
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort import sqltext as sql
from candidacy.cohort.cells import entry_of, one_date
from candidacy.cohort.columns import Code, CodeList, FactColumn, Flag, Mask, Numbers, Text
from candidacy.cohort.engines import Engine
from candidacy.cohort.entry_lists import EntryTable
from candidacy.cohort.frame import Frame, ListColumn
from candidacy.cohort.intake import Fault, Intake, subject_of
from candidacy.cohort.mapping import ColumnMap, Mapping, TableMap, canonical, check
from candidacy.cohort.sources import PLACE, Staged
from candidacy.errors import Code as Reason
from candidacy.errors import InputError, Problem, TableError, shorten

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")


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
    types = _open(engine, "patients", patients)
    columns = [name for name in types if name != PLACE]
    table = mapping.patients if mapping else canonical(columns)
    per_disc: TableMap | None = None
    notes: tuple[Problem, ...] = ()
    orphans: list[Problem] = []
    relation = "patients"
    if discs is not None:
        relation, types, per_disc, disc_notes, orphans = _beside(
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
        _take_discs(intake, per_disc)
        intake.table = table
    entry_tables = _entry_tables(engine, lists or {}, mapping, intake)
    frame, faulty, rows = _frame(intake, patients, per_disc, entry_tables)
    return OpenedTable(frame, intake.faults, faulty, intake, rows, notes, orphans)


def _open(engine: Engine, name: str, staged: Staged) -> dict[str, str]:
    return engine.open_parquet(name, staged.path, "" if staged.place else PLACE)


# --- discs in a table of their own


def _beside(
    engine: Engine,
    folder: Path,
    patients: Staged,
    discs: Staged,
    table: TableMap,
    types: dict[str, str],
    mapping: Mapping | None,
) -> tuple[str, dict[str, str], TableMap, tuple[Problem, ...], list[Problem]]:
    """Put the rows of each case's discs beside its own row, one set of columns for each level."""
    quote = engine.dialect.identifier
    disc_types = _open(engine, "disc_rows", discs)
    columns = [name for name in disc_types if name != PLACE]
    per_disc = mapping.discs if mapping and mapping.discs else canonical(columns, "disc")
    notes = check(per_disc, columns, "disc", discs.name)
    assert per_disc.disc is not None
    text = engine.dialect.text_type
    level = f"TRIM(CAST({quote(per_disc.disc)} AS {text}))"
    written = [row[0] for row in engine.rows(f"SELECT DISTINCT {level} FROM disc_rows")]
    spelling = {text_: normal_level(text_) for text_ in written if text_}
    problems = [
        Problem(
            Reason.BAD_LEVEL,
            "not a lumbar disc level",
            discs.name,
            field=per_disc.disc,
            found=shorten(text_),
            expected=", ".join(LEVELS),
        )
        for text_ in written
        if not text_ or spelling[text_] is None
    ]
    if problems:
        raise TableError(problems)
    levels = [each for each in LEVELS if each in set(spelling.values())]
    case = f"CAST({quote(per_disc.case_id)} AS {text})"
    found = []
    for each in levels:
        same = ", ".join(engine.dialect.string(t) for t, known in spelling.items() if known == each)
        here = f"{level} IN ({same})"
        found.append(f"SUM(CASE WHEN {here} THEN 1 ELSE 0 END) AS {quote(f'{each}|rows')}")
        found += [
            f"MAX(CASE WHEN {here} THEN {quote(column)} END) AS {quote(f'{each}|{column}')}"
            for column in sorted(per_disc.used() - {per_disc.disc, per_disc.case_id})
        ]
    engine.view("disc_sets", f"SELECT {case} AS disc_case, {', '.join(found)} FROM disc_rows GROUP BY {case}")
    own = f"CAST(patients.{quote(table.case_id)} AS {text})"
    if table.case_id not in types:
        check(table, list(types), "patient", patients.name)
    wide = folder / "wide.parquet"
    engine.write(
        f"SELECT patients.*, disc_sets.* FROM patients LEFT JOIN disc_sets ON {own} = disc_case", wide
    )
    lost = engine.rows(
        f"SELECT disc_case FROM disc_sets LEFT JOIN patients ON {own} = disc_case "
        f"WHERE patients.{quote(table.case_id)} IS NULL ORDER BY disc_case LIMIT 200"
    )
    orphans = [
        Problem(
            Reason.BAD_TABLE,
            "discs of a case that is not in the table of patients",
            discs.name,
            field=per_disc.case_id,
            found=shorten(row[0]),
        )
        for row in lost
    ]
    return "wide", engine.open_parquet("wide", wide), per_disc, notes, orphans


def _take_discs(intake: Intake, per_disc: TableMap) -> None:
    quote = intake.engine.dialect.identifier
    for level in LEVELS:
        if f"{level}|rows" not in intake.types:
            continue
        for column, item in per_disc.columns.items():
            update = {"dated_by": f"{level}|{item.dated_by}" if item.dated_by else None}
            days = f"{level}|{per_disc.facts_dated_by}" if per_disc.facts_dated_by else None
            intake.table = per_disc.model_copy(update={"facts_dated_by": days})
            intake.take(f"{level}|{column}", item.model_copy(update=update), level)
        rows = f"{intake.relation}.{quote(f'{level}|rows')}"
        intake.present[level] = [f"(COALESCE({rows}, 0) > 0)"]
        intake.faults.append(Fault(f"({rows} > 1)", f"{level}|rows", message="this disc is listed twice"))


# --- lists of the record


def _entry_tables(
    engine: Engine, lists: Table[str, Staged], mapping: Mapping | None, intake: Intake
) -> dict[str, EntryTable]:
    found = {}
    for name, staged in lists.items():
        types = _open(engine, f"list_{name}", staged)
        columns = [each for each in types if each != PLACE]
        table = (mapping.lists.get(name) if mapping else None) or canonical(columns, LISTS[name])  # type: ignore[call-overload]
        check(table, columns, LISTS[name], staged.name)
        found[name] = EntryTable.read(engine, f"list_{name}", name, table)
    return found


# --- the frame


def _frame(
    intake: Intake, patients: Staged, per_disc: TableMap | None, lists: dict[str, EntryTable]
) -> tuple[Frame, str, int]:
    engine, table = intake.engine, intake.table
    quote = engine.dialect.identifier
    case = f"CAST({intake.relation}.{quote(table.case_id)} AS {engine.dialect.text_type})"
    intake.faults.append(
        Fault(f"(COALESCE(TRIM({case}), '') = '')", table.case_id, message="there is no case reference")
    )
    _twice(intake, case)
    list_columns = {}
    complete = {name: _complete(intake, column) for name, column in table.lists_complete.items()}
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
        entries = lists.get(name)
        text = f"COALESCE({entries.relation}_entries, '[]')" if entries else "'[]'"
        chosen.append(f"{text} AS {quote(f'list {name}')}")
        chosen.append(f"{complete.get(name, sql.FALSE)} AS {quote(f'list {name}|complete')}")
        list_columns[name] = ListColumn(
            quote(f"list {name}"), f"COALESCE({quote(f'list {name}|complete')}, FALSE)"
        )
    where = "" if bad == sql.FALSE else f" WHERE NOT {bad}"
    engine.view("cases", f"SELECT {', '.join(chosen)} FROM {intake.source}{where}")
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
        lambda reference: _open_row(intake, per_disc, lists, case, reference),
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


# --- one row as a case record


def _open_row(
    intake: Intake, per_disc: TableMap | None, lists: dict[str, EntryTable], case: str, reference: str
) -> Case:
    """A row as a full case record, checked as any other.

    Raises
    ------
    TableError
        If the table has no such case, or more than one.
    CaseError
        If the record cannot be used; such a row was set aside.
    """
    engine = intake.engine
    found = engine.arrow(
        f"SELECT {intake.relation}.* FROM {intake.relation} WHERE {case} = {engine.dialect.string(reference)}"
    ).to_pylist()
    if len(found) != 1:
        raise TableError(
            [
                Problem(
                    Reason.BAD_TABLE,
                    "no such case in the table" if not found else "the case reference occurs more than once",
                    found=shorten(reference),
                )
            ]
        )
    row = found[0]
    record: dict[str, Any] = {
        "schema_version": "1",
        "id": reference if _ID.match(reference) else "row-" + re.sub(r"[^A-Za-z0-9._-]", "-", reference)[:60],
    }
    patient: dict[str, FactEntry] = {}
    discs: dict[str, dict[str, FactEntry]] = {}
    for column, item in intake.table.columns.items():
        entry = _dated(row, column, item, intake.table, "")
        if entry is not None:
            subject = subject_of(item, None)
            (patient if subject == "patient" else discs.setdefault(subject, {}))[item.element] = entry
    for level in LEVELS if per_disc is not None else ():
        if row.get(f"{level}|rows"):
            assert per_disc is not None
            discs[level] = {
                item.element: entry
                for column, item in per_disc.columns.items()
                if (entry := _dated(row, column, item, per_disc, f"{level}|")) is not None
            }
    record |= {"patient": patient, "discs": discs}
    for name in {*lists, *intake.table.lists_complete}:
        flag = row.get(intake.table.lists_complete.get(name, ""))  # type: ignore[call-overload]
        complete = flag if isinstance(flag, bool) else str(flag or "").strip().lower() == "true"
        entries = lists[name].entries.get(reference, []) if name in lists else []
        record[name] = {"complete": complete, "entries": entries}
    try:
        return case_from_record(CaseRecord.model_validate(record), reference)
    except InputError:
        raise
    except ValueError as error:
        raise TableError(
            [Problem(Reason.BAD_TABLE, "not a case record", found=shorten(error, 200))]
        ) from error


def _dated(
    row: dict[str, Any], column: str, item: ColumnMap, table: TableMap, prefix: str
) -> FactEntry | None:
    raw = row[prefix + column]
    if isinstance(raw, list):
        raw = ";".join(raw) if raw else "[]"
    entry = entry_of(raw, item)
    if entry is None:
        return None
    source = item.dated_by or table.facts_dated_by
    day: Any = row.get(prefix + source) if source else table.facts_date
    if day is None or str(day).strip() == "":
        return entry
    text = (
        day.isoformat()[:10]
        if hasattr(day, "isoformat")
        else one_date(str(day), table.date_format if source else None)
    )
    return entry.model_copy(update={"date": text})
