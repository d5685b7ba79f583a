"""The options ``--store`` and ``--person``: one place where a command gets the store it works with."""

import contextlib
import functools
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click
from click.core import ParameterSource

from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, InputError, Problem

if TYPE_CHECKING:
    from candidacy.records.store import Store

_Function = TypeVar("_Function", bound=Callable[..., Any])
_NEEDS = {"sqlalchemy", "alembic", "rfc8785", "mako", "platformdirs"}


def place(store: str | None) -> Path | str | None:
    """A store as it was named on the command line: a URL, a path, or ``None`` for the user's own."""
    if store is None or "://" in store:
        return store
    return Path(store)


@contextlib.contextmanager
def needs_extra() -> Iterator[None]:
    """Tell plainly where the extra is not installed.

    Raises
    ------
    InputError
        E601 with the command that installs it.
    """
    try:
        yield
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in _NEEDS:
            raise
        raise InputError([Problem(Code.USAGE, "kept referrals need an extra", "--store", found=error.name or "",
                                  next_step="pip install 'candidacy[records]'")]) from None  # fmt: skip


def with_place(function: _Function) -> _Function:
    """Give a command ``--store`` and ``--person``."""

    @click.option("--store", envvar="CANDIDACY_STORE", show_envvar=True, metavar="FILE_OR_URL",
                  help="The store: a SQLite file, or postgresql://HOST/NAME. Default: in your own data folder.")  # fmt: skip
    @click.option("--person", envvar="CANDIDACY_PERSON", show_envvar=True, metavar="ID",
                  help="Your local id in the store. Default: the name of your account.")  # fmt: skip
    @functools.wraps(function)
    def run(*args: Any, store: str | None, person: str | None, **given: Any) -> Any:
        with needs_extra():
            return function(*args, store=place(store), person=person, **given)

    return run  # type: ignore[return-value]


def with_store(function: _Function) -> _Function:
    """Give a command an open store, which is not made where there is none."""

    @with_place
    @functools.wraps(function)
    def run(*args: Any, store: Path | str | None, person: str | None, **given: Any) -> Any:
        from candidacy.records.store import open_store

        opened: Store
        with open_store(store, person, create=False) as opened:
            return function(*args, store=opened, **given)

    return run  # type: ignore[return-value]


def with_keep(kept: str, unkept: str) -> Callable[[_Function], _Function]:
    """Give a command ``--keep``, and ``--store`` and ``--person`` that go with it; the command gets ``keep``, a `Keep` or ``None``.

    Parameters
    ----------
    kept
        What ``--keep`` does, for the help.
    unkept
        What a store that is named without it would not be given, for the refusal.
    """

    def given_to(function: _Function) -> _Function:
        @click.option("--keep", is_flag=True, help=kept)
        @click.option("--store", envvar="CANDIDACY_STORE", show_envvar=True, metavar="FILE_OR_URL",
                      help="With --keep: the store.")  # fmt: skip
        @click.option("--person", envvar="CANDIDACY_PERSON", show_envvar=True, metavar="ID",
                      help="With --keep: your local id in the store.")  # fmt: skip
        @functools.wraps(function)
        def run(*args: Any, keep: bool, store: str | None, person: str | None, **given: Any) -> Any:
            source = click.get_current_context().get_parameter_source
            named = [
                f"--{name}" for name in ("store", "person") if source(name) is ParameterSource.COMMANDLINE
            ]
            if named and not keep:
                raise InputError([Problem(Code.USAGE, f"without --keep {unkept} is put into a store", named[0],
                                          next_step="add --keep, or leave it out")])  # fmt: skip
            return function(*args, keep=Keep(place(store), person) if keep else None, **given)

        return run  # type: ignore[return-value]

    return given_to


class Keep(NamedTuple):
    """Where something is to be kept, and by whom."""

    where: Path | str | None
    person: str | None

    @contextlib.contextmanager
    def opened(self) -> "Iterator[Store]":
        """The store, which is not made where there is none."""
        with needs_extra():
            from candidacy.records.store import open_store

            with open_store(self.where, self.person, create=False) as store:
                yield store


@contextlib.contextmanager
def way_out(printed: str) -> Iterator[None]:
    """Tell whoever saves an old version how the command line goes on.

    Parameters
    ----------
    printed
        The command that prints the present version.

    Raises
    ------
    InputError
        What was refused, with the way out.
    """
    steps = {
        Code.CHANGED_MEANWHILE: f"{printed} prints that version: put your changes into it, and save again with --version and "
        "--reason; yours is not lost",
        Code.MISSING_KEY: "say it with --reason",
    }  # fmt: skip
    try:
        yield
    except InputError as error:
        raise type(error)([
            replace(problem, next_step=steps.get(problem.code, problem.next_step)) for problem in error.problems
        ]) from None  # fmt: skip


def tell(notice: str) -> None:
    """Print a notice beside the answer; nothing where there is none."""
    if notice:
        click.echo(f"! {notice}", err=True)
