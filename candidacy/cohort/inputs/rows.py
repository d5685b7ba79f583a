"""One row of a table as a full case record, checked as any other."""

import re
from typing import Any

from candidacy.case.element import LEVELS
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.batches import plain_rows
from candidacy.cohort.inputs.cells import BadCell
from candidacy.cohort.inputs.dated_cells import dated_entry
from candidacy.cohort.inputs.entry_lists import EntryTable
from candidacy.cohort.inputs.intake import Intake, subject_of
from candidacy.cohort.inputs.mapping import TableMap
from candidacy.cohort.inputs.sources import PLACE
from candidacy.cohort.inputs.unread_words import Wordy
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten
from candidacy.foundation.usual_forms import truth

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")


def open_row(
    intake: Intake,
    per_disc: TableMap | None,
    lists: dict[str, EntryTable],
    wordy: list[Wordy],
    case: str,
    reference: str,
    name: str,
) -> Case:
    """A row as a full case record, checked as any other; ``name`` is that of the table.

    Words of columns that nobody reads are its remarks: they decide nothing, and stand where a reader is shown what no rule read.

    Raises
    ------
    TableError
        If the table has no such case, or more than one, or the row has a cell that cannot be used.
    CaseError
        If the record cannot be used; such a row was set aside.
    """
    row = _one_row(intake, case, reference, name)
    try:
        record = _record(intake, per_disc, lists, row, reference)
    except BadCell as error:
        problem = error.problem
        raise TableError([Problem(
            problem.code, f"the row was set aside: {problem.message}", name, line=int(row.get(PLACE) or 0),
            field=shorten(error.column), found=problem.found, expected=problem.expected,
        )]) from error  # fmt: skip
    try:
        found = case_from_record(CaseRecord.model_validate(record), reference)
    except InputError:
        raise
    except ValueError as error:
        raise TableError([Problem(Code.BAD_TABLE, "not a case record", found=shorten(error, 200))]) from error
    unread = [remark for each in wordy for remark in each.remarks(intake.engine, reference)]
    found.facts.remarks = (*found.facts.remarks, *unread)
    return found


def _one_row(intake: Intake, case: str, reference: str, name: str) -> dict[str, Any]:
    engine = intake.engine
    query = (
        f"SELECT {intake.relation}.* FROM {intake.relation} WHERE {case} = {sql.string(reference.strip())}"
    )
    found = plain_rows(engine.arrow(f"{query} LIMIT 2")) if reference.strip() else []
    if len(found) == 1:
        return found[0]
    message = "no such case in the table" if not found else "the case reference occurs more than once"
    raise TableError(
        [
            Problem(
                Code.BAD_TABLE,
                message,
                name,
                found=shorten(reference),
                expected=f"a reference that stands in column {shorten(intake.table.case_id)}",
            )
        ]
    )


def _record(
    intake: Intake,
    per_disc: TableMap | None,
    lists: dict[str, EntryTable],
    row: dict[str, Any],
    reference: str,
) -> dict[str, Any]:
    record: dict[str, Any] = {
        "schema_version": "1",
        "id": reference if _ID.match(reference) else "row-" + re.sub(r"[^A-Za-z0-9._-]", "-", reference)[:60],
    }
    patient: dict[str, FactEntry] = {}
    discs: dict[str, dict[str, FactEntry]] = {}
    for column, item in intake.table.columns.items():
        entry = dated_entry(row, column, item, intake.table)
        if entry is not None:
            subject = subject_of(item, None)
            (patient if subject == "patient" else discs.setdefault(subject, {}))[item.element] = entry
    for level in LEVELS if per_disc is not None else ():
        if row.get(f"{level}|rows"):
            assert per_disc is not None
            discs.setdefault(level, {}).update(_disc(row, per_disc, f"{level}|"))
    record |= {"patient": patient, "discs": discs}
    for name in {*lists, *intake.table.lists_complete}:
        flag = row.get(intake.table.completeness(name))
        complete = flag if isinstance(flag, bool) else truth(str(flag or "")) is True
        entries = lists[name].entries(reference) if name in lists else []
        record[name] = {"complete": complete, "entries": entries}
    return record


def _disc(row: dict[str, Any], per_disc: TableMap, prefix: str) -> dict[str, FactEntry]:
    found = {}
    for column, item in per_disc.columns.items():
        entry = dated_entry(row, column, item, per_disc, prefix)
        if entry is not None:
            found[item.element] = entry
    return found
