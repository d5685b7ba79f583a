"""Real patients: expert gradings of lumbar MRI, assessed, and counted independently with pandas.

Source: van der Graaf JW, van Hooff ML, Buckens CFM, et al. SPIDER, lumbar spine segmentation in MR images.
DOI 10.5281/zenodo.10159290, CC BY 4.0; half of the patients (``shared/data/spider_gradings/gradings.csv``). Per disc:
Pfirrmann grade 1 to 5, Modic type 0 to 3, change of the upper and lower endplate, spondylolisthesis, herniation,
narrowing and bulging as 0 or 1.

What a 0/1 column leaves open stays open: a herniation is a protrusion, an extrusion or a sequestration; a slip has
some Meyerding grade; a narrowed disc has lost some height. So the data hold true undetermined outcomes.
"""

from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from candidacy.assessment.assess import Assessor
from candidacy.case.element import LEVELS
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet
from tests.conftest import SHARED
from tests.strategies import AS_OF

pd = pytest.importorskip("pandas", reason="pandas is a test dependency: pip install candidacy[test]")

FILE = SHARED / "data" / "spider_gradings" / "gradings.csv"
pytestmark = pytest.mark.skipif(not FILE.is_file(), reason="data/spider_gradings is not in a folder 'shared' beside this project")  # fmt: skip

OWN = Library(Path(__file__).resolve().parents[1] / "data" / "imaging_rules", base=shipped())
ROMAN = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V"}
MRI_DATE = "2026-09-01"


@cache
def gradings() -> Any:
    """The discs a case record can hold: from T11-T12 downwards."""
    table = pd.read_csv(FILE)
    table["level"] = table["level"].str.replace("/", "-")
    return table[table["level"].isin(LEVELS)].reset_index(drop=True)


def record_of(patient: int, discs: Any) -> CaseRecord:
    """One patient as a case record."""
    return CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": f"spider-{patient}",
            "documents": {"grading": {"kind": "imaging_report", "date": MRI_DATE}},
            "patient": {"lumbar_mri_date": {"value": MRI_DATE, "source": "grading"}},
            "discs": {row["level"]: disc_of(row) for _, row in discs.iterrows()},
        }
    )


def disc_of(row: Any) -> dict[str, Any]:
    def some(condition: object, yes: dict[str, Any], no: dict[str, Any]) -> dict[str, Any]:
        return {**(yes if condition else no), "source": "grading"}

    herniated, bulging = row["Disc herniation"], row["Disc bulging"]
    return {
        "pfirrmann_grade": {"value": ROMAN[int(row["Pfirrman grade"])], "source": "grading"},
        "modic_type": {"value": str(row["Modic"]), "source": "grading"},
        "displacement": some(
            herniated,
            {"one_of": ["protrusion", "extrusion", "sequestration"]},
            {"value": "bulge" if bulging else "none"},
        ),
        "endplate_defect": some(
            row["UP endplate"] or row["LOW endplate"],
            {"one_of": ["schmorl_node", "irregular", "erosion", "fracture", "other"]},
            {"value": "none"},
        ),
        "meyerding_grade": some(
            row["Spondylolisthesis"], {"one_of": ["I", "II", "III", "IV", "V"]}, {"value": "none"}
        ),
        "disc_height_loss_words": some(
            row["Disc narrowing"], {"one_of": ["mild", "moderate", "severe"]}, {"value": "none"}
        ),
    }


# --- the same, worked out independently from the columns: for each row of the file, an outcome


def where(table: Any, fails: Any, open_: Any = None) -> Any:
    """A column of outcomes: fail where ``fails``, else undetermined where ``open_``, else pass."""
    outcome = pd.Series("pass", index=table.index)
    if open_ is not None:
        outcome[open_] = "undetermined"
    outcome[fails] = "fail"
    return outcome


def undetermined(table: Any, rule_set: RuleSet) -> Any:
    return pd.Series("undetermined", index=table.index)


def never(table: Any) -> Any:
    return pd.Series(False, index=table.index)


def value(rule_set: RuleSet, criterion: str, parameter: str) -> Any:
    return rule_set.criterion(criterion).parameters[parameter].value


Expected = Callable[[Any, RuleSet], Any]
NUMBER = {roman: number for number, roman in ROMAN.items()}

