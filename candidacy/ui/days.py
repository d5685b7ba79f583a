"""Days as people type them on a page: taken, or refused with what is allowed."""

from collections.abc import Callable

from candidacy.case.typed_usual import USUAL_DAYS, usual_day
from candidacy.foundation.dates import DateError, date_span, day
from candidacy.foundation.errors import CaseError, Code, Problem, shorten


def check_day(written: str, field: str) -> None:
    """Refuse what is no whole day.

    Raises
    ------
    CaseError
        E207 with the text as it was written.
    """
    _check(written, day, field, "YYYY-MM-DD")


def day_typed(written: str) -> tuple[str, str]:
    """A day, month or year that was typed, as YYYY-MM-DD, and in words where it was written otherwise.

    Raises
    ------
    CaseError
        E207 for what is no day, month or year, with the text as it was written.
    """
    usual = usual_day(written)
    taken, shown = usual if usual is not None else (written, "")
    _check(taken, date_span, "date", f"YYYY-MM-DD, YYYY-MM or YYYY; {USUAL_DAYS}")
    return taken, shown


def _check(written: str, read: Callable[[str], object], field: str, expected: str) -> None:
    try:
        read(written)
    except DateError as error:
        raise CaseError(
            [Problem(Code.BAD_DATE, str(error), field=field, found=shorten(written), expected=expected)]
        ) from None
