"""The units we accept and the few conversions between them. Nothing is converted that was not labelled.

Unit factors are definitions (international pound and inch 1959; pascal and pound-force per square
inch from them; bar, standard atmosphere and conventional millimetre of mercury as in NIST SP 811, appendix B.8: mercury
of 13595.1 kg/m3 under standard gravity). A column of water is none: its density is not fixed. The molar factors are marked
where they stand. Checked against pint in the tests.
"""

from functools import cache

from candidacy.foundation.months import months_of_days
from candidacy.foundation.values import Span

_KPA_OF_PSI = 6.894757293168361

# unit -> (dimension, multiply by this to reach the dimension's first unit)
_UNITS: dict[str, tuple[str, float]] = {
    "kg": ("mass", 1.0),
    "g": ("mass", 0.001),
    "lb": ("mass", 0.45359237),
    "mg": ("small mass", 1.0),
    "mcg": ("small mass", 0.001),
    "cm": ("length", 1.0),
    "mm": ("length", 0.1),
    "m": ("length", 100.0),
    "in": ("length", 2.54),
    "psi": ("pressure", 1.0),
    "kPa": ("pressure", 1 / _KPA_OF_PSI),
    "mmHg": ("pressure", 0.133322387415 / _KPA_OF_PSI),
    "bar": ("pressure", 100 / _KPA_OF_PSI),
    "atm": ("pressure", 101.325 / _KPA_OF_PSI),
    "mL": ("volume", 1.0),
    "mg/L": ("mass concentration", 1.0),
    "mg/dL": ("mass concentration", 10.0),
    "ng/mL": ("mass concentration", 0.001),
    "g/L": ("haemoglobin", 0.1),
    "g/dL": ("haemoglobin", 1.0),
    "10*9/L": ("cell count", 1.0),
    "10*3/uL": ("cell count", 1.0),
    "10*6/mL": ("cell count", 1.0),
    "month": ("calendar", 1.0),
    "year": ("calendar", 12.0),
    "day": ("days", 1.0),
    "week": ("days", 7.0),
    "hour": ("clock", 1.0),
    "min": ("clock", 1 / 60),
    "%": ("percent", 1.0),
    "kg/m2": ("body mass index", 1.0),
    "mm/h": ("sedimentation", 1.0),
    "deg": ("angle", 1.0),
    "mL/min": ("clearance", 1.0),
    "mL/min/{1.73_m2}": ("indexed clearance", 1.0),
    "T": ("field strength", 1.0),
    "mm2": ("area", 1.0),
    "cm2": ("area", 100.0),
    "m[IU]/mL": ("hormone", 1.0),
    "[IU]/mL": ("hormone", 1000.0),
    "[IU]": ("international units", 1.0),
    "mcg/h": ("delivery rate", 1.0),
    "umol/L": ("molar concentration", 1.0),
    "mmol/L": ("molar glucose", 1.0),
    "mmol/mol": ("molar ratio", 1.0),
    "mg/d": ("daily dose", 1.0),
    "1": ("count", 1.0),
    "psi/mL": ("elastance", 1.0),
    "mg/mL": ("drug strength", 1.0),
    "mg/kg": ("dose per mass", 1.0),
}

_SPELLINGS = {
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "[lb_av]": "lb",
    "inch": "in",
    "inches": "in",
    "[in_i]": "in",
    "[psi]": "psi",
    "mm[Hg]": "mmHg",
    "mm Hg": "mmHg",
    "months": "month",
    "mo": "month",
    "mos": "month",
    "mths": "month",
    "yr": "year",
    "yrs": "year",
    "wks": "week",
    "hr": "hour",
    "hrs": "hour",
    "mins": "min",
    "kgs": "kg",
    "kilograms": "kg",
    "centimeters": "cm",
    "centimetres": "cm",
    "kg/m²": "kg/m2",
    "kg/m^2": "kg/m2",
    "mm/hr": "mm/h",
    "K/uL": "10*3/uL",
    "K/µL": "10*3/uL",
    "°C": "Cel",
    "°F": "degF",
    "years": "year",
    "y": "year",
    "a": "year",
    "days": "day",
    "d": "day",
    "weeks": "week",
    "wk": "week",
    "hours": "hour",
    "h": "hour",
    "minute": "min",
    "minutes": "min",
    "percent": "%",
    "degrees": "deg",
    "ug": "mcg",
    "µg": "mcg",
    "µmol/L": "umol/L",
    "ug/h": "mcg/h",
    "µg/h": "mcg/h",
    "IU": "[IU]",
    "IU/mL": "[IU]/mL",
    "mIU/mL": "m[IU]/mL",
    "10^9/L": "10*9/L",
    "10^3/uL": "10*3/uL",
    "ml": "mL",
    "C": "Cel",
    "degC": "Cel",
    "[degF]": "degF",
    "F": "degF",
}

