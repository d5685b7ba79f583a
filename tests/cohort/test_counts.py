# ruff: noqa: E402
"""Counts of a cohort equal those made again in plain Python from the single-case evaluation of every case."""

from collections import Counter
from collections.abc import Mapping, Sequence
from random import Random
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.case.load import Case
from candidacy.cohort import Flow
from candidacy.cohort.answers import counts
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.vocabulary import STANDINGS
from tests.cohort.screened import FEW, SOME, one_by_one, part_of, records, shipped
from tests.deep import only_deep

Cases = Mapping[str, Mapping[str, Any]]
WORDS = ("pass", "fail", "undetermined")


# --- the same counts, in plain Python


def _subjects(found: Cases, subject: str) -> list[dict[str, Any]]:
    """One dictionary per case, or per disc that a case names, with bare criterion ids."""
    if subject == "patient":
        return [dict(case) for case in found.values()]
    discs = []
    for case in found.values():
        for level in {column.split(": ")[0] for column in case if column.endswith(": standing")}:
            here = {k.split(": ")[1]: v for k, v in case.items() if k.startswith(f"{level}: ")}
            discs.append({**here, "disc": level})
    return discs


def _of(rule_set: RuleSet, subject: str) -> list[ResolvedCriterion]:
    return [item for item in rule_set.criteria if item.criterion.subject == subject]


def _tallies(found: Cases, rule_set: RuleSet) -> list[dict[str, Any]]:
    rows = []
    for item in rule_set.criteria:
        counted = Counter(each[item.id] for each in _subjects(found, item.criterion.subject))
        rows.append({"criterion": item.id, **{word: counted[word] for word in WORDS}})
    return rows


def _walk(rule_set: RuleSet, found: Cases, subject: str) -> tuple[list[dict[str, Any]], int, int]:
    """Send every subject through the criteria: out at the first it fails, else waiting at the first open."""
    deciding = [item.id for item in _of(rule_set, subject) if item.force != "advisory"]
    entering = _subjects(found, subject)
    if subject == "disc":
        entering = [disc for disc in entering if disc["considered"] is not False]
    start, steps = len(entering), []
    for name in deciding:
        leaving = [each for each in entering if each[name] == "fail"]
        staying = [each for each in entering if each[name] != "fail"]
        steps.append({"criterion": name, "entering": len(entering), "excluded": len(leaving),
                      "remaining": len(staying), "waiting": 0})  # fmt: skip
        entering = staying
    passing = 0
    for each in entering:
        open_ = [place for place, name in enumerate(deciding) if each[name] == "undetermined"]
        if open_:
            steps[open_[0]]["waiting"] += 1
        else:
            passing += 1
    return steps, start, passing


def _reasons(rule_set: RuleSet, found: Cases) -> list[tuple[str, int, int]]:
    rows = []
    for subject in ("patient", "disc"):
        ending = [item.id for item in _of(rule_set, subject) if item.force in ("stop", "absolute")]
        failing: Counter[str] = Counter()
        sole: Counter[str] = Counter()
        for each in _subjects(found, subject):
            if subject == "disc" and each["considered"] is False:
                continue
            failed = [name for name in ending if each[name] == "fail"]
            failing.update(failed)
            sole.update(failed if len(failed) == 1 else ())
        rows += [(name, failing[name], sole[name]) for name in ending if failing[name]]
    return sorted(rows, key=lambda row: (-row[1], -row[2], row[0]))


def _agree(flow: Flow, rule_set: RuleSet, found: Cases, subject: str) -> None:
    steps, start, passing = _walk(rule_set, found, subject)
    keys = ("criterion", "entering", "excluded", "remaining", "waiting")
    assert [{key: step[key] for key in keys} for step in flow.steps] == steps
    assert (flow.start, flow.passing) == (start, passing)


def _laws(flow: Flow) -> None:
    """Participants are conserved: each leaves, waits or passes, exactly once."""
    remaining = flow.start
    for step in flow.steps:
        assert step["entering"] == remaining
        assert step["remaining"] == step["entering"] - step["excluded"]
        remaining = step["remaining"]
    assert flow.start == flow.excluded + flow.waiting + flow.passing
    assert remaining == flow.waiting + flow.passing


