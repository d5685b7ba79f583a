"""Tables of measurement error, important change and reader agreement, cell by cell against the sheet they were taken from.

The sheet lies in the folder ``shared`` beside the project; the tests are skipped where it is absent.
"""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from candidacy.rules.cited import TableRow
from candidacy.rules.libraries import shipped

Sheet = Callable[[str], Path]
SHEET = "reference/outcome_measures.md"
_NUMBER = re.compile(r"\d*\.?\d+")
# Numbers that are part of a name, or say how something was done.
_NAMES = re.compile(r"SF-36|EQ-5D|PROMIS-29|TH-P29|PHQ-9|L4-S1|Lee 2010|\(8 grades\)|\(\d wk\)|\(UK 3L\)|AC1")

ERROR_LINES = (
    ["odi_davidson_47"], ["odi_davidson_16"], ["odi_parai"], ["odi_form"], ["rmdq_davidson_47"], ["rmdq_davidson_16"],
    ["rmdq_stratford"], ["quebec_davidson_47"], ["sf36_pf_davidson_47"], ["sf36_pf_davidson_16"],
    ["sf36_bodily_pain_davidson_47", "sf36_bodily_pain_davidson_16"], ["sf36_role_physical_davidson_47"],
    ["nrs_back_parai"], ["nrs_leg_parai"], ["nrs_childs"], ["nrs_inpatients"], ["vas_hagg"], ["odi_hagg"],
    ["eq5d_uk_3l_parai"], ["promis_pi_amtmann_a", "promis_pi_amtmann_b"], ["phq9_retest"],
)  # fmt: skip
CHANGE_LINES = (
    ["nrs_ostelo", "vas_ostelo", "odi_ostelo", "rmdq_ostelo", "quebec_ostelo"],
    ["nrs_back_copay", "nrs_leg_copay", "odi_copay", "sf36_pcs_copay"],
    [f"{what}_fusion_{which}" for which in ("primary", "revision")
     for what in ("nrs_back", "nrs_leg", "odi", "sf36_pcs")],
    ["odi_glassman", "sf36_pcs_glassman"], ["nrs_back_parai", "nrs_leg_parai", "odi_parai", "eq5d_parai"],
    ["vas_hagg", "odi_hagg"], ["odi_mannion"], ["nrs_childs_1_week", "nrs_childs_4_weeks"],
    ["nrs_inpatients", "nrs_inpatients_1_to_4", "nrs_inpatients_5_to_7", "nrs_inpatients_8_to_10"],
    ["nrs_suzuki", "eq5d_suzuki"], ["nrs_farrar"], ["nrs_lauridsen", "odi_lauridsen"],
    ["promis_pi_amtmann", "promis_pi_chen", "promis_pi_thai"],
    [f"promis_{what}_thai" for what in
     ("pain_intensity", "physical_function", "anxiety", "depression", "fatigue", "sleep", "social")],
    ["phq9"],
    [*(f"pain_immpact_{grade}" for grade in ("minimal", "moderate", "substantial")), "bpi_interference_immpact",
     "bdi_immpact"],
)  # fmt: skip
READER_LINES = (
    ["pfirrmann_original", "pfirrmann_original_within"], ["pfirrmann_original"],
    ["pfirrmann_literature", "pfirrmann_literature_within"], ["pfirrmann_3t", "pfirrmann_3t_within"],
    ["pfirrmann_low_field", "pfirrmann_low_field_within", "pfirrmann_across_fields"], ["pfirrmann_network"],
    ["pfirrmann_network_2025", "pfirrmann_concordance_2025"], ["thompson_and_pfirrmann"],
    ["modified_pfirrmann", "modified_pfirrmann_within"], ["degeneration_carrino", "degeneration_carrino_within"],
    ["modic_carrino", "modic_carrino_within", "modic_extent_carrino"], ["modic_pmc7160219"],
    ["modic_modified", "modic_modified_within"], ["modic_nordic"], ["l4_s1_bergen", "l4_s1_bergen_within"],
    ["hiz_carrino", "hiz_carrino_within"], ["hiz_smith"],
    [], [],  # how common a zone is, and an association with pain: no agreement of readers
    ["displacement_lurie"], ["thecal_sac_lurie", "root_lurie"], [], ["extrusion_1996"],
    ["level_barzouhi", "herniation_barzouhi", "root_barzouhi"], ["central_lurie", "foraminal_lurie", "subarticular_lurie", "root_stenosis_lurie"],
    ["lee_central_park"], ["lee_foraminal"], ["schizas_two_experts"],
    ["stenosis_items_banitalebi", "facet_banitalebi", "dural_sac_banitalebi"], ["mixed_findings_2020"],
    ["slip_carrino", "facet_carrino"], ["facet_bergen", "facet_pmc7160219"],
    ["foraminal_pmc7160219", "endplate_fracture_pmc7160219", "schmorl_pmc7160219", "spondylolysis_pmc7160219"],
    ["protrusion_korean", "root_korean"],
)  # fmt: skip


