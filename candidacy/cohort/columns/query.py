"""A rule set over a frame: one query that gives every outcome and standing, in layers.

Discs come first; then the patient's criteria, which may count them; then the case.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from candidacy.case.catalogue import LEVELS
from candidacy.cohort.columns.conditions import ColumnarCriterion, read_criterion
from candidacy.cohort.columns.element_columns import Shelf
from candidacy.cohort.columns.facts_table import Frame
from candidacy.cohort.columns.record_says import RecordSays, record_says
from candidacy.cohort.columns.standings import (
    RECORD,
    ForceOutcomes,
    case_standing,
    forces_of,
    of_force,
    of_record,
    state,
    state_column,
    worked_out,
)
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.resolved import ResolvedCriterion, RuleSet


@dataclass
class ColumnarEvaluation:
    """A rule set in columns.

    Attributes
    ----------
    discs
        Criteria of each disc that any case names, by level.
    patient
        Criteria of the patient.
    record
        What the record itself says of the patient and of each disc.
    """

    frame: Frame
    rule_set: RuleSet
    as_of: date
    shelf: Shelf
    discs: dict[str, list[ColumnarCriterion]]
    patient: list[ColumnarCriterion]
    considered: dict[str, str] = field(default_factory=dict)
    record: dict[str, RecordSays] = field(default_factory=dict)
    prefix: str = "r"

    @property
    def order(self) -> list[ResolvedCriterion]:
        """Criteria in the declared order."""
        return list(self.rule_set.criteria)

    def layers(self, *more: list[str], over: str = "") -> str:
        """A relation with every column of the cases, and the truth columns of `passes_column`.

        Also the disc standings (``standing_n``) and the case standing (``standing``); then layers of ``more``.
        ``over`` is another relation with the columns of the frame, to read instead of it.
        """
        with_discs = [f"{self.frame.named(level)} AS named_{LEVELS.index(level)}" for level in self.discs]
        outcomes = [
            f"{criterion.passes} AS {passes_column(criterion)}"
            for level in self.discs
            for criterion in self.discs[level]
        ]
        outcomes += [
            f"{truth} AS considered_{LEVELS.index(level)}" for level, truth in self.considered.items()
        ]
        outcomes += [column for level in ("", *self.discs) for column in self._record_columns(level)]
        grounds, standings = [], []
        for level in self.discs:
            place = LEVELS.index(level)
            columns, by_force = worked_out(self.grounds(level), str(place))
            grounds += columns
            standings.append(
                f"CASE WHEN named_{place} THEN {case_standing(by_force, {}, self.rule_set.decisions)} END "
                f"AS standing_{place}"
            )
            standings.append(
                f"CASE WHEN named_{place} THEN {state(by_force, self.rule_set.decisions)} END "
                f"AS {state_column(level)}"
            )
        patient = [f"{criterion.passes} AS {passes_column(criterion)}" for criterion in self.patient]
        discs = {level: f"standing_{LEVELS.index(level)}" for level in self.discs}
        case_grounds, by_force = worked_out(self.grounds(""), "case")
        standing = case_standing(by_force, discs, self.rule_set.decisions)
        source = self.shelf.over(over or self.frame.relation)
        last = [f"{standing} AS standing"]
        layers = (with_discs, outcomes, grounds, standings, patient, case_grounds, last, *more)
        for number, added in enumerate(layers):
            if added:
                source = f"(SELECT *, {', '.join(added)} FROM {source}) AS layer{number}"
        return source

    def grounds(self, level: str, prefix: str = "") -> dict[str, ForceOutcomes]:
        """Everything that the decision rules may look at for a disc, or for the case where ``level`` is empty."""
        found = outcomes_by_force(self.discs[level] if level else self.patient, prefix)
        if RECORD not in forces_of(self.rule_set.decisions):
            return found
        levels = [level] if level else ["", *self.discs]
        conflict, danger = [], []
        for each in levels:
            says = self.record.get(each, RecordSays())
            # for the case, a disc that is not to be treated says nothing
            here = f"(considered_{LEVELS.index(each)} IS NOT FALSE)" if each and not level else sql.TRUE
            if says.conflict != sql.FALSE:
                conflict.append(sql.all_of((here, f"{prefix}{record_column('conflict', each)}")))
            if says.danger != sql.FALSE:
                danger.append(sql.all_of((here, f"{prefix}{record_column('danger', each)}")))
        found[RECORD] = of_record(sql.any_of(conflict), sql.any_of(danger))
        return found

    def record_columns(self) -> list[str]:
        """Names of the columns that hold what the record itself says."""
        return [
            record_column(what, level)
            for level, says in self.record.items()
            for what in ("conflict", "danger")
            if getattr(says, what) != sql.FALSE
        ]

    def _record_columns(self, level: str) -> Iterator[str]:
        says = self.record.get(level, RecordSays())
        named = f"named_{LEVELS.index(level)}" if level else sql.TRUE
        for what in ("conflict", "danger"):
            said = getattr(says, what)
            if said != sql.FALSE:
                yield f"{sql.all_of((named, said))} AS {record_column(what, level)}"

    def outcome_query(self) -> str:
        """One row per case: standing, the patient's outcomes, then each disc's (``L4-L5: criterion``).

        A disc that a case does not name has no outcomes there.
        """
        quote = self.frame.engine.dialect.identifier
        enums = self.frame.engine.dialect.name == "embedded"
        chosen = [f"{self.frame.case_id} AS case_id", _typed("standing", "standing", enums) + " AS standing"]
        for criterion in self.patient:
            chosen.append(f"{_outcome(passes_column(criterion), '', enums)} AS {quote(criterion.id)}")
        for level, criteria in self.discs.items():
            place = LEVELS.index(level)
            named = f"named_{place}"
            chosen.append(
                f"CASE WHEN {named} THEN considered_{place} END AS {quote(disc_column(level, 'considered'))}"
            )
            standing = _typed(f"standing_{place}", "standing", enums)
            chosen.append(f"{standing} AS {quote(disc_column(level, 'standing'))}")
            for criterion in criteria:
                outcome = _outcome(passes_column(criterion), named, enums)
                chosen.append(f"{outcome} AS {quote(disc_column(level, criterion.id))}")
        return f"SELECT {', '.join(chosen)} FROM {self.layers()}"


def passes_column(criterion: ColumnarCriterion) -> str:
    """Name of the truth column of a criterion and subject."""
    if criterion.subject == "patient":
        return f"passes_{criterion.id}"
    return f"passes_{LEVELS.index(criterion.subject)}_{criterion.id}"


def record_column(what: str, level: str) -> str:
    """Name of the column of a conflict or danger of a disc, or of the patient where ``level`` is empty."""
    return f"record_{what}_{LEVELS.index(level)}" if level else f"record_{what}"


def disc_column(level: str, what: str) -> str:
    """Name of an output column of a disc."""
    return f"{level}: {what}"


def outcomes_by_force(criteria: list[ColumnarCriterion], prefix: str = "") -> dict[str, ForceOutcomes]:
    """The truth columns of some criteria of one subject, joined by force."""
    found: dict[str, list[str]] = {}
    for criterion in criteria:
        found.setdefault(criterion.resolved.force, []).append(prefix + passes_column(criterion))
    return {force: of_force(passes) for force, passes in found.items()}


def _typed(expression: str, kind: str, enums: bool) -> str:
    return f"CAST({expression} AS {kind})" if enums else expression


def _outcome(column: str, named: str, enums: bool) -> str:
    words = [f"'{word}'" + ("::outcome" if enums else "") for word in ("pass", "fail", "undetermined")]
    last = f"WHEN {named} THEN {words[2]}" if named else f"ELSE {words[2]}"
    first = f"NOT {named}" if named else ""
    nothing = f"WHEN {first} THEN NULL " if first else ""
    return f"CASE {nothing}WHEN {column} THEN {words[0]} WHEN NOT {column} THEN {words[1]} {last} END"


def read(frame: Frame, rule_set: RuleSet, as_of: date, prefix: str = "r") -> ColumnarEvaluation:
    """Turn a rule set into columns of a frame.

    Parameters
    ----------
    prefix
        Keeps the tables of several readings of one frame apart.
    """
    shelf = Shelf(frame, rule_set, as_of, prefix)
    per_disc = [item for item in rule_set.criteria if item.criterion.subject == "disc"]
    per_case = [item for item in rule_set.criteria if item.criterion.subject == "patient"]
    discs = {
        level: [read_criterion(shelf, rule_set, item, level) for item in per_disc] for level in frame.levels
    }
    considered = {}
    for level in frame.levels:
        columns = shelf.fact("considered_for_treatment", level)
        truth = sql.UNKNOWN
        if columns:
            from candidacy.cohort.columns.conditions import column_test

            truth = column_test(columns[0], "is", (True,))
        considered[level] = truth
    patient = [read_criterion(shelf, rule_set, item, "patient") for item in per_case]
    record = record_says(shelf)
    return ColumnarEvaluation(frame, rule_set, as_of, shelf, discs, patient, considered, record, prefix)
