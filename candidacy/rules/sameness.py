"""When two criteria ask the same thing, whatever they are called.

They do where their conditions read the same elements of the same subject with operators of the same direction, told of the
case that passes: an inclusion "at most 38" and an exclusion "more than 35" are both an upper limit. Limits that are
parameters, force, age of facts and the condition under which a criterion applies may differ: they are what a comparison is
about. A code or a yes that stands in the condition itself is part of what is asked.
"""

from candidacy.rules.operators import NUMERIC
from candidacy.rules.resolved import ResolvedCriterion
from candidacy.rules.tree import (
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Limit,
    Many,
    Node,
    NoneOf,
)

_UPPER, _LOWER = "upper limit", "lower limit"
# What an operator asks for, and what its denial asks for.
_DIRECTIONS = {
    "at_most": (_UPPER, _LOWER),
    "less_than": (_UPPER, _LOWER),
    "at_least": (_LOWER, _UPPER),
    "more_than": (_LOWER, _UPPER),
    "between": ("both limits", "outside both limits"),
    "is": ("one of", "none of"),
    "one_of": ("one of", "none of"),
    "is_not": ("none of", "one of"),
    "none_of": ("none of", "one of"),
    "contains": ("includes", "does not include"),
    "contains_any": ("includes", "does not include"),
    "empty": ("empty", "not empty"),
    "known": ("known", "not known"),
}


def sameness(item: ResolvedCriterion) -> str:
    """What a criterion asks for a case to pass, as one text: equal for criteria that ask the same thing."""
    criterion = item.criterion
    return f"{criterion.subject}: {_asked(item.when, denied=criterion.kind == 'exclusion')}"


def _asked(node: Node, *, denied: bool) -> str:
    match node:
        case Compare():
            return f"{node.element} {_direction(node.op, node.operands, denied)}"
        case Elapsed():
            return f"time from {' to '.join(node.dates)} {_direction(node.op, node.operands, denied)}"
        case Complete():
            return f"list of {node.of} {'not ' if denied else ''}complete"
        case NoneOf(of=of):
            return _joined(of, "any" if denied else "all", denied=not denied)
        case AllOf(of=of):
            return _joined(of, "any" if denied else "all", denied=denied)
        case AnyOf(of=of):
            return _joined(of, "all" if denied else "any", denied=denied)
        case CountOf(of=of):
            return f"{_direction(node.op, node.operands, denied)} of number of {_joined(of, 'any', denied=False)}"


def _joined(of: Many, join: str, *, denied: bool) -> str:
    if isinstance(of, Each):
        return f"{join} of {of.over} ({_asked(of.that, denied=denied)})"
    parts = sorted({_asked(part, denied=denied) for part in of})
    return parts[0] if len(parts) == 1 else f"{join} of ({'; '.join(parts)})"


def _direction(op: str, operands: tuple[Limit, ...], denied: bool) -> str:
    if op == "is" and operands[0].value is False and not operands[0].parameter:
        op, operands = "is_not", (Limit(True),)  # "is no" and "is not yes" are one question
    word = _DIRECTIONS[op][denied]
    written = [] if op in NUMERIC else sorted(_codes(operands))
    return " ".join((word, *written))


def _codes(operands: tuple[Limit, ...]) -> set[str]:
    """Codes that stand in the condition itself."""
    found: set[str] = set()
    for operand in operands:
        if not operand.parameter:
            values = operand.value if isinstance(operand.value, tuple) else (operand.value,)
            found |= {str(value) for value in values}
    return found
