"""Writing results: to the terminal, or whole to a file or not at all."""

import os
import tempfile
from datetime import date
from pathlib import Path

import click

from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import Code, InputError, Problem, shorten


def parse_day(context: click.Context, parameter: click.Parameter, text: str | None) -> date | None:
    """Read ``--as-of``.

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
                    Code.BAD_DATE, str(error), "--as-of", found=shorten(text), expected="a date, YYYY-MM-DD"
                )
            ]
        ) from None


def write_whole(path: Path, text: str) -> None:
    """Write a file whole: a failure leaves no half file behind, and an old file as it was.

    Raises
    ------
    InputError
        E101 if the file cannot be written.
    """
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent or Path(), prefix=f".{path.name}.")
        with os.fdopen(handle, "w", encoding="utf-8", errors="replace", newline="\n") as stream:
            stream.write(text)
        current = path.stat().st_mode & 0o777 if path.exists() else usual_mode(0o666)
        os.chmod(temporary, current)
        os.replace(temporary, path)
    except OSError as error:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", str(path), found=error.strerror or "",
                     next_step="choose another place with --out")]
        ) from error  # fmt: skip


def usual_mode(wanted: int) -> int:
    """The mode that a new file or folder of this user has, given the most it may allow."""
    mask = os.umask(0)
    os.umask(mask)
    return wanted & ~mask


def emit(text: str, out: Path | None) -> None:
    """Print text, or write it to a file and say so."""
    if out is None:
        click.echo(text, nl=not text.endswith("\n"))
    else:
        write_whole(out, text)
        click.echo(f"written: {out}", err=True)
