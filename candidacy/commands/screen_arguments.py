"""Options of ``candidacy screen`` that are written in a small notation, and those that do not go together."""

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten
from candidacy.foundation.targets import refuse_folder_of_inputs

if TYPE_CHECKING:
    from candidacy.rules.resolved import ResolvedParameter, RuleSet

_NAMED_SIGNS = {"tab": "\t", "\\t": "\t", "comma": ",", "semicolon": ";", "pipe": "|"}


def usage(message: str, option: str, found: str = "", expected: str = "", next_step: str = "") -> Problem:
    """A problem with the use of an option."""
    return Problem(Code.USAGE, message, option, found=shorten(found), expected=expected, next_step=next_step)


def read_delimiter(text: str) -> str:
    """A delimiter as typed: the sign itself, or ``tab``, which few shells let one type."""
    return _NAMED_SIGNS.get(text, text)


def read_lists(given: tuple[str, ...]) -> dict[str, Path]:
    """Read every ``NAME=FILE``.

    Raises
    ------
    TableError
        E601 with all that are no list of the record, hold no ``=``, or stand twice.
    """
    from candidacy.case.element import LISTS

    allowed = f"NAME=FILE, with NAME one of {', '.join(LISTS)}"
    problems, found = [], {}
    for text in given:
        name, sign, file = text.partition("=")
        if not sign or not file:
            problems.append(usage("not the name and the file of a list", "--list", text, allowed))
        elif name not in LISTS:
            problems.append(usage("no such list of the record", "--list", name, allowed))
        elif name in found:
            problems.append(usage("the same list twice", "--list", name, "each list once",
                                  "put both files into one"))  # fmt: skip
        found[name] = Path(file)
    if problems:
        raise TableError(problems)
    return found


def read_ranges(given: tuple[str, ...], rule_set: "RuleSet") -> dict[str, list[Any]]:
    """Read every ``parameter=values`` against the rule set, so that nothing wrong is found after a long run.

    Raises
    ------
    InputError
        E601 for what is not of this form or stands twice, E304 for an unknown parameter, E203 or E205 for a value
        that it does not allow.
    """
    from candidacy.cohort.answers.sweep import find_parameter, points_of

    problems: list[Problem] = []
    found: dict[tuple[str, str], list[Any]] = {}
    for text in given:
        name, sign, values = text.partition("=")
        try:
            if not sign or not name or not values:
                raise _not_values(text)
            key = find_parameter(rule_set, name)
            if key in found:
                raise TableError([usage("the same parameter twice", "--vary", name, "each parameter once")])
            found[key] = _values(rule_set.criterion(key[0]).parameters[key[1]], values, text)
            for value in found[key]:
                rule_set.with_trial({key: value})
        except InputError as error:
            problems += [replace(each, file=each.file or "--vary") for each in error.problems]
    if problems:
        raise TableError(problems)
    if found:
        points_of(found)
    return {f"{criterion}.{parameter}": values for (criterion, parameter), values in found.items()}


def _not_values(text: str) -> TableError:
    return TableError([usage(
        "not values of a parameter", "--vary", text,
        "parameter=30,35,40 or parameter=30:45:1 (first:last:step); codes as parameter=bulge,protrusion, several codes "
        "in one value as none+bulge",
    )])  # fmt: skip


def _values(parameter: "ResolvedParameter", text: str, whole: str) -> list[Any]:
    from candidacy.cohort.answers.ranges import FORM, range_texts
    from candidacy.rules.trial_file import value_from_text

    if text.count(":") == 2:
        try:
            texts = range_texts(text)
        except ValueError:
            raise TableError([usage("not a range that can be tried", "--vary", whole, FORM)]) from None
        return [value_from_text(parameter, each) for each in texts]
    return [value_from_text(parameter, part.replace("+", ",")) for part in text.split(",")]


def check_together(given: Mapping[str, Any], suggest: bool, one_case: bool) -> None:
    """Refuse options that do not go together; ``given`` are options by name with what was given.

    Raises
    ------
    TableError
        E601 with every one of them.
    """
    there = {name for name, value in given.items() if value}
    problems = []
    results = ("--out", "--compare", "--vary", "--firm", "--mask-below", "--csv")
    if suggest:
        idle = [name for name in ("--mapping", "--case", *results) if name in there]
        problems += [
            usage("does not go with --suggest-mapping", name, next_step="leave it out: the proposal is written and no case is read")
            for name in idle
        ]  # fmt: skip
    elif one_case:
        problems += [
            usage("does not go with --case", name, next_step="leave it out: --case prints one assessment")
            for name in results if name in there
        ]  # fmt: skip
    if "--full" in there and not one_case:
        problems.append(usage("there is no single case to show", "--full", next_step="add --case REFERENCE"))
    if "--out" not in there and not suggest:
        if "--mask-below" in there and not one_case:
            problems.append(usage("masked counts are files, so they need a folder", "--mask-below",
                                  next_step="add --out FOLDER"))  # fmt: skip
        if "--csv" in there and not one_case:
            problems.append(
                usage(
                    "outcomes as CSV are files, so they need a folder", "--csv", next_step="add --out FOLDER"
                )
            )
        if "--replace" in there:
            problems.append(usage("there is nothing to replace", "--replace", next_step="add --out FOLDER"))
    if problems:
        raise TableError(problems)


def check_mask(below: int) -> None:
    """Refuse a threshold that masks nothing.

    Raises
    ------
    TableError
        E601 with the least one.
    """
    from candidacy.cohort.answers.masking import check_threshold

    try:
        if below:
            check_threshold(below)
    except TableError as error:
        raise TableError([replace(each, file="--mask-below") for each in error.problems]) from None


def check_folder(path: Path, replace: bool, earlier: bool, inputs: Iterable[Path]) -> None:
    """Refuse to overwrite before a long run, not after it; ``earlier`` says that the old one may be replaced.

    Raises
    ------
    TableError
        E601 with the way out.
    InputError
        E601 where the folder to be replaced holds one of the inputs.
    """
    if os.path.lexists(path):
        if not (replace and earlier):
            step = "choose another name" + (", or add --replace" if earlier and not replace else "")
            what = "the folder exists" if path.is_dir() else "this is not a folder"
            if replace and path.is_dir():
                what += ", and no earlier run wrote it"
            raise TableError([usage(what, str(path), next_step=step)])
        refuse_folder_of_inputs(path, inputs)