def rows_of(name: str) -> dict[str, TableRow]:
    return {row.key: row for row in shipped().table(name).rows}


def lines(path: Path, start: str, end: str) -> Iterator[list[str]]:
    """Rows of the sheet's tables between two headings, without their heads."""
    text = path.read_text(encoding="utf-8").split(start)[1].split(end)[0].splitlines()
    for number, line in enumerate(text):
        if line.startswith("|") and "---" not in line and "---" not in text[number + 1]:
            yield [cell.strip() for cell in line.strip().strip("|").split("|")]


def numbers(text: str) -> set[float]:
    return {float(found) for found in _NUMBER.findall(_NAMES.sub("", text))}


def held(row: TableRow) -> set[float]:
    found: set[float] = set()
    for value in row.values.values():
        parts = value if isinstance(value, tuple) else (value,)
        found |= {float(part) for part in parts if type(part) in (int, float)}
    return found


def told(row: TableRow) -> set[float]:
    """Numbers in the words of a row."""
    words = [row.note, str(row.values["sample"] or ""), *(cite.note for cite in row.cites)]
    return numbers(" ".join(words))


def tag_of(row: TableRow) -> str:
    return row.cites[0].tag


def test_every_error_of_the_sheet(shared: Sheet) -> None:
    ours = rows_of("measurement_error")
    printed = list(lines(shared(SHEET), "## 3. Measurement error", "## 4."))
    assert len(printed) == len(ERROR_LINES)
    columns = (("icc", "icc_low", "icc_high"), ("sem", "sem_low", "sem_high"),
               ("mdc90", "mdc90_low", "mdc90_high"), ("mdc95",))  # fmt: skip
    for (measure, *cells, _sample, tag), keys in zip(printed, ERROR_LINES, strict=True):
        rows = [ours[key] for key in keys]
        assert {row.values["measure"] for row in rows} == {measure}
        for cell, names in zip(cells, columns, strict=True):
            mine = {float(row.values[name]) for row in rows for name in names if row.values[name] is not None}
            elsewhere = set().union(*({row.values["other_error"]} | told(row) for row in rows))
            assert mine <= numbers(cell), (keys, cell)
            assert numbers(cell) <= mine | elsewhere, (keys, cell)
            worked_out = any(names[0] in row.values["worked_out"] for row in rows)
            assert worked_out is ("derived" in cell), (keys, cell)
        weak = "memory" if tag == "[memory]" else "seen"
        assert {tag_of(row) for row in rows} <= ({weak} if keys != ["rmdq_stratford"] else {"weak"}), keys
    rest = set(ours) - {key for keys in ERROR_LINES for key in keys}
    assert rest == {key for key in ours if "tunset" in key or "borrowed" in key}


def test_errors_of_disc_heights_and_what_is_borrowed(shared: Sheet) -> None:
    ours = rows_of("measurement_error")
    text = shared(SHEET).read_text(encoding="utf-8")
    assert "SEM per reading .45 to .83 mm" in text
    assert "-> .36 to .78 mm" in text
    assert [ours[f"disc_height_tunset_{k}"].values["sem"]
            for k in ("between_best", "between_worst", "within_best", "within_worst")] == [.45, .83, .36, .78]  # fmt: skip
    assert "VAS SEM is borrowed from NRS" in text
    assert "protrusion SEM is borrowed from disc height" in text
    for row in ours.values():
        if row.values["borrowed_from"]:
            lender = ours[str(row.values["borrowed_from"])]
            factor = 10 if row.values["measure"] == "VAS" else 1
            assert row.values["sem"] == pytest.approx(factor * float(str(lender.values["sem"])))
            assert tag_of(row) == "derived"
            assert row.note


def test_arithmetic_of_worked_out_errors() -> None:
    # outcome sheet, section 9: MDC90 = 2.326 SEM, MDC95 = 2.772 SEM; Davidson's printed MDC90 are his own
    checked = 0
    for row in rows_of("measurement_error").values():
        sem = row.values["sem"]
        if sem is None:
            continue
        for name, factor in (("mdc90", 2.326), ("mdc95", 2.772)):
            if row.values[name] is not None and (
                name in row.values["worked_out"] or "sem" in row.values["worked_out"]
            ):
                assert row.values[name] == pytest.approx(factor * float(str(sem)), abs=0.06), (row.key, name)
                checked += 1
    assert checked >= 14


