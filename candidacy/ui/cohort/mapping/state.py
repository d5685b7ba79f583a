"""The mapping that lies on the desk, the samples it is compared with, and every change of it."""

import tempfile
from collections.abc import Callable
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.cohort.inputs.draft import DISCS as DISC_TABLE
from candidacy.cohort.inputs.draft import PATIENTS, Draft, Holds, scope_of
from candidacy.cohort.inputs.guessed_cells import OPEN, writing_of
from candidacy.cohort.inputs.guessed_headers import guess_header
from candidacy.cohort.inputs.mapping import canonical
from candidacy.cohort.inputs.proposal import Proposal, written
from candidacy.cohort.inputs.samples import parts_of, rows_above, take_sample
from candidacy.cohort.inputs.suggest import propose
from candidacy.cohort.inputs.tried_rows import TriedRows, Tries
from candidacy.foundation.errors import InputError
from candidacy.ui.cohort import desk_tables
from candidacy.ui.cohort.setup import CASES, DISCS, Setup, Table, on_page
from candidacy.ui.session import desk

_TEXT, _NOTES, _SAMPLES, _PARTS = "cohort-mapping", "cohort-mapping-notes", "cohort-samples", "cohort-parts"
_TOLD = 200


def table_name(slot: str) -> str:
    """The name of a table in a mapping."""
    return {CASES: PATIENTS, DISCS: DISC_TABLE}.get(slot, slot)


def put(draft: Draft) -> None:
    """Make a draft the mapping on the desk."""
    desk().kept[_TEXT] = draft.text()


def take_proposal(setup: Setup, header_rows: dict[str, int] | None = None) -> None:
    """Propose a mapping of all tables; what was compared before has to be compared again.

    Raises
    ------
    InputError
        If a table cannot be read, in the words of the page.
    """
    try:
        found = propose(
            setup.path(CASES) or "", delimiter=setup.delimiter, discs=setup.path(DISCS), lists=setup.lists,
            header_rows=header_rows,
        )  # fmt: skip
    except InputError as error:
        raise type(error)([on_page(problem, setup) for problem in error.problems]) from None
    if setup.mapping.strip():
        desk_tables.remember("mapping replaced by a proposal")
    desk().kept[_TEXT] = written(found)
    desk().kept[_NOTES] = {name: _notes(each) for name, each in found.items()}


def _notes(proposal: Proposal) -> dict[str, tuple[dict[str, Any], list[str]]]:
    """What to look at in each column, with the entry it was said of; the table's own stand under an empty name."""
    own = [*proposal.header_notes, *([proposal.date_note] if proposal.date_note else []), *proposal.head]
    if proposal.case_note:
        own.append(f"case reference: {proposal.case_note}")
    return {"": ({}, own)} | {
        column: (proposal.columns.get(column, {}), notes) for column, notes in proposal.notes.items()
    }


def notes_of(draft: Draft, table: str, column: str) -> list[str]:
    """What a proposal asked to look at, as long as nothing was changed there."""
    entry, notes = desk().kept.get(_NOTES, {}).get(table, {}).get(column, ({}, []))
    if entry != draft.entry(table, column):
        return []
    return [note.removeprefix("check: ").removeprefix("QUESTION ") for note in notes]


# --- samples


def tries(setup: Setup, slot: str, draft: Draft) -> Tries:
    """The sample of a table on the desk, read once for a sheet, delimiter and row of names.

    Raises
    ------
    InputError
        If the table cannot be read, in the words of the page.
    """
    header_row = draft.table(table_name(slot)).get("header_row") or 1
    key = (setup.tables[slot], setup.path(slot), setup.delimiter, header_row, catalogue().mark)
    found: Tries = _once(_SAMPLES, slot, key, setup, lambda folder: Tries(
        take_sample(setup.path(slot) or "", folder, _delimiter(setup, slot), header_row)))  # fmt: skip
    return found


def first_rows(setup: Setup, slot: str) -> list[list[str]]:
    """The first rows of a text table or sheet."""
    key = ("rows", setup.tables[slot], setup.path(slot), setup.delimiter)
    read: list[list[str]] = _once(_SAMPLES, f"{slot} rows", key, setup, lambda folder: [
        list(row) for row in rows_above(setup.path(slot) or "", _delimiter(setup, slot))])  # fmt: skip
    return read


def parts(setup: Setup, slot: str) -> list[str]:
    """The sheets of a workbook or tables of a database on the desk; none where it cannot be read."""
    table: Table = setup.tables[slot]
    try:
        found: list[str] = _once(_PARTS, slot, table, setup, lambda folder: parts_of(table.path, folder))
    except InputError:
        return []
    return found


def needed(setup: Setup) -> bool:
    """The first row of the table of cases does not name a case reference and elements, so it needs a mapping."""
    try:
        rows = first_rows(setup, CASES)
    except InputError:
        return False
    if not rows:
        return False
    names = [cell.strip() for cell in rows[0]]
    return "case_id" not in names or not canonical(names).columns


def _delimiter(setup: Setup, slot: str) -> str:
    return setup.delimiter if setup.tables[slot].delimited else ""


def _once(name: str, slot: str, key: Any, setup: Setup, make: Callable[[Any], Any]) -> Any:
    kept: dict[str, tuple[Any, Any]] = desk().kept.setdefault(name, {})
    if slot not in kept or kept[slot][0] != key:
        from pathlib import Path

        try:
            with tempfile.TemporaryDirectory(prefix="candidacy-sample-", ignore_cleanup_errors=True) as made:
                kept[slot] = key, make(Path(made))
        except InputError as error:
            raise type(error)([on_page(problem, setup) for problem in error.problems]) from None
    return kept[slot][1]


def tried(draft: Draft, found: Tries, table: str) -> TriedRows:
    """What the mapping makes of the sample; columns with an open question are left out."""
    items = {
        column: item for column in found.sample.columns if (item := draft.item(table, column)) is not None
    }
    return found.table(draft.table_map(table), items, scope_of(table))


# --- how a column is probably written


def proposed_entry(found: Tries, table: str, column: str, name: str, disc: str | None) -> dict[str, Any]:
    """How a column that holds this element is probably written, with ``?`` where a person decides."""
    element = catalogue()[name]
    entry: dict[str, Any] = {"disc": disc} if disc else {}
    unit = ""
    if element.unit is not None:
        guess = guess_header(column, scope_of(table), set())
        unit = guess.unit if guess and guess.element.name == name else ""
        entry["unit"] = unit or OPEN
    texts = found.sample.texts(column, _TOLD)
    return entry | writing_of(texts, element, unit, column in found.sample.typed).entry


def changed_holds(draft: Draft, found: Tries, table: str, column: str, holds: Holds) -> Draft:
    """The column holds something else, written as its cells look."""
    if holds.kind != "element":
        return draft.with_holds(table, column, holds)
    disc = draft.entry(table, column).get("disc")
    if disc is None and catalogue()[holds.name].scope == "disc" and table == PATIENTS:
        guess = guess_header(column, "patient", set())
        disc = guess.disc if guess else None
    if catalogue()[holds.name].scope != "disc" or table != PATIENTS:
        disc = None
    return draft.with_holds(table, column, holds, proposed_entry(found, table, column, holds.name, disc))
