"""Worked check values of the sheet on outcome measures: totals, bands and change of scores.

Every row names the number it has in the sheet, its source and how far that was verified. Rows about instruments and
statistics that have no element here (EQ-5D value sets, PROMIS tables, SF-36 items, measurement error, trial flow) are
left out.
"""

from typing import Any

import pytest

from candidacy.derive import work_out
from candidacy.derive.arithmetic import percent_fall
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why, point
from tests.published.rows import Row, rows
from tests.views import case_of, fact_of, meets, told, view_of

M, N = Truth.MET, Truth.NOT_MET


def summed(points: int, answered: int) -> dict[str, Any]:
    return {"odi_items_total": points, "odi_items_answered": answered}


def items(*scores: int | None) -> dict[str, Any]:
    """Ten sections; ``None`` is a section left blank on the form."""
    return {
        f"odi_item{place + 1}": {"unknown": "not_stated"} if score is None else score
        for place, score in enumerate(scores)
    }


@rows(
    Row("1", summed(16, 10), 32, "odi_form", "seen"),
    Row("1, from the sections", items(4, 4, 4, 4, 0, 0, 0, 0, 0, 0), 32, "odi_form", "seen"),
    Row("2", summed(16, 9), 35.5, "odi_form", "seen"),
    Row("2, from the sections", items(4, 4, 4, 4, 0, 0, 0, None, 0, 0), 35.5, "odi_form", "seen"),
    Row("3, all 0", items(*[0] * 10), 0, "odi_form", "seen"),
    Row("3, all 5", items(*[5] * 10), 100, "odi_form", "seen"),
    Row("2.1, two blank", items(None, None, *[2] * 8), 40, "common_practice", "common practice"),
)
def test_oswestry_percentage(row: Row) -> None:
    # the form prints 35.5, truncated from 35.56: hence the tolerance of a tenth
    assert told(fact_of("odi_percent", case_of(row.given))) == pytest.approx(row.expected, abs=0.1)


@rows(
    Row("2.1, three blank", items(None, None, None, *[2] * 7), Why.NOT_INTERPRETABLE, "common_practice", "common practice"),
    Row("2.1, seven answered", summed(14, 7), Why.NOT_INTERPRETABLE, "common_practice", "common practice"),
)  # fmt: skip
def test_oswestry_is_not_scored_beyond_two_blank_sections(row: Row) -> None:
    view = view_of(case_of(row.given))
    found = work_out("odi_percent", view, "patient")
    assert (found.value, found.why) == (None, row.expected)


LOWER = {"odi_band_edge": "lower_band_ends_before_next"}


@rows(
    Row("3", 0, "minimal", "odi_form", "seen"),
    Row("3", 100, "bed_bound", "odi_form", "seen"),
    Row("2.1", 20, "minimal", "odi_form", "seen"),
    Row("2.1", 21, "moderate", "odi_form", "seen"),
    Row("2.1", 40, "moderate", "odi_form", "seen"),
    Row("2.1", 41, "severe", "odi_form", "seen"),
    Row("2.1", 60, "severe", "odi_form", "seen"),
    Row("2.1", 61, "crippling", "odi_form", "seen"),
    Row("2.1", 80, "crippling", "odi_form", "seen"),
    Row("2.1", 81, "bed_bound", "odi_form", "seen"),
    Row("2.1, gap, upper edge inclusive", 20.4, "moderate", "odi_form", "derived"),
    Row("2.1, gap, the other reading", 20.4, "minimal", "odi_form", "derived", LOWER),
    Row("2.1, edge under the other reading", 40, "moderate", "odi_form", "seen", LOWER),
    Row("2.1, top under the other reading", 100, "bed_bound", "odi_form", "seen", LOWER),
)
def test_oswestry_band(row: Row) -> None:
    case = case_of({"odi_percent": {"value": row.given, "unit": "%"}})
    assert told(fact_of("odi_band", case, **row.settings)) == row.expected


