"""Desks in a private folder: two files for each, its steps and all the rest.

Steps are only ever added to a file; where an edit follows an undo, a new file of steps is begun. The other file is
replaced whole and names the file of steps and how many of them count, so a stop at any moment leaves the last whole state.
"""

import contextlib
import hashlib
import json
import os
import time
from datetime import UTC, datetime
from hmac import compare_digest
from pathlib import Path
from typing import Any

from candidacy.foundation.private_files import private_content, refuse_open, write_private
from candidacy.ui.desk import State
from candidacy.ui.kept.plain import from_plain, to_plain

SCHEMA = "candidacy.desk/1"
MAX_BYTES = 256 * 1024 * 1024
MAX_DESKS = 200
MAX_AGE_DAYS = 30
_STATE, _STEPS = ".desk", ".steps"


class DeskFile:
    """The files of one desk. One session writes them."""

    def __init__(self, folder: Path, token: str, browser: str, work: str) -> None:
        self._folder, self._name = folder, _hashed(token)
        self._owner = {"browser": _hashed(browser), "work": _hashed(work)}
        self._written: list[Any] = []  # the steps that the file of steps holds
        self._file = ""
        self._last = ""
        self.saved: datetime | None = None
        self.why_not = ""

    def save(self, state: State) -> None:
        """Write what changed since the last time; where that fails, `why_not` says why and nothing is lost here."""
        try:
            self._save(state)
        except OSError as error:
            self._file = ""  # what the disk holds now is not known: begin anew the next time
            self.why_not = error.strerror or str(error)
        except (TypeError, ValueError) as error:  # a fault of the program: what is told names no value
            self._file = ""
            self.why_not = f"something on this desk cannot be kept ({type(error).__name__})"

    def holds(self, state: State) -> bool:
        """Whether the files stand there and hold just this."""
        written = self.saved is not None and not self.why_not and self._same_steps(state)
        there = written and all((self._folder / name).is_file() for name in (self._name + _STATE, self._file))
        return there and json.dumps(to_plain(state.rest)) == self._last

    def _same_steps(self, state: State) -> bool:
        return len(state.steps) == len(self._written) and all(
            a is b for a, b in zip(state.steps, self._written, strict=True)
        )

    def _save(self, state: State) -> None:
        rest, same = json.dumps(to_plain(state.rest)), self._same_steps(state)
        if same and rest == self._last and not self.why_not:
            return
        now = datetime.now(UTC)
        if not same or not self._file:
            self._add(state.steps)
        head = {
            "schema": SCHEMA,
            "saved": now.isoformat(timespec="seconds"),
            **self._owner,
            "steps": {"file": self._file, "count": len(state.steps)},
        }
        text = json.dumps(head)[:-1] + f', "rest": {rest}}}\n'
        write_private(self._folder / (self._name + _STATE), text.encode(), lasting=True)
        self._last, self._written, self.saved, self.why_not = rest, list(state.steps), now, ""
        self._drop_other_steps()

    def forget(self) -> None:
        """Delete this desk's files, and those of its copies that a reload of the page left in this browser."""
        for place in self._folder.glob(f"*{_STATE}"):
            try:
                head = _read(place) or {}
            except ValueError:
                continue
            if {key: head.get(key) for key in self._owner} == self._owner:
                _delete(place)

    def _add(self, steps: list[Any]) -> None:
        known = self._written
        goes_on = len(steps) >= len(known) and all(a is b for a, b in zip(steps, known, strict=False))
        goes_on = goes_on and bool(self._file) and (self._folder / self._file).is_file()
        new = steps[len(self._written) :] if goes_on else steps
        lines = "".join(json.dumps(to_plain(step)) + "\n" for step in new).encode()
        if not goes_on:
            self._file = f"{self._name}-{time.time_ns():x}{_STEPS}"
            write_private(self._folder / self._file, lines, lasting=True)
            return
        refuse_open(self._folder)
        handle = os.open(self._folder / self._file, os.O_WRONLY | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0))
        with os.fdopen(handle, "ab") as file:
            file.write(lines)
            file.flush()
            os.fsync(handle)

    def _drop_other_steps(self) -> None:
        for place in self._folder.glob(f"{self._name}-*{_STEPS}"):
            if place.name != self._file:
                place.unlink(missing_ok=True)


def kept_desk(folder: Path, token: str, browser: str) -> State | None:
    """What was kept of a desk; ``None`` if nothing was, or it belongs to another browser.

    Raises
    ------
    ValueError
        If it was kept by another version of the program, or the files are damaged.
    """
    head = _read(folder / (_hashed(token) + _STATE))
    if head is None or not browser or not compare_digest(str(head.get("browser", "")), _hashed(browser)):
        return None
    if head.get("schema") != SCHEMA:
        raise ValueError("kept by another version of the program")
    about = head["steps"]
    raw = private_content(folder / os.path.basename(str(about["file"])), MAX_BYTES)
    lines = [] if raw is None else raw.decode().split("\n")[:-1]
    if len(lines) < about["count"]:
        raise ValueError("the file of its steps is damaged")
    steps = [from_plain(json.loads(line)) for line in lines[: about["count"]]]
    return State(steps, from_plain(head["rest"]))


def written_at(folder: Path, token: str) -> float:
    """When a desk was last written, in seconds since 1970; 0 if nothing is kept of it."""
    try:
        return (folder / (_hashed(token) + _STATE)).stat().st_mtime
    except OSError:
        return 0.0


def drop_old(folder: Path) -> None:
    """Delete desks that nobody wrote for `MAX_AGE_DAYS` days, and the oldest of more than `MAX_DESKS`."""
    with contextlib.suppress(OSError):
        places = sorted(folder.glob(f"*{_STATE}"), key=lambda p: p.stat().st_mtime, reverse=True)
        oldest = time.time() - MAX_AGE_DAYS * 86400
        for number, place in enumerate(places):
            if number >= MAX_DESKS or place.stat().st_mtime < oldest:
                _delete(place)


def _read(place: Path) -> dict[str, Any] | None:
    raw = private_content(place, MAX_BYTES)
    if raw is None:
        return None
    try:
        found = json.loads(raw)
    except ValueError:
        raise ValueError("the file is damaged") from None
    return found if isinstance(found, dict) else None


def _delete(place: Path) -> None:
    for other in place.parent.glob(f"{place.stem}-*{_STEPS}"):
        other.unlink(missing_ok=True)
    place.unlink(missing_ok=True)


def _hashed(text: str) -> str:
    """A name that gives the secret in the address or the browser away to nobody who sees the folder."""
    return hashlib.sha256(text.encode()).hexdigest()[:40]
