"""The distributed engine against an earlier tree and the embedded engine: `python -m tests.bench.cohort_distributed`.

An invented table (`cohort_table`) under ``practice_baseline`` on the cores of this machine: screening, then the counts, what
is missing, and a sweep of ten points. Each contestant in a fresh process, in turn; seconds of the clock and of the processor,
the latter of the program and of everything that it started (Java, the workers), read from ``/proc``. Answers are compared by
a digest. Printed in the end: processor time, wall time and cores used of each step, median (lowest to highest) of the rounds.
``--before`` names a tree of an earlier version.
"""

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from typing import Any

RULE_SET = "practice_baseline"
AS_OF = date(2026, 11, 25)
_TICKS = os.sysconf("SC_CLK_TCK")
_POINTS = {"body_mass_index_limit.bmi_upper_limit": [30.0 + n for n in range(10)]}


def processor() -> float:
    """Processor seconds of this process and of all that it started, those that ended included."""
    parents, spent = {}, {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            text = (folder / "stat").read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue  # it ended meanwhile
        parts = text.rsplit(")", 1)[1].split()
        parents[int(folder.name)] = int(parts[1])
        spent[int(folder.name)] = sum(map(int, parts[11:15])) / _TICKS
    ours, grown = {os.getpid()}, 0
    while len(ours) > grown:
        grown = len(ours)
        ours |= {one for one, parent in parents.items() if parent in ours}
    return sum(spent[one] for one in ours)


def one(engine: Any, table: Path, work: Path) -> None:
    """Screen and ask, and print a line for each step: name, seconds of the clock, of the processor, digest of the answer."""
    from candidacy.cohort import screen
    from tests.bench.cohort_table import mapping

    began = time.perf_counter(), processor()

    def told(step: str, answer: Any) -> None:
        nonlocal began
        now = time.perf_counter(), processor()
        digest = hashlib.sha256(repr(answer).encode()).hexdigest()[:12]
        print(f"{step}\t{now[0] - began[0]:.2f}\t{now[1] - began[1]:.2f}\t{digest}", flush=True)
        began = time.perf_counter(), processor()

    with screen(table, RULE_SET, AS_OF, mapping=mapping(), work=work, engine=engine) as cohort:
        told("screening", cohort.cases)
        told("outcomes", cohort.outcomes().astype("string").to_csv())
        counted = (
            cohort.standings(),
            cohort.disc_standings(),
            cohort.tallies(),
            cohort.attrition(),
            cohort.reasons(),
        )
        told("counts", [each.to_csv() for each in counted])
        told("missing facts", cohort.missing_ranking().to_csv())
        told("sweep", cohort.sweep(_POINTS).to_csv())
        told("comparison", cohort.compare("trial_style_strict").moves.to_csv())


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=50_000)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--before", type=Path, help="tree of an earlier version")
    parser.add_argument("--one", nargs=3, metavar=("ENGINE", "TABLE", "WORK"), help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one:
        one(chosen.one[0], *map(Path, chosen.one[1:]))
        return
    here = Path(__file__).parents[2]
    contestants = [("embedded", here, "embedded"), ("distributed", here, "spark")]
    if chosen.before:
        contestants.append(("distributed before", chosen.before, "spark"))
    with tempfile.TemporaryDirectory(prefix="candidacy-bench-") as made:
        from tests.bench.cohort_table import write_table
        from tests.bench.measured import Used, machine
        from tests.bench.measured import told as of_rounds

        table = Path(made) / "patients.parquet"
        write_table(table, chosen.cases)
        print(
            f"{machine()}, load {os.getloadavg()[0]:.1f}; {chosen.cases:,} cases under {RULE_SET}", flush=True
        )
        runs: dict[tuple[str, str], list[Used]] = {}
        for _ in range(chosen.rounds):
            for name, tree, engine in contestants:
                command = [
                    sys.executable,
                    "-P",
                    str(Path(__file__).resolve()),
                    "--one",
                    engine,
                    str(table),
                    made,
                ]
                shown = subprocess.Popen(
                    command, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": str(tree)}
                )
                assert shown.stdout is not None
                for line in shown.stdout:
                    step, wall, spent, digest = line.rstrip().split("\t")
                    print(
                        f"  {name:<20} {step:<14} {wall:>9} s  processor {spent:>9} s  {digest}", flush=True
                    )
                    runs.setdefault((name, step), []).append(Used(float(wall), float(spent)))
                if shown.wait():
                    raise SystemExit(f"{name}: ended with {shown.returncode}")
        for (name, step), taken in runs.items():
            print(f"  {name:<20} {step:<14} {of_rounds(taken)}")


if __name__ == "__main__":
    main()
