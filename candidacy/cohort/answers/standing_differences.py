"""Why the standing of a case differs between two rule sets: the criteria behind the one or the other.

Behind a standing are the criteria whose outcomes make the deciding rule fire. Where both rule sets share their
decision rules, the standing that comes first in their order is given because of its grounds, and the other only
because these are absent; so the criteria behind the first alone are causes. Where the decision rules differ,
both sides count. Criteria of a disc are causes where a criterion that counts discs is one, or a decision rule
that looks at discs fires.
"""

from collections.abc import Iterable, Mapping

from msgspec import Struct

from candidacy.case.element import LEVELS
from candidacy.cohort.columns.conditions import ColumnarCriterion
from candidacy.cohort.columns.query import ColumnarEvaluation, passes_column
from candidacy.cohort.columns.standings import deciding_rule
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import elements_of

OUTCOMES = ("pass", "fail", "undetermined")
_NOT_ASKED = len(OUTCOMES)
_WIDTH = _NOT_ASKED + 1


class Side(Struct, frozen=True):
    """One of the two readings in the columns of a relation.

    ``prefix`` stands before the names of its answer columns; ``fired_n`` and ``fired`` hold which decision rule
    fired for a disc and for the case.
    """

    evaluation: ColumnarEvaluation
    prefix: str

    @property
    def order(self) -> DecisionOrder:
        return self.evaluation.rule_set.decisions

    def criteria(self, level: str) -> dict[str, ColumnarCriterion]:
        """Criteria of a disc, or of the patient where ``level`` is empty, by id."""
        return {c.id: c for c in (self.evaluation.discs[level] if level else self.evaluation.patient)}

    def passes(self, criterion: ColumnarCriterion) -> str:
        return self.prefix + passes_column(criterion)

    def fired(self, level: str) -> str:
        return f"{self.prefix}fired_{LEVELS.index(level)}" if level else f"{self.prefix}fired"

    def definitions(self) -> dict[str, str]:
        """Which decision rule fired, and for each force whether it fired because of an outcome: columns by name."""
        found = {}
        for level in self.evaluation.discs:
            found[self.fired(level)] = deciding_rule(
                self.evaluation.grounds(level, self.prefix), {}, self.order
            )
        discs = {level: f"{self.prefix}standing_{LEVELS.index(level)}" for level in self.evaluation.discs}
        found[self.fired("")] = deciding_rule(self.evaluation.grounds("", self.prefix), discs, self.order)
        places: dict[tuple[str, str], list[int]] = {}
        for place, rule in enumerate(self.order.rules):
            for pattern in rule.when:
                if pattern.force is not None and pattern.outcome:
                    places.setdefault((pattern.force, pattern.outcome), []).append(place)
        for level in ("", *self.evaluation.discs):
            for (force, outcome), at in places.items():
                rules = ", ".join(map(str, dict.fromkeys(at)))
                found[self._because(level, force, outcome)] = f"({self.fired(level)} IN ({rules}))"
        return found

    def _because(self, level: str, force: str, outcome: str) -> str:
        return f"{self.fired(level)}_by_{force}_{outcome}"

    def behind(self, criterion: ColumnarCriterion, level: str) -> str:
        """Two-valued SQL: the outcome of a criterion makes the deciding rule fire."""
        force, passes = criterion.resolved.force, self.passes(criterion)
        outcomes = {
            pattern.outcome for rule in self.order.rules for pattern in rule.when if pattern.force == force
        }
        return sql.any_of(
            sql.all_of((self._because(level, force, outcome), f"({passes} {_IS[outcome]})"))
            for outcome in OUTCOMES
            if outcome in outcomes
        )

    def looks_at_discs(self) -> str:
        """Two-valued SQL: the rule that fired for the case looks at its discs."""
        return sql.any_of(
            f"({self.fired('')} = {place})"
            for place, rule in enumerate(self.order.rules)
            if any(pattern.any_disc for pattern in rule.when)
        )


_IS = {"pass": "IS TRUE", "fail": "IS FALSE", "undetermined": "IS NULL"}


