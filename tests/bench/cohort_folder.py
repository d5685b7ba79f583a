"""What writing a screened cohort to a folder takes beside the screening itself: ``python -m tests.bench.cohort_folder``.

Processor seconds of one process, each round screening and writing anew; the first round, which loads libraries, stands
apart. The table is invented; see `cohort_table`. Wanted: writing at most 3 times as long as screening, and all diagrams
of a folder in under a second.
"""

import argparse
import tempfile
import time
from pathlib import Path
from shutil import rmtree

from candidacy.cohort import Cohort, screen
from candidacy.cohort.output.flow_diagram import attrition_diagram
from tests.bench.cohort import AS_OF, RULE_SET
from tests.bench.cohort_table import mapping, write_table


def main() -> None:
    """Screen, write and print what each took."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rows", type=int, default=200_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--csv", action="store_true", help="write rows of cases as CSV too")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="candidacy-bench-") as made:
        folder = Path(made)
        write_table(folder / "patients.parquet", chosen.rows)
        print(f"{chosen.rows:,} patients under {RULE_SET}")
        for place in range(chosen.rounds + 1):
            _round("load" if place == 0 else str(place), folder, chosen.csv)


def _round(name: str, folder: Path, csv: bool) -> None:
    start = time.process_time()
    with screen(folder / "patients.parquet", RULE_SET, AS_OF, mapping=mapping(), work=folder) as cohort:
        screened = time.process_time() - start
        start = time.process_time()
        out = cohort.write(folder / "out", csv=csv)
        written = time.process_time() - start
        size = sum(file.stat().st_size for file in out.rglob("*") if file.is_file()) / 1e6
        rmtree(out)
        counted, drawn = _apart(cohort)
    print(
        f"  {name:>4}: screening {screened:.2f} s, folder {written:.2f} s, {written / screened:.2f} times, {size:.1f} MB; "
        f"of it the ranking of missing facts {counted:.2f} s, diagrams {drawn:.2f} s",
        flush=True,
    )


def _apart(cohort: Cohort) -> tuple[float, float]:
    """Seconds of ranking what is missing, anew, and of drawing both flows in both forms."""
    from candidacy.cohort.answers.missing_facts import missing_ranking

    start = time.process_time()
    missing_ranking(cohort._evaluation)
    counted = time.process_time() - start
    start = time.process_time()
    for flow in cohort.flows():
        attrition_diagram(flow, "svg")
        attrition_diagram(flow, "png")
    return counted, time.process_time() - start


if __name__ == "__main__":
    main()
