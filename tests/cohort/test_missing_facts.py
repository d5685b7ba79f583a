# ruff: noqa: E402
"""Which facts hold cases up, and which one fact would settle a case, against single cases answered one by one."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.case.catalogue import catalogue
from candidacy.case.element import BURDENS, LEVELS
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort import screen
from candidacy.foundation.errors import CaseError
from candidacy.rules.resolved import RuleSet
from tests.cohort.generated import cases
from tests.cohort.screened import of_usual_discs, part_of, records, shipped, write_cases
from tests.strategies import AS_OF, hints_of

Key = tuple[str, str]
# Answers that may ask for more: a disc that is named has facts of its own.
ASKS_FOR_MORE = ("discs_under_consideration",)
AS_GENERATED = 60


def missing(assessment: Assessment) -> set[Key]:
    """Facts that undetermined criteria wait for: those that decide, of the patient and of discs that may be treated."""
    aside = {disc.level for disc in assessment.discs if disc.considered.value == "not_met"}
    deciding = {r.id for r in assessment.results if r.resolved.force != "advisory"}
    return {
        (fact.element, fact.subject)
        for fact in assessment.missing
        if fact.subject not in aside and deciding & set(fact.criteria)
    }


def _without(record: CaseRecord, key: Key) -> CaseRecord:
    element, subject = key
    if subject == "patient":
        kept = {name: entry for name, entry in record.patient.items() if name != element}
        return record.model_copy(update={"patient": kept})
    disc = {name: entry for name, entry in record.discs[subject].items() if name != element}
    return record.model_copy(update={"discs": {**record.discs, subject: disc}})


@pytest.fixture(scope="module")
def nearly(some_rules: RuleSet) -> Sequence[Case]:
    """Decided cases with one of their facts taken out, and some as they were generated."""
    rng, found = Random(9), []
    read = {e for item in some_rules.criteria for e in _elements(item)}
    decided = Assessor(some_rules, "direct")
    # most generated records cannot be in one way or another, and are never decided
    for number, case in enumerate(of_usual_discs(cases(33, 280))):
        record = case.record
        chosen = [record] if number < AS_GENERATED else []
        if decided.assess(case, AS_OF).standing != "incomplete":
            keys = [(name, "patient") for name in record.patient if name in read]
            keys += [(name, level) for level, table in record.discs.items() for name in table if name in read]
            chosen = [_without(record, key) for key in rng.sample(keys, min(2, len(keys)))]
        for each in chosen:
            try:
                found.append(case_from_record(each.model_copy(update={"id": f"near-{len(found)}"})))
            except CaseError:
                continue
    return found


def _elements(item: Any) -> set[str]:
    from candidacy.rules.tree import elements_of

    found = set(elements_of(*item.conditions))
    for name in list(found):
        if name in catalogue():
            found |= {each for some in catalogue()[name].inputs for each in some}
    return found


@pytest.fixture(scope="module")
def ranking(
    nearly: Sequence[Case], some_rules: RuleSet, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Any]:
    folder = write_cases(tmp_path_factory.mktemp("nearly") / "records", nearly)
    with screen(folder, some_rules, AS_OF) as cohort:
        yield cohort.missing_ranking()


def _contradicts_itself(assessment: Assessment) -> bool:
    """Whether a conflict of the record keeps the case incomplete, whatever is answered."""
    aside = {disc.level for disc in assessment.discs if disc.considered.value == "not_met"}
    return any(fact.subject not in aside for fact in assessment.conflicts)


def test_waiting_and_settled_cases_are_those_of_the_single_cases(
    ranking: Any, nearly: Sequence[Case], some_rules: RuleSet
) -> None:
    assessor = Assessor(some_rules, "direct")
    waiting: Counter[str] = Counter()
    settles: Counter[str] = Counter()
    for case in nearly:
        assessment = assessor.assess(case, AS_OF)
        wanted = missing(assessment)
        waiting.update({element for element, _ in wanted})
        if assessment.standing == "incomplete" and len(wanted) == 1 and not _contradicts_itself(assessment):
            settles.update(element for element, _ in wanted)
    assert len(settles) > 5  # otherwise agreement would say little
    assert {r["element"]: r["waiting"] for r in records(ranking)} == dict(waiting)
    assert {r["element"]: r["settles"] for r in records(ranking)} == {e: settles[e] for e in waiting}


def test_the_ranking_is_by_what_settles_most_then_by_who_waits(ranking: Any) -> None:
    rows = records(ranking)
    keys = [(-row["settles"], -row["waiting"], row["element"]) for row in rows]
    assert keys == sorted(keys)
    assert all(0 <= row["settles"] <= row["waiting"] and row["waiting"] for row in rows)
    for row in rows:
        assert row["ask"]
        assert row["burden"] in BURDENS


def test_what_settles_is_said_to_be_the_standing(
    nearly: Sequence[Case], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from candidacy.cli import main

    folder = write_cases(tmp_path / "records", nearly[:10])
    main(["screen", str(folder), "--rules", "report_completeness", "--as-of", AS_OF.isoformat()])
    assert "settles the standing: incomplete cases in which it is the one fact" in capsys.readouterr().out


# --- any answer, one by one


def _answers(element: str, rules: RuleSet) -> list[Any]:
    """Allowed exact values: every code; numbers at and beside every limit, and the ends of what is possible."""
    known = catalogue()[element]
    if known.kind == "boolean":
        return [True, False]
    if known.kind == "choice":
        return list(known.codes)
    if known.kind == "members":
        codes = tuple(LEVELS if known.levels else known.codes)
        return [(), codes, *((code,) for code in codes)]
    if known.kind == "date":
        return [(AS_OF - timedelta(days)).isoformat() for days in (0, 1, 20, 200, 400, 4000, 25_000)]
    assert known.possible is not None
    low = known.possible.low if known.possible.low is not None else 0
    high = known.possible.high if known.possible.high is not None else 1000
    near = hints_of(rules).numbers.get(element, ())
    found = {low, high, (low + high) / 2, *(n + step for n in near for step in (-1, -0.5, 0, 0.5, 1))}
    whole = known.kind == "integer"
    return sorted({int(n) if whole else n for n in found if low <= n <= high})


def _answered(record: CaseRecord, key: Key, value: Any) -> CaseRecord:
    element, subject = key
    unit = catalogue()[element].unit
    entry = FactEntry.model_validate(
        {"value": value, "date": AS_OF.isoformat()} | ({"unit": unit} if unit else {})
    )
    if subject == "patient":
        return record.model_copy(update={"patient": {**record.patient, element: entry}})
    disc = {**record.discs.get(subject, {}), element: entry}
    return record.model_copy(update={"discs": {**record.discs, subject: disc}})


@pytest.mark.parametrize("name", ["practice_baseline", "wide_screen"])
def test_any_exact_answer_to_the_one_missing_fact_settles_the_case(
    name: str, nearly: Sequence[Case], some_rules: RuleSet
) -> None:
    rules = some_rules if name == "practice_baseline" else part_of(shipped(name), WIDE)
    assessor = Assessor(rules, "direct")
    tried: Counter[str] = Counter()
    for case in nearly:
        before = assessor.assess(case, AS_OF)
        wanted = missing(before)
        if before.standing != "incomplete" or len(wanted) != 1 or _contradicts_itself(before):
            continue
        ((element, subject),) = wanted
        if element in ASKS_FOR_MORE or element not in catalogue():
            continue
        for value in _answers(element, rules):
            try:
                answered = case_from_record(_answered(case.record, (element, subject), value))
            except CaseError:
                continue  # contradicts what is known, so it is no answer
            after = assessor.assess(answered, AS_OF)
            if _contradicts_itself(after):
                continue  # the same
            assert after.standing != "incomplete", (case.record.id, element, subject, value, missing(after))
            tried[element] += 1
    assert len(tried) >= 4
    assert sum(tried.values()) > 40


WIDE = ("cauda_equina_signs_present", "able_to_consent", "age_lower_limit", "body_mass_index_limit_inclusive",
        "pain_duration_minimum", "odi_minimum", "degeneration_grade_window", "displacement_limit",
        "number_of_discs_to_treat", "considered_disc_borderline_or_open")  # fmt: skip


def test_naming_another_disc_may_ask_for_more_and_naming_the_known_one_settles(some_rules: RuleSet) -> None:
    """The documented exception: the one missing fact is which disc is considered."""
    assessor = Assessor(some_rules, "direct")
    seen: Counter[str] = Counter()
    for case in cases(34, 70):
        if assessor.assess(case, AS_OF).standing in ("incomplete", "urgent", "not_candidate"):
            continue
        if "discs_under_consideration" not in case.record.patient:
            continue
        asked = case_from_record(_without(case.record, ("discs_under_consideration", "patient")))
        before = assessor.assess(asked, AS_OF)
        if before.standing != "incomplete" or missing(before) != {("discs_under_consideration", "patient")}:
            continue
        for level in LEVELS:
            key = "discs_under_consideration", "patient"
            after = assessor.assess(case_from_record(_answered(asked.record, key, (level,))), AS_OF)
            known = level in case.record.discs
            seen[f"{'known' if known else 'other'} {after.standing == 'incomplete'}"] += 1
            if after.standing == "incomplete":
                assert {subject for _, subject in missing(after)} == {level}
    assert seen["known False"]
    assert seen["other True"]


def test_a_cohort_with_nothing_missing_has_an_empty_ranking(some_rules: RuleSet, tmp_path: Path) -> None:
    rules = part_of(some_rules, ("able_to_consent", "body_mass_index_limit", "odi_maximum"))
    frame = pd.DataFrame({"case_id": ["a"], "able_to_consent": [True], "body_mass_index [kg/m2]": [28.0]})
    with screen(frame, rules, AS_OF) as cohort:
        found = cohort.missing_ranking()
        assert list(found.columns) == ["element", "label", "ask", "burden", "waiting", "settles"]
        # what only an advisory criterion waits for is not among them
        assert len(found) == 0


def test_a_disc_set_aside_by_the_question_waits_for_nothing(some_rules: RuleSet) -> None:
    rules = part_of(some_rules, ("displacement_limit",))
    frame = pd.DataFrame(
        {"case_id": ["a", "b"], "discs_under_consideration": ["L4-L5", "L4-L5;L5-S1"],
         "L4-L5 displacement": ["none"] * 2, "L5-S1 displacement": ["?not_stated"] * 2, "facts_date": ["2026-11-01"] * 2}
    )  # fmt: skip
    with screen(frame, rules, AS_OF) as cohort:
        rows = {row["element"]: row["waiting"] for row in records(cohort.missing_ranking())}
    assert rows == {"displacement": 1}
