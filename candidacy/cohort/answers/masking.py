"""Counts fit for sharing: small ones are masked, and the others rounded down, so that sums keep the small ones open."""

from typing import TYPE_CHECKING, Any

from candidacy.cohort.answers.counts import Flow
from candidacy.foundation.errors import Code, Problem, TableError

if TYPE_CHECKING:
    import pandas as pd


def masked(count: int, below: int) -> str:
    """A count for sharing: 0 as it is, 1 to ``below`` - 1 as "<below", others rounded down to a multiple of ``below``.

    From a sum of ``below`` or more and its one other part, each so shown, a small count can still be anything
    from 1 to ``below`` - 1; beside k other parts, all of these but at most k. Rounding down leaves ``below``
    possible values to every shown number; rounding to the nearest multiple would leave too few just above
    ``below``. A sum that is masked itself bounds its parts, and several sums together may narrow a count further.

    Examples
    --------
    >>> [masked(count, 10) for count in (0, 3, 14, 19, 1234)]
    ['0', '<10', '10', '10', '1230']
    """
    if count == 0:
        return "0"
    return f"<{below}" if count < below else str(count // below * below)


def check_threshold(below: int) -> None:
    """Refuse a threshold that masks nothing: below 2 no count is masked, and "<2" could only be 1.

    Raises
    ------
    TableError
        E601 below 3.
    """
    if below < 3:
        raise TableError(
            [
                Problem(
                    Code.USAGE, "the threshold masks nothing", found=str(below), expected="3 or more, say 10"
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
            texts = [pd.NA if pd.isna(value) else masked(int(value), below) for value in found[column]]
            found[column] = pd.array(texts, dtype="string")
    return found


def shown_flow(flow: Flow, below: int = 0) -> dict[str, Any]:
    """The numbers of a flow as text, masked where a threshold is given, but for steps at which nobody leaves or waits."""
    return {
        "unit": flow.unit,
        "start": _text(flow.start, below),
        "steps": [_texts(step, below) for step in flow.steps if step["excluded"] or step["waiting"]],
        "waiting": _text(flow.waiting, below),
        "excluded": _text(flow.excluded, below),
        "passing": _text(flow.passing, below),
    }


def shown_exclusions(flow: Flow, below: int, most: int) -> list[dict[str, Any]]:
    """The steps at which somebody leaves, as `shown_flow` has them; those after ``most`` as one, with their sum."""
    leaving = [step for step in flow.steps if step["excluded"]]
    if len(leaving) > most + 1:
        rest = leaving[most:]
        together = {
            "title": f"{len(rest)} further criteria",
            "excluded": sum(step["excluded"] for step in rest),
            "remaining": rest[-1]["remaining"],
        }
        leaving = [*leaving[:most], together]
    return [_texts(step, below) for step in leaving]


def _texts(step: dict[str, Any], below: int) -> dict[str, Any]:
    return {key: _text(value, below) if isinstance(value, int) else value for key, value in step.items()}


def _text(count: int, below: int) -> str:
    return masked(count, below) if below else f"{count:,}"
