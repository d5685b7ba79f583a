"""A cohort written to a folder: whole, or not at all."""

import json
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy import __version__
from candidacy.cohort.answers.masking import check_threshold, masked_frame
from candidacy.cohort.columns.query import disc_column
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.output.drawing import Form
from candidacy.cohort.output.figures import sweep_plot
from candidacy.cohort.output.flow_diagram import flow_diagram
from candidacy.cohort.output.place import PROGRAM, is_earlier_run, make_private, move_into_place
from candidacy.cohort.output.readme import readme
from candidacy.cohort.output.summary import summary_page
from candidacy.foundation.errors import Code, Problem, TableError
from candidacy.foundation.spreadsheet import GUARDED, guarded
from candidacy.foundation.targets import refuse_folder_of_inputs, resolved

if TYPE_CHECKING:
    import pandas as pd

    from candidacy.cohort.result import Cohort, Comparison

# Told while it runs: what is being done, and how far of how many steps.
Progress = Callable[[str, int, int], None]
_STEPS = 5
_FORMS: tuple[Form, ...] = ("svg", "png")


def write_cohort(
    cohort: "Cohort",
    folder: Path,
    *,
    mask_below: int = 0,
    csv: bool = False,
    replace: bool = False,
    sweep: "pd.DataFrame | None" = None,
    comparison: "Comparison | None" = None,
    progress: Progress | None = None,
) -> Path:
    """Write outcomes, counts, diagrams and the summary page to a folder.

    Everything is written beside it first and moved into place at the end, so an interrupted run leaves no
    folder that looks whole. Only the user may read it. ``run.json`` says what it was made of.

    Parameters
    ----------
    mask_below
        Also write a folder ``to_share`` in which every count below this is masked.
    csv
        What has a row for each case or disc as CSV too, many times larger, not only as Parquet.
    replace
        Replace a folder of an earlier run; never any other folder.
    sweep
        Points of a sweep to write and plot beside the rest.
    comparison
        A comparison with another rule set, to write beside the rest.
    progress
        Told what is being written, and how far of how many steps.

    Raises
    ------
    TableError
        E501 if the folder exists or cannot be written. Where it appears during the run it is left alone, and the
        message names the folder that holds the results.
    InputError
        E601 if a folder to be replaced holds an input.
    """
    named, folder = folder.absolute(), resolved(folder)
    if os.path.lexists(folder) and not (replace and is_earlier_run(folder)):
        raise TableError(
            [
                Problem(
                    Code.BAD_TABLE,
                    "the output folder exists" if not replace else "not a folder of an earlier run",
                    str(folder),
                    next_step="choose another with --out" + ("" if replace else ", or add --replace"),
                )
            ]
        )
    if mask_below:
        check_threshold(mask_below)
    refuse_folder_of_inputs(folder, cohort.input_paths)
    made: Path | None = None
    finished: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-unfinished-", dir=folder.parent))
        tables = _fill(cohort, made, csv, comparison, progress or (lambda what, done, of: None))
        if sweep is not None:
            tables["sweep"] = sweep
            for form in _FORMS:
                (made / f"sweep.{form}").write_bytes(
                    sweep_plot(sweep, form, cohort.rule_set.decisions.counted)
                )
        for name, frame in tables.items():
            _write_table(frame, made / f"{name}.csv")
        if mask_below:
            _share(cohort, made / "to_share", mask_below, tables)
        run = _run(cohort, mask_below, comparison)
        _write(made / "run.json", json.dumps(run, indent=2, sort_keys=True) + "\n")
        _write(made / "README.txt", readme((path.name for path in made.iterdir()), csv))
        make_private(made, folder)
        finished, made = made, None  # whole from here on, and never removed
        move_into_place(finished, folder, replace=replace)
    except OSError as error:
        raise TableError(
            [
                Problem(
                    Code.BAD_TABLE,
                    "the results cannot be written",
                    str(folder),
                    found=error.strerror or type(error).__name__,
                    next_step="free some space or choose another place with --out; nothing was left half-written"
                    if finished is None
                    else f"the results are whole in {finished}: rename it",
                )
            ]
        ) from error
    finally:
        if made is not None and made.exists():
            shutil.rmtree(made, ignore_errors=True)
    return named


def _fill(
    cohort: "Cohort", folder: Path, csv: bool, comparison: "Comparison | None", tell: Progress
) -> dict[str, "pd.DataFrame"]:
    """Write what is never masked, outcomes and diagrams; gives the tables of counts."""
    shutil.copyfile(cohort.set_aside_path, folder / "set_aside.csv")
    shutil.copyfile(cohort.cells_not_read_path, folder / cohort.cells_not_read_path.name)
    queries = {
        "cases": cohort.case_query() + " ORDER BY case_id",
        "discs": cohort.disc_query() + " ORDER BY case_id, disc",
    }
    with tempfile.TemporaryDirectory(dir=folder) as scratch:
        local = EmbeddedEngine(Path(scratch))
        try:
            _open_outcomes(local, cohort)
            if comparison is not None:
                local.open_parquet(comparison.moved.relation, comparison.moved.path)
                queries["moved_cases"] = comparison.moved.cases()
            for place, (name, query) in enumerate(queries.items()):
                tell(f"writing the outcomes of {name.replace('_', ' ')}", place, _STEPS)
                _write_rows(local, query, folder / name, csv)
        finally:
            local.close()
    tell("counting", len(queries), _STEPS)
    tables = _tables(cohort)
    if comparison is not None:
        tables["moves"] = comparison.moves
    tell("drawing", _STEPS - 1, _STEPS)
    _draw(cohort, folder)
    _write(folder / "summary.html", summary_page(cohort))
    return tables


