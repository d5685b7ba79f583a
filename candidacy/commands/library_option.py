"""The option ``--library``: one place where a command gets the library it works with."""

import functools
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import click

from candidacy.foundation.shipped import LIBRARY_VARIABLE

_Function = TypeVar("_Function", bound=Callable[..., Any])


def with_library(*rule_sets: str) -> Callable[[_Function], _Function]:
    """Give a command the option, and run it while that library is in use.

    Parameters
    ----------
    rule_sets
        Names of the command's parameters that hold rule sets by id or path, one or several: what a path names is
        checked, and its data elements are put to use.
    """

    def decorate(function: _Function) -> _Function:
        @click.option(
            "--library", type=click.Path(path_type=Path), envvar=LIBRARY_VARIABLE, metavar="DIR", show_envvar=True,
            help="Folder with rules of one's own, which extend the shipped ones.",
        )  # fmt: skip
        @functools.wraps(function)
        def run(*args: Any, library: Path | None, **given: Any) -> Any:
            named = [name for key in rule_sets for name in _several(given[key])]
            if library is None and not _any_path(named):
                return function(*args, **given)
            from candidacy.check.opening import opened

            with opened(library, named):
                return function(*args, **given)

        return run  # type: ignore[return-value]

    return decorate


def _several(given: str | Iterable[str] | None) -> list[str]:
    return [given] if isinstance(given, str) else list(given or ())


def _any_path(names: list[str]) -> bool:
    if not names:  # a command without rule sets loads nothing of them
        return False
    from candidacy.rules.libraries import rule_set_path

    return any(rule_set_path(name) for name in names)
