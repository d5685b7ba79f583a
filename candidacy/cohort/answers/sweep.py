"""What if: one or several parameters over ranges in one pass, and two rule sets beside each other."""

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

from candidacy.case.element import LEVELS
from candidacy.cohort.answers.standing_differences import counts_discs
from candidacy.cohort.columns.conditions import ColumnarCriterion, read_criterion
from candidacy.cohort.columns.query import ColumnarEvaluation, outcomes_by_force, passes_column
from candidacy.cohort.columns.stack import Stack
from candidacy.cohort.columns.standings import (
    RECORD,
    ForceOutcomes,
    case_standing,
    state,
    state_column,
    worked_out,
)
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.errors import Code, Problem, TableError, shorten
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import parameters_of
from candidacy.rules.vocabulary import STANDINGS

MOST_POINTS = 500


def points_of(ranges: Mapping[tuple[str, str], Sequence[Any]]) -> list[dict[tuple[str, str], Any]]:
    """Every combination of the values of several parameters.

    Raises
    ------
    TableError
        If there are none, or more than can be read in one pass.
    """
    combinations = [dict(zip(ranges, values, strict=True)) for values in product(*ranges.values())]
    if not ranges or not combinations or len(combinations) > MOST_POINTS:
        raise TableError(
            [
                Problem(
                    Code.USAGE,
                    "a sweep needs between 1 and " + str(MOST_POINTS) + " points",
                    found=str(len(combinations) if ranges else 0),
                    next_step="take fewer values or fewer parameters",
                )
            ]
        )
    return combinations


def find_all(rule_set: RuleSet, ranges: Mapping[str, Sequence[Any]]) -> dict[tuple[str, str], Sequence[Any]]:
    """Values by parameter as `find_parameter` finds it.

    Raises
    ------
    TableError
        If there is no such parameter, one is named twice, or its values are no list.
    """
    found: dict[tuple[str, str], Sequence[Any]] = {}
    for name, values in ranges.items():
        key = find_parameter(rule_set, name)
        if key in found:
            raise TableError([Problem(Code.USAGE, "the same parameter under two names", found=name,
                                      expected="each parameter once")])  # fmt: skip
        if isinstance(values, str) or not isinstance(values, Sequence):
            raise TableError([Problem(Code.USAGE, "not a list of values", field=name, found=shorten(values),
                                      expected="a list, also of one value")])  # fmt: skip
        found[key] = values
    return found


def find_parameter(rule_set: RuleSet, name: str) -> tuple[str, str]:
    """A parameter by ``criterion.parameter``, or by its own name where only one criterion has it.

    Raises
    ------
    TableError
        If there is none, or several.
    """
    known = [(item.id, each) for item in rule_set.criteria for each in item.parameters]
    found = [key for key in known if name in (f"{key[0]}.{key[1]}", key[1])]
    if len(found) != 1:
        raise TableError(
            [
                Problem(
                    Code.UNKNOWN_PARAMETER,
                    "no such parameter" if not found else "several criteria have this parameter",
                    rule_set.id,
                    found=name,
                    expected=", ".join(f"{c}.{p}" for c, p in (found or known))[:300],
                )
            ]
        )
    return found[0]


def sweep(
    evaluation: ColumnarEvaluation, points: Sequence[Mapping[tuple[str, str], Any]]
) -> list[dict[str, int]]:
    """Cases by standing at each point, counted in one pass.

    Only what a changed parameter can change is read again for each point; the rest is read once and shared.

    Raises
    ------
    RuleError
        For a value that the parameter does not allow.
    """
    varied = {key for point in points for key in point}
    rule_sets = [evaluation.rule_set.with_trial(point) for point in points]
    disc_varied = {c for c, p in varied if _subject(evaluation, c) == "disc" and _uses(evaluation, c, p)}
    patient_varied = {c for c, p in varied if _subject(evaluation, c) == "patient"}
    if disc_varied:
        patient_varied |= {item.id for item in evaluation.rule_set.criteria if counts_discs(item)}
    made = _Points(evaluation, disc_varied, patient_varied)
    for place, rule_set in enumerate(rule_sets):
        made.add(place, rule_set)
    counts = made.counts(len(points))
    width = len(STANDINGS)
    return [
        dict(zip(STANDINGS, counts[width * place : width * (place + 1)], strict=True))
        for place in range(len(points))
    ]


def _subject(evaluation: ColumnarEvaluation, criterion: str) -> str:
    try:
        return evaluation.rule_set.criterion(criterion).criterion.subject
    except KeyError:
        return ""  # `with_trial` says what is wrong


def _uses(evaluation: ColumnarEvaluation, criterion: str, parameter: str) -> bool:
    item = evaluation.rule_set.criterion(criterion)
    recency = item.criterion.recency
    aged = recency is not None and recency.max_age.parameter == parameter
    return aged or parameter in parameters_of(*item.conditions)