OWN_EXPECTED: dict[str, Expected] = {
    "grade_window": lambda t, r: where(t, ~t["Pfirrman grade"].between(3, 4)),
    "material_out": lambda t, r: where(t, never(t), t["Disc herniation"] == 1),
    "displaced": lambda t, r: where(t, t["Disc herniation"] == 1),
    "endplate_change": lambda t, r: where(t, t["Modic"] == 3),
    "endplate_defect_worth_a_look": lambda t, r: where(
        t, never(t), (t["UP endplate"] + t["LOW endplate"]) > 0
    ),
    "any_slip": lambda t, r: where(t, t["Spondylolisthesis"] == 1),
    "slip_from_second_grade": lambda t, r: where(t, never(t), t["Spondylolisthesis"] == 1),
    "narrowed": lambda t, r: where(t, t["Disc narrowing"] == 1),
    "collapsed": lambda t, r: where(t, never(t), t["Disc narrowing"] == 1),
    "stenosis_not_graded": undetermined,
}

# Criteria of the shipped rule sets on the same elements, with their parameters.
SHIPPED_EXPECTED: dict[str, Expected] = {
    "degeneration_grade_window": lambda t, r: where(
        t,
        ~t["Pfirrman grade"].between(
            NUMBER[value(r, "degeneration_grade_window", "original_lowest")],
            NUMBER[value(r, "degeneration_grade_window", "original_highest")],
        ),
    ),
    # extrusion or sequestration; which of them a herniation is, is not graded
    "displacement_limit": lambda t, r: where(t, never(t), t["Disc herniation"] == 1),
    "endplate_change_type": lambda t, r: where(
        t, t["Modic"].astype(str).isin(value(r, "endplate_change_type", "excluded_types"))
    ),
    "endplate_defect": lambda t, r: where(t, never(t), (t["UP endplate"] + t["LOW endplate"]) > 0),
    "slip_grade_limit": lambda t, r: where(t, never(t), t["Spondylolisthesis"] == 1),
    "disc_height_collapse_in_words": lambda t, r: where(t, never(t), t["Disc narrowing"] == 1),
    # none or a bulge passes; a herniation waits for its size or containment, which are not graded
    "protrusion_size_limit": lambda t, r: where(t, never(t), t["Disc herniation"] == 1),
    "protrusion_not_contained": lambda t, r: where(t, never(t), t["Disc herniation"] == 1),
    # read what these gradings do not hold
    "central_stenosis_severe": undetermined,
    "foraminal_stenosis_severe": undetermined,
    "neural_compression": undetermined,
    "pars_defect": undetermined,
    "high_intensity_zone": undetermined,
    "vacuum_sign": undetermined,
    "disc_height_loss_limit": undetermined,
    "implant_at_level": undetermined,
}


def outcomes(rule_set: RuleSet) -> dict[tuple[str, int, str], str]:
    """Outcome of every disc criterion: (criterion, patient, level) -> outcome."""
    assessor = Assessor(rule_set)
    found = {}
    for patient, discs in gradings().groupby("Patient"):
        assessment = assessor.assess(case_from_record(record_of(patient, discs)), AS_OF)
        for result in assessment.results:
            if result.subject != "patient":
                found[result.id, patient, result.subject] = result.outcome
    return found


def contradictory(rule_set: RuleSet) -> set[tuple[int, str]]:
    """Discs of which the file holds two gradings that cannot both be true; few, or they would not be the file's fault."""
    if rule_set.id not in _CONTRADICTORY:
        assessor, discs = Assessor(rule_set), set()
        for patient, rows in gradings().groupby("Patient"):
            found = assessor.assess(case_from_record(record_of(patient, rows)), AS_OF)
            discs |= {(patient, fact.subject) for fact in found.conflicts}
        assert len(discs) <= 7, sorted(discs)  # one in a hundred
        _CONTRADICTORY[rule_set.id] = discs
    return _CONTRADICTORY[rule_set.id]


_CONTRADICTORY: dict[str, set[tuple[int, str]]] = {}


def compare(rule_set: RuleSet, expected: dict[str, Expected]) -> set[str]:
    """Compare disc by disc, and therefore count by count; say which criteria were compared."""
    table, found = gradings(), outcomes(rule_set)
    compared = set()
    for item in rule_set.criteria:
        if item.id not in expected or item.criterion.subject != "disc":
            continue
        column = expected[item.id](table, rule_set)
        for (_, row), outcome in zip(table.iterrows(), column, strict=True):
            if (row["Patient"], row["level"]) in contradictory(rule_set):
                # gradings that cannot both be true settle nothing, whatever each alone says
                assert found[item.id, row["Patient"], row["level"]] in (outcome, "undetermined")
                continue
            assert found[item.id, row["Patient"], row["level"]] == outcome, (
                item.id,
                row["Patient"],
                row["level"],
            )
        compared.add(item.id)
    return compared


