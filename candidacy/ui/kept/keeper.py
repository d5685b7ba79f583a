"""Whether and where the work of sessions is kept, and how a session finds its own again."""

import os
import time
from datetime import datetime
from pathlib import Path

from candidacy.foundation.errors import InputError
from candidacy.ui.desk import Desk
from candidacy.ui.kept import VARIABLE
from candidacy.ui.kept.desk_files import DeskFile, drop_old, kept_desk, written_at

_GONE = (
    "This address named work that is no longer kept here: it was forgotten, it was left for long, or it was opened in "
    "another browser. An empty referral is open."
)
_AGAIN = "The program was started again since; your work is as it was, with its history."
_STARTED = time.time()
_NOT_OPENED = "The work kept under this address could not be opened: {why}. It stays where it is; an empty referral is open."


def kept_folder() -> Path | None:
    """The folder that the work of sessions is kept in, or ``None`` where it is kept in memory only."""
    named = os.environ.get(VARIABLE, "")
    return Path(named) if named else None


class Keeper:
    """Writes the desk of one session whenever it has changed."""

    def __init__(self, desk: Desk, files: DeskFile) -> None:
        self._desk, self._files = desk, files

    def keep(self) -> None:
        """Write what changed since the last time; an untouched desk is not written."""
        kept = self._desk.kept
        if not self._desk.untouched or kept.get("reports") or kept.get("unsettled") or self._files.saved:
            self._files.save(self._desk.to_keep())

    def all_kept(self) -> bool:
        """Whether the disk holds all of the desk as it is now."""
        return not self._desk.only_here and self._files.holds(self._desk.to_keep())

    @property
    def words(self) -> str:
        """What to tell: when the work was kept last, or that it is not and why; empty where there is nothing to keep."""
        if self._files.why_not:
            return f"not saved: {self._files.why_not}"
        at: datetime | None = self._files.saved
        return f"saved {at.astimezone():%H:%M}" if at is not None else ""

    @property
    def failed(self) -> bool:
        return bool(self._files.why_not)

    def forget(self) -> None:
        """Delete what was kept of this desk and its copies in this browser."""
        self._files.forget()


def keeper_of(desk: Desk, token: str, browser: str) -> Keeper | None:
    """The keeper of a session's desk, or ``None`` where nothing is kept on disk."""
    folder = kept_folder()
    if folder is None:
        return None
    drop_old(folder)
    return Keeper(desk, DeskFile(folder, token, browser, desk.work))


def restored(token: str, browser: str) -> tuple[Desk | None, str]:
    """The desk that was kept under an address, and what to tell about it: nothing where this server merely let it go."""
    folder = kept_folder()
    try:
        state = kept_desk(folder, token, browser) if folder is not None else None
        desk = Desk.from_kept(state) if state is not None else None
        if desk is not None:
            desk.case()  # refused where a library that it was made with is not in use now
    except InputError as error:
        return None, _NOT_OPENED.format(why=error.problems[0])
    except (ValueError, TypeError, KeyError) as error:
        return None, _NOT_OPENED.format(why=error)
    if desk is None or folder is None:
        return None, _GONE
    told = _AGAIN if written_at(folder, token) < _STARTED else ""
    return desk, f"{told} {desk.rules_changed(rows_too=False)}".strip()
