"""From outcomes to standings in columns: the declared decision rules, and what an open disc may still become."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS
from candidacy.cohort.engines import sqltext as sql
from candidacy.engine.decision import Ground, PossibleStandings
from candidacy.foundation.errors import EngineError
from candidacy.rules.decision_order import DecisionOrder, DecisionPattern
from candidacy.rules.operators import codes_meant
from candidacy.rules.resolved import RuleSet

# More undetermined outcomes of one force than this make no difference (see `PossibleStandings`).
_MOST_OPEN = 3
RECORD = "record"  # the force of what the record itself says


def forces_of(order: DecisionOrder) -> list[str]:
    """Forces that any decision rule asks for."""
    return sorted({p.force for rule in order.rules for p in rule.when if p.force is not None})


class ForceOutcomes(Struct, frozen=True):
    """The outcomes of one force in SQL: whether any fails, any is open, any passes, and how many are open."""

    fails: str
    opens: str
    passes: str
    open_count: str

    def beside(self, other: "ForceOutcomes") -> "ForceOutcomes":
        """These outcomes and some more of the same force."""
        return ForceOutcomes(
            sql.any_of((self.fails, other.fails)),
            sql.any_of((self.opens, other.opens)),
            sql.any_of((self.passes, other.passes)),
            f"({self.open_count} + {other.open_count})",
        )


def of_record(conflict: str, danger: str) -> ForceOutcomes:
    """What the record itself says, in the places of an outcome: a conflict where criteria fail, a danger where they pass."""
    return ForceOutcomes(conflict, sql.FALSE, danger, "0")


def of_force(passes: Sequence[str]) -> ForceOutcomes:
    """Join the outcomes of the criteria of one force; each is true for pass and NULL for undetermined."""
    unknown = [sql.is_unknown(each) for each in passes]
    return ForceOutcomes(
        sql.is_not_met(sql.all_of(passes)),
        sql.any_of(unknown),
        sql.is_met(sql.any_of(passes)),
        sql.count_true(unknown),
    )


def worked_out(
    by_force: Mapping[str, ForceOutcomes], name: str, counted: bool = True
) -> tuple[dict[str, str], dict[str, ForceOutcomes]]:
    """What each force says, once: expressions by column, and the outcomes that read these columns.

    Several expressions ask for it, and engines would otherwise go over every criterion for each. Without ``counted`` nobody
    asks how many outcomes are open, which takes longer to find than whether any is.
    """
    made: dict[str, ForceOutcomes] = {}
    columns: dict[str, str] = {}
    for force, found in by_force.items():
        fails, count = f"fails_{name}_{force}", f"opens_{name}_{force}"
        if force == RECORD:
            made[force] = found
            continue
        columns |= {fails: found.fails, count: found.open_count if counted else found.opens}
        opens = f"({count} > 0)" if counted else count
        made[force] = ForceOutcomes(fails, opens, found.passes, count if counted else found.open_count)
    return columns, made


def state(by_force: Mapping[str, ForceOutcomes], order: DecisionOrder) -> str:
    """A number that says of each force whether any outcome is fail or pass, and how many are open (to three)."""
    terms, weight = [], 1
    for force in forces_of(order):
        found = by_force.get(force)
        if found is not None:
            digits = [f"CAST({found.fails} AS INT)"]
            if found.open_count != "0":
                digits.append(f"2 * LEAST({_MOST_OPEN}, {found.open_count})")
            if force == RECORD:
                digits.append(f"2 * CAST({found.passes} AS INT)")
            elif _asks_for_pass(order):
                digits.append(f"8 * CAST({found.passes} AS INT)")
            terms.append(f"{weight} * ({' + '.join(digits)})")
        weight *= _width(order)
    return " + ".join(terms) or "0"


def _asks_for_pass(order: DecisionOrder) -> bool:
    return any(p.outcome == "pass" for rule in order.rules for p in rule.when)


def _width(order: DecisionOrder) -> int:
    return 16 if _asks_for_pass(order) else 8


def _grounds(number: int, order: DecisionOrder) -> list[Ground]:
    grounds = []
    for force in forces_of(order):
        number, digit = divmod(number, _width(order))
        if force == RECORD:
            said = ["conflict"] * (digit & 1) + ["unread_danger"] * (digit >> 1 & 1)
            grounds += [Ground(f"{force}_{each}", force, each) for each in said]
            continue
        outcomes = ["fail"] * (digit & 1) + ["undetermined"] * (digit >> 1 & 3) + ["pass"] * (digit >> 3)
        grounds += [Ground(f"{force}_{outcome}", force, outcome) for outcome in outcomes]
    return grounds


def _states(order: DecisionOrder, forces: frozenset[str]) -> list[int]:
    """The states that discs may have whose criteria are of some forces."""
    width, found = _width(order), [0]
    for place, force in enumerate(forces_of(order)):
        digits = range(4 if force == RECORD else width if force in forces else 1)
        found = [number + digit * width**place for number in found for digit in digits]
    return found


def state_column(level: str) -> str:
    """Name of the column that holds the state of a disc; NULL where the case does not name the disc."""
    return f"state_{LEVELS.index(level)}"


def disc_standing_test(rule_set: RuleSet, column: str, op: str, limits: Sequence[Any]) -> str:
    """Whether a disc's standing is one of some, in three truths: open while its missing facts can move it.

    ``column`` holds the state of the disc.
    """
    if op == "known":
        return f"({column} IS NOT NULL)"
    allowed, denied = codes_meant(catalogue()["disc_standing"], op, limits)
    forces = frozenset(item.force for item in rule_set.criteria if item.criterion.subject == "disc")
    table = _table(rule_set.decisions.model_dump_json(), forces, allowed)
    truth = sql.truth_in(table, column)
    return sql.negate(truth) if denied else truth


@lru_cache(maxsize=64)
def _table(order_json: str, forces: frozenset[str], allowed: frozenset[str]) -> str:
    """For every state of a disc, whether its standing is (T), may be (U) or is not (F) among some."""
    order = DecisionOrder.model_validate_json(order_json)
    # a state that no disc can have would say nothing
    signs = ["U"] * _width(order) ** len(forces_of(order))
    for at, some in _possible_ends(order_json, forces).items():
        signs[at] = "T" if some <= allowed else "U" if some & allowed else "F"
    return "".join(signs)


@lru_cache(maxsize=16)
def _possible_ends(order_json: str, forces: frozenset[str]) -> dict[int, frozenset[str]]:
    """For every state that a disc may have, the standings it may come to."""
    order = DecisionOrder.model_validate_json(order_json)
    possible = PossibleStandings(order)
    return {at: frozenset[str](possible.of(_grounds(at, order))) for at in _states(order, forces)}


def case_standing(
    by_force: Mapping[str, ForceOutcomes], discs: Mapping[str, str], order: DecisionOrder
) -> str:
    """The standing of a case: the first decision rule that fires; ``discs`` is each disc's standing column."""
    return _first_to_fire(
        by_force, discs, order, [f"{sql.text(rule.standing)}::standing_word" for rule in order.rules]
    )


