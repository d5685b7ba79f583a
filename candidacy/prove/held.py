"""A value of a record and a fact of the solver held against each other: written into it, and read out of it."""

from datetime import date
from typing import Any

import z3

from candidacy.foundation.values import Members, Options, Span, Value, Words, point
from candidacy.prove.symbols import NO, YES, Expr, Seen, number
from candidacy.prove.translate import value_test

# Numbers are written with six decimals.
_WRITTEN = 1e-6


def variables(seen: Seen) -> list[Expr]:
    """The variables of a value."""
    numbers = [each for each in (seen.value, seen.high) if each is not None]
    return [*numbers, *seen.members.values(), *seen.may.values()]


def as_written(seen: Seen, entry: dict[str, Any]) -> Expr:
    """A fact is as a record writes it; of an imprecise one no variable is."""
    if "unknown" in entry:
        return z3.Not(seen.known)
    written, element = entry.get("value"), seen.element
    if written is None or entry.get("unit", element.unit) != element.unit:
        return NO
    value: Value
    if element.kind in ("number", "integer"):
        value = point(float(written))
    elif element.kind == "date":
        value = point(date.fromisoformat(str(written)).toordinal())
    elif element.kind == "members":
        value = Members(frozenset(written), frozenset(written))
    else:
        value = Options(frozenset((written,)))
    return z3.And(seen.known, value_is(seen, value)) if element.kind != "words" else seen.known


def value_is(seen: Seen, value: Value, slack: float = 0) -> Expr:
    """A fact has this value, a number up to ``slack``; where it can be no other than exact, an imprecise one is none."""
    match value:
        case Span() if value.bounded:
            if seen.high is not None:
                return z3.And(_near(seen.value, value.low, slack), _near(seen.high, value.high, slack))
            return _near(seen.value, value.low, slack) if value.exact else NO
        case Options(codes=codes) if seen.may:
            return z3.And([said if code in codes else z3.Not(said) for code, said in seen.may.items()])
        case Options() if value.exact:
            return value_test(seen, "is", tuple(value.codes)).met
        case Members(certain=certain) if value.exact:
            return z3.And([has if code in certain else z3.Not(has) for code, has in seen.members.items()])
        case Words():
            return YES
    return NO


def _near(number_of: Expr, value: float, slack: float) -> Expr:
    if not slack:
        return number_of == number(value)
    return z3.And(number_of >= number(value - slack), number_of <= number(value + slack))


def is_value(seen: Seen, value: Value | None, model: Any) -> bool:
    """Whether the value that a view gives is the one a model of the solver has, as exactly as it was written."""
    known = bool(z3.is_true(model.eval(seen.known)))
    if value is None or not known:
        return known == (value is not None)
    return bool(z3.is_true(model.eval(value_is(seen, value, _WRITTEN), True)))
