"""Whether proofs can be made here: the solver is an extra of its own."""

from importlib.util import find_spec
from threading import RLock

from candidacy.foundation.errors import Code, InputError, Problem

EXTRA = "pip install 'candidacy[prove]'"

# The solver serves one at a time: its objects belong to one context of the process, and screens are drawn in threads.
one_at_a_time = RLock()


def can_prove() -> bool:
    """Whether the solver is installed."""
    return find_spec("z3") is not None


def need_solver() -> None:
    """Refuse where the solver is not installed.

    Raises
    ------
    InputError
        E601, with the extra to install.
    """
    if not can_prove():
        raise InputError(
            [Problem(Code.USAGE, "proofs about rule sets need an extra", "rules prove", next_step=EXTRA)]
        )
