"""In which order a text writes day and month in figures, where its words tell it."""

import re
from functools import cache, lru_cache
from typing import Literal

from candidacy.reading.data_files import rows_of
from candidacy.reading.phrases import any_of

_DAY_FIRST = re.compile(r"\bd{1,2}\s?([-/. ])\s?m{1,2}\s?\1\s?(?:y{2}|y{4})\b", re.IGNORECASE)
_MONTH_FIRST = re.compile(r"\bm{1,2}\s?([-/. ])\s?d{1,2}\s?\1\s?(?:y{2}|y{4})\b", re.IGNORECASE)


@lru_cache(maxsize=64)
def order_said(text: str) -> Literal["day", "month", "doubt", ""]:
    """Which of both comes first: said beside a date ("dd/mm/yyyy"), in doubt where the spelling is not American, or nothing.

    Figures are read month first, as is American use, where nothing is told.
    """
    first = bool(_DAY_FIRST.search(text)), bool(_MONTH_FIRST.search(text))
    if any(first):
        return "doubt" if all(first) else "day" if first[0] else "month"
    return "doubt" if _not_american().search(text) else ""


@cache
def _not_american() -> re.Pattern[str]:
    return any_of(rows_of("day_order")["not_american"], r"[\s-]+")
