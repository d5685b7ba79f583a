"""Speed and memory of the core, as ratios against a baseline measured in the same run.

Run with ``python -m tests.bench.core`` from the project's root; parts by name: ``reading assessment record document lists firm cold
chainers memory``.
Nothing here asserts a time: a ratio above its target is printed as missed.

* reading: 60 criteria on a case of five discs, against a plain Python function of the same checks that also builds an
  explanation. Target: at most 3 times as long, and under 2 ms.
* assessment: the whole assessment of a case of five discs under a shipped rule set, against durable-rules alone on the
  same decision rules, told every outcome by itself and asked for nothing but the standing. Target: at most 2.4 times as long. In the
  first figure nothing that was decided before is kept; a process that has decided on such outcomes does not ask the library again.
* record: the whole assessment of the demo cases, against the same criteria without relations between facts and without
  what the record itself says. Target: at most 1.3 times as long.
* document: the document of the demo case with most criteria read, companions assessed included, against its assessment; and its
  words alone, once all that is clinical has been answered. Targets: 1.5 times and 0.9 times as long.
* lists: what is gathered of a record with 50, 100, 200 and 400 medicines beside as many numbers taken out, and the document of
  each, per medicine. Target: eight times the medicines take at most 1.5 times as long for each.
* firm: how firm every demo case is under three shipped rule sets, beside the records that assessing every repeat would read.
  Target: under 1 s a case.
* cold: commands in a fresh process, with and without kept parsed files, against a process that only imports click, pydantic
  and yaml. Target: at most 2.5 times as long.
* chainers: both chainers, and durable-rules told every outcome by itself, on 50,000 generated outcome sets. Target: no difference.
* memory: 100,000 decisions in one process. Target: flat.
"""

import gc
import json
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random
from typing import Any

from durable import engine

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.assessment.record_grounds import RecordGrounds
from candidacy.assessment.view import View
from candidacy.case.gather import gather
from candidacy.case.load import Case, case_from_record, load_case
from candidacy.engine.decision import DirectChainer, Ground
from candidacy.engine.durable_chainer import DurableChainer
from candidacy.explain.build import build_document
from candidacy.explain.compact import compact, to_json
from candidacy.firm.firmness import firmness
from candidacy.foundation.cache_folder import VARIABLE
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import RuleSet
from tests.bench import checks
from tests.bench.measured import Used, machine, ratio, spread, used
from tests.bench.measured import told as told_of
from tests.engine.one_fact_each import OneFactEach, facts_of
from tests.engine.orders import random_discs, random_grounds, random_order
from tests.reads import AS_OF, case_of
from tests.strategies import FULL, STANDARD_LEVELS, elements_read, hints_of, random_case

ROOT = Path(__file__).resolve().parents[2]
RULE_SET = "practice_baseline"


def rounds_of(run: Callable[[], object], repeats: int = 7, times: int = 50) -> list[Used]:
    """What one call takes, in several rounds of many calls."""

    def many() -> None:
        for _ in range(times):
            run()

    found = []
    for _ in range(repeats):
        gc.collect()
        took, _ = used(many)
        found.append(Used(took.wall / times, took.cpu / times, took.peak))
    return found


def in_turn(
    ours: Callable[[], object], baseline: Callable[[], object], rounds: int = 80
) -> tuple[list[Used], list[Used]]:
    """What one call of each takes, in many short rounds in turn, which other work seldom cuts into."""
    found: tuple[list[Used], list[Used]] = ([], [])
    gc.collect()
    for _ in range(rounds):
        for took, run in zip(found, (ours, baseline), strict=True):
            took.append(used(run)[0])
    return found


def least(rounds: Sequence[Used]) -> float:
    """Processor seconds of the round that other work disturbed least."""
    return min(round_.cpu for round_ in rounds)


def show(name: str, rounds: Sequence[Used]) -> None:
    """The spread of what one call takes, in milliseconds, and the cores it used."""
    cores = statistics.median(each.cores for each in rounds)
    print(
        f"    {name}: {spread([1000 * each.cpu for each in rounds], 'ms')} of {len(rounds)}, {cores:.1f} cores"
    )


def report(name: str, value: float, target: float, unit: str = "x") -> bool:
    met = value <= target
    print(f"  {name:<58} {value:8.2f} {unit:<4} target {target:g} {unit:<4} {'met' if met else 'MISSED'}")
    return met


# --- reading


