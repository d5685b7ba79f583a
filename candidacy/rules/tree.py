"""The tree of a condition: seven kinds of node, which every reading walks.

What a criterion or a relation writes (`candidacy.rules.conditions`) has short forms; `lower` takes them away once, with the
parameters in use and the age that facts may have. Each kind means, in strong Kleene logic:

====================  =================================================================================================
`Compare`             an element of the subject (or of the patient) stands so to its limits; ``known``: it has a value
`Elapsed`             the calendar time from one date to another, or to the as-of date, stands so to its limits
`Complete`            the record says that a list is complete
`AllOf`               every one of many conditions holds
`AnyOf`               at least one of many holds
`NoneOf`              none of some holds; of a single one this is its negation
`CountOf`             the number of many that hold stands so to its limits
====================  =================================================================================================

"Many" are either written conditions, or `Each`: one condition read for every disc, or for every entry of a list. Discs are
the five usual ones and any other that a record names. A list that is not stated to be complete may have one more entry,
of which nothing is known; a count is a range, from what certainly holds to what may hold.

What the operators mean is told in `candidacy.rules.operators`. A reading is a function with one arm for each kind::

    match node:
        case Compare(): ...
        case Elapsed(): ...
        case Complete(): ...
        case AllOf(): ...
        case AnyOf(): ...
        case NoneOf(): ...
        case CountOf(): ...
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

from candidacy.case.element import LISTS
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.rules.conditions import (
    Condition,
    CountDiscs,
    CountEntries,
    Operand,
    OverDiscs,
    OverEntries,
    ParameterRef,
    Scalar,
)

Path = tuple[str | int, ...]
DISCS = "discs"
_ORDERED = ("at_least", "at_most", "more_than", "less_than", "between")
# Stands among the operands of a relation for the disc that it is read for.
THIS_DISC = "this_disc"
# Stands for the day of the assessment where a date element is expected.
AS_OF = "as_of"


class Limit(NamedTuple):
    """One operand: a literal, or a parameter with its value in use (none where there is no such parameter)."""

    value: Scalar | tuple[Scalar, ...] | None
    parameter: str = ""
    unit: str | None = None


# The unit of an age in days for which a dated fact speaks about the present, where an undated one is taken to.
PRESENT = "present"


class Age(NamedTuple):
    """How old a fact may be, and the date element of the patient that dates it where it bears no date."""

    amount: float
    unit: str
    dated_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """``place`` is where a condition was written, for those who say what is wrong with it."""

    place: Path = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limited(_Placed):
    op: str
    operands: tuple[Limit, ...] = ()

    @property
    def limits(self) -> tuple[Any, ...]:
        """The operands in use, one after the other."""
        found: list[Any] = []
        for operand in self.operands:
            if operand.value is not None:
                found += operand.value if isinstance(operand.value, tuple) else (operand.value,)
        return tuple(found)

    @property
    def parameters(self) -> tuple[str, ...]:
        """The parameters among the operands."""
        return tuple(operand.parameter for operand in self.operands if operand.parameter)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compare(_Limited):
    """A test of one element. A value older than ``age`` is unknown to it; where ``met_stands``, only one that does not meet it:
    a sign of danger acts however old it is, and its denial ages. ``leans`` is how a number too imprecise to tell counts.
    """

    element: str
    age: Age | None = None
    met_stands: bool = False
    leans: Truth | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Elapsed(_Limited):
    """A test of the time between two dates; ``leans`` is how dates too imprecise to tell count, unless they lie ahead."""

    since: str
    until: str
    unit: str
    leans: Truth | None = None

    @property
    def dates(self) -> tuple[str, ...]:
        """The date elements that are read."""
        return (self.since,) if self.until == AS_OF else (self.since, self.until)


@dataclass(frozen=True, slots=True, kw_only=True)
class Complete(_Placed):
    """Whether a list is stated to be complete."""

    of: str


@dataclass(frozen=True, slots=True)
class Each:
    """A condition read for each disc, or each entry of a list.

    ``among`` is the condition that chooses the discs. It is part of ``that`` already, which is what each disc is asked,
    and is kept for sentences.
    """

    over: str
    that: "Node"
    among: "Node | None" = field(default=None, compare=False)

    @property
    def scope(self) -> str:
        """Scope of the elements that the condition reads."""
        return "disc" if self.over == DISCS else LISTS[self.over]


Many = tuple["Node", ...] | Each


@dataclass(frozen=True, slots=True, kw_only=True)
class AllOf(_Placed):
    """Every one holds."""

    of: Many


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyOf(_Placed):
    """At least one holds."""

    of: Many


@dataclass(frozen=True, slots=True, kw_only=True)
class NoneOf(_Placed):
    """None holds."""

    of: tuple["Node", ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CountOf(_Limited):
    """So many hold."""

    of: Many


Node = Compare | Elapsed | Complete | AllOf | AnyOf | NoneOf | CountOf


def kind_of(node: Node) -> str:
    """The kind of a node as traces and files name it."""
    match node:
        case Compare():
            return "test"
        case Elapsed():
            return "elapsed"
        case Complete():
            return "complete_list"
        case NoneOf(of=of):
            return "not" if len(of) == 1 else "none"
        case AllOf(of=Each() as each):
            return "every_disc" if each.over == DISCS else "every_entry"
        case AnyOf(of=Each() as each):
            return "any_disc" if each.over == DISCS else "any_entry"
        case CountOf(of=Each() as each):
            return "count_discs" if each.over == DISCS else "count_entries"
        case AllOf():
            return "all"
        case AnyOf():
            return "any"
        case CountOf():
            return "at_least_of"


# --- walking


def children(node: Node) -> tuple[Node, ...]:
    """The nodes directly inside a node."""
    match node:
        case Compare() | Elapsed() | Complete():
            return ()
        case AllOf(of=of) | AnyOf(of=of) | NoneOf(of=of) | CountOf(of=of):
            return (of.that,) if isinstance(of, Each) else of


def walk(node: Node) -> Iterator[Node]:
    """A node and all nodes inside it, outermost first."""
    yield node
    for child in children(node):
        yield from walk(child)


def scope_inside(node: Node, scope: str) -> str:
    """The scope in which the nodes directly inside a node are read, where the node is read in a scope."""
    match node:
        case AllOf(of=Each() as each) | AnyOf(of=Each() as each) | CountOf(of=Each() as each):
            return each.scope
        case _:
            return scope


def elements_of(*nodes: Node | None) -> tuple[str, ...]:
    """Names of all elements that conditions read, in order, once each."""
    found: dict[str, None] = {}
    for root in nodes:
        for node in walk(root) if root is not None else ():
            match node:
                case Compare():
                    found[node.element] = None
                case Elapsed():
                    found |= dict.fromkeys(node.dates)
                case Complete() | AllOf() | AnyOf() | NoneOf() | CountOf():
                    pass
    return tuple(found)


def lists_of(root: Node) -> tuple[str, ...]:
    """Names of all lists of the record that a condition reads, once each."""
    found: dict[str, None] = {}
    for node in walk(root):
        match node:
            case Complete():
                found[node.of] = None
            case AllOf(of=Each() as each) | AnyOf(of=Each() as each) | CountOf(of=Each() as each):
                if each.over != DISCS:
                    found[each.over] = None
            case _:
                pass
    return tuple(found)


def operands_of(node: Node) -> tuple[Limit, ...]:
    """The operands of a node itself, not of those inside it."""
    match node:
        case Compare() | Elapsed() | CountOf():
            return node.operands
        case Complete() | AllOf() | AnyOf() | NoneOf():
            return ()


def bare_limits(node: Node) -> Iterator[tuple[Path, Limit]]:
    """Numbers that are written in a condition itself, where they have no source, and not as a parameter; with their place."""
    for part in walk(node):
        for operand in operands_of(part):
            values = operand.value if isinstance(operand.value, tuple) else (operand.value,)
            if not operand.parameter and any(type(value) in (int, float) for value in values):
                yield part.place, operand


def parameters_of(*nodes: Node | None) -> tuple[str, ...]:
    """Names of all parameters that conditions use, once each."""
    used = [o.parameter for root in nodes if root for node in walk(root) for o in operands_of(node)]
    return tuple(dict.fromkeys(name for name in used if name))


def asks_presence(node: Node) -> bool:
    """Whether a node asks that something is recorded at all."""
    return isinstance(node, Complete) or (isinstance(node, Compare) and node.op == "known")


def every_part_tells(node: Node) -> bool:
    """Whether each part of a met condition is among what makes it so, or only those parts that are met themselves."""
    match node:
        case AnyOf():
            return False
        case CountOf(of=of):
            return isinstance(of, Each)
        case Compare() | Elapsed() | Complete() | AllOf() | NoneOf():
            return True


def for_disc(node: Node, level: str) -> Node:
    """A condition with the disc put in where ``this_disc`` stands."""
    match node:
        case Compare() | Elapsed():
            return replace(node, operands=tuple(_put(operand, level) for operand in node.operands))
        case Complete():
            return node
        case NoneOf(of=of):
            return replace(node, of=tuple(for_disc(part, level) for part in of))
        case AllOf(of=of) | AnyOf(of=of) | CountOf(of=of):
            if isinstance(of, Each):
                among = None if of.among is None else for_disc(of.among, level)
                return replace(node, of=replace(of, that=for_disc(of.that, level), among=among))
            return replace(node, of=tuple(for_disc(part, level) for part in of))


def _put(operand: Limit, level: str) -> Limit:
    value = operand.value
    if isinstance(value, tuple):
        return operand._replace(value=tuple(level if each == THIS_DISC else each for each in value))
    return operand._replace(value=level) if value == THIS_DISC else operand


def leaning(node: Node, to: Truth = Truth.MET) -> Node:
    """A condition in which dates and numbers too imprecise to tell count for it: what holds then may hold."""
    match node:
        case Elapsed():
            return replace(node, leans=to)
        case Compare():
            return replace(node, leans=to) if node.op in _ORDERED else node
        case NoneOf(of=of):
            other = Truth.NOT_MET if to is Truth.MET else Truth.MET
            return replace(node, of=tuple(leaning(part, other) for part in of))
        case AllOf(of=of) | AnyOf(of=of):
            if isinstance(of, Each):
                return replace(node, of=replace(of, that=leaning(of.that, to)))
            return replace(node, of=tuple(leaning(part, to) for part in of))
        case Complete() | CountOf():
            return node


def imprecise_reads(root: Node) -> frozenset[str]:
    """Elements of which an imprecise value may bring a condition to hold that leans."""
    found: set[str] = set()
    for node in walk(root):
        match node:
            case Compare(leans=Truth()):
                found.add(node.element)
            case Elapsed(leans=Truth()):
                found |= set(node.dates)
            case _:
                pass
    return frozenset(found)


def names_this_disc(root: Node) -> bool:
    """Whether ``this_disc`` stands anywhere in a condition."""
    values = (operand.value for node in walk(root) for operand in operands_of(node))
    return any(THIS_DISC in (value if isinstance(value, tuple) else (value,)) for value in values)


# --- taking the short forms away


class _Valued(Protocol):
    """A parameter, as declared or as a rule set uses it."""

    @property
    def value(self) -> Scalar | tuple[Scalar, ...]: ...

    @property
    def unit(self) -> str | None: ...


def lower(
    condition: Condition,
    parameters: Mapping[str, _Valued],
    ages: Mapping[str, Age] | None = None,
    place: Path = (),
    met_stands: bool = False,
) -> Node:
    """Turn a written condition into its tree.

    Parameters
    ----------
    parameters
        Parameters by name. One that is missing leaves an operand without a value, which `candidacy.rules.fit` reports.
    ages
        By element, how old its facts may be.
    place
        Where the condition stands in its file.
    met_stands
        Whether a test of a fact with an age that is met stands, however old the fact is.
    """
    return _Lowering(parameters, ages or {}, met_stands).node(condition, place)


class _Lowering:
    def __init__(self, parameters: Mapping[str, _Valued], ages: Mapping[str, Age], met_stands: bool) -> None:
        self._parameters, self._ages, self._met_stands = parameters, ages, met_stands

    def node(self, c: Condition, place: Path) -> Node:
        head, here = c.head, (*place, c.head.rstrip("_"))
        match head:
            case "element":
                assert c.element is not None
                assert c.op is not None
                operands = self._limits(c.value, c.low, c.high)
                age = self._ages.get(c.element)
                stands = age is not None and self._met_stands
                return Compare(
                    element=c.element, op=c.op, operands=operands, age=age, met_stands=stands, place=place
                )
            case "all":
                return AllOf(of=self._nodes(c.all, here), place=place)
            case "any":
                return AnyOf(of=self._nodes(c.any, here), place=place)
            case "none":
                return NoneOf(of=self._nodes(c.none, here), place=place)
            case "complete_list":
                assert c.complete_list is not None
                return Complete(of=c.complete_list, place=place)
        written = getattr(c, head)
        match head, written:
            case "not_", Condition():
                return NoneOf(of=(self.node(written, here),), place=place)
            case "at_least_of", _:
                parts = self._nodes(written.conditions, (*here, "conditions"))
                return CountOf(of=parts, op="at_least", operands=self._limits(written.count), place=place)
            case "elapsed", _:
                return Elapsed(
                    since=written.since, until=written.until, unit=written.unit, op=written.op,
                    operands=self._limits(written.value, written.low, written.high), place=place,
                )  # fmt: skip
            case _, CountDiscs() | CountEntries():
                operands = self._limits(written.value, written.low, written.high)
                return CountOf(
                    of=self._each(written, False, here), op=written.op, operands=operands, place=place
                )
            case "every_disc" | "every_entry", _:
                return AllOf(of=self._each(written, True, here), place=place)
            case _:
                return AnyOf(of=self._each(written, False, here), place=place)

    def _nodes(self, conditions: tuple[Condition, ...] | None, place: Path) -> tuple[Node, ...]:
        return tuple(self.node(part, (*place, number)) for number, part in enumerate(conditions or ()))

    def _each(
        self, written: OverDiscs | OverEntries | CountDiscs | CountEntries, every: bool, place: Path
    ) -> Each:
        """What each disc or entry is asked; of the discs that are not among the chosen ones nothing is asked."""
        that = self.node(written.that, (*place, "that"))
        if isinstance(written, OverEntries | CountEntries):
            return Each(written.of, that)
        if isinstance(written, CountDiscs) or written.where is None:
            return Each(DISCS, that)
        among = self.node(written.where, (*place, "where"))
        if every:
            return Each(DISCS, AnyOf(of=(NoneOf(of=(among,), place=place), that), place=place), among)
        return Each(DISCS, AllOf(of=(among, that), place=place), among)

    def _limits(self, *operands: Operand | None) -> tuple[Limit, ...]:
        return tuple(self._limit(operand) for operand in operands if operand is not None)

    def _limit(self, operand: Operand) -> Limit:
        if not isinstance(operand, ParameterRef):
            return Limit(operand)
        parameter = self._parameters.get(operand.parameter)
        if parameter is None:
            return Limit(None, operand.parameter)
        return Limit(parameter.value, operand.parameter, parameter.unit)
