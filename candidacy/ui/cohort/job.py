"""A screening that goes on while the page is drawn anew or another page is open, and can be given up."""

import threading
import time
from collections.abc import Callable

from candidacy.foundation.errors import InputError, Problem
from candidacy.ui.cohort.run import Run
from candidacy.ui.own_library import steady
from candidacy.ui.session import log_fault

Progress = Callable[[str, int, int], None]


class _GivenUpError(Exception):
    """The person no longer wants the result."""


class Job:
    """One screening on a thread of its own.

    Attributes
    ----------
    step
        What is being done, how many steps are done, and of how many.
    result, problems, failed
        After its end: the run, or everything that is wrong with the input, or that the program failed.
    """

    def __init__(self, work: Callable[[Progress], Run]) -> None:
        self.step: tuple[str, int, int] = ("starting", 0, 1)
        self.result: Run | None = None
        self.problems: tuple[Problem, ...] = ()
        self.failed = False
        self._work, self._given_up = work, False
        self._started = time.monotonic()
        self._thread = threading.Thread(target=self._go, name="screening", daemon=True)
        self._thread.start()

    @property
    def seconds(self) -> int:
        """Whole seconds since it began."""
        return int(time.monotonic() - self._started)

    @property
    def running(self) -> bool:
        return self._thread.is_alive()

    def wait(self, seconds: float) -> None:
        """Wait for its end, but no longer than this."""
        self._thread.join(seconds)

    def give_up(self) -> None:
        """End it at its next step; a result that comes all the same is let go of."""
        self._given_up = True

    def _tell(self, what: str, done: int, of: int) -> None:
        self.step = (what, done, of)
        if self._given_up:
            raise _GivenUpError

    def _go(self) -> None:
        try:
            with steady():
                result = self._work(self._tell)
            self.result = None if self._given_up else result
        except _GivenUpError:
            pass
        except InputError as error:
            self.problems = error.problems
        except Exception as error:
            log_fault(error)
            self.failed = True
