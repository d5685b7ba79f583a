"""Counts fit for sharing: small ones are masked, and the others are rounded so that none can be worked out."""

from typing import TYPE_CHECKING, Any

from candidacy.cohort.counts import Flow
from candidacy.errors import Code, Problem, TableError

if TYPE_CHECKING:
    import pandas as pd


def masked(count: int, below: int) -> str:
    """A count for sharing: 0 as it is, 1 to ``below`` - 1 as "<below", others to the nearest multiple of ``below``.

    The rounding leaves every small count open: from a sum and its other parts it follows only up to ``below``
    either way, which is more than the masked range.

    Examples
    --------
    >>> [masked(count, 10) for count in (0, 3, 14, 15, 1234)]
    ['0', '<10', '10', '20', '1230']
    """
    if count == 0:
        return "0"
    return f"<{below}" if count < below else str((count + below // 2) // below * below)


def check_threshold(below: int) -> None:
    """Refuse a threshold that masks nothing.

    Raises
    ------
    TableError
        E601 below 2.
    """
    if below < 2:
        raise TableError(
            [
                Problem(
                    Code.USAGE, "the threshold masks nothing", found=str(below), expected="2 or more, say 10"
                )
            ]
        )


def masked_frame(frame: "pd.DataFrame", below: int, keep: tuple[str, ...] = ()) -> "pd.DataFrame":
    """A table of counts with every whole number masked, but for the columns of ``keep``."""
    import pandas as pd

    check_threshold(below)
    found = frame.copy()
    for column in found.columns:
        if column not in keep and pd.api.types.is_integer_dtype(found[column].dtype):
            found[column] = pd.array([masked(int(value), below) for value in found[column]], dtype="string")
    return found


def shown_flow(flow: Flow, below: int = 0) -> dict[str, Any]:
    """The numbers of a flow as text, masked where a threshold is given."""

    def text(count: int) -> str:
        return masked(count, below) if below else f"{count:,}"

    steps = [
        {key: text(value) if isinstance(value, int) else value for key, value in step.items()}
        for step in flow.steps
        if step["excluded"] or step["waiting"]
    ]
    return {
        "unit": flow.unit,
        "start": text(flow.start),
        "steps": steps,
        "waiting": text(flow.waiting),
        "excluded": text(flow.excluded),
        "passing": text(flow.passing),
    }
