"""Shipped tables of published values, cell by cell against the reference sheets they were taken from.

The sheets lie in the folder ``shared`` beside the project; the tests are skipped where they are absent.
"""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from candidacy.derive.hold_table import read_cell, read_wait
from candidacy.rules.cited import TableRow
from candidacy.rules.libraries import shipped

Sheet = Callable[[str], Path]
SAFETY, IMAGING = "reference/procedural_safety_and_pathway.md", "reference/disc_imaging_and_discography.md"


def table_rows(name: str) -> dict[str, TableRow]:
    return {row.key: row for row in shipped().table(name).rows}


def cells(path: Path, start: str, end: str) -> Iterator[list[str]]:
    text = path.read_text(encoding="utf-8").split(start)[1].split(end)[0]
    for line in text.splitlines():
        if line.startswith("|") and "---" not in line:
            yield [cell.strip() for cell in line.strip().strip("|").split("|")]


# Name in the sheet's table of intervals -> rows of ours.
NAMES = {
    "Aspirin, primary prevention": ["aspirin_primary_prevention"],
    "Aspirin, secondary prevention": ["aspirin_secondary_prevention"],
    "NSAIDs as a class": ["nsaid"],
    "- diclofenac, ketorolac, ibuprofen": ["diclofenac", "ketorolac", "ibuprofen"],
    "- etodolac, indomethacin": ["etodolac", "indomethacin"],
    "- naproxen, meloxicam": ["naproxen", "meloxicam"],
    "- nabumetone": ["nabumetone"],
    "- oxaprozin": ["oxaprozin"],
    "- piroxicam": ["piroxicam"],
    "- celecoxib (COX-2)": ["celecoxib"],
    "Cilostazol": ["cilostazol"],
    "Dipyridamole": ["dipyridamole"],
    "Warfarin": ["warfarin"],
    "Acenocoumarol": ["acenocoumarol"],
    "UFH intravenous": ["heparin_intravenous"],
    "UFH subcutaneous bid/tid": ["heparin_subcutaneous"],
    "Enoxaparin prophylactic": ["enoxaparin_prophylactic"],
    "Enoxaparin therapeutic": ["enoxaparin_therapeutic"],
    "Dalteparin": ["dalteparin"],
    "Fondaparinux": ["fondaparinux"],
    "Clopidogrel": ["clopidogrel"],
    "Prasugrel": ["prasugrel"],
    "Ticagrelor": ["ticagrelor"],
    "Cangrelor (IV)": ["cangrelor"],
    "Dabigatran": ["dabigatran"],
    "Rivaroxaban / apixaban / edoxaban": ["rivaroxaban", "apixaban", "edoxaban"],
    "Thrombolytics": ["thrombolytic"],
    "Garlic": ["garlic"],
    "Ginkgo": ["ginkgo"],
    "Danshen, dong quai, ginsengs, other herbals": ["danshen", "dong_quai", "ginseng", "herbal"],
}
# Rows told apart in words: no one cell stands for one of ours.
IN_WORDS = {"Drug", "Abciximab; eptifibatide or tirofiban", "SSRI/SNRI", "High-dose vitamin E (>400 IU/d)"}


def plain_cell(cell: str) -> str:
    """A cell of the sheet in the words of our table."""
    cell = re.sub(r" \(.*?\)$|; .*| each$| min$| \+ normal INR$", "", cell)
    cell = re.sub(r"^no stop needed.*", "no stop", cell)
    cell = re.sub(r" restores normal clotting.*", "", cell)
    return "no stop" if cell == "no" else cell


def test_every_cell_of_the_main_interval_table(shared: Sheet) -> None:
    ours = table_rows("holds_pain_2018")
    seen, compared = set(), 0
    for drug, *printed in cells(shared(SAFETY), "### 1b.", "### 1c."):
        if drug in IN_WORDS:
            continue
        high, intermediate, low, _, tag = printed[:5]
        if intermediate == "same":
            intermediate = high
        for key in NAMES[drug]:
            values, seen_key = ours[key].values, key
            seen.add(seen_key)
            found = [values["high"], values["intermediate"], values["low"]]
            assert found == [plain_cell(c) for c in (high, intermediate, low)], key
            compared += 3
            assert (values["also"] == "normal INR") is ("normal INR" in high), key
            first = "memory" if tag.startswith("[memory]") else "seen"
            assert ours[key].cites[0].tag == first, key
    assert set(NAMES) <= {row[0] for row in cells(shared(SAFETY), "### 1b.", "### 1c.")}
    assert compared == 3 * sum(map(len, NAMES.values())) >= 100
    rest = set(ours) - seen
    assert rest == {"abciximab", "eptifibatide", "tirofiban", "ssri_or_snri", "fish_oil", "vitamin_e"}


def test_rows_told_in_words() -> None:
    # procedural safety sheet 1b [memory]: abciximab 2-5 d, the other two 8-24 h, at every class
    ours = table_rows("holds_pain_2018")
    for key, interval in (("abciximab", "2-5 d"), ("eptifibatide", "8-24 h"), ("tirofiban", "8-24 h")):
        assert {ours[key].values[c] for c in ("high", "intermediate", "low")} == {interval}
    assert ours["fish_oil"].values["high"] == "6 d"


def test_restart_times_of_the_rows_that_were_seen(shared: Sheet) -> None:
    ours = table_rows("holds_pain_2018")
    checked = 0
    for drug, _, _, _, restart, tag in cells(shared(SAFETY), "### 1b.", "### 1c."):
        if drug in IN_WORDS or not re.fullmatch(r"\d+(-\d+)? h", restart) or not tag.startswith("[source"):
            continue
        for key in NAMES[drug]:
            assert ours[key].values["restart_high"] == restart, key
            checked += 1
    assert checked >= 12


