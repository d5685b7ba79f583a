"""Names of columns: our own, and those a table from outside may not have."""

import re

from candidacy.foundation.errors import Code, Problem, TableError, shorten

# Where a row stands: its number (a header is row 1; else counted from 1), and its file where there are several.
PLACE = "row number in the file"
FILE = "file of the row"
OWN = (PLACE, FILE)
_RESERVED = re.compile(
    r"(translated|cell|faulty)_\d+(_\w+)?|file_row_number|twice_case|disc_case|patients_case|file read|list_\w+_(case|entries|bad|why)"
    r"|[TLS]\d+-[TLS]?\d+\|.*|" + "|".join(OWN),
    re.IGNORECASE | re.DOTALL,
)


def refusal(
    name: str,
    message: str,
    code: Code = Code.BAD_TABLE,
    found: object = "",
    expected: str = "",
    next_step: str = "",
    line: int = 0,
) -> TableError:
    """An error with one problem of a table."""
    problem = Problem(
        code, message, name, line, found=shorten(found, 200), expected=expected, next_step=next_step
    )
    return TableError([problem])


def check_header(columns: list[str], name: str) -> None:
    """Refuse headers that do not name every column once; engines do not tell capitals apart.

    Raises
    ------
    TableError
        E501 with the names.
    """
    lowered = [column.lower() for column in columns]
    twice = sorted({column for column in columns if lowered.count(column.lower()) > 1})
    if twice:
        raise refusal(
            name, "two columns have the same name", found=", ".join(twice),
            expected="one name for each column, different in more than capitals",
            next_step="rename or remove all but one in the table",
        )  # fmt: skip
    blank = [place for place, column in enumerate(columns, 1) if not column.strip()]
    if blank:
        raise refusal(
            name, "a column has no name", found=f"column {', '.join(map(str, blank[:10]))}",
            expected="one name for each column", next_step="name it in the first row, or remove it",
        )  # fmt: skip
    ours = [column for column in columns if _RESERVED.fullmatch(column)]
    if ours:
        raise refusal(
            name, "the program uses this name itself", found=", ".join(ours),
            expected="any other name", next_step="rename the column",
        )  # fmt: skip