_MOLAR: dict[tuple[str, str], tuple[float, float]] = {
    # [memory] creatinine 113.12 g/mol: mg/dL = umol/L * 113.12 / 10000
    ("umol/L", "mg/dL"): (0.011312, 0.0),
    # [memory] glucose 180.16 g/mol: mg/dL = mmol/L * 180.16 / 10
    ("mmol/L", "mg/dL"): (18.016, 0.0),
    # [memory] HbA1c, NGSP % = 0.09148 * IFCC mmol/mol + 2.152
    ("mmol/mol", "%"): (0.09148, 2.152),
}
# definition of the Fahrenheit scale
_SCALES: dict[tuple[str, str], tuple[float, float]] = {("degF", "Cel"): (5 / 9, -160 / 9)}
_LINEAR = _MOLAR | _SCALES


def normal_spelling(unit: str) -> str:
    """Return our spelling of a unit; an unknown one comes back unchanged."""
    return _SPELLINGS.get(unit, unit)


@cache
def accepted(storage: str) -> tuple[str, ...]:
    """The units that may be written for an element stored in ``storage``, that one first.

    Units that need to know the substance (mmol/mol, mmol/L, umol/L) are allowed element by element.
    """
    found = [storage]
    if storage in _UNITS:
        found += [
            u for u, (dimension, _) in _UNITS.items() if dimension == _UNITS[storage][0] and u != storage
        ]
    found += [given for given, wanted in _SCALES if wanted == storage]
    if storage == "month":
        found += ["week", "day"]
    return tuple(found)


def names() -> list[str]:
    """Every unit we know, in our spelling."""
    return list(dict.fromkeys([*_UNITS, *(unit for pair in _LINEAR for unit in pair)]))


def known(unit: str) -> bool:
    """Say whether we know the unit at all."""
    return unit in names()


def _round(number: float) -> float:
    # twelve significant digits: far below any measurement, enough to hide binary noise (3.0000000000000004)
    return float(f"{number:.12g}")


def convert(span: Span, given: str, wanted: str) -> Span:
    """Convert an interval from the unit it was written in to the storage unit.

    Parameters
    ----------
    span
        Numbers in ``given``.
    given, wanted
        Unit spellings of this module.

    Returns
    -------
    Span
        In ``wanted``. Days and weeks become months by the rule of `candidacy.foundation.months`, because months differ in length.

    Raises
    ------
    ValueError
        If the two units do not measure the same thing.
    """
    if given == wanted:
        return span
    if (given, wanted) in _LINEAR:
        factor, offset = _LINEAR[given, wanted]
        return Span(
            _round(span.low * factor + offset),
            _round(span.high * factor + offset),
            span.low_open,
            span.high_open,
        )
    if wanted == "month" and given in ("day", "week"):
        found = months_of_days(convert(span, given, "day"))
        return Span(_round(found.low), _round(found.high), found.low_open, found.high_open)
    have, want = _UNITS.get(given), _UNITS.get(wanted)
    if have is None or want is None or have[0] != want[0]:
        raise ValueError(f"{given} cannot be turned into {wanted}")
    factor = have[1] / want[1]
    return Span(_round(span.low * factor), _round(span.high * factor), span.low_open, span.high_open)
