"""Which library of one's own is in use in this process: none, or one at a time, for as long as it is open."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from candidacy.case.catalogue import put_in_use
from candidacy.foundation.errors import Code, Problem, RuleError

if TYPE_CHECKING:
    from candidacy.rules.library import Library

_open: "Library | None" = None


def own_library() -> "Library | None":
    """The library of one's own that is in use, or ``None`` where only the shipped one is."""
    return _open


@contextmanager
def using(library: "Library") -> Iterator["Library"]:
    """Put a library of one's own to use: its rule sets are found by id, and its data elements are those of every record.

    Case records are read with the data elements in use, so a second library is refused while one is open. The one that
    is open may be opened again, and is then simply handed out.

    Raises
    ------
    RuleError
        E601 if another one is in use; otherwise what is wrong with the data elements of this one.
    """
    global _open
    if library.base is None or library is _open:
        yield library
        return
    if _open is not None:
        raise RuleError([
            Problem(Code.USAGE, "another library is in use, and case records are read with its data elements",
                    str(library.folder), found=str(_open.folder), expected="one library at a time",
                    next_step="put both into one folder, or close the first before the second is opened")
        ])  # fmt: skip
    put_in_use(library.catalogue())
    _open = library
    try:
        yield library
    finally:
        _open = None
        put_in_use(None)
