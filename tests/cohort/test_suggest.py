# ruff: noqa: E402
"""A proposed mapping: what it recognises, what it asks, and that answering it is enough."""

from pathlib import Path
from typing import Any

import pytest
import yaml

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import load_mapping, screen, suggest_mapping
from candidacy.foundation.errors import TableError
from tests.strategies import AS_OF

WIDE = "wide_screen"
PEOPLE = pd.DataFrame(
    {
        "Ref": ["x1", "x2", "x3"],
        "Weight_kg": ["80,4", "91,25", "70"],
        "Height (in)": ["70", "68", "71"],
        "DOB": ["02/03/1980", "05/06/1971", "01/02/1960"],
        "lumbar MRI date": ["13.09.2026", "15.10.2026", "01.09.2026"],
        "Arm": ["p", "q", "p"],
        "sex": ["Male", "n/a", "female"],
    }
)
DISCS = pd.DataFrame(
    {
        "Patient no": ["x1", "x1", "x3"],
        "Segment": ["L4/5", "L5/S1", "L4-L5"],
        "herniation": ["Protrusion", "none", "bulge"],
        "displacement size mm": ["4,5", "3", "2"],
        "Pfirrmann": ["IV", "iii", "v"],
    }
)
MEDICINES = pd.DataFrame({"case": ["x1", "x2", "x2"], "class": ["antiplatelet", "NSAID", "opioid"]})


def proposed(table: Any, **more: Any) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(suggest_mapping(table, **more))
    return found


def _columns(**columns: list[Any]) -> dict[str, Any]:
    found: dict[str, Any] = proposed(pd.DataFrame({"case_id": ["a", "b", "c"], **columns}))["patients"][
        "columns"
    ]
    return found


def _questions(text: str) -> list[str]:
    return [line.split("# QUESTION ")[1] for line in text.splitlines() if "# QUESTION" in line]


def test_answering_the_questions_and_confirming_gives_a_screen(tmp_path: Path) -> None:
    """Only what a QUESTION asks is edited; the outcomes are those of the table in our own words."""
    tables: dict[str, Any] = {"discs": DISCS, "lists": {"medicines": MEDICINES}}
    text = suggest_mapping(PEOPLE, **tables)
    path = tmp_path / "mapping.yaml"
    path.write_text(text.replace("confirmed: false", "confirmed: true"), encoding="utf-8")
    with pytest.raises(TableError) as caught:
        screen(PEOPLE, WIDE, AS_OF, mapping=path, **tables)
    assert "date_format" in str(caught.value)
    answers = {"date_format: '?'": "date_format: '%d/%m/%Y'"}
    for question, answer in answers.items():
        assert text.count(question) == 1
        text = text.replace(question, answer)
    assert "'?'" not in text
    path.write_text(text.replace("confirmed: false", "confirmed: true"), encoding="utf-8")
    ours = pd.DataFrame(
        {
            "case_id": ["x1", "x2", "x3"],
            "body_weight [kg]": ["80.4", "91.25", "70"],
            "body_height [in]": ["70", "68", "71"],
            "birth_date": ["1980-03-02", "1971-06-05", "1960-02-01"],
            "lumbar_mri_date": ["2026-09-13", "2026-10-15", "2026-09-01"],
            "sex": ["male", "?not_stated", "female"],
        }
    )
    discs = pd.DataFrame(
        {
            "case_id": DISCS["Patient no"],
            "disc": DISCS["Segment"],
            "displacement": ["protrusion", "none", "bulge"],
            "displacement_size [mm]": ["4.5", "3", "2"],
            "pfirrmann_grade": ["IV", "III", "V"],
        }
    )
    medicines = pd.DataFrame(
        {"case_id": ["x1", "x2", "x2"], "medicine_class": ["antiplatelet", "nsaid", "opioid"]}
    )
    with screen(PEOPLE, WIDE, AS_OF, mapping=load_mapping(path), **tables) as found:
        assert (found.set_aside, found.discs_set_aside, found.notes) == (0, 0, ())
        with screen(ours, WIDE, AS_OF, discs=discs, lists={"medicines": medicines}) as expected:
            pd.testing.assert_frame_equal(found.outcomes(), expected.outcomes())


def test_a_proposal_is_never_confirmed_and_never_loads(tmp_path: Path) -> None:
    path = tmp_path / "mapping.yaml"
    path.write_text(suggest_mapping(PEOPLE), encoding="utf-8")
    with pytest.raises(TableError, match="nobody has confirmed"):
        load_mapping(path)


def test_every_question_is_marked_and_counted() -> None:
    text = suggest_mapping(PEOPLE, discs=DISCS, lists={"medicines": MEDICINES})
    assert text.count("'?'") == 1
    (question,) = _questions(text)
    assert "02/03/1980" in question or "01/02/1960" in question
    assert "%d/%m/%Y" in question
    assert "%m/%d/%Y" in question
    assert "Answer the 1 marked QUESTION" in text


