"""The user's cache folder: private files that save work and may be deleted at any time.

``CANDIDACY_CACHE`` names another folder, or is ``off``. Without it the folder is ``candidacy`` below ``XDG_CACHE_HOME`` or
``~/.cache`` (Linux), ``~/Library/Caches`` (macOS), ``%LOCALAPPDATA%`` (Windows).

A folder or file that is a link, belongs to someone else, or that others may write is neither read nor written. Nothing
here raises: where nothing can be kept, the work is done anew.
"""

import contextlib
import os
import sys
from pathlib import Path

from candidacy.foundation.private_files import write_private

VARIABLE = "CANDIDACY_CACHE"
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


def keep_private(place: Path, content: bytes) -> bool:
    """Put a file into the cache folder, whole and for its owner alone; say whether that was possible."""
    try:
        write_private(place, content)
    except OSError:
        return False
    _drop_oldest(place.parent, place.suffix)
    return True


def _drop_oldest(folder: Path, suffix: str) -> None:
    with contextlib.suppress(OSError):
        kept = sorted(folder.glob(f"*{suffix}"), key=lambda path: path.stat().st_mtime)
        for path in kept[:-_MOST_FILES]:
            path.unlink()