def test_every_important_change_of_the_sheet(shared: Sheet) -> None:
    ours = rows_of("important_change")
    printed = list(lines(shared(SHEET), "## 4. Important change", "## 5."))
    assert len(printed) == len(CHANGE_LINES)
    for (source, *cells, tag), keys in zip(printed, CHANGE_LINES, strict=True):
        rows = [ours[key] for key in keys]
        found = numbers(" ".join(cells))
        assert set().union(*map(held, rows)) <= found, source
        assert found <= set().union(*(held(row) | told(row) for row in rows)), source
        recalled = tag.startswith("[memory]") or "value [memory]" in tag
        assert {tag_of(row) for row in rows} == {"memory" if recalled else "seen"}, source
    assert set(ours) == {key for keys in CHANGE_LINES for key in keys}


def test_the_more_telling_cells_of_important_change() -> None:
    # Glassman 2008; Ostelo 2008; Schmerz, doi 10.1055/a-1304-3677 [source]
    ours = {key: row.values for key, row in rows_of("important_change").items()}
    assert [ours["odi_glassman"][c] for c in ("absolute", "percent", "final_value", "final_rule", "joined")] == [
        18.8, 36.8, 31.3, "less_than", "or"]  # fmt: skip
    assert [(ours[f"{m}_ostelo"]["absolute"], ours[f"{m}_ostelo"]["percent"]) for m in ("nrs", "vas", "odi", "rmdq")] == [
        (2, 30), (15, 30), (10, 30), (5, 30)]  # fmt: skip
    assert [(ours[k]["baseline_low"], ours[k]["baseline_high"], ours[k]["absolute"], ours[k]["absolute_low"])
            for k in ("nrs_inpatients_1_to_4", "nrs_inpatients_5_to_7", "nrs_inpatients_8_to_10")] == [
        (1, 4, 1, None), (5, 7, 2, None), (8, 10, None, 3)]  # fmt: skip


def test_every_agreement_of_the_sheet(shared: Sheet) -> None:
    ours = rows_of("reader_agreement")
    printed = list(lines(shared(SHEET), "### 8.1", "### 8.3"))
    assert len(printed) == len(READER_LINES)
    for (finding, *cells, tag), keys in zip(printed, READER_LINES, strict=True):
        if not keys:
            continue
        rows = [ours[key] for key in keys]
        every = numbers(" ".join((finding, *cells, tag)))
        for row in rows:
            mine = held(row) - ({530.0, 0, 1, 2, 3} if row.key == "lee_foraminal" else set())
            if row.key != "pfirrmann_original":  # of two lines
                assert mine <= every, (row.key, mine - every)
        assert numbers(cells[0]) <= set().union(*(held(row) | told(row) for row in rows)), finding
        first = "memory" if tag.startswith("[memory]") else "seen"
        assert {tag_of(row) for row in rows if row.key != "pfirrmann_original"} <= {first, "weak"}, finding
    assert set(ours) == {key for keys in READER_LINES for key in keys}


@pytest.mark.parametrize("name", ["measurement_error", "reader_agreement", "important_change"])
def test_rows_in_use_are_rows_of_the_table_one_for_each_element(name: str) -> None:
    rows = rows_of(name)
    setting = shipped().settings()[f"{name}_in_use"]
    for value in (setting.value, *(other.value for other in setting.alternatives)):
        assert isinstance(value, tuple)
        named = [element for key in value for element in rows[key].values["elements"]]
        assert named
        assert len(named) == len(set(named))


def test_elements_of_the_tables_are_in_the_catalogue_and_of_that_unit() -> None:
    elements = {each.name: each for each in shipped().catalogue().all}
    for name in ("measurement_error", "important_change"):
        for row in rows_of(name).values():
            for element in row.values["elements"]:
                unit = elements[element].unit or "1"
                assert unit == row.values["unit"] or row.key.startswith("pain_immpact"), (row.key, element)
    for row in rows_of("reader_agreement").values():
        for element in row.values["elements"]:
            if row.values["grades"]:
                choices = elements[element].choices
                # Schizas A1 to A4 are counted together as A
                found = dict.fromkeys(c[0] if row.key.startswith("schizas") else c for c in choices or ())
                assert row.values["grades"] == (tuple(found) or (0, 1, 2, 3)), row.key
