"""A cohort holds back what the single case holds back: contradictions, doubtful values, and dangers no criterion weighs."""

from copy import deepcopy
from pathlib import Path

import pytest

from candidacy.assessment.record_grounds import Dangers
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import CHECKED
from candidacy.case.load import Case, case_from_record, load_case
from candidacy.case.record import CaseRecord
from candidacy.cohort import screen
from candidacy.cohort.columns.query import read
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.from_cases import frame_of_cases
from candidacy.foundation.dates import day
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set, shipped
from tests.assessment.test_beside_others import DAYS_OF_LISTS, EMPTY_LIST, HELD, changed
from tests.clinical.planting import plant_contradiction, plant_danger, plant_doubts
from tests.clinical.test_planting import DANGERS, WORKED_OUT
from tests.cohort.agreement import Single, differences
from tests.deep import only_deep
from tests.strategies import AS_OF

DEMO = demo_cases_folder() / "one-disc-candidate.yaml"
DAY_DEMO = demo_cases_folder() / "morning-of-the-procedure.yaml"  # passes where the day itself is weighed


def planted(demo: Path = DEMO) -> list[Case]:
    """A demo record with one contradiction or one danger planted, for every implication and every danger."""
    case = load_case(demo)
    record = case.record.plain()
    discs = list(record["patient"]["discs_under_consideration"]["value"])
    found = [case]
    for relation in shipped().relations().values():
        for each in relation.implied:
            found.append(_case(plant_contradiction(record, relation, each, discs).record, len(found)))
    for element, danger in DANGERS:
        for each in plant_danger(record, element, danger, discs):
            found.append(_case(each.record, len(found)))
    for element in catalogue().all:
        if element.statable and (element.likely is not None or element.kind == "date"):
            checked = len(found) % 3 == 0 and element.kind != "date"
            for each in plant_doubts(record, element, discs, **({"note": CHECKED} if checked else {})):
                kind = "checked" if checked else f"doubtful.{element.name}"
                found.append(_case(each.record, len(found), kind))
    for number, (change, _) in enumerate(HELD):
        found.append(_case(changed(record, change), len(found), f"beside{number}"))
    for why in ("conflicting", "not_readable", "uncertain_in_source", "not_stated"):
        for place in (
            "patient.serum_hcg",
            "patient.life_expectancy",
            "discs.L4-L5.neural_compression",
            "discs.L1-L2.canal_stenosis",
        ):
            found.append(_case(changed(record, {place: {"unknown": why}}), len(found), "unknown"))
    for change, _ in DAYS_OF_LISTS:
        found.append(_case(changed(record, EMPTY_LIST | change), len(found), "listed"))
    for plant in WORKED_OUT.values():
        worked_out = deepcopy(record)
        plant(worked_out)
        found.append(_case(worked_out, len(found)))
    return found


def _case(record: dict[str, object], number: int, kind: str = "planted") -> Case:
    return case_from_record(CaseRecord.model_validate(record | {"id": f"{kind}.{number}"}))


@pytest.mark.parametrize(
    ("name", "demo"),
    [("practice_baseline", DEMO), pytest.param("procedural_safety", DAY_DEMO, marks=only_deep)],
)
def test_everything_planted_stands_alike_in_both_readings(name: str, demo: Path, tmp_path: Path) -> None:
    rule_set, cases = load_rule_set(name), planted(demo)
    as_of = day(str(load_case(demo).record.as_of))
    single = Single(rule_set, as_of)
    expected = {case.record.id: single.outcomes(case) for case in cases}
    assert len(expected) == len(cases) > 400
    engine = EmbeddedEngine(tmp_path)
    rows = engine.arrow(
        read(frame_of_cases(engine, tmp_path, cases), rule_set, as_of).outcome_query()
    ).to_pylist()
    engine.close()
    assert differences(expected, rows) == []
    # the record itself and what is cleared with a reason (tests/clinical) are all that may pass
    passed = [case.split(".") for case, found in expected.items() if found["standing"] == "candidate"]
    assert sum(kind == "planted" for kind, *_ in passed) <= 12
    if (
        demo == DEMO
    ):  # what was written beside its facts; the day's own set reads no weight, and its demo is of a later day
        assert not [case for case in passed if case[0].startswith("beside")]
    # of doubtful values those that no deciding criterion reads
    decisive = Dangers(rule_set).decides_by
    assert not [case for case in passed if case[0] == "doubtful" and case[1] in decisive]
    assert any(kind == "checked" for kind, *_ in passed)


BMI = """case_id,age [year],body_height [cm],body_weight [kg],body_mass_index [kg/m2]
agrees,50,180,90,27.8
rounded,50,180,90,28
apart,50,180,90,40
without,50,180,90,
"""


def test_a_table_with_height_weight_and_index_is_used_and_a_wrong_index_is_a_conflict(tmp_path: Path) -> None:
    """90 kg at 180 cm are 27.8 kg/m2, by the definition of the index."""
    table = tmp_path / "table.csv"
    table.write_text(BMI, encoding="utf-8")
    with screen(table, "practice_baseline", AS_OF) as cohort:
        assert len(cohort.set_aside_rows()) == 0
        columns = cohort.outcomes().set_index("case_id")["body_mass_index_limit"].to_dict()
        opened = {name: cohort.open_case(name) for name in columns}
    assert columns == {"agrees": "pass", "rounded": "pass", "apart": "undetermined", "without": "pass"}
    for name, assessment in opened.items():
        (result,) = [each for each in assessment.results if each.id == "body_mass_index_limit"]
        assert result.outcome == columns[name]
    assert [fact.element for fact in opened["apart"].conflicts] == ["body_mass_index"]


def test_a_past_event_after_the_day_that_dates_its_row_contradicts_nothing(tmp_path: Path) -> None:
    """One column dates what was told at a visit; a study may have been made after it, but not behind a day of its own."""
    head, row = "case_id,facts_date,lumbar_mri_date,discs_under_consideration", "2026-09-01,2026-09-20,L4-L5"
    table, mapping = tmp_path / "cases.csv", tmp_path / "mapping.yaml"
    table.write_text(f"{head}\na,{row}\n", encoding="utf-8")
    mapping.write_text(
        "version: '1'\nconfirmed: true\npatients:\n  case_id: case_id\n  facts_dated_by: facts_date\n  columns:\n"
        "    lumbar_mri_date: {element: lumbar_mri_date}\n"
        "    discs_under_consideration: {element: discs_under_consideration}\n", encoding="utf-8",
    )  # fmt: skip
    told = mapping.read_text().replace(
        "element: lumbar_mri_date", "element: lumbar_mri_date, dated_by: facts_date"
    )
    for text, against in ((mapping.read_text(), False), (told, True)):
        mapping.write_text(text, encoding="utf-8")
        with screen(table, "practice_baseline", AS_OF, mapping=mapping) as cohort:
            evaluation = cohort._evaluation
            asked = evaluation.select([evaluation.grounds("")["record"].fails])
            assert evaluation.frame.engine.rows(asked) == [(against,)]
            assert bool(cohort.open_case("a").conflicts) is against
