"""The journey of a mapping in a real browser: by keyboard, read by axe, saved as the file that the command takes."""

import subprocess
import sys

import pytest

pytest.importorskip("duckdb", reason="cohorts need the cohort extra")
pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, ROOT, absent, violations  # noqa: E402
from tests.ui.test_cohort_browser import save, screen, upload  # noqa: E402

TABLE = "Export of an invented clinic,,\nMRN,Gender,Weight\n" + "".join(
    f"R{n:03},{'MF'[n % 2]},{150 + n}{(' lbs', '')[n % 2]}\n" for n in range(40)
)


@pytest.mark.parametrize("width", [1280, pytest.param(900, marks=only_deep)])
def test_from_a_foreign_table_to_a_confirmed_mapping_by_keyboard(visitor, tmp_path, width):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    table = tmp_path / "export.csv"
    table.write_text(TABLE + "R100,F,about 200\n", encoding="utf-8")
    person = upload(visitor(width=width, path="cohort"), table)
    page, expect = person.page, playwright.expect
    counts = page.get_by_test_id("mapping-counts")

    def act(role: str, name: str, key: str) -> None:
        """Reach a control and use it, without a mouse."""
        control = page.get_by_role(role, name=name, exact=True)
        control.focus()
        page.keyboard.press(key)
        person.settle()

    act("button", "Propose a mapping", "Enter")
    expect(counts).to_contain_text("0 of 3 confirmed")
    expect(counts).to_contain_text("Not counted, as a question is open: Weight")
    found = [f"table: {line}" for line in violations(person)]
    act("checkbox", "MRN: confirmed", "Space")
    expect(counts).to_contain_text("1 of 3 confirmed")
    act("button", "▸ Gender", "Enter")
    act("button", "Confirm, and open the next", "Enter")
    expect(counts).to_contain_text("2 of 3 confirmed")
    expect(page.get_by_role("checkbox", name="Weight: confirmed", exact=True)).to_be_disabled()
    act("combobox", "Unit of bare numbers", "ArrowDown")
    page.get_by_role("option", name="lb", exact=True).click()
    person.settle()
    expect(counts).to_contain_text("Of all 41 rows of this table, 0 would be set aside; 1 cell is not read")
    expect(page.get_by_text("All 40 filled cells are read.", exact=True)).to_have_count(0)
    expect(page.get_by_role("cell", name="151 lb", exact=True)).to_be_visible()
    found += [f"answers: {line}" for line in violations(person)]
    act("button", "Confirm, and open the next", "Enter")
    expect(counts).to_contain_text("3 of 3 confirmed: the mapping can be used.")
    found += [f"confirmed: {line}" for line in violations(person)]
    assert found == [], "\n".join(found)
    assert person.overflow() <= 0
    if width != 1280:
        return
    mapping = save(person, "Save the mapping (YAML)", tmp_path / "mapping.yaml")
    screen(person)
    person.reads("41 cases read").reads("1 cell not read")
    done = subprocess.run(
        [sys.executable, "-m", "candidacy", "screen", str(table), "--mapping", str(mapping), "--as-of", "2026-11-25"],
        capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "41" in done.stdout
