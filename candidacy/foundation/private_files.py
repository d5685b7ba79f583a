"""Files for their owner alone: a folder or file that is a link, is someone else's, or that others may write is not used."""

import contextlib
import os
import stat
import tempfile
from collections.abc import Callable
from pathlib import Path

_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH


def private_content(place: Path, limit: int) -> bytes | None:
    """The content of a kept file, or ``None`` where there is none that could be trusted."""
    try:
        if not _private(os.lstat(place.parent), stat.S_ISDIR):
            return None
        handle = os.open(place, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
                         | getattr(os, "O_BINARY", 0))  # fmt: skip
        with os.fdopen(handle, "rb") as file:
            about = os.fstat(handle)
            if not _private(about, stat.S_ISREG) or about.st_size > limit:
                return None
            return file.read(limit)
    except OSError:
        return None


def write_private(place: Path, content: bytes, *, lasting: bool = False) -> None:
    """Put a file into a folder of one's own, whole.

    Parameters
    ----------
    lasting
        Wait until it is on the disk.

    Raises
    ------
    OSError
        If it cannot be written, or the folder is not private; what was there before stays.
    """
    temporary = ""
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        refuse_open(place.parent)
        handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=".new-")  # readable by its owner alone
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            if lasting:
                file.flush()
                os.fsync(handle)
        os.replace(temporary, place)
    except OSError:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        raise


def refuse_open(folder: Path) -> None:
    """Refuse a folder that is not private.

    Raises
    ------
    OSError
        If it is missing, a link, someone else's, or others may write it.
    """
    if not _private(os.lstat(folder), stat.S_ISDIR):
        raise PermissionError("the folder is not private")


def _private(about: os.stat_result, is_kind: Callable[[int], bool]) -> bool:
    if not is_kind(about.st_mode):
        return False
    if not hasattr(os, "geteuid"):
        return True  # Windows: the folder lies in the user's own profile
    return about.st_uid == os.geteuid() and not about.st_mode & _OTHERS_MAY_WRITE
