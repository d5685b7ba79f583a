"""One row of a table as a full case record, checked as any other."""

import re
from typing import Any

from candidacy.case.catalogue import LEVELS
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort.cells import entry_of, one_date
from candidacy.cohort.entry_lists import EntryTable
from candidacy.cohort.intake import Intake, subject_of
from candidacy.cohort.mapping import ColumnMap, TableMap
from candidacy.errors import Code, InputError, Problem, TableError, shorten

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")


def open_row(
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
                    Code.BAD_TABLE,
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
        flag = row.get(intake.table.completeness(name))
        complete = flag if isinstance(flag, bool) else str(flag or "").strip().lower() == "true"
        entries = lists[name].entries.get(reference, []) if name in lists else []
        record[name] = {"complete": complete, "entries": entries}
    try:
        return case_from_record(CaseRecord.model_validate(record), reference)
    except InputError:
        raise
    except ValueError as error:
        raise TableError([Problem(Code.BAD_TABLE, "not a case record", found=shorten(error, 200))]) from error


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
