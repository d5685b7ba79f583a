"""The declared letters and productions of the clause grammar, as the data file gives them."""

from functools import cache
from typing import Any

from candidacy.reading.data_files import rows_of


@cache
def clause_data() -> dict[str, Any]:
    """Give the declared letters and productions, as they stand in the data file."""
    data: dict[str, Any] = rows_of("clauses")
    return data
