"""What details say about a summary, in columns: each implication of a relation as two-valued SQL, with its age.

The single-case counterpart is `candidacy.assessment.relate`; what follows from the tellings is `candidacy.cohort.columns.reconciled`.
"""

from collections.abc import Callable, Iterable
from math import inf
from typing import TYPE_CHECKING

from msgspec import Struct

from candidacy.assessment.relate import relations_of
from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS, Element
from candidacy.case.facts import Fact, Provenance
from candidacy.cohort.columns.element_tests import code_test
from candidacy.cohort.columns.fact_columns import Code, FactColumn, Flag, Mask, mask_of
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.values import Span
from candidacy.rules.tree import (
    DISCS,
    PRESENT,
    Age,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Node,
    NoneOf,
    children,
    elements_of,
    every_part_tells,
    for_disc,
    lists_of,
    walk,
)

if TYPE_CHECKING:
    from candidacy.cohort.columns.element_columns import ElementColumns

TRUE_MASK, FALSE_MASK = 1, 2


class Told(Struct, frozen=True):
    """One thing that details say.

    Attributes
    ----------
    met
        Two-valued SQL: the details certainly say it.
    codes
        Bits of the codes that the summary may then have; 0 where ``limits`` speak of a number.
    recent
        Two-valued SQL: the details are recent enough for the age that was asked for.
    given
        Two-valued SQL: there are details at all; a complete and empty list says something without any.
    """

    met: str
    codes: int
    infer: bool
    limits: Span | None = None
    recent: str = sql.FALSE
    given: str = sql.TRUE


def codes_of(element: Element) -> tuple[object, ...]:
    """The codes of a coded element, in the order of their bits."""
    return (True, False) if element.kind == "boolean" else element.codes


def tellings(shelf: "ElementColumns", name: str, subject: str, age: Age | None) -> list[Told]:
    """Everything that details may say of an element, in the declared order; what cannot be met is left out."""
    element = catalogue()[name]
    found = [_sign(shelf, sign, subject, age) for sign in element.covers]
    relation = shelf.rule_set.relations.get(name)
    # where the table holds nothing that could tell it, as in a case that does
    may = relation is not None and relations_of(shelf.rule_set).near(shelf.frame.recorded).told(name)
    places = range(len(relation.told)) if relation is not None and may else ()
    found += [tellings_at(shelf, name, place, subject, age) for place in places]
    return [
        replace(told, met=shelf.define(told.met), recent=shelf.define(told.recent))
        for told in found
        if told.met != sql.FALSE
    ]


def tellings_at(shelf: "ElementColumns", name: str, place: int, subject: str, age: Age | None = None) -> Told:
    """What one implication of an element may say."""
    relation, element = shelf.rule_set.relations[name], catalogue()[name]
    each, when = relation.told[place]
    when = for_disc(when, subject)
    codes = mask_of(codes_of(element), each.codes) if each.value is not None else 0
    if lists_of(when):
        kept = shelf.list_tellings
        if (name, age) not in kept:
            kept[name, age] = _by_lookup(shelf, name, age)
        return kept[name, age].get((place, subject), Told(sql.FALSE, codes, False))
    if isinstance(when, Elapsed) and not shelf.fact(when.since, subject):
        return Told(
            sql.FALSE, codes, False
        )  # a time that nothing begins; what ends it may be dear to work out
    met = sql.is_met(shelf.truth(when, subject))
    if each.present_for is not None and met != sql.FALSE:
        days = float(str(relation.parameters[each.present_for.parameter].value))
        told = _recent(shelf, when, subject, Age(days, PRESENT))
        stated = shelf.frame.facts.get((name, subject))
        if stated is not None and stated.day and not relation.acts and told != sql.TRUE:
            told = sql.any_of(
                (told, sql.all_of((stated.known, _of_one_day(shelf, when, subject, stated.day))))
            )
        met = sql.all_of((met, told))
    limits = None
    if each.limits is not None:
        low, high = each.limits.low, each.limits.high
        limits = Span(-inf if low is None else low, inf if high is None else high)
    if age is None:
        return Told(met, codes, each.infer and codes != 0, limits)
    # only what is denied or counted is met by nothing known
    bare = any(isinstance(node, NoneOf | CountOf) for node in walk(when))
    given = _some_detail(shelf, when, subject, age) if bare and met != sql.FALSE else sql.TRUE
    return Told(
        met, codes, each.infer and codes != 0, limits, _recent(shelf, when, subject, age), shelf.define(given)
    )


