"""Agreement of the three readings over many generated cases: `python -m tests.bench.cohort_agreement`.

For every shipped rule set: outcomes, disc standings and case standings of the single-case reading, of the
embedded engine and of Spark, compared cell by cell; then the counts of both engines. Prints one line for each
rule set and ends with status 1 if anything differs. The ordinary tests run the same on fewer cases.
"""

import argparse
import multiprocessing
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from candidacy.case.load import Case
from candidacy.cohort import counts
from candidacy.cohort.counts import Outcomes
from candidacy.cohort.distributed import SparkEngine
from candidacy.cohort.embedded import EmbeddedEngine
from candidacy.cohort.engines import Engine
from candidacy.cohort.from_cases import frame_of_cases
from candidacy.cohort.reading import read
from candidacy.rules.resolved import RuleSet
from tests.cohort.agreement import Single, differences
from tests.cohort.generated import cases, rule_sets
from tests.strategies import AS_OF

_BATCH = 500
# The discs of most cases, and now and then others.
_LEVELS = [("L3-L4", "L4-L5", "L5-S1"), ("L4-L5", "L5-S1"), ("L1-L2", "L4-L5"), ("L5-L6", "L4-L5")]


def _generate(batch: int) -> list[Case]:
    levels = _LEVELS[3 if batch % 20 == 19 else batch % 3]
    return cases(1000 + batch, _BATCH, levels)


def _single(task: tuple[str, list[Case]]) -> dict[str, dict[str, Any]]:
    name, given = task
    single = Single(next(each for each in rule_sets() if each.id == name), AS_OF)
    return {case.record.id: single.outcomes(case) for case in given}


def _columns(
    engine: Engine, folder: Path, given: list[Case], rule_set: RuleSet
) -> tuple[list[dict[str, Any]], Any]:
    frame = frame_of_cases(engine, folder, given, f"cases_{rule_set.id}")
    reading = read(frame, rule_set, AS_OF)
    engine.hold(f"outcomes_{rule_set.id}", reading.outcome_query())
    rows = engine.arrow(f"SELECT * FROM outcomes_{rule_set.id}").to_pylist()
    outcomes = Outcomes(engine, f"outcomes_{rule_set.id}", rule_set, tuple(reading.discs))
    return rows, (counts.standings(outcomes), counts.tallies(outcomes), counts.attrition(outcomes))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--only", default="")
    parser.add_argument("--without-spark", action="store_true")
    chosen = parser.parse_args()
    wrong = 0
    with multiprocessing.Pool(2) as pool, tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        batches = pool.map(_generate, range(-(-chosen.cases // _BATCH)), chunksize=1)
        given = [case for batch in batches for case in batch]
        print(f"{len(given)} cases", flush=True)
        engines: list[Engine] = [EmbeddedEngine(folder, "4GB")]
        if not chosen.without_spark:
            engines.append(SparkEngine(folder))
        for rule_set in rule_sets():
            if chosen.only and rule_set.id != chosen.only:
                continue
            start = time.perf_counter()
            expected: dict[str, dict[str, Any]] = {}
            for found in pool.imap(_single, [(rule_set.id, batch) for batch in batches]):
                expected |= found
            line = f"{rule_set.id}: single {time.perf_counter() - start:.0f} s"
            counted = []
            for engine in engines:
                start = time.perf_counter()
                rows, summary = _columns(engine, folder, given, rule_set)
                differing = differences(expected, rows)
                counted.append(summary)
                wrong += len(differing)
                line += f", {engine.name} {time.perf_counter() - start:.0f} s, {len(differing)} differences"
                for text in differing[:5]:
                    print("  " + text)
            same = all(summary == counted[0] for summary in counted)
            wrong += not same
            cells = sum(len(row) for row in expected.values())
            print(
                f"{line}; counts {'equal' if same else 'DIFFER'}; {cells} outcomes and standings", flush=True
            )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
