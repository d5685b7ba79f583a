"""Unit conversions against pint, which nobody on this project wrote, and the unit spellings of UCUM.

Months and years have no fixed length; what the program does there is checked against the calendar instead.
"""

from datetime import date, timedelta
from functools import cache
from itertools import permutations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.case.catalogue import catalogue
from candidacy.foundation import units
from candidacy.foundation.dates import whole_months
from candidacy.foundation.values import Span, point
from tests.rows import each_row


@cache
def registry() -> "pint.UnitRegistry[float]":
    """Made when a test asks for it: that takes a third of a second."""
    made: pint.UnitRegistry[float] = pint.UnitRegistry()
    made.define("international_unit = [international_unit] = IU")
    return made


# Our spelling -> the same unit as pint writes it.
AS_PINT = {
    "kg": "kilogram", "g": "gram", "lb": "pound", "mg": "milligram", "mcg": "microgram",
    "cm": "centimeter", "mm": "millimeter", "m": "meter", "in": "inch",
    "psi": "psi", "kPa": "kilopascal", "mmHg": "millimeter_Hg", "bar": "bar", "atm": "atm", "mL": "milliliter",
    "mg/L": "milligram/liter", "mg/dL": "milligram/deciliter", "ng/mL": "nanogram/milliliter",
    "g/L": "gram/liter", "g/dL": "gram/deciliter",
    "10*9/L": "1e9/liter", "10*3/uL": "1e3/microliter", "10*6/mL": "1e6/milliliter",
    "day": "day", "week": "week", "hour": "hour", "min": "minute",
    "mm2": "millimeter**2", "cm2": "centimeter**2",
    "m[IU]/mL": "international_unit/1000/milliliter", "[IU]/mL": "international_unit/milliliter",
}  # fmt: skip
PAIRS = [
    (given_unit, wanted)
    for given_unit, wanted in permutations(AS_PINT, 2)
    if wanted in units.accepted(given_unit) and given_unit in units.accepted(wanted)
]


def ratio(given_unit: str, wanted: str) -> float:
    """How many of the wanted unit one of the given is, by pint."""
    one, other = registry()(AS_PINT[given_unit]), registry()(AS_PINT[wanted])
    return float((registry().Quantity(1) * one / other).to("dimensionless").magnitude)


@each_row(("given_unit", "wanted"), PAIRS)
def test_factor_is_that_of_pint(given_unit: str, wanted: str) -> None:
    assert units.convert(point(1), given_unit, wanted).low == pytest.approx(
        ratio(given_unit, wanted), rel=1e-11
    )


def test_every_pair_that_converts_is_checked_against_pint() -> None:
    # what pint cannot judge: calendar months, and units with a dimension of their own
    alone = {"month", "year"}
    every = {u for e in catalogue().all if e.unit for u in e.accepted_units} - alone
    reached = {unit for pair in PAIRS for unit in pair} | {"Cel", "degF", "umol/L", "mmol/L", "mmol/mol"}
    lonely = {unit for unit in every if set(units.accepted(unit)) == {unit}}
    assert every - lonely - reached == set()
    assert len(PAIRS) >= 24


@given(st.floats(-80, 250))
def test_fahrenheit_is_that_of_pint(degrees: float) -> None:
    expected = registry().Quantity(degrees, "degF").to("degC").magnitude
    assert units.convert(point(degrees), "degF", "Cel").low == pytest.approx(expected, abs=1e-9)


@given(st.floats(0.1, 400), st.sampled_from(PAIRS))
def test_there_and_back_is_the_same(number: float, pair: tuple[str, str]) -> None:
    given_unit, wanted = pair
    there = units.convert(point(number), given_unit, wanted)
    assert units.convert(there, wanted, given_unit).low == pytest.approx(number, rel=1e-10)