class CauseColumns(Struct, frozen=True):
    """By criterion and disc (empty for the patient) SQL of how it is a cause, as `words_of` reads it, or NULL.

    ``definitions`` are the columns that it reads beside the answers of both sides.
    """

    by_criterion: dict[tuple[str, str], str]
    definitions: dict[str, str]


def cause_columns(one: Side, other: Side) -> CauseColumns:
    """How each criterion may be a cause of a difference of the standing of a case."""
    patient = _causes(one, other, "")
    definitions = one.definitions() | other.definitions()
    found, by_discs = {}, []
    for place, (name, code) in enumerate(patient.items()):
        found[name, ""] = f"why_{place}"
        definitions[f"why_{place}"] = code
        if any(name in s.criteria("") and counts_discs(s.criteria("")[name].resolved) for s in (one, other)):
            by_discs.append(f"(why_{place} IS NOT NULL)")
    by_discs += [one.looks_at_discs(), other.looks_at_discs()]
    route = sql.any_of(by_discs)
    definitions["by_discs"] = route
    for level in one.evaluation.discs if route != sql.FALSE else ():
        named = sql.all_of((f"named_{LEVELS.index(level)}", "by_discs"))
        for name, code in _causes(one, other, level).items():
            found[name, level] = f"CASE WHEN {named} THEN {code} END"
    return CauseColumns(found, definitions)


def _causes(one: Side, other: Side, level: str) -> dict[str, str]:
    ours, theirs = one.criteria(level), other.criteria(level)
    first, second = one.fired(level), other.fired(level)
    same = one.order == other.order
    found = {}
    for name in dict.fromkeys((*ours, *theirs)):
        a, b = ours.get(name), theirs.get(name)
        sides = []
        for side, criterion, here, there in ((one, a, first, second), (other, b, second, first)):
            if criterion is not None:
                comes_first = f"({here} <= {there})" if same else sql.TRUE
                sides.append(sql.all_of((comes_first, side.behind(criterion, level))))
        differs = sql.TRUE
        if a and b and a.resolved.force == b.resolved.force:
            differs = f"({one.passes(a)} IS DISTINCT FROM {other.passes(b)})"
        where = sql.all_of((differs, sql.any_of(sides)))
        if where != sql.FALSE:
            code = f"{_WIDTH} * {_code(one, a)} + {_code(other, b)}"
            found[name] = f"CASE WHEN {where} THEN {code} END"
    return found


def _code(side: Side, criterion: ColumnarCriterion | None) -> str:
    if criterion is None:
        return str(_NOT_ASKED)
    passes = side.passes(criterion)
    return f"CASE WHEN {passes} IS NULL THEN 2 WHEN {passes} THEN 0 ELSE 1 END"


def words_of(
    name: str, one: Mapping[str, ResolvedCriterion], other: Mapping[str, ResolvedCriterion]
) -> Iterable[tuple[int, str]]:
    """Every code that a cause may have, and what it says of the criterion."""
    a, b = one.get(name), other.get(name)
    if a is None or b is None:
        for place, outcome in enumerate(OUTCOMES):
            yield (
                (_WIDTH * _NOT_ASKED + place, f"newly asked, {outcome}")
                if a is None
                else (_WIDTH * place + _NOT_ASKED, f"no longer asked, was {outcome}")
            )
        return
    force = f", {a.force} becomes {b.force}" if a.force != b.force else ""
    for before, first in enumerate(OUTCOMES):
        for after, second in enumerate(OUTCOMES):
            if before != after or force:
                outcome = second if before == after else f"{first} becomes {second}"
                yield _WIDTH * before + after, outcome + force


def counts_discs(item: ResolvedCriterion) -> bool:
    """Whether a criterion looks at the standings of discs."""
    return "disc_standing" in elements_of(*item.conditions)


def by_id(rule_set: RuleSet) -> dict[str, ResolvedCriterion]:
    """Criteria of a rule set by id."""
    return {item.id: item for item in rule_set.criteria}
