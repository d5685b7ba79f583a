"""Values of parameters to try, as a person typed them; whether one is permitted is said by the rule set alone."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from candidacy.cohort.answers.ranges import FORM, range_texts
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.rules.resolved import ResolvedParameter, RuleSet
from candidacy.rules.trial_file import value_from_text

if TYPE_CHECKING:
    import pandas as pd

FORMS = "30, 35, 40 or first:last:step"


class Wanted(Struct, frozen=True):
    """A parameter by criterion and name, and the values typed for it."""

    criterion: str
    name: str
    typed: str

    @property
    def key(self) -> str:
        return f"{self.criterion}.{self.name}"


@dataclass(slots=True, eq=False)
class Tried:
    """Cases by standing for each combination of values; ``names`` are the parameters varied.

    Two are the same only where they come of one trial, so that a file made of one is never offered for the other.
    """

    names: tuple[str, ...]
    frame: "pd.DataFrame"
    drawn: dict[str, bytes] = field(default_factory=dict)


def sign_between(parameter: ResolvedParameter) -> str:
    """The sign between two values: a semicolon where one value is itself a list of codes."""
    return ";" if isinstance(parameter.value, tuple) else ","


def start_values(parameter: ResolvedParameter) -> str:
    """Values to start from: the one in use and the published alternatives, as a person would type them."""
    values = [parameter.value, *(each.value for each in getattr(parameter.declared, "alternatives", ()))]
    if all(type(value) in (int, float) for value in values):
        values.sort()
    texts = dict.fromkeys(_text(value) for value in values)
    return f"{sign_between(parameter)} ".join(texts)


def _text(value: Any) -> str:
    if isinstance(value, tuple):
        return ", ".join(map(_text, value))
    return str(value).lower() if isinstance(value, bool) else str(value)


def read_values(rule_set: RuleSet, wanted: Sequence[Wanted]) -> dict[str, list[Any]]:
    """Values by parameter, each permitted by the rule set.

    Raises
    ------
    RuleError
        With every value that is not of the parameter's kind or outside its bounds.
    """
    problems: list[Problem] = []
    found: dict[str, list[Any]] = {}
    for each in wanted:
        parameter = rule_set.criterion(each.criterion).parameters[each.name]
        values: list[Any] = []
        try:
            texts = list(_texts(each, sign_between(parameter)))
        except InputError as error:
            problems += error.problems
            continue
        for text in texts:
            try:
                value = value_from_text(parameter, text)
                rule_set.with_trial({(each.criterion, each.name): value})
            except InputError as error:
                problems += error.problems
                continue
            if value in values:
                problems.append(_problem(each, "this value stands twice", text, "each value once"))
            values.append(value)
        found[each.key] = values
    if problems:
        raise RuleError(problems)
    return found


def _texts(wanted: Wanted, sign: str) -> Iterator[str]:
    parts = [part.strip() for part in wanted.typed.split(sign)]
    if not any(parts):
        raise RuleError([_problem(wanted, "there is no value to try", "", FORMS)])
    for part in parts:
        if ":" in part:
            yield from _range(wanted, part)
        elif part:
            yield part


def _range(wanted: Wanted, text: str) -> list[str]:
    try:
        return range_texts(text)
    except ValueError:
        raise RuleError([_problem(wanted, "not a range that can be tried", text, FORM)]) from None


def _problem(wanted: Wanted, message: str, found: str, expected: str) -> Problem:
    return Problem(Code.USAGE, message, field=wanted.key, found=shorten(found), expected=expected)
