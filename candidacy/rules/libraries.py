"""Which library: the shipped one, one's own that is in use, or the one that a path belongs to."""

from functools import cache
from pathlib import Path

from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.in_use import own_library
from candidacy.rules.layout import FILES, FOLDERS, RULE_SET, is_library, root_of
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet


@cache
def shipped() -> Library:
    """The library that comes with this package."""
    return Library(rulesets_folder())


def library_in_use() -> Library:
    """The library of one's own that is in use, which extends the shipped one, else the shipped one."""
    return own_library() or shipped()


def library_of(path: Path) -> Library:
    """The library that a file or folder belongs to: the one in use, the shipped one, or another one found by its root.

    Another one that brings no data elements of its own extends the library in use; see `candidacy.rules.in_use.using`
    for one that does.

    Raises
    ------
    RuleError
        As for `Library`.
    """
    root = root_of(path)
    for known in (own_library(), shipped()):
        if known is not None and _same_place(known.folder, root):
            return known
    found = Library(root, base=library_in_use())
    return Library(root, base=shipped()) if found.layout.elements else found


def open_folder(folder: Path) -> Library:
    """The library in a folder of one's own, extending the shipped one.

    Raises
    ------
    RuleError
        E101 if there is no such folder, E109 if it holds nothing of the layout.
    """
    wrong = ""
    if not folder.exists():
        wrong = "there is no such folder"
    elif not folder.is_dir():
        wrong = "is not a folder"
    if wrong:
        raise RuleError([Problem(Code.UNREADABLE, wrong, str(folder), expected="the folder of a library")])
    if not is_library(folder):
        holds = f"a folder with any of {', '.join((*FILES, *(f'{name}/' for name in FOLDERS)))}"
        raise RuleError([Problem(Code.EMPTY, "no rule content in this folder", str(folder), expected=holds)])
    return library_of(folder)


def _same_place(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


def rule_set_path(name: str) -> Path | None:
    """The file of a rule set where it is named by a path, of the file or its folder; ``None`` for an id."""
    path = Path(name)
    if path.is_dir() and (path / RULE_SET).is_file():
        return path / RULE_SET
    if path.suffix in (".yaml", ".yml", ".json") or "/" in name or path.is_file():
        return path
    return None


def load_rule_set(name: str) -> RuleSet:
    """Load a rule set by id, or any rule set by the path of its file or folder.

    Ids are those of the library in use. A file belongs to the library whose root is found from it (see
    `candidacy.rules.layout.root_of`); what that library does not bring is taken from the one it extends.

    Raises
    ------
    RuleError
        With everything that is wrong.
    """
    path = rule_set_path(name)
    try:
        return library_in_use().rule_set(name) if path is None else library_of(path).resolve(path)
    except InputError as error:
        raise RuleError(error.problems) from None