def evaluation() -> None:
    print("reading: 60 criteria, five discs")
    criteria = [CompiledCriterion(item) for item in checks.criteria()]
    patient = [c for c in criteria if c.subject == "patient"]
    disc = [c for c in criteria if c.subject == "disc"]
    library = shipped()
    settings = {name: setting.value for name, setting in library.settings().items()}
    tables = library.tables()
    by_hand = checks.by_hand()
    ratios: list[float] = []
    all_of_ours: list[list[Used]] = []
    for seed in range(5):
        case = checks.case(seed)
        plain = checks.plain(case)

        def ours(case: Any = case) -> list[Evaluation]:
            view = View(case.facts, AS_OF, settings, tables)
            found = [c.read(view, level) for level in view.named_levels() for c in disc]
            return found + [c.read(view, "patient") for c in patient]

        def hand(plain: Any = plain) -> Any:
            return by_hand(plain, AS_OF.toordinal())

        same = {(r.criterion, r.subject): r.outcome for r in ours()}
        assert same == {key: found["outcome"] for key, found in hand().items()}
        assert len(same) == 40 + 20 * 5
        all_of_ours.append(rounds_of(ours))
        ratios.append(least(all_of_ours[-1]) / least(rounds_of(hand)))
    report("against a plain Python function with an explanation", statistics.median(ratios), 3)
    report("one case", 1000 * statistics.median(map(least, all_of_ours)), 2, "ms")
    show("the last of five cases", all_of_ours[-1])
    print(f"    ratios of five cases: {spread(ratios, 'x')}")


# --- assessment


class _Bare(engine.Host):  # type: ignore[misc]
    def _run(self) -> None:
        return


def bare_host(chainer: DurableChainer) -> _Bare:
    """The same rules as the chainer's, with actions that only end the case."""

    def quiet(rule: dict[str, Any]) -> dict[str, Any]:
        closes = any("closing" in part for part in rule["all"])
        return {**rule, "run": (lambda c: c.retract_fact(c.closing)) if closes else (lambda c: None)}

    return _Bare({"bare": {name: quiet(rule) for name, rule in chainer._definition().items()}})


def told(assessment: Any) -> list[list[dict[str, Any]]]:
    """Every outcome by itself, subject by subject."""
    subjects = []
    for subject in [*(d.level for d in assessment.discs), "patient"]:
        grounds = [Ground(r.id, r.resolved.force, r.outcome) for r in assessment.of_subject(subject)]
        of_discs = {d.level: d.decision.standing for d in assessment.discs} if subject == "patient" else {}
        subjects.append(facts_of(grounds, of_discs))
    return subjects


def five_disc_cases(number: int) -> list[Any]:
    rule_set = shipped().rule_set(RULE_SET)
    elements, hints = elements_read(rule_set), hints_of(rule_set)
    return [
        case_from_record(random_case(Random(seed), elements, hints=hints, mix=FULL, levels=STANDARD_LEVELS))
        for seed in range(number)
    ]


def assessment() -> None:
    rule_set = shipped().rule_set(RULE_SET)
    print(f"assessment: {RULE_SET}, {len(rule_set.criteria)} criteria, five discs")
    assessor = Assessor(rule_set)
    host = bare_host(DurableChainer(rule_set.decisions))
    numbers = iter(range(10**9))
    ratios: list[float] = []
    kept: list[float] = []
    times: list[list[Used]] = []

    def whole(case: Case) -> None:
        """What is missing is worked out when it is asked for."""
        _ = assessor.assess(case, AS_OF).missing

    for case in five_disc_cases(5):
        subjects = told(assessor.assess(case, AS_OF))

        def bare(subjects: Any = subjects) -> None:
            for facts in subjects:
                sid = str(next(numbers))
                host.assert_facts("bare", [{**fact, "sid": sid} for fact in facts])
                host.delete_state("bare", sid)

        def asked(case: Any = case) -> None:
            assessor._chainer._kept.clear()  # type: ignore[attr-defined]
            whole(case)

        ours, alone = in_turn(asked, bare)
        times.append(ours)
        ratios.append(least(ours) / least(alone))
        kept.append(least(rounds_of(lambda case=case: whole(case), 40, 1)) / least(alone))  # type: ignore[misc]
    report("whole assessment against durable-rules alone", statistics.median(ratios), 2.4)
    report("the same where such outcomes were decided before", statistics.median(kept), 2.4)
    print(f"  one assessment {1000 * statistics.median(map(least, times)):.2f} ms")
    print(f"    ratios of five cases: {spread(ratios, 'x')}")
    show("assessment, the last of five cases", times[-1])
    show("durable-rules alone, the same case", alone)


