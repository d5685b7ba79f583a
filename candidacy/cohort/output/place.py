"""A finished folder of results moved to its name, over nothing that somebody else put there meanwhile."""

import json
import os
import shutil
import tempfile
from pathlib import Path

from candidacy.foundation.errors import Code, Problem, TableError

PROGRAM = "candidacy "


def is_earlier_run(folder: Path) -> bool:
    """Whether a folder is one that `write_cohort` wrote."""
    try:
        run = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(run, dict) and str(run.get("program", "")).startswith(PROGRAM)


def make_private(made: Path, earlier: Path) -> None:
    """Let only the user read the results; what an earlier run left, keeps the permissions that it was given."""
    for path in (made, *made.rglob("*")):
        old = earlier / path.relative_to(made)
        usual = 0o700 if path.is_dir() else 0o600
        os.chmod(
            path, old.stat().st_mode & 0o777 if old.exists() and old.is_dir() == path.is_dir() else usual
        )


def move_into_place(made: Path, folder: Path, *, replace: bool) -> None:
    """Give a finished folder its name.

    Parameters
    ----------
    made
        The finished folder, beside ``folder``.
    folder
        Its name, links followed.
    replace
        Whether a folder of an earlier run may stand there; it is taken away first, and only that.

    Raises
    ------
    TableError
        E501 if anything else stands there by now; nothing of it is touched, and ``made`` stays where it is.
    """
    if not os.path.lexists(folder):
        _claim(made, folder)
        return
    if not replace:
        raise _appeared(made, folder)
    aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
    try:
        os.rename(folder, aside / "was")
        if not is_earlier_run(aside / "was"):  # another one than was looked at before the run
            _back(aside / "was", folder)
            raise _appeared(made, folder)
        _claim(made, folder)
    except BaseException:
        _back(aside / "was", folder)
        raise
    else:
        shutil.rmtree(aside / "was", ignore_errors=True)
    finally:
        if not any(aside.iterdir()):
            aside.rmdir()


def _claim(made: Path, folder: Path) -> None:
    """Rename where the name is free: an empty folder of our own is made there first, which fails if there is any."""
    if os.name == "posix":
        try:
            os.mkdir(folder, 0o700)
        except FileExistsError:
            raise _appeared(made, folder) from None
    try:
        os.rename(made, folder)
    except OSError as error:
        if os.name == "posix" and os.path.isdir(folder) and not os.listdir(folder):
            os.rmdir(folder)
            raise
        raise _appeared(made, folder) from error


def _back(was: Path, folder: Path) -> None:
    """Put a folder back that was taken away, where its name is still free; else it stays aside."""
    if was.exists() and not os.path.lexists(folder):
        os.rename(was, folder)


def _appeared(made: Path, folder: Path) -> TableError:
    return TableError(
        [
            Problem(
                Code.BAD_TABLE,
                "something was put there during the run; it was left alone",
                str(folder),
                found=f"the results are whole in {made}",
                next_step="look at both, then rename the results",
            )
        ]
    )
