"""What the author of a report is asked to add: few points, such as can change the standing, in words of the study."""

from datetime import date
from pathlib import Path

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.element import Element
from candidacy.case.load import load_case
from candidacy.case.record import FactEntry
from candidacy.reading import read_text
from candidacy.reading.ask import Passage, Request, Told, request
from candidacy.reading.data_files import rows_of
from candidacy.reading.request_letter import letter
from candidacy.rules.libraries import load_rule_set

DEMO = Path(__file__).parents[2] / "demo_cases"
DAY = date(2026, 10, 1)
MRI = """MRI LUMBAR SPINE
FINDINGS:
L3-L4: Normal.
L4-L5: Disc desiccation with mild height loss. 4 mm central protrusion with annular fissure. No canal stenosis.
L5-S1: Normal.
"""


def asked(text: str, rules: str = "practice_baseline", **more) -> Request:
    return request(read_text(text), load_rule_set(rules), DAY, day=DAY.isoformat(), **more)


def _elements() -> dict[str, Element]:
    return {element.name: element for element in catalogue().all}


def names(found: Request) -> set[str]:
    return {name for item in found.items for name in item.elements}


@pytest.mark.parametrize("rules", ["practice_baseline", "report_completeness", "disc_source"])
@pytest.mark.parametrize(
    "text", [MRI, "MRI LUMBAR SPINE: degenerative.", "CT LUMBAR SPINE\nL4-L5: Disc bulge."]
)
def test_at_most_eight_points_and_none_twice(text: str, rules: str) -> None:
    found = asked(text, rules)
    assert len(found.items) <= 8
    assert len({item.ask for item in found.items}) == len(found.items)
    numbered = [line for line in letter(found, "Rules").splitlines() if line[:1].isdigit()]
    assert len(numbered) == len(found.items)


def test_only_considered_discs_are_asked_about() -> None:
    found = asked(MRI, discs=("L4-L5",))
    assert {s for item in found.items for s in item.subjects} <= {"patient", "L4-L5"}
    assert "L4-L5" in {s for item in found.items for s in item.subjects}


def test_what_the_report_states_is_not_asked() -> None:
    assert not names(asked(MRI, discs=("L4-L5",))) & {"displacement", "displacement_size", "canal_stenosis"}
    more = MRI + "No infection, fracture or tumor. Pfirrmann grade IV at L4-L5.\n"
    assert not names(asked(more)) & {"infection_sign_on_imaging", "fracture_on_imaging", "pfirrmann_grade"}


@pytest.mark.parametrize(
    ("sentence", "element"),
    [
        ("Pfirrmann score as on the outside images at L4-L5.", "pfirrmann_grade"),
        ("Possible pars defect at L4-L5.", "pars_defect"),
        ("Possible Modic type 1 change at L4-L5.", "modic_type"),
        ("The aorta was reviewed by a colleague and see his note.", "aortic_aneurysm_on_imaging"),
    ],
)
def test_what_stands_in_the_text_unread_is_pointed_out_instead(sentence: str, element: str) -> None:
    rules = "practice_baseline" if element.startswith("aortic") else "report_completeness"
    before = asked(MRI, rules, discs=("L4-L5",))
    found = asked(MRI + sentence + "\n", rules, discs=("L4-L5",))
    assert element not in names(found), (names(before), names(found))
    (row,) = [w for w in found.told_already if element in w.elements]
    assert row.words in " ".join(sentence.split())
    assert row.words in " ".join(letter(found, "Rules").split())


def test_a_passage_about_another_disc_does_not_count() -> None:
    rule_set = load_rule_set("report_completeness")
    told = Told((), (Passage("Modic change is doubtful at L2-L3", ("L2-L3",)),), "mri", ("L4-L5",))
    assert "modic_type" in {e for i in (*request(told, rule_set, DAY).items,) for e in i.elements}
    told = told._replace(open=(Passage("Modic change is doubtful", ()),))
    found = request(told, rule_set, DAY)
    assert [w.words for w in found.told_already if "modic_type" in w.elements] == ["Modic change is doubtful"]


def test_a_ct_is_not_asked_what_only_an_mri_shows() -> None:
    text = "CT LUMBAR SPINE WITHOUT CONTRAST\nFINDINGS:\nL4-L5: Disc bulge.\n"
    of_mri_alone = {
        "pfirrmann_grade",
        "modic_type",
        "high_intensity_zone",
        "annular_fissure",
        "disc_desiccation",
    }
    for rules in ("practice_baseline", "report_completeness"):
        found = asked(text, rules)
        assert found.study == "ct"
        assert not names(found) & of_mri_alone
        assert "lumbar CT" in letter(found, "Rules")
        assert "MRI" not in letter(found, "Rules")
    assert names(asked(text.replace("CT LUMBAR", "MRI LUMBAR"), "report_completeness")) & of_mri_alone


def test_a_discography_is_asked_in_its_own_words() -> None:
    told = Told((), (), "discography", ("L4-L5",))
    found = request(told, load_rule_set("disc_source"), DAY)
    assert {"discography_role", "discography_leak"} <= names(found)
    assert not [n for n in names(found) if catalogue()[n].supplied_by == "imaging"]
    assert "record of the discography" in letter(found, "Rules")


def test_nothing_is_asked_where_nothing_can_change_the_standing() -> None:
    case = load_case(DEMO / "extruded-disc.yaml").record
    found = asked(MRI, case=case)
    assert not found.items
    assert "Nothing to ask" in letter(found, "Rules")
    open_case = load_case(DEMO / "first-letter-only.yaml").record
    assert asked(MRI, case=open_case).items


def test_what_the_case_record_knows_already_is_not_asked() -> None:
    case = load_case(DEMO / "first-letter-only.yaml").record
    assert "infection_sign_on_imaging" in names(asked(MRI, case=case))
    key = next(iter(case.documents), None)
    case = with_fact(
        case, "patient", "infection_sign_on_imaging", FactEntry(value=False, source=key, date="2026-09-20")
    )
    assert "infection_sign_on_imaging" not in names(asked(MRI, case=case))


def test_every_fact_that_a_report_tells_has_a_question() -> None:
    """An element of the catalogue without one would be asked in the words for a form, of any study."""
    data = rows_of("asks")
    asked_of = [name for row in data["questions"] for name in row["of"]]
    assert len(asked_of) == len(set(asked_of))
    from_reports = {
        name
        for name, element in _elements().items()
        if element.supplied_by == "imaging" and "report" in element.found_in
    }
    assert from_reports - set(asked_of) == {"bone_densitometry_done", "bone_density_t_score_lowest"}
    assert set(asked_of) <= set(_elements())
    answered = {by for kinds in data["answers"].values() for by in kinds}
    assert {row["by"] for row in data["questions"]} <= answered
