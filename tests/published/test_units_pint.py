"""Unit factors against pint, and molar conversions against worked values.

https://pint.readthedocs.io, definitions in ``default_en.txt`` (international yard and pound; NIST SP 811).
"""

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation import units
from candidacy.foundation.values import Span, point

pint = pytest.importorskip("pint", reason="pint is a test dependency: pip install candidacy[test]")


@cache
def registry() -> "pint.UnitRegistry[float]":
    """Made when a test asks for it: that takes a third of a second."""
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


# Our unit -> pint's, for those pint knows; the others are listed below with the reason.
AS_PINT = {
    "kg": "kilogram", "g": "gram", "lb": "pound", "mg": "milligram", "mcg": "microgram", "cm": "centimeter",
    "mm": "millimeter", "m": "meter", "in": "inch", "psi": "psi", "kPa": "kilopascal", "mmHg": "millimeter_Hg", "bar": "bar",
    "atm": "standard_atmosphere", "mL": "milliliter",
    "mg/L": "milligram/liter", "mg/dL": "milligram/deciliter", "ng/mL": "nanogram/milliliter", "g/L": "gram/liter",
    "g/dL": "gram/deciliter", "10*9/L": "1e9/liter", "10*3/uL": "1e3/microliter", "10*6/mL": "1e6/milliliter",
    "month": "month", "year": "year", "day": "day", "week": "week", "hour": "hour", "min": "minute",
    "mm2": "mm**2", "cm2": "cm**2", "Cel": "degC", "degF": "degF",
}  # fmt: skip
NOT_IN_PINT = {
    "%": "stands alone",
    "kg/m2": "stands alone",
    "mm/h": "stands alone",
    "deg": "stands alone",
    "mL/min": "stands alone",
    "mL/min/{1.73_m2}": "indexed to body surface: not a physical unit",
    "T": "stands alone",
    "m[IU]/mL": "international units depend on the substance",
    "[IU]/mL": "international units depend on the substance",
    "[IU]": "international units depend on the substance",
    "mcg/h": "stands alone",
    "umol/L": "needs the molar mass: worked values below",
    "mmol/L": "needs the molar mass: worked values below",
    "mmol/mol": "needs the molar mass: worked values below",
    "mg/d": "stands alone",
    "1": "stands alone",
    "psi/mL": "stands alone",
    "mg/mL": "stands alone",
    "mg/kg": "stands alone",
}


def pairs() -> list[tuple[str, str]]:
    """Every conversion that we accept between two different units."""
    return [*units._MOLAR] + [
        (given, stored)
        for stored in units._UNITS | {"Cel": ("temperature", 1.0)}
        for given in units.accepted(stored)
        if given != stored
    ]


def test_every_unit_is_checked_or_says_why_it_cannot_be() -> None:
    known = set(units._UNITS) | {unit for pair in units._LINEAR for unit in pair}
    assert known == set(AS_PINT) | set(NOT_IN_PINT)


@pytest.mark.parametrize(("given", "stored"), pairs(), ids=lambda unit: unit)
def test_factor_is_that_of_pint(given: str, stored: str) -> None:
    if stored == "month" and given in ("day", "week"):
        # pint takes a month as a twelfth of a year; here days that can be whole calendar months are those, and others lie
        # between two ("How weeks and days reach a limit in months"), so up to ten years the two differ by half a month
        # at most, and pint's length lies in the range wherever it is a range
        before = Span(0, 0)
        for number in range(1, 3653 if given == "day" else 522):
            found = units.convert(point(number), given, stored)
            length = registry().Quantity(number, AS_PINT[given]).to("month").magnitude
            assert found.low - 0.5 <= length <= found.high + 0.5, number
            assert found.low == found.high or found.low <= length <= found.high, number
            assert found.high - found.low <= 1, number
            assert before.low <= found.low, number
            assert before.high <= found.high, number
            before = found
        return
    if given in NOT_IN_PINT or stored in NOT_IN_PINT:
        pytest.skip(NOT_IN_PINT.get(given) or NOT_IN_PINT[stored])
    for number in (1.0, 37.5, 212.0):
        found = units.convert(point(number), given, stored)
        wanted = registry().Quantity(
            number * float(registry()(AS_PINT[given]).magnitude), registry()(AS_PINT[given]).units
        )
        if stored == "Cel":
            wanted = registry().Quantity(number, "degF").to("degC")
            assert found.low == pytest.approx(wanted.magnitude, rel=1e-9)
            continue
        one = registry()(AS_PINT[stored])
        assert found.low == pytest.approx(float((wanted / one).to_base_units().magnitude), rel=1e-9)
        assert found.exact


# Worked values. Creatinine 88.4 umol/L is 1.00 mg/dL (molar mass 113.12 g/mol) [memory];
# glucose 11.1 mmol/L is 200 mg/dL (molar mass 180.16 g/mol) [memory];
# HbA1c 53 mmol/mol is 7.0 %, 42 is 6.0 %, 48 is 6.5 % (NGSP master equation) [memory].
@pytest.mark.parametrize(
    ("number", "given", "stored", "wanted", "places"),
    [
        (88.4, "umol/L", "mg/dL", 1.0, 3),
        (11.1, "mmol/L", "mg/dL", 200, 0),
        (53, "mmol/mol", "%", 7.0, 1),
        (48, "mmol/mol", "%", 6.5, 1),
        (42, "mmol/mol", "%", 6.0, 1),
        (98.6, "degF", "Cel", 37.0, 9),
        (32, "degF", "Cel", 0.0, 9),
        (100, "psi", "kPa", 689.4757293, 6),
    ],
)
def test_worked_conversions(number: float, given: str, stored: str, wanted: float, places: int) -> None:
    assert units.convert(point(number), given, stored).low == pytest.approx(wanted, abs=0.5 * 10**-places)


def test_units_of_another_kind_are_never_converted() -> None:
    for unit, stored in (
        ("kg", "cm"),
        ("year", "day"),
        ("umol/L", "%"),
        ("mmol/L", "umol/L"),
        ("stone", "kg"),
        ("mL/min", "mL/min/{1.73_m2}"),
    ):
        with pytest.raises(ValueError, match="cannot be turned"):
            units.convert(point(1), unit, stored)


@given(st.sampled_from(pairs()), st.integers(1, 1000), st.integers(0, 50), st.booleans(), st.booleans())
def test_a_range_keeps_its_order_and_its_open_ends(
    pair: tuple[str, str], low: int, more: int, low_open: bool, high_open: bool
) -> None:
    span = Span(low, low + more, low_open and more > 0, high_open and more > 0)
    found = units.convert(span, *pair)
    assert found.low <= found.high
    if pair in {("day", "month"), ("week", "month")}:
        # between two whole months an end is that month itself, left out whether or not the days were; and where the days
        # left out still leave days of that month, it is kept
        closed = units.convert(Span(span.low, span.high), *pair)
        assert closed.low <= found.low <= found.high <= closed.high
        whole = {end for end, open_ in ((found.low, found.low_open), (found.high, found.high_open)) if open_}
        assert span.low_open or span.high_open or all(end == int(end) for end in whole)
        return
    assert (found.low_open, found.high_open) == (span.low_open, span.high_open)


def test_every_spelling_leads_to_a_unit_we_know() -> None:
    for spelling, unit in units._SPELLINGS.items():
        assert units.known(unit), spelling
        assert units.normal_spelling(spelling) == unit
    assert units.normal_spelling("stone") == "stone"
