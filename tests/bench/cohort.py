"""Speed and memory of cohort screening, as ratios against baselines measured in the same run.

Run with ``python -m tests.bench.cohort`` from the project's root; parts by name: ``query sweep scale``. Nothing
here asserts a time: a ratio beyond its target is printed as missed. The table is invented; see `cohort_table`.

* query: 2 million patients under ``practice_baseline``, Parquet in, all outcome columns out as Parquet, checks
  of every cell and of case references included. Against a hand-written query of the same checks on the same
  engine (target: at most 1.3 times as long), vectorised pandas (at least 5 times as fast) and assessing cases
  one by one, their facts already at hand (at least 1 000 times the throughput). The outcomes are compared too.
* sweep: 50 points of a patient parameter, of a disc parameter, and of both. Target: less than 5 runs.
* scale: 0.2, 2 and 20 million patients, each in a fresh process. Target: under 4 GiB, time in proportion.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from candidacy.assessment.assess import Assessor
from candidacy.cohort import Cohort, screen
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.rules.libraries import load_rule_set
from tests.bench import cohort_by_hand
from tests.bench.cohort_table import mapping, write_table

RULE_SET = "practice_baseline"
AS_OF = date(2026, 11, 25)
_ONE_BY_ONE = 400


def _timed(run: Callable[[], Any]) -> tuple[float, Any]:
    start = time.perf_counter()
    found = run()
    return time.perf_counter() - start, found


def report(name: str, value: float, target: float, unit: str = "x", least: bool = False) -> None:
    met = value >= target if least else value <= target
    bound = "least" if least else "most"
    print(
        f"  {name:<52} {value:10.2f} {unit:<4} at {bound} {target:g} {'met' if met else 'MISSED'}", flush=True
    )


def _screen(table: Path, work: Path) -> Cohort:
    return screen(table, RULE_SET, AS_OF, mapping=mapping(), work=work)


# --- query


def query(folder: Path, rows: int, repeats: int) -> None:
    print(f"query: {rows:,} patients under {RULE_SET}", flush=True)
    table = folder / "patients.parquet"
    write_table(table, rows)
    engine = EmbeddedEngine(folder)
    ours, hand = [], []
    columns: list[str] = []
    for _ in range(repeats):
        seconds, cohort = _timed(lambda: _screen(table, folder))
        with cohort:
            ours.append(seconds)
            os.replace(cohort.outcomes_path, folder / "ours.parquet")
        engine.open_parquet("ours", folder / "ours.parquet")
        columns = [name for name in engine.columns("SELECT * FROM ours") if name != "case_id"]
        asked = cohort_by_hand.query(str(table), columns)
        hand.append(_timed(lambda asked=asked: engine.write(asked, folder / "hand.parquet"))[0])  # type: ignore[misc]
    engine.open_parquet("hand", folder / "hand.parquet")
    print(f"  differing cells, query by hand: {_differing(engine, 'hand', columns)}")
    seconds, _ = _timed(lambda: _pandas(table, folder / "pandas.parquet"))
    engine.open_parquet("pandas_", folder / "pandas.parquet")
    print(f"  differing cells, pandas: {_differing(engine, 'pandas_', columns)}")
    engine.close()
    one_by_one = _one_by_one(folder)
    run = min(ours)
    print(f"  seconds: screening {run:.2f}, query by hand {min(hand):.2f}, pandas {seconds:.2f}; "
          f"one by one {1000 * one_by_one:.2f} ms a case")  # fmt: skip
    report("against a query by hand on the same engine", run / min(hand), 1.3)
    report("pandas against screening", seconds / run, 5, least=True)
    report("throughput against one by one", one_by_one * rows / run, 1000, least=True)


def _differing(engine: EmbeddedEngine, other: str, columns: list[str]) -> int:
    """Cells of the two answers that are not the same; a NULL differs from a value."""
    quote = engine.dialect.identifier
    sums = [
        f"COUNT(CASE WHEN CAST(a.{quote(c)} AS VARCHAR) IS DISTINCT FROM CAST(b.{quote(c)} AS VARCHAR) THEN 1 END)"
        for c in columns
    ]
    rows = engine.rows(
        f"SELECT COUNT(*), {', '.join(sums)} FROM ours AS a JOIN {other} AS b ON a.case_id = b.case_id"
    )[0]
    assert rows[0] == engine.rows("SELECT COUNT(*) FROM ours")[0][0]
    return sum(rows[1:])


def _pandas(table: Path, target: Path) -> None:
    import pandas as pd

    given = pd.read_parquet(table, dtype_backend="numpy_nullable")
    for name in ("birth_date", "visit_date", "lumbar_mri_date", "flexion_extension_date"):
        given[name] = pd.to_datetime(given[name])
    cohort_by_hand.pandas_outcomes(given).to_parquet(target)


def _one_by_one(folder: Path) -> float:
    """Seconds for one assessment, the facts of the case already at hand."""
    table = folder / "few.parquet"
    write_table(table, _ONE_BY_ONE)
    with _screen(table, folder) as cohort:
        cases = [cohort.open_case(name).case for name in cohort.outcomes()["case_id"]]
    assessor = Assessor(load_rule_set(RULE_SET))
    assessor.assess(cases[0], AS_OF)
    seconds, _ = _timed(lambda: [assessor.assess(case, AS_OF) for case in cases])
    return seconds / len(cases)


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
        seconds, cohort = _timed(lambda: _screen(table, folder))
        runs.append(seconds)
        if len(runs) < repeats:
            cohort.close()
    with cohort:
        for name, ranges in (("a patient parameter", bmi), ("a disc parameter", height), ("both", both)):
            seconds, found = _timed(lambda ranges=ranges: cohort.sweep(ranges))  # type: ignore[misc]
            assert len(found) == 50
            report(f"{name}, against one run", seconds / min(runs), 5)


# --- scale


def scale(folder: Path, rows: int, repeats: int) -> None:
    print("scale: each in a fresh process", flush=True)
    found = {}
    for count in (rows // 10, rows, rows * 10):
        table = folder / f"patients_{count}.parquet"
        write_table(table, count)
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.cohort", "one", "--table", str(table), "--work", str(folder)],
            check=True, capture_output=True, text=True,
        )  # fmt: skip
        seconds, peak = (float(part) for part in done.stdout.split()[-2:])
        found[count] = seconds
        print(
            f"  {count:>12,} patients: {seconds:8.2f} s, {1e6 * seconds / count:6.2f} s a million", flush=True
        )
        report("  peak memory", peak, 4, "GiB")
        table.unlink()
    report("time a patient, largest against middle", found[rows * 10] / found[rows] / 10, 1.3)


def one(table: Path, work: Path) -> None:
    seconds, cohort = _timed(lambda: _screen(table, work))
    cohort.close()
    # `ru_maxrss` would start from what the parent held; the status of this process does not
    status = Path("/proc/self/status").read_text(encoding="ascii")
    print(seconds, int(status.split("VmHWM:")[1].split()[0]) / 1024**2)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("parts", nargs="*", default=["query", "sweep", "scale"])
    parser.add_argument("--rows", type=int, default=2_000_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--table", type=Path)
    parser.add_argument("--work", type=Path)
    chosen = parser.parse_args()
    if chosen.parts == ["one"]:
        one(chosen.table, chosen.work)
        return
    with tempfile.TemporaryDirectory(prefix="candidacy-bench-") as made:
        for part in chosen.parts:
            {"query": query, "sweep": sweep, "scale": scale}[part](Path(made), chosen.rows, chosen.repeats)


if __name__ == "__main__":
    main()
