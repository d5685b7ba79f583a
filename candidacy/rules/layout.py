"""The layout of a library folder: where its root is, what is read of it, and which files nothing reads."""

import os
from collections.abc import Collection, Iterable
from pathlib import Path

from candidacy.foundation.errors import Code, Problem, RuleError
from candidacy.foundation.files import MAX_PROBLEMS, nearest

# What surrounds the decision: steps of a plan, letters, visits and forms after the injection, definitions of response.
CARE = ("plan", "letters", "course", "outcomes")
FOLDERS = ("criteria", "decisions", "elements", "relations", "sets", "tables", *CARE)
FILES = ("sources.yaml", "settings.yaml")
RULE_SET = "ruleset.yaml"
CASES = ".cases.yaml"
LAYOUT = "sources.yaml, settings.yaml, elements/NAME.yaml, tables/ID.yaml, relations/TOPIC.yaml, decisions/ID.yaml, " \
    "criteria/GROUP/ID.yaml with ID.cases.yaml, sets/ID/ruleset.yaml, plan/ID.yaml, letters/ID.yaml, course/ID.yaml, " \
    "outcomes/ID.yaml"  # fmt: skip
# Endings of files that hold rules or look as if they should; anything else may lie in the folder, such as a README.
_RULES = (".yaml", ".yml", ".json")


def is_library(folder: Path) -> bool:
    """Whether a folder holds anything of the layout."""
    return any((folder / name).is_dir() for name in FOLDERS) or any((folder / n).is_file() for n in FILES)


def root_of(path: Path) -> Path:
    """The folder of the library that a file, or a folder of it, belongs to.

    A folder that holds something of the layout is the root itself; what lies in a folder of the layout
    (``mine/sets/ours/ruleset.yaml``) has its root above that; any other file is alone in its own folder.
    """
    folder = path if path.is_dir() else path.parent
    if is_library(folder):
        return folder
    for place in (folder, folder.absolute()):
        for above in (place, *place.parents):
            if above.name in FOLDERS:
                return above.parent
    return folder


class Layout:
    """The files of one library folder, found once; what lies elsewhere in the folder is not looked at.

    Raises
    ------
    RuleError
        E101 if the folder, or a folder in it, cannot be listed; E105 if two criteria are of one file name.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        found = _files(folder / "criteria")
        self.criteria = _once(path for path in found if _is_yaml(path) and not _is_cases(path))
        self.cases = {p.name.removesuffix(CASES): p for p in found if _is_cases(p)}
        self.elements = self._plain("elements")
        self.tables = self._plain("tables")
        self.relations = self._plain("relations")
        self.decisions = self._plain("decisions")
        self.care = {name: self._plain(name) for name in CARE}
        self.sets = {p.parent.name: p for p in _files(folder / "sets") if p.name == RULE_SET
                     and p.parent.parent == folder / "sets"}  # fmt: skip

    def _plain(self, name: str) -> dict[str, Path]:
        """The YAML files that lie directly in a folder of the layout, by their name."""
        place = self.folder / name
        return {p.stem: p for p in _files(place) if _is_yaml(p) and p.parent == place}

    def unread(self, asked: Collection[Path] = ()) -> list[Problem]:
        """Files and folders that look as if they held rules, and that nothing reads.

        ``asked`` are rule sets outside ``sets/`` that were named by their path.
        """
        read = {self.folder / name for name in FILES} | set(asked) | {
            *self.criteria.values(), *self.elements.values(), *self.tables.values(), *self.relations.values(),
            *self.decisions.values(), *self.sets.values(), *(path for kind in self.care.values() for path in kind.values()),
            *(path for name, path in self.cases.items() if name in self.criteria and path.parent == self.criteria[name].parent),
        }  # fmt: skip
        found = []
        for path in _children(self.folder):
            if path.is_dir() and path.name not in FOLDERS:
                held = [each for each in _children(path) if each.suffix in _RULES or each.is_dir()]
                held = [
                    e
                    for each in held
                    for e in (_children(each) if each.is_dir() else [each])
                    if e.suffix in _RULES
                ]
                if held:
                    close = nearest(path.name, FOLDERS)
                    found.append(_nothing_reads(path, f"a folder with {held[0].name}" + (
                        f" and {len(held) - 1} more" if len(held) > 1 else ""), close))  # fmt: skip
            elif path.suffix in _RULES and path not in read:
                found.append(_nothing_reads(path, path.name, nearest(path.name, FILES)))
        for name in FOLDERS:
            found += [
                _nothing_reads(path, path.name, "")
                for path in _files(self.folder / name)
                if (path.suffix in _RULES and path not in read) or path.is_dir()
            ]
        return found[:MAX_PROBLEMS]


def _nothing_reads(path: Path, found: str, close: str) -> Problem:
    return Problem(
        Code.BAD_RULE,
        "nothing reads this",
        str(path),
        found=found,
        expected=f"closest is {close}" if close else LAYOUT,
        next_step="put it where it is read, or out of the folder of the library",
    )


def _is_cases(path: Path) -> bool:
    return str(path).endswith(CASES)


def _is_yaml(path: Path) -> bool:
    """Whether a file that is not hidden has the ending of YAML, said without taking its path apart."""
    return str(path).endswith(".yaml")


def _once(paths: Iterable[Path]) -> dict[str, Path]:
    found: dict[str, Path] = {}
    twice = []
    for path in paths:
        if path.stem in found:
            twice.append(Problem(Code.DUPLICATE_KEY, "two criteria have this id", str(path), found=path.stem,
                                 expected=f"one file; the other is {found[path.stem]}"))  # fmt: skip
        found[path.stem] = path
    if twice:
        raise RuleError(twice)
    return found


def _files(folder: Path) -> list[Path]:
    """Files of a folder and those inside it, in order, and links to folders, which are not followed."""
    found: list[Path] = []
    for entry in _entries(folder):
        path = folder / entry.name
        found += _files(path) if entry.is_dir(follow_symlinks=False) else [path]
    return found


def _children(folder: Path) -> list[Path]:
    return [folder / entry.name for entry in _entries(folder)]


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    """What lies in a folder, in order, but for what is hidden; nothing where there is no such folder."""
    try:
        with os.scandir(folder) as entries:
            shown = [entry for entry in entries if not entry.name.startswith((".", "__"))]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise RuleError(
            [Problem(Code.UNREADABLE, "the folder cannot be listed", str(folder), found=error.strerror or "")]
        ) from None
    return sorted(shown, key=lambda entry: entry.name)
