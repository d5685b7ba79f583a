"""Speed and memory of cohort screening, as ratios of processor time against baselines measured in the same run.

Run with ``python -m tests.bench.cohort`` from the project's root; parts by name: ``query sweep scale``. Nothing
here asserts a time: a ratio beyond its target is printed as missed. The table is invented; see `cohort_table`.
Polars is asked for by this bench alone: ``pip install polars``; without it its lines are passed over.

* query: 2 million patients under ``practice_baseline``, Parquet in, all outcome columns out as Parquet; the screening
  also checks every cell and case reference. Against queries of the same checks by hand (`cohort_by_hand`) for
  DuckDB and for Polars in its streaming engine (target: at most 2 times its time), vectorised pandas, and assessing
  cases one by one, their facts already at hand (at least 1 000 times the throughput). Each contestant in turn in every
  round, in a process of its own, on all cores; the engines of the screening and of the query for DuckDB are limited to 4 GB,
  Polars and pandas know no limit and show their peak. The outcomes are compared too.
* sweep: 50 points of a patient parameter, of a disc parameter, and of both. Target: less than 5 runs.
* scale: 0.2, 2 and 20 million patients, each in a fresh process. Target: under 4 GiB, time in proportion.
"""

import argparse
import importlib.util
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

from candidacy.assessment.assess import Assessor
from candidacy.cohort import Cohort, screen
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.rules.libraries import load_rule_set
from tests.bench import cohort_by_hand
from tests.bench.cohort_table import mapping, write_table
from tests.bench.measured import Used, machine, ratio, told, used

RULE_SET = "practice_baseline"
AS_OF = date(2026, 11, 25)
MEMORY = "4GB"
_ONE_BY_ONE = 400


def report(name: str, value: float, target: float, unit: str = "x", least: bool = False) -> None:
    met = value >= target if least else value <= target
    bound = "least" if least else "most"
    print(
        f"  {name:<52} {value:10.2f} {unit:<4} at {bound} {target:g} {'met' if met else 'MISSED'}", flush=True
    )


def _screen(table: Path, work: Path) -> Cohort:
    return screen(table, RULE_SET, AS_OF, mapping=mapping(), work=work, memory=MEMORY)


# --- query


def query(folder: Path, rows: int, repeats: int) -> None:
    print(f"query: {rows:,} patients under {RULE_SET}", flush=True)
    table = folder / "patients.parquet"
    write_table(table, rows)
    contestants = [name for name in CONTESTANTS if importlib.util.find_spec(name) or name == "screening"]
    runs: dict[str, list[Used]] = {name: [] for name in contestants}
    for _ in range(repeats):
        for name in contestants:
            runs[name].append(_apart(name, table, folder))
    for name, taken in runs.items():
        print(f"  {name:<10} {told(taken)}", flush=True)
    _compare(folder, contestants[1:])
    one_by_one = _one_by_one(folder)
    print(f"  one by one {1000 * one_by_one:.2f} ms a case")
    ours = runs["screening"]
    report("against the query by hand for DuckDB", ratio(ours, runs["duckdb"]), 2)
    if "polars" in runs:
        report("against the query by hand for Polars", ratio(ours, runs["polars"]), 2)
    if "pandas" in runs:
        report("pandas against screening", ratio(runs["pandas"], ours), 5, least=True)
    throughput = one_by_one * rows / statistics.median(run.cpu for run in ours)
    report("throughput against one by one", throughput, 1000, least=True)