def _sign(shelf: "ElementColumns", sign: str, subject: str, age: Age | None) -> Told:
    """A covered sign that is present says yes to its summary."""
    columns = shelf.own(sign, subject, age).columns
    met = first_known(columns, sign_present, sql.FALSE)
    recent = sql.FALSE if age is None else first_known(columns, lambda c: shelf.recent(c, age), sql.FALSE)
    return Told(met, TRUE_MASK, True, None, recent)


def _by_lookup(shelf: "ElementColumns", name: str, age: Age | None) -> dict[tuple[int, str], Told]:
    """Every implication of an element that is about a list, by its place and subject.

    The single-case evaluation answers them together, once for each combination of what they read.
    """
    from candidacy.cohort.columns.element_columns import fresh_enough  # which reads relations through here

    relation, relations = shelf.rule_set.relations[name], relations_of(shelf.rule_set)
    of_patient = catalogue()[name].scope == "patient"
    asked = [
        (place, subject)
        for place, (_, when) in enumerate(relation.told)
        if set(lists_of(when)) & set(shelf.frame.lists) or (lists_of(when) and not _needs_a_list(when))
        for subject in (("patient",) if of_patient else shelf.frame.counted_levels)
    ]
    if not asked:
        return {}

    def answer(view: RowView) -> tuple[bool, ...]:
        said: list[bool] = []
        for place, subject in asked:
            telling = relations.tell(view, name, place, subject)
            if telling is None:
                said += (False, False, False)
            else:
                fact = Fact(name, subject, None, None, Provenance(day=telling.day), telling.facts)
                said += (True, fresh_enough(view, fact, age), bool(telling.facts or telling.day))
        return tuple(said)

    found = look_up(shelf.frame, shelf.rule_set, shelf.as_of, answer)
    met = [any(row[3 * n] for row in found.answers) for n in range(len(asked))]
    kept = [number for number, some in enumerate(met) if some]
    rows = [tuple(value for n in kept for value in row[3 * n : 3 * n + 3]) for row in found.answers]
    columns = shelf.answers.join(found, rows, ["bool"] * (3 * len(kept))) if kept else []
    columns = [f"COALESCE({column}, FALSE)" for column in columns]
    made = {}
    for number, n in enumerate(kept):
        place, subject = asked[n]
        each, _ = relation.told[place]
        codes = mask_of(codes_of(catalogue()[name]), each.codes) if each.value is not None else 0
        infer, limits = each.infer and codes != 0, relations.limits(name, place)
        made[place, subject] = Told(
            columns[3 * number], codes, infer, limits, *columns[3 * number + 1 : 3 * number + 3]
        )
    return made


def _needs_a_list(node: Node) -> bool:
    """Whether a condition cannot be met where no list is recorded, whatever else is."""
    match node:
        case Complete():
            return True
        case AllOf(of=Each(over=over)) | AnyOf(of=Each(over=over)):
            return over != DISCS
        case AllOf():
            return any(map(_needs_a_list, children(node)))
        case AnyOf():
            return all(map(_needs_a_list, children(node)))
        case NoneOf(of=of):  # where there is no list, none is complete, and of entries nothing is known
            return any(
                isinstance(part, AllOf | AnyOf) and isinstance(part.of, Each) and _needs_a_list(part)
                for part in of
            )
        case _:
            return False


def first_known(columns: Iterable[FactColumn], test: object, otherwise: str) -> str:
    """Two-valued SQL of a test of the first column that holds a value."""
    assert callable(test)
    return sql.chosen([(column.known, test(column)) for column in columns], otherwise)


