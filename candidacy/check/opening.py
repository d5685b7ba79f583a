"""One way into a library of one's own: found, put to use, and checked as ``rules check`` checks it."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from candidacy.check.library import check_library
from candidacy.foundation.errors import Problem, RuleError
from candidacy.rules.in_use import using
from candidacy.rules.layout import RULE_SET, is_library
from candidacy.rules.libraries import library_in_use, library_of, open_folder, rule_set_path, shipped
from candidacy.rules.library import Library


class Target(NamedTuple):
    """What is to be checked: a library, and rule sets that lie outside its ``sets/`` folder."""

    library: Library
    sets: tuple[Path, ...] = ()

    @property
    def name(self) -> str:
        """The folder of the library, or the rule set where nothing else of a library was found."""
        alone = self.sets and not is_library(self.library.folder)
        return str(self.sets[0] if alone else self.library.folder)

    def problems(self) -> list[Problem]:
        """Everything that is wrong with it; see `check_library`."""
        return check_library(self.library, self.sets)

    def counts(self) -> dict[str, int]:
        """How many files or entries of each kind are read, by their word for one of them."""
        library, layout = self.library, self.library.layout
        base = library.base
        return {
            "criterion": len(layout.criteria),
            "case file": sum(1 for name in layout.criteria if name in layout.cases),
            "rule set": len(layout.sets) + len(self.sets),
            "decision order": len(layout.decisions),
            "data element": sum(len(file.elements) for file in library.element_files().values())
            if base
            else len(library.catalogue().all),
            "relation": sum(len(library.relation_file(path).relations) for path in layout.relations.values()),
            "table": len(layout.tables),
            "setting": len(library.settings()) - (len(base.settings()) if base else 0),
            "source": len(library.sources()) - (len(base.sources()) if base else 0),
        }


def target_of(path: Path) -> Target:
    """The library that a path belongs to, with the rule set that the path names if it is no other part of it.

    Raises
    ------
    RuleError
        E101 if there is no such file or folder, E109 if a folder holds nothing of a library.
    """
    alone = path / RULE_SET if path.is_dir() and (path / RULE_SET).is_file() else path
    if alone.is_dir() or not alone.exists():
        return Target(open_folder(path))
    library = library_of(alone)
    return Target(library, () if _is_part(library, alone) else (alone,))


def _is_part(library: Library, path: Path) -> bool:
    inside = path.absolute().parts[len(library.folder.absolute().parts) :]
    return len(inside) > 1 or inside in {("sources.yaml",), ("settings.yaml",)}


@contextmanager
def opened(folder: Path | str | None, rule_sets: Iterable[str] = ()) -> Iterator[Library]:
    """Put a library of one's own to use for as long as it is open, after it was checked whole.

    Parameters
    ----------
    folder
        Its folder, or a file in it; without one the shipped library stays in use, unless a rule set brings data
        elements of its own.
    rule_sets
        Rule sets by id or path. One named by its path is checked with the library it belongs to.

    Raises
    ------
    RuleError
        With everything that ``rules check`` would tell; E601 if another library is in use, or two bring data elements.
    """
    targets = [target_of(Path(folder))] if folder is not None else []
    paths = [path for path in map(rule_set_path, rule_sets) if path is not None and path.exists()]
    if folder is None and paths:
        targets = [found for found in map(target_of, paths) if found.library.layout.elements][:1]
    for target in targets:  # what is wrong with its elements is told with all the rest
        try:
            target.library.catalogue()
        except RuleError:
            raise RuleError(target.problems()) from None
    with using(targets[0].library if targets else library_in_use()) as library:
        targets += [target_of(path) for path in paths]
        problems: list[Problem] = []
        for target in _once(targets):
            problems += target.problems()
        if problems:
            raise RuleError(list(dict.fromkeys(problems)))
        yield library


def _once(targets: list[Target]) -> list[Target]:
    """Each library once, with all its rule sets; the shipped one is checked where it is shipped."""
    found: dict[Path, Target] = {}
    for target in targets:
        place = target.library.folder.resolve()
        library, sets = found.get(place, target)
        found[place] = Target(library, tuple(dict.fromkeys((*sets, *target.sets))))
    return [target for target in found.values() if target.library is not shipped() or target.sets]
