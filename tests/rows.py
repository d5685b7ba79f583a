"""Many rows of a table as few tests: each row is tried, and every row that fails is told by its name.

A test of its own costs two thousandths of a second in each worker, which for thousands of small rows is more than what they try.
"""

from collections.abc import Callable, Iterable, Sequence
from inspect import Parameter, signature
from typing import Any

import pytest

_AT_A_TIME = 50


def each_row(
    names: str | Sequence[str],
    rows: Iterable[Any],
    *,
    ids: Callable[[Any], str] | Iterable[str] | None = None,
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """As ``pytest.mark.parametrize``, fifty rows to a test.

    For tests that leave nothing behind for the next row; a row bears no marks and is never skipped.
    """
    of = (names,) if isinstance(names, str) else tuple(names)
    given = [(row,) if isinstance(names, str) else tuple(row) for row in rows]
    if ids is None or callable(ids):
        told = ["-".join(str((ids and ids(value)) or _named(value)) for value in row) for row in given]
    else:
        told = list(ids)
    assert given, "a table without rows tries nothing"
    table = list(zip(told, given, strict=True))
    blocks = [table[start : start + _AT_A_TIME] for start in range(0, len(table), _AT_A_TIME)]

    def decorate(test: Callable[..., None]) -> Callable[..., None]:
        def run(some_rows: list[tuple[str, tuple[Any, ...]]], **fixtures: Any) -> None:
            wrong = []
            for name, row in some_rows:
                try:
                    test(**dict(zip(of, row, strict=True)), **fixtures)
                except (Exception, pytest.fail.Exception, pytest.skip.Exception) as error:
                    shown = pytest.ExceptionInfo.from_exception(error).getrepr(style="short")
                    wrong.append(f"{test.__name__}[{name}]\n{shown}")
            if wrong:
                pytest.fail(f"{len(wrong)} of {len(some_rows)} rows:\n\n" + "\n\n".join(wrong), pytrace=False)

        asked = [p for name, p in signature(test).parameters.items() if name not in of]
        run.__name__, run.__qualname__, run.__doc__ = test.__name__, test.__qualname__, test.__doc__
        run.__module__ = test.__module__
        run.__signature__ = signature(run).replace(  # type: ignore[attr-defined]
            parameters=[*asked, Parameter("some_rows", Parameter.KEYWORD_ONLY)]
        )
        starts = range(1, len(table) + 1, _AT_A_TIME)
        places = [
            f"rows {start} to {start + len(block) - 1}" for start, block in zip(starts, blocks, strict=True)
        ]
        return pytest.mark.parametrize("some_rows", blocks, ids=places)(run)

    return decorate


def _named(value: Any) -> str:
    return str(getattr(value, "name", None) or getattr(value, "id", None) or value)[:80]
