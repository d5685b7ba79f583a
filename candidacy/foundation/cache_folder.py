"""The user's cache folder: private files that save work and may be deleted at any time.

``CANDIDACY_CACHE`` names another folder, or is ``off``. Without it the folder is ``candidacy`` below ``XDG_CACHE_HOME`` or
``~/.cache`` (Linux), ``~/Library/Caches`` (macOS), ``%LOCALAPPDATA%`` (Windows).

A folder or file that is a link, belongs to someone else, or that others may write is neither read nor written. Nothing
here raises: where nothing can be kept, the work is done anew.
"""

import contextlib
import os
import stat
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

VARIABLE = "CANDIDACY_CACHE"
_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
_MOST_FILES = 64  # libraries come and go; the ones not rewritten for longest are dropped


def cache_folder() -> Path | None:
    """The folder to keep things in, whether or not it exists yet; ``None`` where nothing is to be kept."""
    asked = os.environ.get(VARIABLE, "")
    if asked:
        return Path(asked) if asked != "off" and os.path.isabs(asked) else None
    base = _base()
    return base / "candidacy" if base is not None and base.is_absolute() else None


def _base() -> Path | None:
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", "")
        return Path(local) if local else None
    named = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(named):  # a relative one is to be ignored (XDG Base Directory Specification 0.8)
        return Path(named)
    home = os.path.expanduser("~")
    if not os.path.isabs(home):
        return None
    return Path(home, "Library", "Caches") if sys.platform == "darwin" else Path(home, ".cache")


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


def keep_private(place: Path, content: bytes) -> bool:
    """Put a file into the cache folder, whole and for its owner alone; say whether that was possible."""
    temporary = ""
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _private(os.lstat(place.parent), stat.S_ISDIR):
            return False
        handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=".new-")  # readable by its owner alone
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(temporary, place)
    except OSError:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        return False
    _drop_oldest(place.parent, place.suffix)
    return True


def _private(about: os.stat_result, is_kind: Callable[[int], bool]) -> bool:
    if not is_kind(about.st_mode):
        return False
    if not hasattr(os, "geteuid"):
        return True  # Windows: the folder lies in the user's own profile
    return about.st_uid == os.geteuid() and not about.st_mode & _OTHERS_MAY_WRITE


def _drop_oldest(folder: Path, suffix: str) -> None:
    with contextlib.suppress(OSError):
        kept = sorted(folder.glob(f"*{suffix}"), key=lambda path: path.stat().st_mtime)
        for path in kept[:-_MOST_FILES]:
            path.unlink()