@pytest.mark.parametrize("name", [n for n in shipped().table_files() if n.startswith("holds_")])
def test_antidepressants_are_continued_in_every_table(name: str) -> None:
    row = table_rows(name)["ssri_or_snri"]
    assert {row.values[c] for c in ("high", "intermediate", "low")} == {"continue"}


@pytest.mark.parametrize("name", [n for n in shipped().table_files() if n.startswith("holds_")])
def test_every_cell_can_be_read(name: str) -> None:
    for row in table_rows(name).values():
        for risk in ("high", "intermediate", "low"):
            if row.values[risk] is not None:
                action, wait = read_cell(row.values[risk])
                assert action in ("no_stop", "interval", "consider", "shared_decision", "continue")
                assert wait is None or 0 < wait.least <= wait.most


def test_renal_bands_are_those_of_the_sheet(shared: Sheet) -> None:
    # bands of the family medicine review, table 1c [seen]
    bands = table_rows("renal_holds")
    text = [" | ".join(row) for row in cells(shared(SAFETY), "### 1c.", "### 1d.")]
    for key, drug, band, interval in (
        ("dabigatran_80_and_above", "Dabigatran", ">=80", ">=48 h"),
        ("dabigatran_50_to_79", "Dabigatran", "50-79", ">=72 h"),
        ("dabigatran_30_to_49", "Dabigatran", "30-49", ">96 h"),
        ("dabigatran_15_to_29", "Dabigatran", "15-29", ">=120 h"),
    ):
        assert any(line.startswith(f"{drug} | {band}") and interval in line for line in text)
        wait = read_wait(bands[key].values["interval"])
        assert f"{wait.least:g}" in interval
        assert wait.beyond is not interval.startswith(">=")
    assert any(line.startswith("Dabigatran, PAUSE cohort | >=50 / <50 | 2 d / 4 d") for line in text)
    assert read_wait(bands["dabigatran_cohort_below_50"].values["interval"]) == read_wait("4 d")


@pytest.mark.parametrize(
    "agent",
    ["codeine", "fentanyl", "hydrocodone", "hydromorphone", "methadone", "morphine", "oxycodone", "oxymorphone",
     "tapentadol", "tramadol"],
)  # fmt: skip
def test_opioid_factor_is_that_of_the_sheet(agent: str, shared: Sheet) -> None:
    printed = {
        row[0].split()[0].lower(): row for row in cells(shared(SAFETY), "## 8. Opioids", "| Threshold")
    }
    assert float(printed[agent][1]) == table_rows("opioid_factors")[agent].values["factor_2022"]
    older = re.match(r"[\d.]+(?= \[memory\])", printed[agent][2])
    if older:
        assert float(older.group()) == table_rows("opioid_factors")[agent].values["factor_2016"]


@pytest.mark.parametrize(
    ("key", "label"),
    [
        ("disc_degeneration", "Disc degeneration on MRI (Han 2023, pooled)"),
        ("annular_fissure", "Annular fissure on MRI"),
        ("modic_1", "Modic 1"),
        ("modic_2", "Modic 2"),
        ("high_intensity_zone", "HIZ"),
        ("centralisation", "Centralisation"),
    ],
)
def test_likelihood_ratios_are_those_of_the_sheet(key: str, label: str, shared: Sheet) -> None:
    # Han, EClinicalMedicine 2023;59:101960 [seen]
    printed = {row[0]: row for row in cells(shared(IMAGING), "## 10. Predicting", "## 11.")}[label]
    values = table_rows("disc_likelihood_ratios")[key].values
    for sign, cell in (("positive", printed[1]), ("negative", printed[2])):
        ratio, low, high = (float(n) for n in re.findall(r"\d+\.\d+", cell))
        assert (values[sign], values[f"{sign}_low"], values[f"{sign}_high"]) == (ratio, low, high)


def test_nothing_recalled_with_doubt_is_shipped() -> None:
    # "[memory, low]" values are not to be encoded: tiers of certainty, the second set of pressure subgroups
    for name in shipped().table_files():
        for row in shipped().table(name).rows:
            assert all(cite.tag != "memory, low" for cite in row.cites), (name, row.key)
    for setting in shipped().settings().values():
        assert all(cite.tag != "memory, low" for cite in setting.cites)


def test_every_citation_of_tables_and_settings_leads_to_a_source() -> None:
    sources = shipped().sources()
    for name in shipped().table_files():
        for row in shipped().table(name).rows:
            assert [c.source for c in row.cites if c.source not in sources] == [], (name, row.key)
    for key, setting in shipped().settings().items():
        cites = [*setting.cites, *(cite for other in setting.alternatives for cite in other.cites)]
        assert [c.source for c in cites if c.source not in sources] == [], key


def test_every_choice_of_a_setting_is_one_that_the_program_knows() -> None:
    tables = shipped().tables()
    settings = shipped().settings()
    for name, setting in settings.items():
        assert setting.choices is None or setting.value in setting.choices, name
    assert set(settings["antithrombotic_guideline"].choices or ()) == {
        n for n in shipped().table_files() if n.startswith("holds_")
    }
    assert set(settings["discography_definition"].choices or ()) == set(tables("discography_definitions"))
    assert set(settings["post_test_finding"].choices or ()) == set(tables("disc_likelihood_ratios"))
    sources = {row["source"] for row in tables("renal_holds").values()} - {"any"}
    assert set(settings["renal_hold_bands"].choices or ()) == sources | {"none"}
