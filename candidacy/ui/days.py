"""Days as people type them on a page: taken, or refused with what is allowed."""

from candidacy.foundation.dates import DateError, date_span, day
from candidacy.foundation.errors import CaseError, Code, Problem, shorten


def check_day(written: str, field: str = "date", *, whole: bool = False) -> None:
    """Refuse what is no day, month or year; with ``whole`` what is no day.

    Raises
    ------
    CaseError
        E207 with the text as it was written.
    """
    try:
        if whole:
            day(written)
        else:
            date_span(written)
    except DateError as error:
        expected = "YYYY-MM-DD" if whole else "YYYY-MM-DD, YYYY-MM or YYYY"
        raise CaseError(
            [Problem(Code.BAD_DATE, str(error), field=field, found=shorten(written), expected=expected)]
        ) from None