@rows(
    Row("4, ODI 46 to 36", (46, 36), 21.7, "ostelo_2008", "seen"),
    Row("5, ODI 30 to 20", (30, 20), 33.3, "ostelo_2008", "seen"),
    Row("6, RMDQ 15 to 10", (15, 10), 33.3, "ostelo_2008", "seen"),
    Row("7, VAS 80 to 55", (80, 55), 31.25, "ostelo_2008", "seen"),
    Row("8, VAS 40 to 27", (40, 27), 32.5, "ostelo_2008", "seen"),
    Row("9, VAS 70 to 35", (70, 35), 50, "nct02412735", "seen"),
    Row("13, VAS 100 to 80", (100, 80), 20, "pers_2024", "seen"),
    Row("14, ODI 40 to 33", (40, 33), 17.5, "pers_2024", "seen"),
    Row("14, ODI 40 to 32", (40, 32), 20, "pers_2024", "seen"),
    Row("15, ODI 50 to 31", (50, 31), 38, "Glassman, J Bone Joint Surg 2008", "seen"),
)
def test_fall_in_percent_of_baseline(row: Row) -> None:
    before, after = row.given
    found = percent_fall(point(before), point(after))
    assert found is not None
    assert found.low == pytest.approx(row.expected, abs=0.05)


@rows(
    Row("7, at least 30 %", (8, 5.5, "at_least", 30), M, "ostelo_2008", "seen"),
    Row("7, not 50 %", (8, 5.5, "at_least", 50), N, "IMMPACT ladder", "seen"),
    Row("8, at least 30 %", (4, 2.7, "at_least", 30), M, "ostelo_2008", "seen"),
    Row("9, at least 50 %", (7, 3.5, "at_least", 50), M, "nct02412735", "seen"),
    Row("trap 9, strict and inclusive differ at 30 %", (10, 7, "at_least", 30), M, "IMMPACT ladder", "seen"),
    Row("trap 9, strict and inclusive differ at 30 %", (10, 7, "more_than", 30), N, "gornet_2024", "seen"),
)
def test_responder_by_fall_of_pain(row: Row) -> None:
    before, after, op, cut = row.given
    view = view_of(case_of({"back_pain_nrs_baseline": before, "back_pain_nrs_follow_up": after}))
    assert meets({"element": "pain_change_percent", "op": op, "value": cut}, view) is row.expected


@rows(
    Row("23", 9, "mild", "kroenke_2001", "seen"),
    Row("23", 10, "moderate", "kroenke_2001", "seen"),
    Row("23", 15, "moderately_severe", "kroenke_2001", "seen"),
    Row("23", 20, "severe", "kroenke_2001", "seen"),
    Row("2.5, lower edge", 5, "mild", "kroenke_2001", "seen"),
    Row("2.5, highest total is 27", 27, "severe", "kroenke_2001", "seen"),
)
def test_phq9_band(row: Row) -> None:
    assert told(fact_of("phq9_band", case_of({"phq9_total": row.given}))) == row.expected


def phq9(*scores: int | None) -> dict[str, Any]:
    return {
        f"phq9_item{place + 1}": {"unknown": "not_stated"} if score is None else score
        for place, score in enumerate(scores)
    }


@rows(
    Row("2.5, sum of nine", phq9(1, 1, 1, 2, 2, 3, 0, 0, 0), 10, "kroenke_2001", "seen"),
    Row("2.5, one blank takes the mean", phq9(1, 1, 1, 1, 1, 1, 1, 1, None), 9, "common_practice", "common practice"),
    Row("2.5, two blank take the mean", phq9(2, 2, 2, 2, 2, 2, 2, None, None), 18, "common_practice", "common practice"),
    Row("2.5, from sum and number", {"phq9_items_total": 14, "phq9_items_answered": 7}, 18, "common_practice", "common practice"),
)  # fmt: skip
def test_phq9_total_from_items(row: Row) -> None:
    assert told(fact_of("phq9_total", case_of(row.given))) == row.expected


@rows(
    Row("23, screen negative", ("phq9_total", 9, "at_least", 10), N, "kroenke_2001", "seen"),
    Row("23, screen positive", ("phq9_total", 10, "at_least", 10), M, "kroenke_2001", "seen"),
    Row("24, negative at 3", ("phq2_total", 2, "at_least", 3), N, "kroenke_2001", "seen"),
    Row("24, positive at 2", ("phq2_total", 2, "at_least", 2), M, "Arroll, Ann Fam Med 2010", "seen"),
    Row("35, RMDQ 2 of a recovered patient", ("rmdq_total", 2, "at_most", 2), M, "Kamper 2010", "seen"),
    Row("35, RMDQ 3 is not", ("rmdq_total", 3, "at_most", 2), N, "Kamper 2010", "seen"),
)
def test_published_cut(row: Row) -> None:
    element, score, op, cut = row.given
    view = view_of(case_of({element: score}))
    assert meets({"element": element, "op": op, "value": cut}, view) is row.expected
