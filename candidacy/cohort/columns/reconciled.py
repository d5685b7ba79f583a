"""A fact told twice, in columns: `candidacy.assessment.reconcile` as SQL.

A coded summary becomes the bits of the codes that it may have; no bits, a conflict, and nothing said are all no value, and
a conflict is kept apart so that no later telling fills the gap.
"""

from math import isinf
from typing import TYPE_CHECKING

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.cohort.columns.coded import Bits, Truths, with_details
from candidacy.cohort.columns.fact_columns import (
    Cells,
    Code,
    CodeList,
    FactColumn,
    Falling,
    Flag,
    Mask,
    Numbers,
    Wanted,
    mask_of,
)
from candidacy.cohort.columns.tellings import TRUE_MASK, Told, first_known, tellings
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.values import Why
from candidacy.rules.tree import Age

if TYPE_CHECKING:
    from candidacy.cohort.columns.element_columns import ElementColumns


class Own(Struct, frozen=True):
    """What a record and its details tell of a fact, before a denied summary is looked at.

    ``unknowable`` is two-valued SQL that its tellings conflict and nothing stands, ``conflict`` that they conflict at all, and
    ``told_again`` that details tell the same as was stated, and ``doubted`` that a person recorded a conflict of sources.
    """

    columns: tuple[FactColumn, ...]
    unknowable: str = sql.FALSE
    conflict: str = sql.FALSE
    told_again: str = sql.FALSE
    doubted: str = sql.FALSE


def doubted(stated: FactColumn) -> str:
    """Two-valued SQL: a person recorded that sources conflict about a fact."""
    return f"COALESCE({stated.why} = '{Why.CONFLICTING.value}', FALSE)" if stated.why else sql.FALSE


def reconciled(shelf: "ElementColumns", name: str, subject: str, age: Age | None, first: Own) -> Own:
    """Bring what is stated or worked out together with what details say."""
    told = tellings(shelf, name, subject, age)
    if not told:
        return first
    element = catalogue()[name]
    if element.kind in ("number", "integer"):
        return _checked(shelf, first, told)
    if element.kind == "members":
        return _listed(shelf, element, first, told)
    if element.kind not in ("choice", "boolean"):
        return first
    acts = name in shelf.rule_set.relations and shelf.rule_set.relations[name].acts
    return _coded(shelf, element, subject, age, first, [each for each in told if each.codes], acts)


def _checked(shelf: "ElementColumns", first: Own, told: list[Told]) -> Own:
    """A number whose details rule out every value that it may have is in conflict with them."""
    apart = []
    for column in first.columns:
        cells = column.cells
        if isinstance(cells, Falling):
            raise EngineError(f"{column.element.name} is compared through its date")
        if not isinstance(cells, Numbers):
            continue
        for each in told:
            if each.limits is None:
                continue
            beyond = []
            if not isinf(each.limits.high):
                beyond.append(f"({cells.low} > {sql.number(each.limits.high)})")
            if not isinf(each.limits.low):
                beyond.append(f"({cells.high or cells.low} < {sql.number(each.limits.low)})")
            apart.append(sql.all_of((each.met, sql.is_met(sql.any_of(beyond)))))
    return _without(shelf, first, sql.any_of(apart))


def _listed(shelf: "ElementColumns", element: Element, first: Own, told: list[Told]) -> Own:
    """A list of codes that certainly holds one which its details rule out is in conflict with them."""
    every = mask_of(element.codes, element.codes)
    apart = [
        sql.all_of((each.met, f"((COALESCE({column.cells.certain}, 0) & {every & ~each.codes}) <> 0)"))
        for column in first.columns
        if isinstance(column.cells, CodeList)
        for each in told
        if each.codes
    ]
    return _without(shelf, first, sql.any_of(apart))


def _without(shelf: "ElementColumns", first: Own, conflict: str) -> Own:
    if conflict == sql.FALSE:
        return first
    conflict = shelf.define(conflict)
    kept = tuple(unless(column, conflict) for column in first.columns)
    unknowable, conflict = sql.any_of((first.unknowable, conflict)), sql.any_of((first.conflict, conflict))
    return Own(kept, unknowable, conflict, doubted=first.doubted)


