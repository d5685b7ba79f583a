"""How long it takes to say what would settle and what would change a case, beside how many assessments trying everything would take.

Run with ``python -m tests.bench.settle`` from the project's root. Nothing here asserts a time: one above its target is printed as missed.

* each demo case under `practice_baseline`: processor time of both, median (lowest to highest) of several rounds. Target: under 1 s a case.
* beside it the number of combinations of answers that trying everything would assess, and what that would take at the time of one
  assessment; the cases with so few that it can be done are done, and must agree.
"""

import argparse
import os
import statistics
from collections.abc import Callable
from itertools import product
from math import log10, prod

from candidacy.assessment.assess import Assessor, assess
from candidacy.case.load import load_case
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import shipped
from candidacy.settle.changing import change
from candidacy.settle.search import Search
from candidacy.settle.settling import settle
from candidacy.settle.suppose import Supposing
from tests.bench.measured import Used, machine, spread, told, used
from tests.reads import AS_OF
from tests.settle.made import whole

RULE_SET = "practice_baseline"
_FEW = 2000


def several(run: Callable[[], object], rounds: int) -> list[Used]:
    """The same call so many times."""
    return [used(run)[0] for _ in range(rounds)]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    rule_set = shipped().rule_set(RULE_SET)
    assessor = Assessor(rule_set, "direct")
    print(
        f"{machine()}, load {os.getloadavg()[0]:.1f}; {RULE_SET}, as of {AS_OF}; milliseconds of processor time, "
        f"median (lowest to highest) of {rounds} rounds"
    )
    print(f"{'case':<32}{'settle':<24}{'change':<24}{'facts':>7}  {'combinations':<14}{'all of them':<14}")
    taken: list[list[Used]] = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            case = load_case(path)
        except CaseError:
            continue  # a demo of what is refused
        found = assess(case, rule_set, AS_OF, "direct")
        took = [
            several(lambda found=found: settle(found), rounds),  # type: ignore[misc]
            several(lambda found=found: change(found), rounds),  # type: ignore[misc]
        ]
        taken += took
        shown = (spread([1000 * run.cpu for run in each], "ms", 0) for each in took)
        line = f"{path.stem:<32}" + "".join(f"{each:<24}" for each in shown)
        supposing = Supposing(found)
        if found.standing == "urgent" or supposing.now.settled:
            print(f"{line}{0:>7}  settled")
            continue
        search = Search.of(supposing)
        number = prod(len(q.answers) + 1 for q in search.questions)
        one = statistics.median(
            run.cpu
            for run in several(lambda case=case: assessor.assess(case, AS_OF), rounds)  # type: ignore[misc]
        )
        print(
            f"{line}{len(search.questions):>7}  {_words(number):<14}{_duration(number * one):<14}{_tried(search, number)}"
        )
    slowest = max(statistics.median(run.cpu for run in each) for each in taken)
    print(f"all questions: {told([run for each in taken for run in each])}")
    print(f"slowest {slowest:.2f} s, target 1 s: {'met' if slowest < 1 else 'MISSED'}")


def _tried(search: Search, number: int) -> str:
    """Whether trying everything agrees, where that can be done: each combination assessed whole."""
    if number > _FEW:
        return ""
    supposing, different = search.supposing, 0
    for some in product(*([None, *(a.reply for a in q.answers)] for q in search.questions)):
        replies = tuple(reply for reply in some if reply is not None)
        situation = supposing.situation(replies)
        if not situation.contradicts:
            different += whole(supposing, replies).standing != situation.standing
    return f"all tried, {different} differ"


def _words(number: int) -> str:
    return str(number) if number < 10**6 else f"10^{log10(number):.0f}"


def _duration(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.1f} s"
    years = seconds / 31_557_600
    return f"{seconds / 3600:.0f} h" if years < 1 else f"10^{log10(years):.0f} years"


if __name__ == "__main__":
    main()