def deciding_rule(
    by_force: Mapping[str, ForceOutcomes], discs: Mapping[str, str], order: DecisionOrder
) -> str:
    """The place in the order of the first decision rule that fires, from 0."""
    return _first_to_fire(by_force, discs, order, [str(place) for place in range(len(order.rules))])


def _first_to_fire(
    by_force: Mapping[str, ForceOutcomes], discs: Mapping[str, str], order: DecisionOrder, answers: list[str]
) -> str:
    arms, last = [], ""
    for rule, answer in zip(order.rules, answers, strict=True):
        reasons = [_fires(pattern, by_force, discs) for pattern in rule.when]
        reason = sql.any_of(reasons) if rule.when else sql.TRUE
        if reason == sql.TRUE:
            last = answer
            break
        if reason != sql.FALSE:
            arms.append(f"WHEN {reason} THEN {answer}")
    if not last:
        raise EngineError(f"{order.id} has no rule for the case that no other fires")
    return f"CASE {' '.join(arms)} ELSE {last} END" if arms else last


def _fires(pattern: DecisionPattern, by_force: Mapping[str, ForceOutcomes], discs: Mapping[str, str]) -> str:
    if pattern.force is None:
        return sql.any_of(f"({column} = {sql.text(pattern.any_disc or '')})" for column in discs.values())
    found = by_force.get(pattern.force)
    if found is None:
        return sql.FALSE
    return {
        "fail": found.fails,
        "pass": found.passes,
        "undetermined": found.opens,
        "conflict": found.fails,
        "unread_danger": found.passes,
    }[pattern.outcome or "fail"]
