"""What writing a screened cohort to a folder takes beside the screening itself: ``python -m tests.bench.cohort_folder``.

Processor and wall seconds of one process, each round screening and writing anew; the first round, which loads libraries, stands
apart and is not counted. The table is invented; see `cohort_table`. Wanted: writing at most 3 times as long as screening, and all diagrams
of a folder in under a second.
"""

import argparse
import os
import tempfile
from pathlib import Path
from shutil import rmtree

from candidacy.cohort import Cohort, screen
from candidacy.cohort.answers.missing_facts import missing_ranking
from candidacy.cohort.output.flow_diagram import attrition_diagram
from tests.bench.cohort import AS_OF, RULE_SET
from tests.bench.cohort_table import mapping, write_table
from tests.bench.measured import Used, machine, ratio, told, used


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
        print(
            f"{machine()}, load {os.getloadavg()[0]:.1f}; {chosen.rows:,} patients under {RULE_SET}; "
            f"median (lowest to highest) of {chosen.rounds} rounds"
        )
        _round(folder, chosen.csv)
        rounds = [_round(folder, chosen.csv) for _ in range(chosen.rounds)]
    runs = {name: [each[name] for each in rounds] for name in rounds[0]}
    for name, taken in runs.items():
        print(f"  {name:<26} {told(taken)}")
    print(f"  folder against screening {ratio(runs['folder'], runs['screening']):.2f} times")


def _round(folder: Path, csv: bool) -> dict[str, Used]:
    """What each step takes: the screening, the folder, and anew the ranking of missing facts and all diagrams."""
    table = folder / "patients.parquet"
    screened, cohort = used(lambda: screen(table, RULE_SET, AS_OF, mapping=mapping(), work=folder))
    with cohort:
        written, out = used(lambda: cohort.write(folder / "out", csv=csv))
        size = sum(file.stat().st_size for file in out.rglob("*") if file.is_file()) / 1e6
        print(f"  {size:.1f} MB", flush=True)
        rmtree(out)
        counted, _ = used(lambda: missing_ranking(cohort._evaluation))
        drawn, _ = used(lambda: _draw(cohort))
    return {
        "screening": screened,
        "folder": written,
        "ranking of missing facts": counted,
        "diagrams": drawn,
    }


def _draw(cohort: Cohort) -> None:
    for flow in cohort.flows():
        attrition_diagram(flow, "svg")
        attrition_diagram(flow, "png")


if __name__ == "__main__":
    main()
