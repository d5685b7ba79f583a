"""The mapping on the Cohort page: what is open cannot be confirmed, what is confirmed is the file that the command reads."""

import io
from pathlib import Path

import pytest

pytest.importorskip("duckdb", reason="cohorts need the cohort extra")
import pandas as pd

from candidacy.cohort import load_mapping
from candidacy.cohort import screen as screen_table
from candidacy.ui.cohort.run import Run
from tests.ui.conftest import TODAY
from tests.ui.test_cohort import CSV, MAPPING, VIEW, add, upload

ODI = b"Export,of a,clinic\n,,\nref,ODI %,Seen by\na,0.53,me\nb,0.4,you\nc,0.21,\n"


def proposed(screen, content: bytes = CSV, name: str = "referrals.csv"):
    return upload(screen(VIEW), content, name).press("cohort-propose")


def counts(page) -> str:
    return next(body for body in page.bodies if "mapping-counts" in body)


def confirm(page, *places: int, table: str = "patients", said: bool = True):
    for place in places:
        page._find("checkbox", f"map-{table}-{place}-compared").set_value(said)
        page.run()
    return page


def can_confirm(page, place: int) -> bool:
    return not page._find("checkbox", f"map-patients-{place}-compared").disabled


def mapping(page) -> str:
    return str(page.desk.kept["cohort-mapping"])


def opened(page, place: int):
    return page.press(f"map-patients-{place}-open")


def test_a_mapping_is_confirmed_column_by_column_and_is_the_file_of_the_command(screen, tmp_path):
    page = proposed(screen)  # ref, Sex, BMI
    assert "0 of 3 confirmed" in counts(page)
    assert not can_confirm(page, 2), "the unit is open"
    assert "Not counted, as a question is open: BMI" in counts(page)
    opened(page, 2).pick("map-patients-2-unit", "kg/m2")
    assert "1 cell is not read" in counts(page)
    assert "0 would be set aside" in counts(page).replace("<strong>", "").replace("</strong>", "")
    assert "heavy" in page.text
    confirm(page, 0, 1)
    assert "2 of 3 confirmed" in counts(page)
    page.press("cohort-go")
    assert "nobody has confirmed this mapping" in page.text
    confirm(page, 2)
    assert "3 of 3 confirmed" in counts(page)
    page.press("cohort-go")
    run: Run = page.desk.kept["cohort-run"]
    saved, table = tmp_path / "saved.yaml", tmp_path / "referrals.csv"
    saved.write_text(mapping(page), encoding="utf-8")
    table.write_bytes(CSV)
    assert load_mapping(saved).confirmed
    with screen_table(table, "practice_baseline", TODAY, mapping=saved) as cohort:
        pd.testing.assert_frame_equal(cohort.outcomes(), run.cohort.outcomes())
    loaded = upload(screen(VIEW), CSV)
    loaded.at.get("file_uploader")[1].set_value(("saved.yaml", saved.read_bytes(), "application/yaml"))
    loaded.run()
    assert mapping(loaded) == saved.read_text("utf-8")
    assert "3 of 3 confirmed" in counts(loaded)


def test_a_changed_column_has_to_be_confirmed_again(screen):
    page = upload(screen(VIEW, **{"cohort-mapping": MAPPING}), CSV)
    assert "3 of 3 confirmed" in counts(page)
    opened(page, 1).pick("map-patients-1-code-0", "female")
    assert "2 of 3 confirmed" in counts(page)
    assert "confirmed: false" in mapping(page)
    page.press("cohort-go")
    assert "nobody has confirmed this mapping" in page.text


def test_another_element_is_written_as_its_cells_look(screen):
    page = opened(proposed(screen), 1).pick("map-patients-1-holds", "element:smoking_status")
    assert "element: smoking_status" in mapping(page)
    assert "codes" not in mapping(page).split("smoking_status")[1].split("BMI")[0], (
        "M and F are no codes of smoking"
    )
    assert "3 cells are not read" in counts(page)
    page.pick("map-patients-1-code-0", "?not_stated")
    assert "not_stated" in mapping(page)
    page.pick("map-patients-1-holds", "element:body_height")
    assert not can_confirm(page, 1)
    page.pick("map-patients-1-holds", "unread")
    assert can_confirm(page, 1)
    assert "- Sex" in mapping(page).split("ignore:")[1]


