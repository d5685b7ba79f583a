"""Collects findings about one rule file, each with its place."""

from collections.abc import Collection
from pathlib import Path

from candidacy.foundation.errors import Code, Problem, RuleError
from candidacy.foundation.files import Placed, closest
from candidacy.rules.fit import Misfit
from candidacy.rules.tree import Path as Place


def no_such_source(path: Place, key: str, sources: Collection[str]) -> Misfit:
    """That a citation names a source which nobody wrote down."""
    expected = closest(key, sources, "a key of sources.yaml, of one's own or shipped")
    return Misfit(path, Code.UNKNOWN_SOURCE, "not in sources.yaml", key, expected,
                  "correct the key, or write the source into sources.yaml")  # fmt: skip


class Findings:
    """Problems of one file in the order found; `add` places each at a path inside the file."""

    def __init__(self, path: Path, tree: Placed) -> None:
        self.name = str(path)
        self.tree = tree
        self.problems: list[Problem] = []

    def add(
        self,
        path: tuple[str | int, ...],
        code: Code,
        message: str,
        *,
        found: object = "",
        expected: str = "",
        next_step: str = "",
    ) -> None:
        """Add a problem at a path, or at the nearest place above it that is written."""
        node = self.tree.at(path)
        label = ".".join(str(step) for step in path)
        self.problems.append(
            Problem(code, message, self.name, node.line, node.column, label, str(found), expected, next_step)
        )

    def add_misfit(self, misfit: Misfit, path: tuple[str | int, ...] | None = None) -> None:
        """Add what does not fit the catalogue, at its own path or at another."""
        own, code, message, found, expected, next_step = misfit
        self.add(
            own if path is None else path, code, message, found=found, expected=expected, next_step=next_step
        )

    def stop(self) -> None:
        """Raise what was found.

        Raises
        ------
        RuleError
            With every problem in the order of files and lines, if there is one.
        """
        if self.problems:
            raise RuleError(sorted(self.problems, key=lambda p: (p.file, p.line, p.column)))
