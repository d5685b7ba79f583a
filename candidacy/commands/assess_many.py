"""``candidacy assess`` for several cases: a row for each, also for one that cannot be assessed."""

import csv
import io
import json
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from candidacy.commands.assess import assess_file, text_of
from candidacy.commands.output import emit
from candidacy.commands.progress import progress
from candidacy.explain.labels import standing_words
from candidacy.explain.rows import COLUMNS, Row, failed_row, row_of
from candidacy.foundation.errors import CandidacyError, EngineError, InputError, Problem
from candidacy.foundation.spreadsheet import guarded
from candidacy.foundation.visible import clean
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.replacing import in_place


def answer_many(
    case_files: Sequence[Path],
    rules: tuple[str, ...],
    as_of: date | None,
    form: str,
    engine: str,
    full: bool,
    out: Path | None,
    replace: bool,
    inputs: list[Path],
) -> CandidacyError | None:
    """Assess every case and print or write the answer; gives what went wrong, if anything, when all is written.

    Raises
    ------
    InputError
        If a rule set cannot be used, or the answer cannot be written.
    """
    for name in rules:
        load_rule_set(name)
    rows: list[Row] = []
    texts: list[str] = []
    errors: list[CandidacyError] = []
    with progress("assessing") as tell:
        for place, file in enumerate(case_files):
            tell(clean(f"assessing {file}"), place, len(case_files))
            try:
                documents = assess_file(file, rules, as_of, engine)
            except CandidacyError as error:
                errors.append(error)
                rows.append(failed_row(str(file), error))
                texts.append(clean(f"{file}: not assessed. {rows[-1]['error']}") + "\n")
                continue
            rows += [row_of(str(file), document) for document in documents]
            if form == "text":
                texts.append(text_of(documents, full, out))
    made = "\n".join(texts) if form == "text" else _FORMS[form](rows, out is not None)
    emit(made, out, replace=replace, inputs=inputs)
    return _told(errors, len(case_files))


def _told(errors: list[CandidacyError], cases: int) -> CandidacyError | None:
    """Everything that was wrong with some of the cases; a fault of the program first."""
    fault = next((error for error in errors if isinstance(error, EngineError)), None)
    if fault is not None or not errors:
        return fault
    problems: list[Problem] = [p for error in errors if isinstance(error, InputError) for p in error.problems]
    return InputError(problems, others_answered=len(errors) < cases)


def _csv(rows: list[Row], to_file: bool) -> str:
    """Rows for a spreadsheet: no cell of it is taken for a formula."""
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([guarded(row[name]) for name in COLUMNS] for row in rows)
    return made.getvalue()


def _jsonl(rows: list[Row], to_file: bool) -> str:
    return "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)


def _table(rows: list[Row], to_file: bool) -> str:
    from rich.box import SIMPLE
    from rich.table import Table
    from rich.text import Text

    from candidacy.commands.console import console_for
    from candidacy.explain.cautions import GENERAL

    several = len({row["rule_set"] for row in rows if row["rule_set"]}) > 1
    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    headings = ("case", *(("rule set",) if several else ()), "standing", "why", "asks", "first to ask for")
    for heading in headings:
        table.add_column(heading, overflow="fold")
    for row in rows:
        name = str(row["id"] or row["file"])
        standing = (
            standing_words(str(row["standing"]), str(row["standing_name"]))
            if row["standing"]
            else "not assessed"
        )
        first = "; ".join(
            part for part in (str(row["look_at_first"]), str(row["why"]) or str(row["error"])) if part
        )
        cells = (name, *((str(row["rule_set"]),) if several else ()), standing, first,
                 "" if row["missing"] is None else str(row["missing"]), " ".join(str(row[c]) for c in ("first_ask_subject", "first_ask_element") if row[c] != "patient"))  # fmt: skip
        table.add_row(*(Text(clean(cell)) for cell in cells))
    buffer = io.StringIO()
    console = console_for(buffer, to_file=to_file)
    console.print(table)
    own = in_place(name for row in rows for name in str(row["in_place_of_shipped"] or "").split("; ") if name)
    console.print(Text("\n" + "\n".join([*([own] if own else []), *GENERAL[:2]]), style="dim"))
    return buffer.getvalue()


_FORMS: dict[str, Callable[[list[Row], bool], str]] = {"csv": _csv, "jsonl": _jsonl, "table": _table}
