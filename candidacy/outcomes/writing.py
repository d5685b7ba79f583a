"""What was counted written to a folder: whole, or not at all."""

import csv
import io
import json
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

from candidacy import __version__
from candidacy.cohort.output.place import PROGRAM, is_earlier_run, make_private, move_into_place
from candidacy.foundation.errors import Code, Problem, TableError
from candidacy.foundation.spreadsheet import guarded
from candidacy.foundation.targets import refuse_folder_of_inputs, resolved
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.document import document
from candidacy.outcomes.figures import figures_of
from candidacy.outcomes.page import page_of
from candidacy.outcomes.registry import DICTIONARY, dictionary_of, table_of
from candidacy.rules.outcome_files import RegistryColumn


def write_outcomes(
    found: Outcomes,
    folder: Path,
    below: int,
    *,
    registry: bool = False,
    as_days: bool = False,
    replace: bool = False,
) -> Path:
    """Write the page, the figures, the tables and, where asked for, the registry table to a folder.

    Everything is written beside it first and moved into place at the end. Only the user may read it.

    Parameters
    ----------
    below
        Counts from 1 to one less than this are masked in everything but the registry table.
    registry
        Also write ``registry/``: one row for each patient, with references; never masked.
    as_days
        Give the dates of the registry table as days from the injection.
    replace
        Replace a folder of an earlier run; never any other folder.

    Raises
    ------
    TableError
        E501 if the folder exists or cannot be written.
    InputError
        E601 if a folder to be replaced holds an input.
    """
    named, folder = folder.absolute(), resolved(folder)
    if os.path.lexists(folder) and not (replace and is_earlier_run(folder)):
        raise TableError([Problem(
            Code.BAD_TABLE, "not a folder of an earlier run" if replace else "the output folder exists", str(folder),
            next_step="choose another with --out" + ("" if replace else ", or add --replace"),
        )])  # fmt: skip
    refuse_folder_of_inputs(folder, found.practice.files)
    made: Path | None = None
    finished: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-unfinished-", dir=folder.parent))
        _fill(found, made, below)
        if registry:
            _registry(found, made / "registry", as_days)
        make_private(made, folder)
        finished, made = made, None
        move_into_place(finished, folder, replace=replace)
    except OSError as error:
        raise TableError([Problem(
            Code.BAD_TABLE, "the results cannot be written", str(folder), found=error.strerror or type(error).__name__,
            next_step=f"the results are whole in {finished}: rename it" if finished
            else "free some space or choose another place with --out; nothing was left half-written",
        )]) from error  # fmt: skip
    finally:
        if made is not None and made.exists():
            shutil.rmtree(made, ignore_errors=True)
    return named


def _fill(found: Outcomes, folder: Path, below: int) -> None:
    told = document(found, below)
    figures = figures_of(found, told)
    _write(folder / "summary.html", page_of(told, figures))
    _write(folder / "outcomes.json", json_of(told))
    (folder / "figures").mkdir()
    for figure in figures:
        (folder / "figures" / f"{figure.name}.svg").write_bytes(figure.draw("svg"))
        (folder / "figures" / f"{figure.name}.png").write_bytes(figure.draw("png"))
    _write(folder / "figures" / "texts.txt", "".join(f"{f.name}: {f.title}. {f.words}\n" for f in figures))
    for name, text in tables_of(told).items():
        _write(folder / f"{name}.csv", text)
    run = {
        "program": f"{PROGRAM}{__version__}", "as_of": told["on"], "visit": told["visit"]["id"], "declared": told["declared"] or None,
        "mask_below": below or None, "rule_sets": told["rule_sets"], "counted": told["digest"],
        "of_ones_own": told["of_ones_own"],
    }  # fmt: skip
    _write(folder / "run.json", json.dumps(run, indent=2, sort_keys=True) + "\n")


def json_of(told: dict[str, Any]) -> str:
    """The document as JSON, the same bytes for the same counts."""
    return json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def tables_of(told: dict[str, Any]) -> dict[str, str]:
    """The tables of a document as CSV, by name."""
    shares = ("complete", "worst", "best")
    limits = [f"{share}_{part}" for share in shares for part in ("share", "low", "high")]
    responses: list[list[Any]] = []
    for each in told["definitions"]:
        counts = each["counts"]
        row = [each["id"], each["title"], each["declared"], each["not_counted"]]
        if counts:
            row += [
                counts[name]
                for name in ("responded", "not_responded", "of_whom_died", "unknown", "pending", "known")
            ]
            row += [(counts[share] or {}).get(part) for share in shares for part in ("share", "low", "high")]
        responses.append(row)
    groups = [
        [g["kind"], g["criterion"], g["title"], g["parameter"], g["in_use"], d["definition"], row["group"], row["responded"],
         row["known"], row["without_answer"], *((row["complete"] or {}).get(part) for part in ("share", "low", "high"))]
        for g in told["groups"] for d in g["by_definition"] for row in d["groups"]
    ]  # fmt: skip
    changes = [
        [c["measure"], c["pairs"], b["kind"], b["row"], b["words"], b["in_use"], b["reached"], b["cites"]]
        for c in told["changes"] for b in c["bars"]
    ]  # fmt: skip
    head = [
        "definition",
        "title",
        "declared",
        "not_counted",
        "responded",
        "not_responded",
        "of_whom_died",
        "unknown",
        "pending",
        "known",
    ]
    return {
        "responses": _csv([*head, *limits], responses),
        "visits": _csv(["visit", *told["visits"][0]["states"]], [[v["id"], *v["states"].values()] for v in told["visits"]]),
        "groups": _csv(["kind", "criterion", "title", "parameter", "limit_in_use", "definition", "group", "responded", "known",
                        "without_answer", "share", "low", "high"], groups),
        "changes": _csv(["measure", "pairs", "kind", "row", "words", "in_use", "reached", "source"], changes),
    }  # fmt: skip


def _csv(head: list[str], rows: list[list[Any]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_cell(each) for each in row] for row in rows)
    return stream.getvalue()


def _cell(each: Any) -> str:
    if isinstance(each, bool):
        return "yes" if each else "no"
    return guarded(each)


def registry_csv(found: Outcomes, as_days: bool = False) -> tuple[str, str]:
    """The registry table and its data dictionary as CSV; see `candidacy.outcomes.registry`."""
    columns, rows = table_of(found, as_days)
    return (
        _csv([column.variable for column in columns], rows),
        _csv(list(DICTIONARY), dictionary_of(found.registry, as_days)),
    )


def _registry(found: Outcomes, folder: Path, as_days: bool) -> None:
    folder.mkdir()
    table, dictionary = registry_csv(found, as_days)
    _write(folder / "registry.csv", table)
    _write(folder / "dictionary.csv", dictionary)
    columns, rows = table_of(found, as_days)
    _parquet(columns, rows, folder / "registry.parquet")


def _parquet(columns: list[RegistryColumn], rows: list[list[Any]], path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {"text": pa.string(), "date": pa.date32(), "number": pa.float64(), "whole": pa.int64(), "choice": pa.string(),
             "yes_no": pa.bool_()}  # fmt: skip
    made: dict[str, Any] = {}
    for at, column in enumerate(columns):
        made[column.variable] = pa.array([_typed(row[at], column) for row in rows], kinds[column.kind])
    pq.write_table(pa.table(made), path)


def _typed(value: Any, column: RegistryColumn) -> Any:
    if value is None or column.kind in ("date", "yes_no"):
        return value
    if column.kind == "number":
        return float(value)
    return int(value) if column.kind == "whole" else str(value)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