def _open_outcomes(engine: EmbeddedEngine, cohort: "Cohort") -> None:
    """The outcomes with their words as numbers again, which are sorted and written in half the time of texts."""
    types = engine.open_parquet("outcomes_text", cohort.outcomes_path)
    standings = {"standing", *(disc_column(level, "standing") for level in cohort.levels)}
    chosen = []
    for name, kind in types.items():
        column = sql.identifier(name)
        if kind == "text" and name != "case_id":
            column = f"CAST({column} AS {'standing_word' if name in standings else 'outcome'}) AS {column}"
        chosen.append(column)
    engine.view("outcomes", f"SELECT {', '.join(chosen)} FROM outcomes_text")


def _draw(cohort: "Cohort", folder: Path, below: int = 0) -> None:
    for flow in cohort.flows():
        diagram = flow_diagram(flow, below)
        for form in _FORMS:
            (folder / f"attrition_{flow.unit}.{form}").write_bytes(diagram.drawn(form))


def _write_rows(engine: EmbeddedEngine, query: str, path: Path, csv: bool) -> None:
    """An answer as Parquet, which stays exact, and from there, its order kept, as CSV with guarded references."""
    parquet = path.with_suffix(".parquet")
    engine.execute(f"COPY ({query}) TO {sql.string(str(parquet))} (FORMAT parquet, COMPRESSION zstd)")
    if csv:
        engine.open_parquet("written", parquet)
        given = f"SELECT * REPLACE ({GUARDED.format('case_id')} AS case_id) FROM written"
        engine.execute(f"COPY ({given}) TO {sql.string(str(path.with_suffix('.csv')))} (FORMAT csv, HEADER)")


def _share(cohort: "Cohort", folder: Path, below: int, tables: dict[str, "pd.DataFrame"]) -> None:
    """The same counts, every one masked; nothing of single cases."""
    folder.mkdir()
    for name, frame in tables.items():
        _write_table(masked_frame(frame, below, keep=parameters_in(frame)), folder / f"{name}.csv")
    _draw(cohort, folder, below)
    _write(folder / "summary.html", summary_page(cohort, below))


def parameters_in(frame: "pd.DataFrame") -> tuple[str, ...]:
    """Columns of a sweep that hold values of parameters, ``criterion.parameter``, and no counts."""
    return tuple(column for column in frame.columns if "." in column)


def _tables(cohort: "Cohort") -> dict[str, "pd.DataFrame"]:
    return {
        "standings": cohort.standings(),
        "disc_standings": cohort.disc_standings(),
        "tallies": cohort.tallies(),
        "attrition": cohort.attrition(),
        "reasons": cohort.reasons(),
        "missing_facts": cohort.missing_ranking(),
    }


def _write_table(frame: "pd.DataFrame", path: Path) -> None:
    texts = frame.astype("string").fillna("")
    shown = texts.map(lambda cell: cell if cell.startswith("<") else guarded(cell)) if len(texts) else texts
    shown.to_csv(path, index=False, lineterminator="\n")


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _run(cohort: "Cohort", mask_below: int, comparison: "Comparison | None") -> dict[str, Any]:
    found: dict[str, Any] = {
        "program": f"{PROGRAM}{__version__}",
        "rule_set": cohort.rule_set.id,
        "rule_set_version": cohort.rule_set.file.version,
        "rule_set_status": cohort.rule_set.file.status,
        "rule_set_digest": cohort.rule_set.digest,
        "local_trial": list(cohort.rule_set.trial),
        "replaced": list(cohort.rule_set.replaced_words),
        "departures": list(cohort.rule_set.departures),
        "as_of": cohort.as_of.isoformat(),
        "table": cohort.name,
        "inputs": cohort.input_digests(),
        "rows": cohort.rows,
        "cases": cohort.cases,
        "set_aside": cohort.set_aside,
        "cells_not_read": cohort.cells_not_read,
        "with_remarks": cohort.with_remarks,
        "columns_not_read": [note.field for note in cohort.notes],
        "engine": cohort.engine,
        "engine_version": cohort.engine_version,
        "mask_below": mask_below or None,
    }
    if comparison is not None:
        other = comparison.rule_sets[1]
        found["compared_with"] = {
            "rule_set": other.id,
            "rule_set_version": other.file.version,
            "rule_set_digest": other.digest,
        }
    return found
