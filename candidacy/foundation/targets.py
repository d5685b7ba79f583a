"""What may be written where: never over an input, a device or a file that nobody gave leave to replace."""

import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path

from candidacy.foundation.errors import Code, InputError, Problem, shorten

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
)


def file_target(path: Path, *, replace: bool = False, inputs: Iterable[Path] = ()) -> Path:
    """The place at which a file is to be written: links followed to what they point at, and that judged.

    Parameters
    ----------
    replace
        Whether an existing regular file may be replaced.
    inputs
        Files and folders that are read in the same run; none of them, nor a file in one of them, is ever replaced, by
        whatever link it is named.

    Raises
    ------
    InputError
        E601 if a file is there that may not be replaced, or what is there is no regular file; E101 if it cannot be told.
    """
    place = resolved(path)
    state = _state(place, path)
    if state is None:
        return place
    for test, words in _KINDS:
        if test(state.st_mode):
            raise _refused(path, f"this is {words}, not a file", "choose the name of a file")
    if not stat.S_ISREG(state.st_mode):
        raise _refused(path, "not a regular file", "choose the name of a file")
    for each in _files_of(inputs):
        if same(each, state):
            raise _refused(path, "this file is read in the same run", "choose another name", str(each))
    if not replace:
        raise _refused(path, "the file exists", "choose another name, or add --replace")
    return place


def refuse_folder_of_inputs(folder: Path, inputs: Iterable[Path]) -> None:
    """Refuse to replace a folder that is, or holds, something that is read in the same run.

    Raises
    ------
    InputError
        E601 with the input.
    """
    place = resolved(folder)
    if not place.is_dir():
        return
    there = {(state.st_dev, state.st_ino) for state in (found.stat() for found in _files_of([folder]))}
    for each in inputs:
        read = resolved(each)
        linked = read.is_file() and (read.stat().st_dev, read.stat().st_ino) in there
        if linked or read == place or place in read.parents:
            raise _refused(
                folder,
                "this folder holds what is read in the same run",
                "choose another name",
                str(each),
            )


def resolved(path: Path) -> Path:
    """The place a path leads to in the end, links followed; of one that leads in a circle, the circle."""
    return Path(os.path.realpath(path))


def same(path: Path, state: os.stat_result) -> bool:
    """Whether a path is the very file of that state, under whatever name or hard link."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return False
    return (found.st_dev, found.st_ino) == (state.st_dev, state.st_ino)


def _state(place: Path, path: Path) -> os.stat_result | None:
    try:
        return place.stat()
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not a path"
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", shorten(path, 500), found=why,
                     next_step="choose another place")]
        ) from error  # fmt: skip


def _files_of(inputs: Iterable[Path]) -> Iterator[Path]:
    for each in inputs:
        if each.is_dir():
            yield from (found for found in each.rglob("*") if found.is_file())
        else:
            yield each


def _refused(path: Path, message: str, next_step: str, found: str = "") -> InputError:
    return InputError(
        [Problem(Code.USAGE, message, shorten(path, 500), found=shorten(found, 500), next_step=next_step)]
    )


def put_new(finished: str, place: Path) -> None:
    """Give a finished file a name that must be free; what has appeared there meanwhile is kept.

    Its former name may stay, as one more name of the same file.

    Raises
    ------
    FileExistsError
        If the name is taken.
    """
    try:
        os.link(finished, place)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        os.replace(finished, place)