def test_the_file_is_the_one_described() -> None:
    whole = pd.read_csv(FILE)
    assert (len(whole), whole["Patient"].nunique()) == (736, 107)  # shared/data/README.md
    kept = gradings()
    assert (len(kept), kept["Patient"].nunique()) == (
        707,
        107,
    )  # T9-T10 and T10-T11 are no discs of a case record
    assert set(whole["level"]) - {level.replace("-", "/") for level in LEVELS} == {"T9/T10", "T10/T11"}


def test_every_outcome_of_every_disc_is_that_of_the_columns() -> None:
    rule_set = OWN.rule_set("imaging_gradings")
    assert compare(rule_set, OWN_EXPECTED) == {item.id for item in rule_set.criteria}


@pytest.mark.parametrize("name", ["practice_baseline", "trial_style_strict", "wide_screen"])
def test_the_shipped_imaging_criteria_give_what_the_columns_give(name: str) -> None:
    rule_set = shipped().rule_set(name)
    compared = compare(rule_set, SHIPPED_EXPECTED)
    assert {"degeneration_grade_window", "displacement_limit", "endplate_change_type"} <= compared
    # every criterion of the set that reads one of these gradings alone is compared
    graded = {
        "pfirrmann_grade",
        "modic_type",
        "displacement",
        "endplate_defect",
        "meyerding_grade",
        "disc_height_loss_words",
    }
    from candidacy.rules.tree import elements_of

    for item in rule_set.criteria:
        if item.criterion.group == "which_disc" and item.criterion.subject == "disc":
            read = set(elements_of(item.when))
            assert item.id in compared or not read <= graded, item.id


def test_counts_of_discs_by_standing_are_those_of_the_columns() -> None:
    """Absolute failing: not a candidate; else absolute open: incomplete; one criterion is always open, so none is settled."""
    table, rule_set = gradings(), OWN.rule_set("imaging_gradings")
    columns = {name: work(table, rule_set) for name, work in OWN_EXPECTED.items()}
    absolute = [i.id for i in rule_set.criteria if i.force == "absolute"]
    relative = [i.id for i in rule_set.criteria if i.force == "relative"]

    def standing(place: int) -> str:
        some = {columns[name][place] for name in absolute}
        if "fail" in some:
            return "not_candidate"
        if "undetermined" in some:
            return "incomplete"
        return "borderline" if "fail" in {columns[name][place] for name in relative} else "incomplete"

    places = {(table.at[place, "Patient"], table.at[place, "level"]): place for place in table.index}
    assessor = Assessor(rule_set)
    seen: Counter[str] = Counter()
    for patient, discs in table.groupby("Patient"):
        assessment = assessor.assess(case_from_record(record_of(patient, discs)), AS_OF)
        dangers = {unread.fact.subject for unread in assessment.unread if unread.dangers}
        conflicts = {fact.subject for fact in assessment.conflicts}
        for disc in assessment.discs:
            wanted = standing(places[patient, disc.level])
            open_only = not any(
                columns[name][places[patient, disc.level]] == "undetermined" for name in absolute
            )
            if disc.level in conflicts:
                wanted = "incomplete" if wanted != "not_candidate" else wanted
            elif wanted == "incomplete" and open_only and disc.level in dangers:
                wanted = "borderline"  # a danger that no deciding criterion of this set weighs
            assert disc.decision.standing == wanted, (patient, disc.level)
            seen[wanted] += 1
    assert len(seen) == 3


def test_an_outdated_study_leaves_every_imaging_criterion_with_a_window_open() -> None:
    rule_set = shipped().rule_set("practice_baseline")
    patient, discs = next(iter(gradings().groupby("Patient")))
    plain = record_of(patient, discs).plain()
    plain["documents"]["grading"]["date"] = plain["patient"]["lumbar_mri_date"]["value"] = "2020-01-01"
    assessment = Assessor(rule_set).assess(case_from_record(CaseRecord.model_validate(plain)), AS_OF)
    by_id = {r.id: r.outcome for r in assessment.results if r.subject == "L4-L5"}
    assert {
        by_id[name] for name in ("degeneration_grade_window", "displacement_limit", "endplate_change_type")
    } == {"undetermined"}