def told_parts(shelf: "ElementColumns", node: Node, subject: str) -> list[tuple[str, Node, str]]:
    """The parts of a met condition that are among what makes it so: two-valued SQL that says where, part, and its subject."""
    found = []
    match node:
        case AllOf(of=Each() as each) | AnyOf(of=Each() as each) | CountOf(of=Each() as each):
            if each.over != DISCS:
                raise EngineError("a list of the record has no columns")
            for level in shelf.frame.counted_levels:
                named = sql.TRUE if level in STANDARD_LEVELS else shelf.frame.named(level)
                found.append((named, each.that, level))
        case _:
            found = [(sql.TRUE, part, subject) for part in children(node)]
    if every_part_tells(node):
        return found
    return [(sql.all_of((where, sql.is_met(shelf.truth(part, of)))), part, of) for where, part, of in found]


def _recent(shelf: "ElementColumns", node: Node, subject: str, age: Age) -> str:
    """Two-valued SQL: every detail that makes a met condition true is recent enough."""
    return _each_detail(shelf, node, subject, lambda column: shelf.recent(column, age), age)


def _of_one_day(shelf: "ElementColumns", node: Node, subject: str, day: str) -> str:
    """Two-valued SQL: every detail that makes a met condition true is of a day (`relate._of_one_day` in columns)."""
    return _each_detail(
        shelf, node, subject, lambda c: f"COALESCE({c.day} = {day}, FALSE)" if c.day else sql.FALSE, None
    )


def _each_detail(
    shelf: "ElementColumns", node: Node, subject: str, holds: Callable[[FactColumn], str], age: Age | None
) -> str:
    """Two-valued SQL: something holds of every detail that makes a met condition true (`certain.details` in columns)."""

    def fact(name: str) -> str:
        return first_known(shelf.fact(name, subject, age), holds, sql.TRUE)

    match node:
        case Compare(element=name):
            return fact(name)
        case Elapsed(dates=dates):
            return sql.all_of(fact(name) for name in dates)
        case Complete():
            raise EngineError("a list of the record has no columns")
        case _:
            return sql.all_of(
                sql.any_of((sql.negate(where), _each_detail(shelf, part, of, holds, age)))
                for where, part, of in told_parts(shelf, node, subject)
            )


def _some_detail(shelf: "ElementColumns", node: Node, subject: str, age: Age) -> str:
    """Two-valued SQL: something is known that makes a met condition true."""
    match node:
        case Compare() | Elapsed():
            known = (
                first_known(shelf.fact(name, subject, age), lambda _: sql.TRUE, sql.FALSE)
                for name in elements_of(node)
            )
            return sql.any_of(known)
        case _:
            return sql.any_of(
                sql.all_of((where, _some_detail(shelf, part, of, age)))
                for where, part, of in told_parts(shelf, node, subject)
            )


# --- signs


def flag_test(cells: object) -> str:
    """The truth of a yes-or-no column."""
    if isinstance(cells, Flag):
        return cells.truth
    if isinstance(cells, Mask):
        return f"CASE {cells.mask} WHEN 1 THEN TRUE WHEN 2 THEN FALSE END"
    raise EngineError("not a yes-or-no column")


def absent_code(element: Element) -> object:
    """The code of a sign that is not there."""
    (code,) = element.absent.codes
    return code


def sign_present(column: FactColumn) -> str:
    """Two-valued SQL: a covered sign is certainly there, that is true, or a code that cannot be normal."""
    if column.element.kind == "choice" and isinstance(column.cells, Code | Mask):
        return sql.is_met(code_test(column.cells, column.element, "is_not", (absent_code(column.element),)))
    return sql.is_met(flag_test(column.cells))


def sign_absent(column: FactColumn) -> str:
    """Two-valued SQL: a covered sign is certainly not there."""
    if column.element.kind == "choice" and isinstance(column.cells, Code | Mask):
        return sql.is_met(code_test(column.cells, column.element, "is", (absent_code(column.element),)))
    return sql.is_not_met(flag_test(column.cells))
