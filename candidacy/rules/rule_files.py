"""The files of one folder of rules, each read once."""

from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.foundation.parsed import Keep, ParsedFile, keep_of
from candidacy.foundation.shape import validate
from candidacy.rules.cited import Table
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.layout import Layout
from candidacy.rules.relations import RelationFile

_Model = TypeVar("_Model", bound=BaseModel)
_Named = TypeVar("_Named", Criterion, Table, DecisionOrder, RelationFile)


class RuleFiles:
    """Files of a folder as models, and as written with the place of each part.

    Attributes
    ----------
    layout
        Which files there are.
    """

    def __init__(self, folder: Path) -> None:
        self.folder, self.layout = folder, Layout(folder)
        self._trees: dict[Path, ParsedFile] = {}

    @property
    def keep(self) -> Keep:
        """What is kept of this folder between runs."""
        return keep_of(self.folder)

    def tree(self, path: Path) -> ParsedFile:
        """The content of a file, with its places for checks that name lines."""
        if path not in self._trees:
            self._trees[path] = self.keep.read(path)
        return self._trees[path]

    def load(self, path: Path, model: type[_Model]) -> _Model:
        """Load a file as a model of its content.

        Raises
        ------
        RuleError
            With everything that is wrong with it.
        """
        try:
            return validate(model, self.tree(path), str(path))
        except InputError as error:
            raise RuleError(error.problems) from None

    def load_named(self, path: Path, model: type[_Named]) -> _Named:
        """Load a file whose name is its id.

        Raises
        ------
        RuleError
            With everything that is wrong with it, also that its id is another.
        """
        found = self.load(path, model)
        if found.id != path.stem:
            raise RuleError(
                [
                    Problem(
                        Code.BAD_RULE,
                        "the id differs from the file name",
                        str(path),
                        found=found.id,
                        expected=path.stem,
                    )
                ]
            )
        return found

    def has_read(self, path: Path) -> bool:
        """Whether a file was read before."""
        return path in self._trees