@given(st.floats(0.1, 400), st.floats(0.001, 100), st.sampled_from(PAIRS), st.booleans(), st.booleans())
def test_an_interval_keeps_its_order_and_its_open_ends(
    low: float, width: float, pair: tuple[str, str], low_open: bool, high_open: bool
) -> None:
    span = Span(low, low + width, low_open, high_open)
    found = units.convert(span, *pair)
    assert (found.low_open, found.high_open) == (span.low_open, span.high_open)
    assert found.low == units.convert(point(span.low), *pair).low
    assert found.high == units.convert(point(span.high), *pair).high


def test_creatinine_and_hba1c_need_their_substance() -> None:
    # creatinine 113.12 g/mol and the NGSP master equation [memory]; 88.4 umol/L is the usual printed value of 1 mg/dL
    assert units.convert(point(88.4), "umol/L", "mg/dL").low == pytest.approx(1.0, abs=5e-4)
    assert units.convert(point(53), "mmol/mol", "%").low == pytest.approx(7.0, abs=0.01)
    assert "umol/L" in catalogue()["creatinine"].accepted_units
    assert "umol/L" not in catalogue()["c_reactive_protein"].accepted_units
    mass = registry().Quantity(88.4, "micromole/liter") * registry().Quantity(113.12, "gram/mole")
    assert mass.to("milligram/deciliter").magnitude == pytest.approx(
        units.convert(point(88.4), "umol/L", "mg/dL").low
    )


def test_fifty_pounds_per_square_inch_in_kilopascals() -> None:
    # worked by the UCUM parser of the standards sheet: 50 [psi] = 344.74 kPa
    assert units.convert(point(50), "psi", "kPa").low == pytest.approx(344.74, abs=0.005)


def test_millimetres_of_mercury_in_pounds_per_square_inch() -> None:
    # NIST SP 811, appendix B.8: 1.333224E+02 Pa and 6.894757E+03 Pa
    assert units.convert(point(600), "mmHg", "psi").low == pytest.approx(11.60207, abs=0.00001)


def test_white_cells_per_microlitre_and_per_litre_are_the_same_number() -> None:
    # 10*3/uL to 10*9/L is a factor of 1, by definition and in the standards sheet
    assert units.convert(point(7.3), "10*3/uL", "10*9/L") == point(7.3)


def test_protein_per_decilitre_is_tenfold_per_litre() -> None:
    # trap of the procedural safety sheet: a failure cut of 2.75 mg/dL is 27.5 mg/L
    assert units.convert(point(2.75), "mg/dL", "mg/L") == point(27.5)


@pytest.mark.parametrize(
    "code",
    [
        "kg/m2",
        "mm",
        "cm",
        "[in_i]",
        "kg",
        "[lb_av]",
        "[psi]",
        "kPa",
        "mL",
        "%",
        "mg/L",
        "mg/dL",
        "umol/L",
        "mm/h",
        "10*3/uL",
        "10*9/L",
        "10*6/mL",
        "mmol/mol",
        "a",
        "mo",
        "wk",
        "d",
        "1",
        "Cel",
        "[degF]",
    ],
)
def test_ucum_spelling_is_understood(code: str) -> None:
    # strings that a UCUM parser accepted, from the standards sheet; mm[Hg] is left out: no element is a pressure in it
    assert units.known(units.normal_spelling(code))


@given(st.dates(date(1950, 1, 1), date(2050, 1, 1)), st.integers(0, 5000))
def test_days_turned_into_months_hold_the_calendar_months(start: date, days: int) -> None:
    found = units.convert(point(days), "day", "month")
    assert found.low <= whole_months(start, start + timedelta(days)) + 1
    assert whole_months(start, start + timedelta(days)) <= found.high


@pytest.mark.parametrize(
    ("given_unit", "wanted"), [("kg", "cm"), ("mg", "kg"), ("mg/L", "g/dL"), ("day", "hour")]
)
def test_units_of_different_things_are_refused(given_unit: str, wanted: str) -> None:
    with pytest.raises(ValueError, match="cannot be turned into"):
        units.convert(point(1), given_unit, wanted)
