"""A starter for a mapping: what each column probably is, for a person to check, correct and confirm.

It proposes by the spelling of headers and of cell texts only. It never confirms itself.
"""

import re
from collections.abc import Mapping as Table
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Element
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.guessed_cells import OPEN, date_format_of, writing_of
from candidacy.cohort.inputs.guessed_columns import Columns, case_column, case_column_beside, level_column
from candidacy.cohort.inputs.guessed_headers import EXACT, guess_header
from candidacy.cohort.inputs.header_rows import FIND
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap, canonical
from candidacy.cohort.inputs.opening import open_table
from candidacy.cohort.inputs.proposal import Proposal, one_line, written
from candidacy.cohort.inputs.sources import OWN, Staged, stage
from candidacy.cohort.inputs.table_arguments import check_delimiter, check_names, check_used

_MANY = 4_000
_PLAIN = re.compile(r"\d+(\.\d+)?\Z")

if TYPE_CHECKING:
    import pandas as pd


def suggest_mapping(
    table: "Path | str | pd.DataFrame",
    part: str = "",
    delimiter: str = "",
    *,
    discs: "Path | str | pd.DataFrame | None" = None,
    lists: "Table[str, Path | str | pd.DataFrame] | None" = None,
) -> str:
    """Propose a mapping of tables as YAML with ``confirmed: false`` and every doubt as a comment.

    What a person has to decide stands as ``"?"`` under a comment that begins with QUESTION; such a mapping is
    refused until it is answered.

    Parameters
    ----------
    table, part, delimiter, discs, lists
        The tables as `candidacy.cohort.screen` takes them.

    Raises
    ------
    TableError
        If a table cannot be read.
    """
    return written(propose(table, part, delimiter, discs=discs, lists=lists))


def propose(
    table: "Path | str | pd.DataFrame",
    part: str = "",
    delimiter: str = "",
    *,
    discs: "Path | str | pd.DataFrame | None" = None,
    lists: "Table[str, Path | str | pd.DataFrame] | None" = None,
    header_rows: Table[str, int] | None = None,
) -> dict[str, Proposal]:
    """What `suggest_mapping` writes, by table: ``patients``, ``discs`` and lists of the record.

    Parameters
    ----------
    header_rows
        By table the row with the names of the columns, from 1; found where it is not given.

    Raises
    ------
    TableError
        If a table cannot be read.
    """
    import tempfile

    rows = header_rows or {}
    given = {"patients": table} | ({"discs": discs} if discs is not None else {}) | dict(lists or {})
    check_names(lists or {})
    check_delimiter(delimiter)
    with tempfile.TemporaryDirectory(prefix="candidacy-cohort-", ignore_cleanup_errors=True) as made:
        folder = Path(made)
        engine = EmbeddedEngine(folder)
        try:
            staged = {
                name: stage(
                    each,
                    folder,
                    engine,
                    part if name == "patients" else "",
                    delimiter,
                    name,
                    rows.get(name, FIND),
                )
                for name, each in given.items()
            }
            check_used(delimiter, staged.values())
            return _propose(engine, staged)
        finally:
            engine.close()


def _propose(engine: EmbeddedEngine, staged: dict[str, Staged]) -> dict[str, Proposal]:
    found: dict[str, Proposal] = {}
    patients: Columns | None = None
    for name, each in staged.items():
        types = open_table(engine, f"suggested_{name}", each)
        columns = Columns(
            engine, f"suggested_{name}", types, [column for column in types if column not in OWN]
        )
        proposal = Proposal("patient" if name == "patients" else "disc" if name == "discs" else LISTS[name])
        if patients is None:
            patients = columns
            _patients(proposal, columns)
        else:
            _beside(proposal, columns, patients, found["patients"].case_id)
        proposal.header_row, proposal.header_notes = each.header_row, each.said
        proposal.ignore |= {
            column: f"of type {kind}, which is not read" for column, kind in each.left_out.items()
        }
        found[name] = proposal
    return found


def _patients(proposal: Proposal, columns: Columns) -> None:
    exact = canonical(columns.names)
    proposal.case_id, proposal.case_note = case_column(columns, set(exact.columns))
    _columns(proposal, columns, exact)
    level = level_column(columns)
    if level and level in proposal.ignore:
        proposal.head.append(
            f"{one_line(level)} holds disc levels: a table with one row for each disc is given with --discs, beside a "
            "table of patients"
        )


