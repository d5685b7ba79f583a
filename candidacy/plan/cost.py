"""The cost notice of original Medicare: whether an estimate is good enough, and which modifier tells the claim of the notice."""

from typing import Literal

Modifier = Literal["GA", "GX", "GY", "GZ"]


def estimate_band(actual: float, dollars: float, percent: float) -> tuple[float, float]:
    """Estimates that count as made in good faith for an actual cost: within so many dollars or percent, whichever is more.

    Parameters
    ----------
    actual
        Actual cost in dollars, 0 or more.
    dollars, percent
        The two margins, as the plan file holds them from the instructions of form CMS-R-131.

    Raises
    ------
    ValueError
        For a cost below 0.

    Examples
    --------
    >>> estimate_band(250, 100, 25), estimate_band(4000, 100, 25)
    ((150.0, 350.0), (3000.0, 5000.0))
    """
    if actual < 0:
        raise ValueError("a cost is 0 or more")
    margin = max(dollars, actual * percent / 100)
    return float(max(0.0, actual - margin)), float(actual + margin)


def modifier(
    denial_expected: bool | None, signed: bool | None, excluded_by_law: bool | None = None
) -> Modifier | None:
    """The modifier of a claim; nothing while what decides it is not known.

    Source: two articles on the modifiers (``advance_notice_modifiers``, seen): GA a required notice is on file, GZ a denial is
    expected and none was signed, GX a notice that was given freely, GY kept out by law.

    Examples
    --------
    >>> modifier(True, True), modifier(True, False), modifier(None, True)
    ('GA', 'GZ', None)
    """
    if excluded_by_law:
        return None if signed is None else "GX" if signed else "GY"
    if denial_expected and signed is not None:
        return "GA" if signed else "GZ"
    return None
