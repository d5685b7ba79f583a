"""Time of proofs about rule sets, beside counting the same answer out over a grid of boundary values.

Run with ``python -m tests.bench.prove`` from the project's root. Nothing here asserts a time: what is over its target is printed as
missed.

* sets: every shipped rule set, everything asked of it, in several rounds (the answers are counted in work, so each does the same).
  Target: at most 10 s of processor time.
* grid: for the criteria of a rule set that read one to four coded or numeric elements, whether each can pass and fail, by the solver; and
  by reading every combination of the values on and beside their limits, and of none. Target: no answer differs.
"""

import argparse
import os
import statistics
import time
from collections.abc import Iterator
from datetime import date
from itertools import product
from typing import Any

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.foundation.errors import CaseError
from candidacy.prove.draft import Draft
from candidacy.prove.prove import prove
from candidacy.prove.questions import criterion_question
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import Compare, walk
from tests.bench.measured import machine, told, used

DAY = date(2026, 11, 28)
WANTED = 10.0
MOST_ELEMENTS, MOST_COMBINATIONS = 4, 20_000


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=3)
    rounds = parser.parse_args().rounds
    print(
        f"{machine()}, load {os.getloadavg()[0]:.1f}; median (lowest to highest) of {rounds} rounds",
        flush=True,
    )
    for name in shipped().rule_set_names():
        rule_set = shipped().rule_set(name)
        runs = [used(lambda rule_set=rule_set: prove(rule_set, DAY)) for _ in range(rounds)]  # type: ignore[misc]
        taken, proof = [took for took, _ in runs], runs[0][1]
        missed = "" if statistics.median(took.cpu for took in taken) <= WANTED else "  MISSED"
        print(
            f"{name:<22} {proof.questions:>4} questions {proof.shown:>4} shown {len(proof.undecided)} open  "
            f"{told(taken)}{missed}",
            flush=True,
        )
    grid(shipped().rule_set("practice_baseline"))


def grid(rule_set: RuleSet) -> None:
    """Both ways of answering, for the criteria whose boundary values can be counted out."""
    solver = counted = 0.0
    asked = combinations = differ = 0
    for item in rule_set.criteria:
        values = _values(item)
        if values is None:
            continue
        asked += 1
        start = time.process_time()
        proved = {
            q
            for q in ("pass", "fail")
            if criterion_question(rule_set, item, q, DAY, only_never=True).verdict != "never"
        }
        solver += time.process_time() - start
        start = time.process_time()
        found, read = _counted(rule_set, item, values)
        counted += time.process_time() - start
        combinations += read
        differ += proved != found - {"undetermined"}
    print(
        f"grid: {asked} criteria, {combinations} combinations read in {counted:.1f} s; by the solver {solver:.1f} s; {differ} differ"
    )


def _values(item: ResolvedCriterion) -> dict[str, list[Any]] | None:
    limits: dict[str, list[Any]] = {}
    for root in item.conditions:
        for node in walk(root):
            if isinstance(node, Compare):
                limits.setdefault(node.element, []).extend(node.limits)
            elif not hasattr(node, "of") or not isinstance(node.of, tuple):
                return None
    elements = [catalogue()[name] for name in limits]
    if len(elements) > MOST_ELEMENTS or not all(
        e.statable and e.scope in ("patient", "disc") for e in elements
    ):
        return None
    found = {element.name: [None, *_of(element, limits[element.name])] for element in elements}
    size = 1
    for each in found.values():
        size *= len(each)
    return found if size <= MOST_COMBINATIONS else None


def _of(element: Element, limits: list[Any]) -> Iterator[Any]:
    if element.kind == "boolean":
        yield from (True, False)
    elif element.kind == "choice":
        yield from element.codes
    elif element.kind == "members":
        yield []
        yield from ([code] for code in limits)
        yield list(dict.fromkeys(limits))
    elif element.possible is not None:
        low, high = element.possible.low, element.possible.high
        beside = {limit + step for limit in limits for step in (-1, 0, 1)} | {
            each for each in (low, high) if each is not None
        }
        yield from sorted(v for v in beside if (low is None or v >= low) and (high is None or v <= high))


def _counted(
    rule_set: RuleSet, item: ResolvedCriterion, values: dict[str, list[Any]]
) -> tuple[set[str], int]:
    compiled, assessor, found, read = CompiledCriterion(item), assessor_for(rule_set, "direct"), set(), 0
    subject = "patient" if compiled.subject == "patient" else "L4-L5"
    for combination in product(*values.values()):
        facts = {}
        for name, value in zip(values, combination, strict=True):
            if value is not None:
                element = catalogue()[name]
                unit = {"unit": element.unit} if element.unit else {}
                facts["patient" if element.scope == "patient" else subject, name] = {
                    "value": value,
                    "date": DAY.isoformat(),
                } | unit
        try:
            view = assessor.view(Draft(facts).case(DAY), DAY)
        except CaseError:
            continue
        view.settle_discs({})
        found.add(compiled.read(view, subject).outcome)
        read += 1
    return found, read


if __name__ == "__main__":
    main()