def _all_agree(cohort: Any, rule_set: RuleSet, found: Cases) -> None:
    counted = Counter(case["standing"] for case in found.values())
    assert records(cohort.standings()) == [{"standing": s, "cases": counted[s]} for s in STANDINGS]
    by_level = Counter((disc["disc"], disc["standing"]) for disc in _subjects(found, "disc"))
    assert {(row["disc"], s): row[s] for row in records(cohort.disc_standings()) for s in STANDINGS} == {
        (level, s): by_level[level, s] for level in cohort.levels for s in STANDINGS
    }
    tallies = records(cohort.tallies())
    assert [{k: row[k] for k in ("criterion", *WORDS)} for row in tallies] == _tallies(found, rule_set)
    assert all(row["total"] == sum(row[word] for word in WORDS) for row in tallies)
    discs, patients = cohort.flows()
    assert (discs.unit, patients.unit) == ("discs", "cases")
    for flow, subject in ((discs, "disc"), (patients, "patient")):
        _agree(flow, rule_set, found, subject)
        _laws(flow)
    assert [(r["criterion"], r["failing"], r["sole"]) for r in records(cohort.reasons())] == _reasons(
        rule_set, found
    )
    shown = records(cohort.attrition())
    assert [(row["flow"], row["criterion"], row["excluded"]) for row in shown] == [
        (flow.unit, step["criterion"], step["excluded"]) for flow in (discs, patients) for step in flow.steps
    ]


def test_counts_of_the_embedded_engine_equal_a_plain_recount(
    cohort: Any, some_cases: Sequence[Case], some_rules: RuleSet
) -> None:
    found = one_by_one(some_cases, some_rules)
    # otherwise agreement would say little
    assert {case["standing"] for case in found.values()} == set(STANDINGS)
    assert any(flow.waiting and flow.passing and flow.excluded for flow in cohort.flows())
    _all_agree(cohort, some_rules, found)


@only_deep
def test_counts_of_the_distributed_engine_equal_a_plain_recount(
    spark_cohort: Any, few_cases: Sequence[Case], few_rules: RuleSet
) -> None:
    found = one_by_one(few_cases, few_rules)
    assert len({case["standing"] for case in found.values()}) >= 3
    _all_agree(spark_cohort, few_rules, found)


# --- any outcomes at all, not only those that cases come to


def _invented(rng: Random, rule_set: RuleSet, levels: Sequence[str], count: int) -> dict[str, dict[str, Any]]:
    found = {}
    weights = (rng.random() + 0.01, rng.random() * 0.3, rng.random() * 0.3)
    for number in range(count):
        case: dict[str, Any] = {"standing": rng.choice(tuple(STANDINGS))}
        case |= {item.id: rng.choices(WORDS, weights)[0] for item in _of(rule_set, "patient")}
        for level in levels:
            if rng.random() < 0.6:
                case[f"{level}: considered"] = rng.choice((True, False, None))
                case[f"{level}: standing"] = rng.choice(tuple(STANDINGS))
                case |= {f"{level}: {i.id}": rng.choices(WORDS, weights)[0] for i in _of(rule_set, "disc")}
        found[f"c{number}"] = case
    return found


def _relation(engine: Any, rule_set: RuleSet, levels: tuple[str, ...], found: Cases) -> counts.Outcomes:
    import pyarrow as pa

    columns = {"standing": pa.string()} | {item.id: pa.string() for item in _of(rule_set, "patient")}
    for level in levels:
        columns |= {f"{level}: considered": pa.bool_(), f"{level}: standing": pa.string()}
        columns |= {f"{level}: {item.id}": pa.string() for item in _of(rule_set, "disc")}
    table = {
        name: pa.array([case.get(name) for case in found.values()], kind) for name, kind in columns.items()
    }
    engine.table("invented", pa.table(table))
    return counts.Outcomes(engine, "invented", rule_set, levels)


