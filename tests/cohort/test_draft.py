"""A mapping in the making: changed on copies, confirmed column by column, and the file that the loader takes."""

from pathlib import Path
from typing import Any

import pytest

from candidacy.cohort.inputs.draft import (
    CASE,
    COMPLETE,
    DAY_OF,
    DAYS,
    DISCS,
    LEVEL,
    PATIENTS,
    UNREAD,
    Draft,
    Holds,
)
from candidacy.cohort.inputs.mapping import Mapping, load_mapping
from candidacy.foundation.errors import TableError

TEXT = """version: "1"
confirmed: false
patients:
  case_id: ref
  facts_dated_by: Seen
  lists_complete: {medicines: Meds}
  columns:
    BMI: {element: body_mass_index, unit: "?", dated_by: Day}
    Sex: {element: sex, codes: {M: male}}
  ignore: [Note]
"""
COLUMNS = {PATIENTS: ["ref", "Seen", "Meds", "BMI", "Day", "Sex", "Note"]}


def loaded(draft: Draft, folder: Path) -> Mapping:
    file = folder / "m.yaml"
    file.write_text(draft.text(), encoding="utf-8")
    return load_mapping(file)


def test_what_each_column_holds() -> None:
    draft = Draft.of(TEXT)
    assert {column: draft.holds(PATIENTS, column) for column in COLUMNS[PATIENTS]} == {
        "ref": Holds(CASE), "Seen": Holds(DAYS), "Meds": Holds(COMPLETE, "medicines"),
        "BMI": Holds("element", "body_mass_index"), "Day": Holds(DAY_OF, "BMI"), "Sex": Holds("element", "sex"),
        "Note": Holds(UNREAD),
    }  # fmt: skip


def test_confirmed_only_when_every_column_was_compared_and_loads_as_one_file(tmp_path: Path) -> None:
    draft = Draft.of(TEXT).with_field(PATIENTS, "BMI", "unit", "kg/m2")
    for done, column in enumerate(COLUMNS[PATIENTS]):
        with pytest.raises(TableError, match="nobody has confirmed"):
            loaded(draft, tmp_path)
        assert len(draft.compared(PATIENTS, COLUMNS[PATIENTS])) == done
        draft = draft.with_compared(COLUMNS, PATIENTS, [column], True)
    assert draft.confirmed
    found = loaded(draft, tmp_path)
    assert found.patients.columns["BMI"].unit == "kg/m2"
    assert found.patients.columns["Sex"].codes == {"M": "male"}
    assert Draft.of(draft.text()).tree == draft.tree


def test_a_change_takes_back_what_was_confirmed_for_that_column_alone() -> None:
    draft = Draft.of(TEXT.replace("confirmed: false", "confirmed: true")).spelled_out(COLUMNS)
    assert draft.compared(PATIENTS, COLUMNS[PATIENTS]) == set(COLUMNS[PATIENTS])
    for made in (
        draft.with_compared(COLUMNS, PATIENTS, ["Sex"], False),
        draft.with_field(PATIENTS, "Sex", "codes", {"M": "female"}),
        draft.with_holds(PATIENTS, "Sex", Holds(UNREAD)),
    ):
        assert not made.confirmed
        assert made.compared(PATIENTS, COLUMNS[PATIENTS]) == set(COLUMNS[PATIENTS]) - {"Sex"}
    assert draft.confirmed


def test_a_confirmed_file_that_leaves_a_column_uncompared_is_refused(tmp_path: Path) -> None:
    draft = Draft.of(TEXT).with_field(PATIENTS, "BMI", "unit", "kg/m2")
    for column in COLUMNS[PATIENTS]:
        draft = draft.with_compared(COLUMNS, PATIENTS, [column], True)
    draft.tree[PATIENTS]["compared"].remove("BMI")
    with pytest.raises(TableError, match="nobody has compared") as caught:
        loaded(draft, tmp_path)
    assert caught.value.problems[0].found == "BMI"


def test_what_a_column_held_before_goes_with_it() -> None:
    draft = Draft.of(TEXT)
    case = draft.with_holds(PATIENTS, "Note", Holds(CASE))
    assert (case.table(PATIENTS)["case_id"], case.holds(PATIENTS, "ref").kind) == ("Note", UNREAD)
    assert "ignore" not in case.table(PATIENTS)
    freed = draft.with_holds(PATIENTS, "ref", Holds(UNREAD)).table(PATIENTS)
    assert freed["case_id"] == "?"
    assert draft.with_holds(PATIENTS, "Day", Holds(UNREAD)).entry(PATIENTS, "BMI") == {
        "element": "body_mass_index", "unit": "?",
    }  # fmt: skip
    assert "lists_complete" not in draft.with_holds(PATIENTS, "Meds", Holds(UNREAD)).table(PATIENTS)
    discs = draft.with_holds(DISCS, "Level", Holds(LEVEL)).with_holds(DISCS, "Id", Holds(CASE))
    assert discs.table(DISCS) == {"case_id": "Id", "columns": {}, "disc": "Level"}


@pytest.mark.parametrize(
    ("changes", "questions"),
    [({}, ["unit: choose"]), ({"unit": "kg/m2"}, []), ({"element": "nothing"}, ["element: choose one"]),
     ({"unit": "kg/m2", "decimal": "?"}, ["decimal: choose"]), ({"element": "pfirrmann_grade", "unit": None}, ["disc: choose"])],
)  # fmt: skip
def test_open_questions_keep_a_column_from_being_read(changes: dict[str, Any], questions: list[str]) -> None:
    draft = Draft.of(TEXT)
    for name, value in changes.items():
        draft = draft.with_field(PATIENTS, "BMI", name, value)
    assert draft.questions(PATIENTS, "BMI") == questions
    assert (draft.item(PATIENTS, "BMI") is None) == bool(questions)
    assert ("BMI" in draft.table_map(PATIENTS).columns) != bool(questions)


@pytest.mark.parametrize(
    "text", ["[", "a: 1", "patients: [1]", "patients: {columns: [a]}", "patients: {columns: {a: 1}}",
             "patients: {}\nlists: {nothing: {}}", "patients: {ignore: text}"],
)  # fmt: skip
def test_what_is_no_mapping_is_refused(text: str) -> None:
    with pytest.raises(TableError):
        Draft.of(text)