class _Points:
    """The query of a sweep: what is shared, then the outcomes and standings of each point."""

    def __init__(
        self, evaluation: ColumnarEvaluation, disc_varied: set[str], patient_varied: set[str]
    ) -> None:
        self._evaluation, self._disc_varied, self._patient_varied = evaluation, disc_varied, patient_varied
        self._order = evaluation.rule_set.decisions
        self._shared: dict[str, str] = {}
        self._varying: dict[str, str] = {}
        fixed = [c for c in evaluation.patient if c.id not in patient_varied]
        self._patient_rest = self._kept(outcomes_by_force(fixed) | _record(evaluation, ""), "case")
        self._disc_rest: dict[str, dict[str, ForceOutcomes]] = {}
        for level, criteria in evaluation.discs.items() if disc_varied else ():
            rest = [c for c in criteria if c.id not in disc_varied]
            by_force = outcomes_by_force(rest) | _record(evaluation, level)
            self._disc_rest[level] = self._kept(by_force, f"disc_{LEVELS.index(level)}")

    def _kept(self, by_force: dict[str, ForceOutcomes], name: str) -> dict[str, ForceOutcomes]:
        """Work out once, as columns, what the unchanged criteria of each force say."""
        columns, kept = worked_out(by_force, f"rest_{name}")
        self._shared |= columns
        return kept

    def add(self, point: int, rule_set: RuleSet) -> None:
        """Add the expressions of one point."""
        evaluation, prefix = self._evaluation, f"p{point}_"
        discs = {level: f"standing_{LEVELS.index(level)}" for level in evaluation.discs}
        for level in self._disc_rest:
            place = LEVELS.index(level)
            made = self._read(rule_set, self._disc_varied, level, prefix)
            by_force = _beside(self._disc_rest[level], outcomes_by_force(made, prefix))
            standing = case_standing(by_force, {}, self._order)
            discs[level] = f"{prefix}standing_{place}"
            self._varying[discs[level]] = f"CASE WHEN named_{place} THEN {standing} END"
            of_disc = f"CASE WHEN named_{place} THEN {state(by_force, self._order)} END"
            self._varying[prefix + state_column(level)] = of_disc
        made = self._read(rule_set, self._patient_varied, "patient", prefix)
        by_force = _beside(self._patient_rest, outcomes_by_force(made, prefix))
        self._varying[f"{prefix}standing"] = case_standing(by_force, discs, self._order)

    def _read(self, rule_set: RuleSet, ids: set[str], subject: str, prefix: str) -> list[ColumnarCriterion]:
        shelf, states = self._evaluation.shelf, prefix if subject == "patient" and self._disc_varied else ""
        made = [
            read_criterion(shelf, rule_set, item, subject, states)
            for item in rule_set.criteria
            if item.id in ids
        ]
        self._varying |= {prefix + passes_column(each): each.passes for each in made}
        return made

    def counts(self, points: int) -> list[int]:
        """For each point, the cases by standing.

        What every point shares is worked out first and held, with the columns that the points read: engines
        would otherwise write it out again inside each point.
        """
        evaluation, engine = self._evaluation, self._evaluation.frame.engine
        counted = [f"p{point}_standing = {sql.text(name)}" for point in range(points) for name in STANDINGS]
        whole = evaluation.stack(counted, self._shared | self._varying)
        varying: dict[str, str] = {}
        for name in whole.made:
            if name in self._varying or whole.reads(name) & varying.keys():
                varying[name] = whole.definition(name)
        read = {name for each in varying for name in whole.reads(each)} - varying.keys()
        held, names = f"{evaluation.prefix}_shared", sorted(read)
        evaluation.hold_as(held, [*map(sql.identifier, names)] or ["1 AS nothing"], self._shared)
        points_alone = Stack(counted, varying, names, ())
        if evaluation.frame.rows is None:
            return engine.counts(counted, points_alone.over(held))
        tables = dict.fromkeys(names or ["nothing"], held)
        layers, over = points_alone.steps(tables, f"{evaluation.prefix}_point")
        engine.keep(layers)
        return engine.counts(counted, over)


def _record(evaluation: ColumnarEvaluation, level: str) -> dict[str, ForceOutcomes]:
    """What the record itself says, which no parameter changes."""
    return {force: found for force, found in evaluation.grounds(level).items() if force == RECORD}


def _beside(one: dict[str, ForceOutcomes], other: dict[str, ForceOutcomes]) -> dict[str, ForceOutcomes]:
    joined = {force: found.beside(other[force]) if force in other else found for force, found in one.items()}
    return {**other, **joined}
