"""What the server of the screens does while nobody waits for it: sweeping for garbage, and laying down desks whose page is gone.

The toolkit sweeps the whole heap after every drawing, so that each edit costs more the more desks are open. Here what every
session shares is made first and frozen, which takes it out of all sweeps, and a sweep comes when no page is being drawn; all
sweeps together take a hundredth of the processor time of the work.
"""

import gc
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from streamlit import config, runtime

from candidacy.case.catalogue import catalogue
from candidacy.ui.desk import Desk
from candidacy.ui.own_library import at_rest, open_named
from candidacy.ui.store import STORE

_TICK = 0.5
"""Seconds between two looks at whether there is something to do."""
_TIDY_EVERY = 5.0
_WORK_PER_SWEEP = 100.0
"""Seconds of work for each second of sweeping."""
_LEAST_WORK = 10.0
_PATIENCE = 4.0
"""A sweep that finds no moment of rest comes when this many times the work is done."""
_NEVER = 2**31 - 1


class Sweeper:
    """Sweeps for garbage in proportion to the work done since.

    Attributes
    ----------
    sweeps, seconds
        How many sweeps there were, and what the last one took.
    """

    def __init__(self) -> None:
        self.sweeps, self.seconds = 0, 0.0
        self._since = time.process_time()

    @property
    def due(self) -> float:
        """How much of the work that makes a sweep worth while is done; 1 is enough."""
        enough = max(_LEAST_WORK, self.seconds * _WORK_PER_SWEEP)
        return (time.process_time() - self._since) / enough

    def sweep(self) -> None:
        start = time.thread_time()
        gc.collect()
        self.seconds, self._since = time.thread_time() - start, time.process_time()
        self.sweeps += 1


@contextmanager
def kept_quiet() -> Iterator[None]:
    """Look after the process of the server, from its start to its end, instead of the toolkit."""
    _warm_up()
    thresholds, swept = gc.get_threshold(), config.get_option("runner.postScriptGC")
    config.set_option("runner.postScriptGC", False)
    gc.collect()
    gc.freeze()
    gc.set_threshold(thresholds[0], thresholds[1], _NEVER)
    ended = threading.Event()
    thread = threading.Thread(target=_look_after, args=(ended,), name="quiet", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join(2 * _TICK)
        gc.set_threshold(*thresholds)
        gc.unfreeze()
        config.set_option("runner.postScriptGC", swept)


def _warm_up() -> None:
    """Make what every session shares: the page a session begins with, the elements, a rule set that is read and assessed with."""
    import candidacy.ui.app
    import candidacy.ui.referral.page  # noqa: F401

    if not open_named():  # what is wrong with a library is told on the page
        catalogue()
        Desk().document()


def _look_after(ended: threading.Event) -> None:
    sweeper, tidied = Sweeper(), time.monotonic()
    while not ended.wait(_TICK):
        try:
            with at_rest() as rest:
                if rest and time.monotonic() - tidied >= _TIDY_EVERY:
                    STORE.tidy(shown)
                    tidied = time.monotonic()
                if sweeper.due >= (1 if rest else _PATIENCE):
                    sweeper.sweep()
        except Exception as error:  # a fault here must not end it; its message could hold values
            print(f"candidacy ui: E901 {type(error).__name__} while tidying up", file=sys.stderr)


def shown(session: str) -> bool:
    """Whether the page of a session is open in a browser now."""
    return runtime.exists() and runtime.get_instance().is_active_session(session)