def _apart(name: str, table: Path, work: Path) -> Used:
    """What a contestant takes in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.cohort", name, "--table", str(table), "--work", str(work)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return Used(*(float(part) for part in done.stdout.split()[-3:]))


def _compare(folder: Path, others: list[str]) -> None:
    """Print how many cells of the hand-written answers differ, in the columns that are compared."""
    columns = _columns(folder)
    same = cohort_by_hand.compared(columns)
    engine = EmbeddedEngine(folder, MEMORY)
    for name in ("screening", *others):
        engine.open_parquet(f"of_{name}", folder / f"{name}.parquet")
    print(
        f"  compared: {len(same)} of {len(columns)} columns; in the others what one fact says of another shows"
    )
    for name in others:
        print(f"  differing cells, {name}: {_differing(engine, name, same)}", flush=True)
    engine.close()


def _columns(folder: Path) -> list[str]:
    """The outcome columns of the screening."""
    import pyarrow.parquet as pq

    names: list[str] = pq.read_schema(folder / "screening.parquet").names
    return [name for name in names if name != "case_id"]


def _differing(engine: EmbeddedEngine, other: str, columns: list[str]) -> int:
    """Cells of the two answers that are not the same; a NULL differs from a value."""
    quote = sql.identifier
    sums = [
        f"COUNT(CASE WHEN CAST(a.{quote(c)} AS VARCHAR) IS DISTINCT FROM CAST(b.{quote(c)} AS VARCHAR) THEN 1 END)"
        for c in columns
    ]
    rows = engine.rows(
        f"SELECT COUNT(*), {', '.join(sums)} FROM of_screening AS a JOIN of_{other} AS b ON a.case_id = b.case_id"
    )[0]
    assert rows[0] == engine.rows("SELECT COUNT(*) FROM of_screening")[0][0]
    return sum(rows[1:])


def _screening(table: Path, work: Path) -> None:
    with _screen(table, work) as cohort:
        shutil.move(cohort.outcomes_path, work / "screening.parquet")


def _duckdb(table: Path, work: Path) -> None:
    engine = EmbeddedEngine(work, MEMORY)
    engine.write(cohort_by_hand.query(str(table), _columns(work)), work / "duckdb.parquet")
    engine.close()


def _polars(table: Path, work: Path) -> None:
    asked = cohort_by_hand.polars_query(str(table), _columns(work))
    asked.sink_parquet(work / "polars.parquet", compression="snappy")  # as the others write it


def _pandas(table: Path, work: Path) -> None:
    import pandas as pd

    given = pd.read_parquet(table, dtype_backend="numpy_nullable")
    for name in ("birth_date", "visit_date", "lumbar_mri_date", "flexion_extension_date"):
        given[name] = pd.to_datetime(given[name])
    cohort_by_hand.pandas_outcomes(given).to_parquet(work / "pandas.parquet")


CONTESTANTS: dict[str, Callable[[Path, Path], None]] = {
    "screening": _screening, "duckdb": _duckdb, "polars": _polars, "pandas": _pandas,
}  # fmt: skip


def _one_by_one(folder: Path) -> float:
    """Processor seconds for one assessment, the facts of the case already at hand."""
    table = folder / "few.parquet"
    write_table(table, _ONE_BY_ONE)
    with _screen(table, folder) as cohort:
        cases = [cohort.open_case(name).case for name in cohort.outcomes()["case_id"]]
    assessor = Assessor(load_rule_set(RULE_SET))
    assessor.assess(cases[0], AS_OF)
    taken, _ = used(lambda: [assessor.assess(case, AS_OF) for case in cases])
    return taken.cpu / len(cases)


# --- sweep


def sweep(folder: Path, rows: int, repeats: int) -> None:
    print(f"sweep: 50 points, {rows:,} patients", flush=True)
    table = folder / "patients.parquet"
    if not table.exists():
        write_table(table, rows)
    bmi = {"body_mass_index_limit.bmi_upper_limit": [round(30 + 0.3 * n, 1) for n in range(50)]}
    height = {"disc_height_loss_limit.height_loss_too_much": [25 + n for n in range(50)]}
    both = {name: values[::5] for name, values in bmi.items()} | {
        name: values[::10] for name, values in height.items()
    }
    runs = []
    for _ in range(repeats):
        taken, cohort = used(lambda: _screen(table, folder))
        runs.append(taken)
        if len(runs) < repeats:
            cohort.close()
    print(f"  a run: {told(runs)}", flush=True)
    with cohort:
        for name, ranges in (("a patient parameter", bmi), ("a disc parameter", height), ("both", both)):
            taken, found = used(lambda ranges=ranges: cohort.sweep(ranges))  # type: ignore[misc]
            assert len(found) == 50
            report(f"{name}, against one run", ratio([taken], runs), 5)


# --- scale


def scale(folder: Path, rows: int, repeats: int) -> None:
    print("scale: each in a fresh process", flush=True)
    found = {}
    for count in (rows // 10, rows, rows * 10):
        table = folder / f"patients_{count}.parquet"
        write_table(table, count)
        taken = found[count] = _apart("screening", table, folder)
        print(
            f"  {count:>12,} patients: {told([taken])}; {1e6 * taken.cpu / count:.2f} s a million", flush=True
        )
        report("  peak memory", taken.peak, 4, "GiB")
        table.unlink()
    report("time a patient, largest against middle", found[rows * 10].cpu / found[rows].cpu / 10, 1.3)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("parts", nargs="*", default=["query", "sweep", "scale"])
    parser.add_argument("--rows", type=int, default=2_000_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--table", type=Path, help="one contestant on this table")
    parser.add_argument("--work", type=Path, help="its folder")
    chosen = parser.parse_args()
    if chosen.table is not None:
        (name,) = chosen.parts
        taken, _ = used(lambda: CONTESTANTS[name](chosen.table, chosen.work))
        print(taken.wall, taken.cpu, taken.peak)
        return
    print(
        f"{machine()}, load {os.getloadavg()[0]:.1f}; median (lowest to highest) of {chosen.repeats} rounds"
    )
    with tempfile.TemporaryDirectory(prefix="candidacy-bench-") as made:
        for part in chosen.parts:
            {"query": query, "sweep": sweep, "scale": scale}[part](Path(made), chosen.rows, chosen.repeats)


if __name__ == "__main__":
    main()
