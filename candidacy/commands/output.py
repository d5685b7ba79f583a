"""Writing results: to the terminal, or whole to a file or not at all."""

import contextlib
import os
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.targets import file_target, put_new

_Command = TypeVar("_Command", bound=Callable[..., Any])


def parse_day(context: click.Context, parameter: click.Parameter, text: str | None) -> date | None:
    """Read an option that is a day.

    Raises
    ------
    InputError
        E207 if it is not a whole date that exists.
    """
    if text is None:
        return None
    try:
        return day(text)
    except DateError as error:
        raise InputError(
            [
                Problem(
                    Code.BAD_DATE,
                    str(error),
                    parameter.opts[0],
                    found=shorten(text),
                    expected="a date, YYYY-MM-DD",
                )
            ]
        ) from None


def out_options(command: _Command) -> _Command:
    """The options ``--out`` and ``--replace`` of a command that writes one file."""
    replace = click.option("--replace", is_flag=True, help="With --out: replace the file if it exists.")
    out = click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
                       help="Write to a file instead of the terminal; an existing one only with --replace.")  # fmt: skip
    return out(replace(command))


def check_out(out: Path | None, replace: bool, inputs: Iterable[Path] = ()) -> None:
    """Refuse a place to write before anything is worked out for it; see `file_target`.

    Raises
    ------
    InputError
        E601 also for ``--replace`` without ``--out``.
    """
    if out is not None:
        file_target(out, replace=replace, inputs=inputs)
    elif replace:
        raise InputError(
            [Problem(Code.USAGE, "there is nothing to replace", "--replace", next_step="add --out FILE")]
        )


def rule_files(*names: str) -> list[Path]:
    """The files of rule sets given by path and of the library of one's own in use; none of those that are shipped."""
    from candidacy.rules.in_use import own_library
    from candidacy.rules.layout import FOLDERS

    library = own_library()
    found = [*library.folder.rglob("*.yaml")] if library is not None else []
    for path in map(Path, names):
        if path.exists():
            folder = path if path.is_dir() else path.parent
            rooms = [folder / name for name in FOLDERS]
            found += [
                path,
                *folder.glob("*.yaml"),
                *(each for room in rooms for each in room.rglob("*.yaml")),
            ]
    return [each for each in found if each.is_file()]


def write_whole(
    path: Path, content: str | bytes, *, replace: bool = False, inputs: Iterable[Path] = ()
) -> None:
    """Write a file whole: a failure leaves no half file behind, and an old file as it was.

    A file that is replaced keeps its permissions. One that appears while this is written is kept, and refused.

    Raises
    ------
    InputError
        E601 where nothing may be written, see `file_target`; E101 if the file cannot be written.
    """
    import tempfile  # most answers go to the terminal

    place = file_target(path, replace=replace, inputs=inputs)
    data = content if isinstance(content, bytes) else content.encode("utf-8", errors="replace")
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name[:100]}.")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        _permit(temporary, place)
        if replace:
            os.replace(temporary, place)
        else:
            put_new(temporary, place)
    except FileExistsError:
        file_target(path)
        raise
    except OSError as error:
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", str(path), found=error.strerror or "",
                     next_step="see that this place may be written and has room, or name another")]
        ) from error  # fmt: skip
    finally:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)


def _permit(temporary: str, place: Path) -> None:
    """Give a new file the permissions, and where allowed the owner, of the one it replaces."""
    try:
        old = place.stat()
    except FileNotFoundError:
        os.chmod(temporary, usual_mode(0o666))
        return
    if hasattr(os, "chown"):
        with contextlib.suppress(PermissionError):
            os.chown(temporary, old.st_uid, old.st_gid)
    os.chmod(temporary, old.st_mode & 0o7777)


def usual_mode(wanted: int) -> int:
    """The mode that a new file or folder of this user has, given the most it may allow."""
    mask = os.umask(0)
    os.umask(mask)
    return wanted & ~mask


def emit(
    content: str | bytes, out: Path | None, *, replace: bool = False, inputs: Iterable[Path] = ()
) -> None:
    """Print text, or write it to a file and say so."""
    if out is None:
        assert isinstance(content, str)
        click.echo(content, nl=not content.endswith("\n"))
    else:
        write_whole(out, content, replace=replace, inputs=inputs)
        click.echo(f"written: {out}", err=True)
