"""Libraries of rules that the screens can work with; one at a time is open, for all sessions of the server."""

import os
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

from candidacy.check.opening import Target, opened, target_of
from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.foundation.shipped import LIBRARY_VARIABLE
from candidacy.rules.libraries import library_in_use, shipped
from candidacy.ui.kept import OTHERS_VARIABLE

SHIPPED = ""
"""Stands for no library of one's own."""
_PATIENCE = 20.0  # seconds to wait for what other sessions are doing

_guard = threading.Lock()
_open = ExitStack()
_folder = SHIPPED
_chosen: str | None = None
_added: list[str] = []


class Listed(NamedTuple):
    """A library in the list: its folder, what it holds, and whether the screens work with it."""

    folder: str
    holds: str
    in_use: bool


class _Gate:
    """Lets many work at once, and one change the rules while nobody does."""

    def __init__(self) -> None:
        self._state = threading.Condition()
        self._working, self._changing = 0, False

    @contextmanager
    def together(self) -> Iterator[None]:
        with self._state:
            self._state.wait_for(lambda: not self._changing)
            self._working += 1
        try:
            yield
        finally:
            with self._state:
                self._working -= 1
                self._state.notify_all()

    @contextmanager
    def alone(self, patience: float) -> Iterator[bool]:
        """Wait until nobody works; false if that took too long."""
        with self._state:
            free = self._state.wait_for(lambda: not self._working and not self._changing, patience)
            self._changing = self._changing or free
        try:
            yield free
        finally:
            if free:
                with self._state:
                    self._changing = False
                    self._state.notify_all()


_GATE = _Gate()
steady = _GATE.together
"""While this is held the rules in use stay what they are."""


def at_rest() -> AbstractContextManager[bool]:
    """Have no page drawn meanwhile; gives false, without waiting, where one is being drawn or a screening goes on."""
    return _GATE.alone(0.0)


def open_named() -> tuple[Problem, ...]:
    """Open the library that was named or chosen, if it is not open yet; what is wrong with it, or nothing.

    It is checked as ``candidacy rules check`` does. One with anything wrong is not used, and is looked at again the next
    time; one that is open stays as it was read until another one is chosen.
    """
    with _guard:
        return _open_now(_named() if _chosen is None else _chosen)


def choose(folder: str, patience: float = _PATIENCE) -> None:
    """Work with another library from now on, in all sessions.

    Parameters
    ----------
    folder
        Its folder, or `SHIPPED` for the shipped rules alone.
    patience
        Seconds to wait until nothing is being read or drawn.

    Raises
    ------
    RuleError
        With everything that is wrong with it, or E601 if other sessions are at work for longer; the former one stays in use.
    """
    global _chosen
    wanted = os.path.abspath(os.path.expanduser(folder)) if folder else SHIPPED
    with _GATE.alone(patience) as free, _guard:
        if not free:
            step = "try again when the screening or the other sessions are done"
            raise RuleError(
                [Problem(Code.USAGE, "the rules in use are being read just now", wanted, next_step=step)]
            )
        former = _folder
        problems = _open_now(wanted)
        if problems:
            _open_now(former)
            raise RuleError(list(problems))
        _chosen = wanted
        if wanted and wanted not in _added:
            _added.append(wanted)


def listed() -> list[Listed]:
    """The shipped rules and every library that was named or opened here."""
    named = [_named(), *os.environ.get(OTHERS_VARIABLE, "").split(os.pathsep), *_added]
    folders = dict.fromkeys(os.path.abspath(f) for f in named if f.strip())
    found = [Listed(SHIPPED, _holds(Target(shipped())), library_in_use() is shipped())]
    for folder in folders:
        try:
            holds = _holds(target_of(Path(folder)))
        except InputError as error:
            holds = f"cannot be opened: {error.problems[0].message}"
        found.append(Listed(folder, holds, bool(_folder) and folder == os.path.abspath(_folder)))
    return found


def _named() -> str:
    return os.environ.get(LIBRARY_VARIABLE, "").strip()


def _holds(target: Target) -> str:
    counts = [f"{n} {word if n == 1 else _many(word)}" for word, n in target.counts().items() if n]
    return ", ".join(counts) or "nothing yet"


def _many(word: str) -> str:
    return word[:-2] + "a" if word == "criterion" else f"{word}s"


def _open_now(wanted: str) -> tuple[Problem, ...]:
    global _folder
    if wanted == _folder:
        return ()
    _open.close()
    _folder = SHIPPED
    if wanted:
        try:
            _open.enter_context(opened(Path(wanted)))
        except InputError as error:
            return error.problems
    _folder = wanted
    return ()
