"""Ranges of numbers as a person types them, ``first:last:step``, written in full."""

from decimal import Decimal, InvalidOperation

from candidacy.cohort.answers.sweep import MOST_POINTS

FORM = f"first:last:step, the last not below the first, the step above 0, at most {MOST_POINTS} values"


def range_texts(text: str) -> list[str]:
    """The numbers from the first to the last, both among them where the steps reach it, as decimal text.

    Raises
    ------
    ValueError
        If it is not of `FORM`.

    Examples
    --------
    >>> range_texts("0.1:0.4:0.1")
    ['0.1', '0.2', '0.3', '0.4']
    """
    try:
        first, last, step = (Decimal(part.strip()) for part in text.split(":"))
    except InvalidOperation:
        raise ValueError(text) from None
    if not (first.is_finite() and last.is_finite() and step.is_finite()):
        raise ValueError(text)
    if step <= 0 or last < first or last - first > step * (MOST_POINTS - 1):
        raise ValueError(text)
    return [f"{first + place * step:f}" for place in range(int((last - first) / step) + 1)]
