"""Speed and memory of report reading: ``python -m tests.bench.reading``.

Ratios against bare spaCy (blank English, tokenising and sentence splitting) on the same texts in the same run; no
timing is asserted anywhere. Wanted: at most 8 times spaCy's time, memory flat over 20 000 reports, several processes
for a folder scale to the cores.
"""

import argparse
import csv
import gc
import json
import os
import statistics
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Sequence
from pathlib import Path

import yaml

from candidacy.reading import read_text
from candidacy.reading.batch import read_many
from tests.bench.measured import Used, machine, ratio, spread, used
from tests.published.shared import SHARED

DICTATION = Path(__file__).resolve().parents[1] / "reading" / "dictation.yaml"


def texts() -> dict[str, list[str]]:
    """Real terse notes where present, invented dictation, and long reports joined from it."""
    passages = [c["text"] for c in yaml.safe_load(DICTATION.read_text("utf-8"))]
    long = ["FINDINGS:\n" + "\n".join(passages[i : i + 6]) for i in range(0, len(passages), 6)]
    out = {"dictation": passages, "long reports": long}
    notes = SHARED / "lumbar_reports_open" / "reports.csv"
    if notes.exists():
        with notes.open(encoding="utf-8", newline="") as stream:
            out = {"terse notes": [row["note"] for row in csv.DictReader(stream)], **out}
    return out


def in_turn(
    first: Callable[[str], object], second: Callable[[str], object], rows: Sequence[str], times: int
) -> tuple[list[Used], list[Used]]:
    """What several passes of each take, in turn so that a busy machine meets both; a first pass of each is left out."""
    found: tuple[list[Used], list[Used]] = ([], [])
    for _ in range(times + 1):
        for kept, work in zip(found, (first, second), strict=True):
            kept.append(used(lambda work=work: [None for row in rows if work(row)])[0])  # type: ignore[misc]
    return found[0][1:], found[1][1:]


def throughput(times: int) -> dict[str, dict[str, object]]:
    """Compare reading with bare spaCy on each kind of text."""
    import spacy

    nlp = spacy.blank("en")
    nlp.add_pipe("sentencizer")
    out = {}
    for name, rows in texts().items():
        base, mine = in_turn(lambda t: list(nlp(t).sents), read_text, rows, times)
        out[name] = {
            "texts": len(rows),
            "characters": sum(map(len, rows)),
            "spacy": per_text(base, len(rows)),
            "reading": per_text(mine, len(rows)),
            "ratio": round(ratio(mine, base), 2),
            "least against least": round(min(run.cpu for run in mine) / min(run.cpu for run in base), 2),
        }
    return out


def per_text(runs: list[Used], texts: int) -> str:
    cores = statistics.median(run.cores for run in runs)
    return (
        f"{spread([run.cpu / texts * 1e6 for run in runs], 'us a text', 0)} of processor, {cores:.1f} cores"
    )


def memory(count: int) -> dict[str, float]:
    """Read many different reports and compare the memory held after the first tenth and at the end."""
    rows = texts()
    pool = [t for some in rows.values() for t in some]
    tracemalloc.start()
    early = 0
    for n in range(count):
        read_text(f"Case {n} qx{n:x}zz. {pool[n % len(pool)]}")
        if n == count // 10:
            gc.collect()
            early = tracemalloc.get_traced_memory()[0]
    gc.collect()
    late, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return {"reports": count, "after_a_tenth_mb": round(early / 1e6, 2), "at_the_end_mb": round(late / 1e6, 2),
            "peak_mb": round(peak / 1e6, 2)}  # fmt: skip


def scaling(count: int) -> dict[str, float]:
    """Time a folder with one process and with one per core."""
    pool = [t for some in texts().values() for t in some]
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for n in range(count):
            path = Path(folder) / f"{n}.txt"
            path.write_text(pool[n % len(pool)], "utf-8")
            paths.append(path)
        seconds = {}
        for jobs in (1, os.cpu_count() or 1):
            start = time.perf_counter()
            assert sum(len(rows) for rows in read_many(paths, jobs)) == count
            seconds[jobs] = time.perf_counter() - start
    cores = os.cpu_count() or 1
    return {"files": count, "one_process_s": round(seconds[1], 2), f"{cores}_processes_s": round(seconds[cores], 2),
            "speed_up": round(seconds[1] / seconds[cores], 2)}  # fmt: skip


def main() -> None:
    """Run all and print JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=7)
    parser.add_argument("--reports", type=int, default=20_000)
    given = parser.parse_args()
    result = {
        "machine": machine(),
        "throughput": throughput(given.times),
        "memory": memory(given.reports),
        "folder": scaling(6000),
    }
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
