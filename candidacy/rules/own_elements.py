"""Data elements of one's own beside those of the library that it extends."""

from collections.abc import Callable, Mapping
from pathlib import Path

from candidacy.case.catalogue import Catalogue
from candidacy.case.element import ElementFile
from candidacy.foundation.errors import Code, Problem, RuleError
from candidacy.foundation.parsed import ParsedFile
from candidacy.rules.findings import Findings
from candidacy.rules.replacing import Declare, check_replaced_element


def catalogue_beside(
    base: Catalogue, files: Mapping[Path, ElementFile], tree: Callable[[Path], ParsedFile], declare: Declare
) -> Catalogue:
    """The elements of files beside those of a catalogue, or in their place where they say so.

    Raises
    ------
    RuleError
        With everything that is wrong with the files; E105 for a name that stands twice.
    """
    own: set[str] = set()
    groups = dict(base.groups)
    wrong: list[Problem] = []
    for path, file in files.items():
        problems = Findings(path, tree(path))
        if file.title and groups.get(file.group, file.title) != file.title:
            problems.add(("title",), Code.CONTRADICTORY_RULES, "the group has another title", found=file.title,
                         expected=groups[file.group])  # fmt: skip
        elif not file.title and file.group not in groups:
            problems.add(
                (), Code.MISSING_KEY, "a new group needs a title", found=file.group, expected="title: ..."
            )
        groups.setdefault(file.group, file.title)
        for number, element in enumerate(file.elements):
            place = ("elements", number)
            former = base.get(element.name)
            if element.name in own:
                problems.add(
                    (*place, "name"),
                    Code.DUPLICATE_KEY,
                    "two elements have this name",
                    found=element.name,
                )
            own.add(element.name)
            declare(
                "data element",
                element.name,
                element.replaces,
                ("", "" if former else None),
                problems,
                place,
            )
            if former is not None and element.replaces is not None:
                check_replaced_element(element, former, problems, place)
        wrong += problems.problems
    if wrong:
        raise RuleError(wrong)
    return Catalogue(list(files.values()), base, " ".join(tree(path).mark for path in files))