# --- cold start


class _Alone(Assessor):
    """The criteria alone: facts as stated, no conflicts, no unread dangers."""

    def __init__(self, rule_set: RuleSet) -> None:
        super().__init__(replace(rule_set, relations={}))

    def record(self, view: View, told_apart: Any = None) -> RecordGrounds:
        return RecordGrounds((), ())


def record() -> None:
    rule_set = shipped().rule_set(RULE_SET)
    print(
        f"record: {RULE_SET}, {len(rule_set.criteria)} criteria, {len(rule_set.relations)} relations, demo cases"
    )
    cases = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            cases.append(load_case(path))
        except CaseError:
            continue  # a demo of what is refused
    ratios = []
    for case in cases:
        full, alone = Assessor(rule_set), _Alone(rule_set)
        whole = rounds_of(lambda full=full, case=case: full.assess(case, AS_OF), 5, 5)  # type: ignore[misc]
        bare = rounds_of(lambda alone=alone, case=case: alone.assess(case, AS_OF), 5, 5)  # type: ignore[misc]
        ratios.append(least(whole) / least(bare))
    report("assessment / its criteria alone, median of the cases", statistics.median(ratios), 1.3)
    report("the same, worst case", max(ratios), 1.3)
    print(f"    ratios of {len(ratios)} cases: {spread(ratios, 'x')}")
    show("assessment, the last case", whole)


def document() -> None:
    rule_set = shipped().rule_set(RULE_SET)
    cases = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            cases.append(load_case(path))
        except CaseError:
            continue  # a demo of what is refused
    assessor = Assessor(rule_set)
    fullest = max(cases, key=lambda case: len(assessor.assess(case, AS_OF).results))
    print(f"document: {RULE_SET}, {fullest.record.id}")
    build_document(assessor.assess(fullest, AS_OF))
    times: dict[str, list[Used]] = {"assessment": [], "document": [], "words": []}

    def whole() -> Assessment:
        found = assessor.assess(fullest, AS_OF)
        _ = found.missing
        return found

    for _ in range(60):
        gc.collect()
        # an assessment keeps what was once asked of it, so each document is of a new one
        took, found = used(whole)
        times["assessment"].append(took)
        for what in ("document", "words"):
            times[what].append(used(lambda found=found: build_document(found))[0])  # type: ignore[misc]
    one = least(times["assessment"])
    report("document against its assessment", least(times["document"]) / one, 1.5)
    report("its words alone against the assessment", least(times["words"]) / one, 0.9)
    for what, rounds in times.items():
        show(what, rounds)


def medicines(number: int) -> Case:
    """A case of so many medicines of which only the name is known, and of as many that were taken out."""
    rows = "".join(f"    - {{medicine_name: drug {n}}}\n" for n in range(number))
    gone = ", ".join(str(2 * n + 1) for n in range(number))
    return case_of(
        f"patient: {{planned_procedure_date: 2026-12-10}}\nmedicines:\n  complete: true\n  taken_out: [{gone}]\n"
        f"  entries:\n{rows}"
    )


def lists() -> None:
    print(f"lists: {RULE_SET}, medicines of which only the name is known")
    assessor = Assessor(shipped().rule_set(RULE_SET))
    each: dict[str, list[float]] = {"gathered": [], "document": []}
    for number in (50, 100, 200, 400):
        case = medicines(number)
        found = assessor.assess(case, AS_OF)
        both = in_turn(lambda case=case: gather(case.record), lambda found=found: build_document(found), 9)  # type: ignore[misc]
        gathered, whole = map(least, both)
        document = build_document(found)
        each["gathered"].append(gathered / number)
        each["document"].append(whole / number)
        written = json.loads(document.to_json())
        print(f"  {number:4} medicines: gathered {1000 * gathered:.2f} ms, document {1000 * whole:.0f} ms, "
              f"{len(document.missing)} facts missing in {len(written['missing'])} rows, "
              f"JSON {len(document.to_json()) / 1e6:.2f} MB, short {len(to_json(compact(document))) / 1e3:.0f} kB")  # fmt: skip
    for what, rounds in zip(each, both, strict=True):
        show(f"{what}, 400 medicines", rounds)
    for what, times in each.items():
        report(f"{what}, for each of 400 medicines against each of 50", times[-1] / times[0], 1.5)