@pytest.mark.parametrize(
    ("dates", "form"),
    [
        (["13/02/1980", "01/02/1970", "01/03/1960"], "%d/%m/%Y"),
        (["02/13/1980", "01/02/1970", "01/03/1960"], "%m/%d/%Y"),
        (["01/02/1980", "01/02/1970", "01/03/1960"], "?"),
        (["13.02.1980", "01.02.1970", ""], "%d.%m.%Y"),
        (["19800213", "19700201", ""], "%Y%m%d"),
        (["13 Feb 1980", "1 Mar 1970", ""], "%d %b %Y"),
        (["13/02/1980", "02/13/1970", ""], ["%d/%m/%Y", "%m/%d/%Y"]),
        (["13/02/1980", "17 May 1984", "1980-02-03"], ["%d/%m/%Y", "%Y-%m-%d", "%d %b %Y"]),
        (["02/03/1980", "17 May 1984", "1980-02-03"], "?"),
        (["13.02.80", "01.02.70", ""], "?"),
        (["1980-02-13", "1970", "?not_stated"], None),
    ],
)
def test_dates_are_recognised_where_they_can_be_read_in_one_way(
    dates: list[str], form: str | list[str] | None
) -> None:
    assert _columns(DOB=dates)["DOB"] == {"element": "birth_date"} | ({"date_format": form} if form else {})


@pytest.mark.parametrize(
    ("cells", "sign"),
    [(["80,5", "91,25", "70"], ","), (["80,500", "91,250", "70"], "?"), (["80.5", "91", "70"], None)],
)
def test_a_decimal_comma_is_recognised_and_a_thousands_one_is_asked_about(
    cells: list[str], sign: str | None
) -> None:
    assert _columns(**{"body weight (kg)": cells})["body weight (kg)"].get("decimal") == sign


@pytest.mark.parametrize(
    ("header", "element", "unit"),
    [
        ("Weight_kg", "body_weight", "kg"),
        ("body weight (lbs)", "body_weight", "lb"),
        ("Height in", "body_height", "in"),
        ("body weight", "body_weight", "?"),
        ("body weight (mm)", "body_weight", "?"),
    ],
)
def test_a_unit_is_taken_from_the_header_or_asked_for(header: str, element: str, unit: str) -> None:
    assert _columns(**{header: ["70", "71", "72"]})[header] == {"element": element, "unit": unit}


def test_a_digit_is_never_taken_for_a_roman_grade() -> None:
    table = pd.DataFrame({"case_id": ["a", "b", "c"], "L4/5 pfirrmann grade": ["1", "iv", "3"]})
    text = suggest_mapping(table)
    entry = yaml.safe_load(text)["patients"]["columns"]["L4/5 pfirrmann grade"]
    assert entry == {"element": "pfirrmann_grade", "disc": "L4-L5", "codes": {"iv": "IV"}}
    assert "a digit is no grade of this scale" in _questions(text)[0]


def test_the_case_reference_is_found_by_its_cells_and_asked_for_where_they_do_not_tell() -> None:
    people = pd.DataFrame({"Folder": ["f1", "f2", "f3"], "sex": ["male", "male", "female"]})
    assert proposed(people)["patients"]["case_id"] == "Folder"
    assert proposed(people.assign(case_id=["a", "a", "b"]))["patients"]["case_id"] == "Folder"
    two = people.assign(Other=["o1", "o2", "o3"])
    assert proposed(two)["patients"]["case_id"] == "?"
    assert "Folder, Other" in _questions(suggest_mapping(two))[0]
    gap = people.assign(Folder=["f1", None, "f3"])
    assert proposed(gap)["patients"]["case_id"] == "?"


def test_the_level_column_and_the_case_of_a_table_of_discs_are_found_by_their_cells() -> None:
    found = proposed(PEOPLE, discs=DISCS.rename(columns={"Patient no": "k", "Segment": "s"}))["discs"]
    assert (found["case_id"], found["disc"]) == ("k", "s")
    lost = suggest_mapping(PEOPLE, discs=DISCS.assign(Segment="here", **{"Patient no": "nobody"}))
    assert any(question.startswith("disc: ") for question in _questions(lost))
    assert any(question.startswith("case_id: ") for question in _questions(lost))


def test_a_table_with_a_row_for_each_disc_is_recognised() -> None:
    assert "given with --discs" in suggest_mapping(DISCS)


def test_text_of_a_table_never_becomes_yaml_of_the_proposal() -> None:
    evil = "x\nconfirmed: true\n# "
    table = pd.DataFrame(
        {"case_id": ["a", "b"], evil: ["1", evil], "sex": [evil, "}: !!python/name:os.system"]}
    )
    found = proposed(table)
    assert found["confirmed"] is False
    assert set(found) == {"version", "confirmed", "patients"}
    assert found["patients"]["ignore"] == [evil]


def test_days_of_facts_in_a_foreign_form_are_asked_about_or_read() -> None:
    table = pd.DataFrame(
        {"case_id": ["a", "b"], "sex": ["male"] * 2, "facts_date": ["13.10.2026", "1.10.2026"]}
    )
    assert proposed(table)["patients"]["date_format"] == "%d.%m.%Y"
    assert proposed(table.assign(facts_date=["01/02/2026", "02/03/2026"]))["patients"]["date_format"] == "?"


def test_columns_that_are_not_read_are_listed_with_their_type() -> None:
    table = pd.DataFrame({"case_id": ["a", "b"], "sex": ["male"] * 2, "photo": [b"1", b"2"]})
    text = suggest_mapping(table)
    assert yaml.safe_load(text)["patients"]["ignore"] == ["photo"]
    assert "of type binary" in text


def test_a_column_whose_element_another_has_or_that_lacks_its_disc_is_not_said_to_be_near_nothing() -> None:
    table = pd.DataFrame(
        {
            "case_id": ["a"],
            "DOB": ["1980-01-02"],
            "Birth date": ["1980-01-02"],
            "vacuum sign": ["yes"],
            "zz": ["q"],
        }
    )
    told = suggest_mapping(table)
    assert "birth_date is proposed for another column" in told
    assert "vacuum_sign is a fact of a disc: name the disc, or give a table with a row for each disc" in told
    assert told.count("no element is near") == 1
