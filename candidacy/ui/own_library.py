"""The library of one's own that the screens work with, named when they are started; opened once, for all sessions."""

import os
import threading
from contextlib import ExitStack
from pathlib import Path

from candidacy.check.opening import opened
from candidacy.foundation.errors import InputError, Problem
from candidacy.foundation.shipped import LIBRARY_VARIABLE

_guard = threading.Lock()
_open = ExitStack()
_folder = ""


def open_named() -> tuple[Problem, ...]:
    """Open the library that was named, if it is not open yet; what is wrong with it, or nothing.

    It is checked as ``candidacy rules check`` does. One with anything wrong is not used, and is looked at again the next
    time; one that is open stays as it was read until the screens are started again.
    """
    global _folder
    wanted = os.environ.get(LIBRARY_VARIABLE, "").strip()
    with _guard:
        if wanted == _folder:
            return ()
        _open.close()
        _folder = ""
        if wanted:
            try:
                _open.enter_context(opened(Path(wanted)))
            except InputError as error:
                return error.problems
        _folder = wanted
        return ()
