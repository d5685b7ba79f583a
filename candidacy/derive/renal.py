"""Creatinine clearance, on which hold intervals of some anticoagulants depend."""

from candidacy.derive.arithmetic import corners, hull, times
from candidacy.derive.base import Inputs, derives
from candidacy.foundation.values import Span


@derives("creatinine_clearance")
def creatinine_clearance(inputs: Inputs) -> Span | None:
    """(minuend - age) x weight / (divisor x creatinine), times the female factor in women; mL/min.

    Age in years, actual weight in kg, serum creatinine in mg/dL; coefficients in the table
    ``cockcroft_gault``. An unknown sex gives the range of both.

    Source: Cockcroft and Gault 1976 (``cockcroft_gault_1976``), recalled.
    """
    age, weight, creatinine = (inputs.span(name) for name in ("age", "body_weight", "creatinine"))
    if age is None or weight is None or creatinine is None or creatinine.low <= 0:
        return None
    row = {key: float(values["value"]) for key, values in inputs.table("cockcroft_gault").items()}
    if age.high >= row["age_minuend"]:
        return None
    men = corners(
        lambda years, kg, level: (row["age_minuend"] - years) * kg / (row["divisor"] * level),
        age, weight, creatinine,
    )  # fmt: skip
    sex = inputs.options("sex")
    codes = {"female", "male"} if sex is None else sex.codes
    factors = {"female": row["female_factor"], "male": 1.0}
    return hull(times(men, factors[str(code)]) for code in sorted(codes, key=str))