def spent(command: list[str], cache: str) -> Used:
    """What a fresh process takes."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {
        "PYTHONPATH": str(ROOT),
        "PYTHONPYCACHEPREFIX": str(Path(tempfile.gettempdir()) / "bench-pycache"),
        VARIABLE: cache,
    }
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment, cwd=ROOT)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Used(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


# A process that imports the three packages, and one that also uses pydantic, which loads most of itself only then.
BARE = "import click, pydantic, yaml"
ONE_MODEL = "import click, yaml\nfrom pydantic import BaseModel\nclass A(BaseModel):\n    a: int\nA(a=1)"


def cold(runs: int = 15) -> None:
    print(f"cold start: fresh processes, {runs} rounds in turn")
    case = str(ROOT / "demo_cases" / "two-discs-candidate.yaml")
    ours = [sys.executable, "-m", "candidacy"]
    commands = {
        "bare": [sys.executable, "-c", BARE],
        "one model": [sys.executable, "-c", ONE_MODEL],
        "assess": [*ours, "assess", case, "--as-of", AS_OF.isoformat()],
        "assess --format json": [*ours, "assess", case, "--as-of", AS_OF.isoformat(), "--format", "json"],
        "rules list": [*ours, "rules", "list"],
        "elements": [*ours, "elements"],
        "--help": [*ours, "--help"],
        "--version": [*ours, "--version"],
    }
    with tempfile.TemporaryDirectory() as folder:
        found: dict[tuple[str, str], list[Used]] = {}
        for number in range(runs + 1):
            for name, command in commands.items():
                for cache in ("off", str(Path(folder) / "cache")) if command[1] == "-m" else ("off",):
                    taken = spent(command, cache)
                    if number:  # the first round compiles and fills the cache
                        found.setdefault((name, cache), []).append(taken)
    base, model = found["bare", "off"], found["one model", "off"]
    for (name, cache), rounds in found.items():
        label = name if cache == "off" else f"{name}, kept files"
        if name in ("bare", "one model"):
            print(f"  {label:<58} {ratio(rounds, base):8.2f} x")
        else:
            report(label, ratio(rounds, base), 2.5)
        print(
            f"    {ratio(rounds, model):.2f} x one model; of the least {least(rounds) / least(base):.2f} x; {told_of(rounds)}"
        )


# --- chainers


def chainers() -> None:
    print("chainers: 50,000 outcome sets")
    rng, different, count = Random(50_000), 0, 0
    orders = [shipped().decisions("standing_order"), *(random_order(rng, 5000 + n) for n in range(49))]
    for order in orders:
        durable, direct, each = DurableChainer(order), DirectChainer(order), OneFactEach(order)
        for _ in range(1000):
            grounds, discs = random_grounds(rng), random_discs(rng)
            decision = durable.decide(grounds, discs)
            different += not decision == direct.decide(grounds, discs) == each.decide(grounds, discs)
            count += 1
    report(f"decisions that differ, of {count}", different, 0, "")


# --- memory


def memory() -> None:
    print("memory: 100,000 decisions")
    rng, chainer = Random(1), DurableChainer(shipped().decisions("standing_order"))
    work = [(random_grounds(rng, 60), random_discs(rng)) for _ in range(100)]

    def run(times: int) -> None:
        for _ in range(times):
            for grounds, discs in work:
                chainer.decide(grounds, discs)

    run(50)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    run(1000)
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    report("growth after the first 5,000", grown, 5, "MB")


# --- firm


def firm() -> None:
    print("firm: demo cases, three rule sets")
    times: list[Used] = []
    repeats: list[int] = []
    for name in (RULE_SET, "trial_style_strict", "wide_screen"):
        assessor = Assessor(shipped().rule_set(name))
        for path in sorted(demo_cases_folder().glob("*.yaml")):
            try:
                found = assessor.assess(load_case(path), AS_OF)
            except CaseError:
                continue  # a demo of what is refused
            took, firm_ = used(lambda found=found: firmness(found))  # type: ignore[misc]
            times.append(took)
            repeats.append(math.prod(len(source.values) or 100 for source in firm_.case.sources))
    report("slowest case", max(each.cpu for each in times), 1, "s")
    show("cases", times)
    print(f"  brute force would assess up to {max(repeats)} records of a case")


PARTS: dict[str, Callable[[], None]] = {
    "reading": evaluation,
    "assessment": assessment,
    "record": record,
    "document": document,
    "lists": lists,
    "firm": firm,
    "cold": cold,
    "chainers": chainers,
    "memory": memory,
}

if __name__ == "__main__":
    print(machine())
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