def test_dates_of_two_forms_and_a_form_that_is_none(screen):
    table = b"ref,MRI date\na,25/11/2026\nb,11/30/2026\nc,2026-11-01\nd,05/06/2026\n"
    page = opened(proposed(screen, table), 1)
    forms = page._find("multiselect", "map-patients-1-forms")
    assert set(forms.value) == {"%d/%m/%Y", "%m/%d/%Y", "%Y-%m-%d"}
    assert "1 cell is not read" in counts(page), "5 June or 6 May: nobody chooses"
    assert "may be 2026-06-05" in page.text
    forms.set_value(["%d/%m/%Y"])
    page.run()
    assert "2 cells are not read" in counts(page)
    assert "date_format: &#39;%d/%m/%Y&#39;" not in mapping(page)
    assert "%m/%d/%Y" not in mapping(page)


def test_percent_or_fraction_is_asked_and_the_row_of_names_can_be_chosen(screen):
    page = proposed(screen, ODI)
    assert "▸ clinic" in [button.label for button in page.at.button], (
        "a title as full as the names was taken for them"
    )
    page.pick("cohort-header-patients", 3)
    assert "header_row: 3" in mapping(page)
    assert not can_confirm(page, 1)
    opened(page, 1).pick("map-patients-1-unit", "%")
    assert "percent, or fractions of one?" in page.text
    assert not can_confirm(page, 1)
    page.pick("map-patients-1-fractions", True)
    assert "53 %" in page.text
    assert can_confirm(page, 1)
    before = mapping(page)
    page.pick("cohort-header-patients", 2)
    assert "Refused; nothing was changed" in page.text
    assert mapping(page) == before
    page.pick("cohort-header-patients", 1)
    assert "header_row" not in mapping(page)
    page.press("cohort-back")
    assert mapping(page) == before


def test_sheets_are_chosen_from_a_list_and_each_table_has_its_columns(screen):
    book = io.BytesIO()
    discs = pd.DataFrame({"ref": ["a"], "Level": ["L4/5"], "Pfirrmann": ["III"]})
    with pd.ExcelWriter(book) as writer:
        pd.read_csv(io.BytesIO(CSV)).to_excel(writer, sheet_name="Cases", index=False)
        discs.to_excel(writer, sheet_name="Discs", index=False)
    page = upload(screen(VIEW), book.getvalue(), "all.xlsx")
    assert page._find("selectbox", "kept-cohort-part-cases").options == ["choose", "Cases", "Discs"]
    add(page, "discs", book.getvalue(), "all.xlsx")
    page.pick("kept-cohort-part-cases", "Cases").pick("kept-cohort-part-discs", "Discs").press(
        "cohort-propose"
    )
    assert "0 of 6 confirmed" in counts(page)
    opened(page, 2).pick("map-patients-2-unit", "kg/m2")
    confirm(page, 0, 1, 2)
    assert "3 of 6 confirmed" in counts(page)
    page.tap("kept-cohort-mapping-table", "discs")
    confirm(page, 0, 1, 2, table="discs")
    assert "6 of 6 confirmed" in counts(page)
    page.press("cohort-go")
    assert page.desk.kept["cohort-run"].cohort.levels == ("L4-L5",)


@pytest.mark.parametrize("content", [b"\xff\xfe", b"patients: [", b"note: x"])
def test_a_file_that_is_no_mapping_leaves_the_one_that_lies_there(screen, content):
    page = upload(screen(VIEW, **{"cohort-mapping": MAPPING}), CSV)
    page.at.get("file_uploader")[1].set_value(("other.yaml", content, "application/yaml"))
    page.run()
    assert mapping(page) == MAPPING
    assert "E1" in page.text or "E5" in page.text


def test_foreign_text_in_headers_cells_and_codes_stays_text(screen):
    evil = "<img src=x onerror=alert(1)> **b** $x$"
    table = f'ref,"{evil}",Sex\na,"{evil}",M\nb,2,"{evil}"\n'.encode()
    page = opened(opened(proposed(screen, table), 1), 2)
    assert "<img" not in "".join(page.bodies)
    assert "&lt;img" in "".join(page.bodies)
    assert Path(page.desk.kept["cohort-tables"]["cases"].path).read_bytes() == table