@settings(max_examples=40)
@example(seed=0, ids={"degeneration_grade_window"}, levels=(), count=0)
@given(
    seed=st.integers(0, 2**32),
    ids=st.sets(st.sampled_from(SOME), min_size=1),
    levels=st.sampled_from(((), ("L4-L5",), ("L3-L4", "L4-L5", "L5-S1"))),
    count=st.integers(0, 30),
)
def test_flows_and_reasons_of_any_outcomes_keep_their_laws(
    seed: int, ids: set[str], levels: tuple[str, ...], count: int, any_engine: EmbeddedEngine
) -> None:
    rules = part_of(shipped("practice_baseline"), ids)
    found = _invented(Random(seed), rules, levels, count)
    outcomes = _relation(any_engine, rules, levels, found)
    for flow, subject in zip(counts.attrition(outcomes), ("disc", "patient"), strict=True):
        _agree(flow, rules, found, subject)
        _laws(flow)
    assert [(r["criterion"], r["failing"], r["sole"]) for r in counts.reasons(outcomes)] == _reasons(
        rules, found
    )
    assert [{k: r[k] for k in ("criterion", *WORDS)} for r in counts.tallies(outcomes)] == _tallies(
        found, rules
    )
    assert sum(counts.standings(outcomes).values()) == count


def test_both_engines_count_invented_outcomes_alike(spark: Any, any_engine: EmbeddedEngine) -> None:
    rules, levels = part_of(shipped("practice_baseline"), FEW), ("L4-L5", "L5-S1")
    found = _invented(Random(3), rules, levels, 80)
    ours, theirs = (_relation(engine, rules, levels, found) for engine in (any_engine, spark))
    for count in (counts.standings, counts.disc_standings, counts.tallies, counts.attrition, counts.reasons):
        assert count(ours) == count(theirs), count.__name__  # type: ignore[operator]


@pytest.fixture(scope="module")
def any_engine(tmp_path_factory: pytest.TempPathFactory) -> Any:
    engine = EmbeddedEngine(tmp_path_factory.mktemp("engine"))
    yield engine
    engine.close()


def test_a_cohort_that_names_no_disc_has_an_empty_flow_of_discs(tmp_path: Any, some_rules: RuleSet) -> None:
    from candidacy.cohort import screen
    from tests.strategies import AS_OF

    with screen(pd.DataFrame({"case_id": ["a"], "able_to_consent": [False]}), some_rules, AS_OF) as cohort:
        assert cohort.levels == ()
        discs, patients = cohort.flows()
        assert (discs.start, discs.passing, discs.waiting, discs.excluded) == (0, 0, 0, 0)
        assert (patients.start, patients.excluded) == (1, 1)
        for frame in (cohort.discs(), cohort.disc_standings()):
            assert len(frame) == 0
        assert [row["total"] for row in records(cohort.tallies()) if row["subject"] == "disc"] == [0] * 4


@pytest.mark.parametrize("name", ["reasons", "missing_ranking", "disc_standings"])
def test_an_empty_table_has_the_columns_and_types_of_a_full_one(
    name: str, cohort: Any, some_rules: RuleSet
) -> None:
    from candidacy.cohort import screen
    from tests.strategies import AS_OF

    rules = part_of(some_rules, ("able_to_consent",))
    with screen(pd.DataFrame({"case_id": ["a"], "able_to_consent": [True]}), rules, AS_OF) as nothing:
        empty, full = getattr(nothing, name)(), getattr(cohort, name)()
    assert len(empty) == 0
    assert empty.dtypes.astype(str).to_dict() == full.dtypes.astype(str).to_dict()


def test_counts_are_whole_numbers_that_can_be_missing(cohort: Any) -> None:
    """No DataFrame holds an unknown as an object: booleans and integers keep their own missing value."""
    for name in ("outcomes", "discs", "standings", "disc_standings", "tallies", "attrition", "reasons",
                 "missing_ranking"):  # fmt: skip
        frame = getattr(cohort, name)()
        kinds = {column: str(dtype) for column, dtype in frame.dtypes.items()}
        assert set(kinds.values()) <= {"string", "Int64", "boolean"}, (name, kinds)
        numbers = [c for c in frame if c in ("cases", "total", "entering", "failing", "waiting", *STANDINGS)]
        assert all(kinds[column] == "Int64" for column in numbers), (name, kinds)
    discs = cohort.discs()
    assert str(discs["considered"].dtype) == "boolean"
    assert discs["considered"].isna().any()