def _beside(proposal: Proposal, columns: Columns, patients: Columns, reference: str) -> None:
    proposal.case_id, proposal.case_note = case_column_beside(columns, patients, reference)
    if proposal.scope == "disc":
        proposal.disc = level_column(columns)
    _columns(proposal, columns, canonical(columns.names, proposal.scope))


def _columns(proposal: Proposal, columns: Columns, exact: TableMap) -> None:
    proposal.lists_complete = {str(name): column for name, column in exact.lists_complete.items()}
    proposal.facts_dated_by = exact.facts_dated_by or ""
    days = {item.dated_by for item in exact.columns.values() if item.dated_by} | {exact.facts_dated_by}
    taken = {(item.element, item.disc) for item in exact.columns.values()}
    for column in columns.names:
        if column in (proposal.case_id, proposal.disc, *proposal.lists_complete.values()):
            continue
        if column in days:
            _day(proposal, columns, column)
        elif column in exact.columns:
            item = exact.columns[column]
            _column(proposal, columns, column, catalogue()[item.element], item, [], [])
        else:
            _guessed(proposal, columns, column, taken)


def _day(proposal: Proposal, columns: Columns, column: str) -> None:
    if columns.types[column] == "text":
        form, question = date_format_of(columns.texts(column))
        if form or question:
            proposal.date_format = form or OPEN
            proposal.date_note = question


def _guessed(proposal: Proposal, columns: Columns, column: str, taken: set[tuple[str, str | None]]) -> None:
    guess = guess_header(column, proposal.scope, taken)
    if guess is None:
        texts = ", ".join(map(repr, map(one_line, columns.texts(column, 3))))
        proposal.ignore[column] = (
            f"{_unplaced(column, proposal.scope)}; cells such as {texts}" if texts else "every cell is empty"
        )
        return
    taken.add((guess.element.name, guess.disc))
    checks = [f"{guess.element.name}? ({guess.how})"]
    checks += [f"or {', '.join(guess.also)}?"] if guess.also else []
    item = ColumnMap(element=guess.element.name, disc=guess.disc, unit=guess.unit or None)
    questions = [f"the header says {guess.other_unit}"] if guess.other_unit else []
    _column(proposal, columns, column, guess.element, item, questions, checks)


def _unplaced(column: str, scope: str) -> str:
    """Why no element is proposed for a column."""
    given = guess_header(column, scope, set())
    if given is not None:
        return f"{given.element.name} is proposed for another column"
    of_disc = guess_header(column, "disc", set()) if scope == "patient" else None
    if of_disc is not None and EXACT in of_disc.how:
        return f"{of_disc.element.name} is a fact of a disc: name the disc, or give a table with a row for each disc"
    return "no element is near"


def _telling(columns: Columns, column: str, element: Element) -> list[str]:
    """Texts that tell how a column is written: of dates many, of numbers those that are more than plain digits too."""
    if element.kind == "date":
        return columns.texts(column, _MANY)
    texts = columns.texts(column)
    if element.kind in ("number", "integer") and columns.types[column] == "text":
        texts += [
            text for text in columns.texts(column, _MANY) if text not in texts and not _PLAIN.match(text)
        ]
    return texts


def _column(
    proposal: Proposal,
    columns: Columns,
    column: str,
    element: Element,
    item: ColumnMap,
    questions: list[str],
    checks: list[str],
) -> None:
    typed = columns.types[column] != "text"
    writing = writing_of(_telling(columns, column, element), element, item.unit or "", typed)
    entry: dict[str, Any] = {"element": element.name}
    if item.disc:
        entry["disc"] = item.disc
    if item.dated_by:
        entry["dated_by"] = item.dated_by
    if element.unit is not None:
        entry["unit"] = item.unit or OPEN
        if not item.unit:
            questions = [*questions, f"unit: state it, one of {', '.join(element.accepted_units)}"]
    proposal.columns[column] = entry | writing.entry
    proposal.notes[column] = [
        *(f"QUESTION {each}" for each in (*questions, *writing.questions)),
        *(f"check: {each}" for each in (*checks, *writing.checks)),
    ]
