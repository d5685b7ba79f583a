"""The choice of the embedded engine, measured: `python -m tests.bench.cohort_engines`.

One Parquet file of numbers with gaps, 40 checks of a range in three truths, every outcome column out as Parquet
and the tallies; each engine in a fresh process, in turn, with its own default number of threads. Engines that
are not installed are passed over: ``pip install polars "ibis-framework[duckdb,polars]"``. What decided the
choice is written in DEVELOPERS.md, the figures in README.md here.
"""

import argparse
import importlib.util
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.measured import Used, machine, told, used

_CHECKS = 40
_WORDS = ("pass", "fail", "undetermined")


def write_numbers(path: Path, rows: int) -> None:
    """A table of 40 columns of numbers, a tenth of each unknown."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    random = np.random.default_rng(7)
    writer = None
    for start in range(0, rows, 1_000_000):
        count = min(1_000_000, rows - start)
        columns = {
            f"c{n}": pa.array(random.random(count).round(3), mask=random.random(count) < 0.1)
            for n in range(_CHECKS)
        }
        table = pa.table({"case_id": pa.array(range(start, start + count), pa.int64()), **columns})
        writer = writer or pq.ParquetWriter(path, table.schema)
        writer.write_table(table, row_group_size=122_880)
    assert writer is not None
    writer.close()


def duckdb(source: Path, target: Path) -> list[int]:
    import duckdb as engine

    connection = engine.connect(
        config={"memory_limit": "2GB", "temp_directory": str(target.parent / "spill")}
    )
    chosen = ", ".join(
        f"CASE WHEN c{n} >= 0.2 AND c{n} <= 0.8 THEN 'pass' WHEN NOT (c{n} >= 0.2 AND c{n} <= 0.8) THEN 'fail' "
        f"ELSE 'undetermined' END AS o{n}"
        for n in range(_CHECKS)
    )
    connection.execute(f"COPY (SELECT case_id, {chosen} FROM '{source}') TO '{target}' (FORMAT parquet)")
    sums = ", ".join(f"COUNT(CASE WHEN o{n} = '{w}' THEN 1 END)" for n in range(_CHECKS) for w in _WORDS)
    return list(connection.execute(f"SELECT {sums} FROM '{target}'").fetchall()[0])


def polars(source: Path, target: Path) -> list[int]:
    import polars as pl

    def outcome(n: int) -> Any:
        inside = (pl.col(f"c{n}") >= 0.2) & (pl.col(f"c{n}") <= 0.8)
        return (
            pl.when(inside).then(pl.lit("pass")).when(~inside).then(pl.lit("fail"))
            .otherwise(pl.lit("undetermined")).alias(f"o{n}")
        )  # fmt: skip

    pl.scan_parquet(source).select("case_id", *(outcome(n) for n in range(_CHECKS))).sink_parquet(target)
    sums = [(pl.col(f"o{n}") == w).sum().alias(f"s{n}_{w}") for n in range(_CHECKS) for w in _WORDS]
    return list(pl.scan_parquet(target).select(sums).collect(engine="streaming").row(0))


def _ibis(connection: Any, source: Path, target: Path) -> list[int]:
    import ibis

    given = connection.read_parquet(source)
    outcomes = {}
    for n in range(_CHECKS):
        inside = (given[f"c{n}"] >= 0.2) & (given[f"c{n}"] <= 0.8)
        outcomes[f"o{n}"] = ibis.cases((inside, "pass"), (~inside, "fail"), else_="undetermined")
    connection.to_parquet(given.select("case_id", **outcomes), target)
    made = connection.read_parquet(target)
    sums = {f"s{n}_{w}": (made[f"o{n}"] == w).sum() for n in range(_CHECKS) for w in _WORDS}
    return list(connection.to_pyarrow(made.aggregate(**sums)).to_pylist()[0].values())


def ibis_duckdb(source: Path, target: Path) -> list[int]:
    import ibis

    connection = ibis.duckdb.connect(memory_limit="2GB", temp_directory=str(target.parent / "spill"))
    return _ibis(connection, source, target)


def ibis_polars(source: Path, target: Path) -> list[int]:
    import ibis

    return _ibis(ibis.polars.connect(), source, target)


ENGINES: dict[str, Callable[[Path, Path], list[int]]] = {
    "duckdb": duckdb, "polars": polars, "ibis_duckdb": ibis_duckdb, "ibis_polars": ibis_polars,
}  # fmt: skip


def _installed(name: str) -> bool:
    missing = any(importlib.util.find_spec(part) is None for part in name.split("_"))
    if missing:
        print(f"{name}: not installed")
    return not missing


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rows", type=int, nargs="*", default=[2_000_000, 20_000_000])
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--one", nargs=3, metavar=("ENGINE", "SOURCE", "TARGET"), help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one:
        name, source, target = chosen.one
        taken, sums = used(lambda: ENGINES[name](Path(source), Path(target)))
        print(taken.wall, taken.cpu, taken.peak, hash(tuple(int(each) for each in sums)))
        return
    print(
        f"{machine()}, load {os.getloadavg()[0]:.1f}; median (lowest to highest) of {chosen.repeats} rounds"
    )
    with tempfile.TemporaryDirectory(prefix="candidacy-bench-") as made:
        for rows in chosen.rows:
            source = Path(made) / f"numbers_{rows}.parquet"
            write_numbers(source, rows)
            runs: dict[str, list[Used]] = {name: [] for name in ENGINES if _installed(name)}
            counts: dict[str, set[str]] = {name: set() for name in runs}
            for name in [*runs] * chosen.repeats:
                command = [sys.executable, "-m", "tests.bench.cohort_engines", "--one", name]
                done = subprocess.run(
                    [*command, str(source), f"{made}/out.parquet"], capture_output=True, text=True
                )
                if done.returncode:
                    why = (done.stderr.strip() or f"ended with {done.returncode}").splitlines()[-1]
                    print(f"{rows:>12,} {name}: {why[:160]}", flush=True)
                    continue
                *figures, sums = done.stdout.split()[-4:]
                runs[name].append(Used(*map(float, figures)))
                counts[name].add(sums)
            for name, taken in runs.items():
                if taken:
                    print(
                        f"{rows:>12,} {name:<12} {told(taken)}, counts {', '.join(counts[name])}", flush=True
                    )
            source.unlink()


if __name__ == "__main__":
    main()