def _coded(
    shelf: "ElementColumns",
    element: Element,
    subject: str,
    age: Age | None,
    first: Own,
    told: list[Told],
    acts: bool,
) -> Own:
    if not told:
        return first
    base = with_details(shelf, element, first.columns, told)
    inferred = sql.any_of(each.met for each in told if each.infer)
    sure = sql.negate(first.doubted)
    # a sign that acts is inferred even where its source was said to be in doubt
    inferred = sql.all_of((inferred, sql.any_of((sure, base.says_yes)) if acts else sure))
    against = sql.any_of((base.against, sql.all_of((sql.negate(base.stands), inferred, base.impossible))))
    conflict = shelf.define(sql.all_of((sql.negate(first.unknowable), against)))
    value, kept = base.value(first.unknowable, conflict, inferred, acts)
    fresh, again = {}, sql.FALSE
    if age is not None:
        recent, again = _fresh(shelf, age, first, told, base, kept, conflict)
        recent, again = shelf.define(recent), shelf.define(again)
        fresh = {age: recent}
    # what was stated keeps its day, by which details of the same day are held against others
    stated = shelf.frame.facts.get((element.name, subject))
    dated = stated is not None and bool(stated.day) and kept != sql.FALSE
    day = (
        shelf.define(f"CASE WHEN {kept} AND {stated.known} THEN {stated.day} END") if stated and dated else ""
    )
    column = FactColumn(element, subject, value, day, fresh=fresh, inputs=_inputs(first))
    standing_conflict = sql.any_of((first.conflict, conflict))
    unknowable = first.unknowable if acts else sql.any_of((first.unknowable, conflict))
    return Own((column,), unknowable, standing_conflict, again, first.doubted)


def _fresh(
    shelf: "ElementColumns",
    age: Age,
    first: Own,
    told: list[Told],
    base: Bits | Truths,
    kept: str,
    conflict: str,
) -> tuple[str, str]:
    """Two-valued SQL: the fact is recent enough; and that details tell what was stated once more.

    ``kept`` is two-valued SQL that the value is what was stated.
    """
    own = first_known(first.columns, lambda c: shelf.recent(c, age), sql.FALSE)
    undated = shelf.undated_is_recent(age)

    def recent_details(each: Told) -> str:
        # no details at all are undated, and may be dated by an element of the patient
        return sql.any_of(
            (sql.all_of((each.given, each.recent)), sql.all_of((sql.negate(each.given), undated)))
        )

    infer = [each for each in told if each.infer]
    same = [sql.all_of((each.met, base.stated_as(each.codes))) for each in infer]
    again = sql.chosen(zip(same, map(recent_details, infer), strict=True), sql.FALSE)
    given = sql.chosen(((here, each.given) for here, each in zip(same, infer, strict=True)), sql.FALSE)
    narrow = sql.chosen(
        ((each.met, sql.any_of((sql.negate(each.given), each.recent))) for each in told), sql.TRUE
    )
    inferred = sql.chosen(((each.met, recent_details(each)) for each in infer), sql.FALSE)
    says_yes = [each for each in told if each.codes == TRUE_MASK]
    yes = sql.all_of(
        (
            sql.any_of((undated, *(sql.all_of((each.met, each.given)) for each in says_yes))),
            *(sql.any_of((sql.negate(each.met), sql.negate(each.given), each.recent)) for each in says_yes),
        )
    )
    arms = [
        (conflict, sql.chosen([(base.stated_as(TRUE_MASK), own)], yes)),
        (kept, sql.any_of((own, again))),
        (base.stands, sql.all_of((own, narrow))),
    ]
    return sql.chosen(arms, inferred), sql.all_of((kept, given))


def _inputs(first: Own) -> tuple[Wanted, ...] | None:
    for column in first.columns:
        if column.inputs is not None:
            return column.inputs
    return None


def unless(column: FactColumn, condition: str) -> FactColumn:
    """A column without its values where a condition (two-valued SQL) holds."""

    def without(part: str) -> str:
        return f"CASE WHEN {condition} THEN NULL ELSE {part} END" if part else part

    cells = column.cells
    made: Cells
    if isinstance(cells, Numbers):
        made = replace(cells, low=without(cells.low), high=without(cells.high))
    elif isinstance(cells, Code):
        made = Code(without(cells.code))
    elif isinstance(cells, Mask):
        made = Mask(without(cells.mask))
    elif isinstance(cells, Flag):
        made = Flag(without(cells.truth), sql.all_of((cells.known, sql.negate(condition))))
    elif isinstance(cells, CodeList):
        made = CodeList(without(cells.certain), without(cells.possible))
    elif isinstance(cells, Falling):
        made = replace(cells, day=without(cells.day))
    else:
        raise EngineError(f"{column.element.name} is told by nothing else")
    return replace(column, cells=made)
