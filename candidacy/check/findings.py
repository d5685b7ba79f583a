"""Collects findings about one file, each with its place."""

from pathlib import Path

from candidacy.errors import Code, Problem
from candidacy.files import Node
from candidacy.rules.fit import Misfit


class Findings:
    """Problems of one file in the order found; `add` places each at a path inside the file."""

    def __init__(self, path: Path, tree: Node) -> None:
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
        node = self.tree.at(path)
        self.problems.append(
            Problem(
                code,
                message,
                self.name,
                node.line,
                node.column,
                ".".join(str(step) for step in path),
                str(found),
                expected,
                next_step,
            )
        )

    def add_misfit(self, misfit: Misfit) -> None:
        """Add what does not fit the catalogue."""
        path, code, message, found, expected, next_step = misfit
        self.add(path, code, message, found=found, expected=expected, next_step=next_step)
