"""Agreement of the three readings over many generated cases: `python -m tests.bench.cohort_agreement`.

For every shipped rule set: outcomes, disc standings and case standings of the single-case evaluation, of the
embedded engine and of Spark, compared cell by cell; then the counts of both engines. Prints one line for each
rule set and ends with status 1 if anything differs. The ordinary tests run the same on fewer cases.
"""

import argparse
import multiprocessing
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from candidacy.case.load import Case
from candidacy.cohort.answers import counts
from candidacy.cohort.answers.counts import Outcomes
from candidacy.cohort.columns.facts_table import FactsTable
from candidacy.cohort.columns.query import read
from candidacy.cohort.engines.distributed import SparkEngine
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.from_cases import frame_of_cases
from candidacy.rules.resolved import RuleSet
from tests.bench.measured import machine, used
from tests.cohort.agreement import Single, differences
from tests.cohort.generated import cases, rule_sets
from tests.strategies import AS_OF

_BATCH = 50
# The discs of most cases, and now and then others.
_LEVELS = [("L3-L4", "L4-L5", "L5-S1"), ("L4-L5", "L5-S1"), ("L1-L2", "L4-L5"), ("L5-L6", "L4-L5")]

# What the single-case evaluation says, by rule set and case.
Expected = dict[str, dict[str, dict[str, Any]]]


def _batch(task: tuple[int, tuple[str, ...]]) -> tuple[list[Case], Expected]:
    """Generate some cases and read them one by one under each rule set, in a process of its own."""
    number, chosen = task
    levels = _LEVELS[3 if number % 20 == 19 else number % 3]
    given = cases(1000 + number, _BATCH, levels)
    expected: Expected = {}
    for rule_set in rule_sets():
        if rule_set.id in chosen:
            single = Single(rule_set, AS_OF)
            expected[rule_set.id] = {case.record.id: single.outcomes(case) for case in given}
    return given, expected


def _columns(frame: FactsTable, rule_set: RuleSet) -> tuple[list[dict[str, Any]], Any]:
    engine, name = frame.engine, f"outcomes_{rule_set.id}"
    evaluation = read(frame, rule_set, AS_OF)
    evaluation.hold()
    engine.hold(name, evaluation.outcome_query())
    rows = engine.arrow(f"SELECT * FROM {name}").to_pylist()
    outcomes = Outcomes(engine, name, rule_set, tuple(evaluation.discs))
    return rows, (counts.standings(outcomes), counts.tallies(outcomes), counts.attrition(outcomes))


def _agree(frames: list[FactsTable], rule_set: RuleSet, expected: dict[str, dict[str, Any]]) -> int:
    """Print how each engine differs from the single cases under a rule set; gives how often."""
    wrong, counted, line = 0, [], rule_set.id + ":"
    for frame in frames:
        taken, (rows, summary) = used(lambda frame=frame: _columns(frame, rule_set))  # type: ignore[misc]
        differing = differences(expected, rows)
        counted.append(summary)
        wrong += len(differing)
        line += f" {frame.engine.name} {taken.cpu:.0f} s of this process, {taken.cores:.1f} cores, {len(differing)} differences;"
        for text in differing[:5]:
            print("  " + text)
    same = all(summary == counted[0] for summary in counted)
    cells = sum(len(row) for row in expected.values())
    print(f"{line} counts {'equal' if same else 'DIFFER'}; {cells} outcomes and standings", flush=True)
    return wrong + (not same)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--only", default="", help="one rule set")
    parser.add_argument("--without-spark", action="store_true")
    chosen = parser.parse_args()
    names = tuple(each.id for each in rule_sets() if chosen.only in ("", each.id))
    print(f"{machine()}, load {os.getloadavg()[0]:.1f}; one round: agreement is what counts", flush=True)
    given: list[Case] = []
    expected: Expected = {name: {} for name in names}
    start = time.perf_counter()
    with multiprocessing.Pool(2) as pool:
        tasks = [(number, names) for number in range(-(-chosen.cases // _BATCH))]
        for some, found in pool.imap(_batch, tasks):
            given += some
            for name in names:
                expected[name] |= found[name]
    print(f"{len(given)} cases, read one by one: {time.perf_counter() - start:.0f} s", flush=True)
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        engines: list[Engine] = [EmbeddedEngine(folder, "4GB")]
        if not chosen.without_spark:
            engines.append(SparkEngine(folder))
        frames = [frame_of_cases(engine, folder, given, f"cases_{engine.name}") for engine in engines]
        wrong = sum(
            _agree(frames, rule_set, expected[rule_set.id])
            for rule_set in rule_sets()
            if rule_set.id in names
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
