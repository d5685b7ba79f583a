"""What the single-case evaluation says of cases, in the columns of a cohort, and where a cohort differs."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from candidacy.assessment.assess import Assessor, assess
from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.case.load import Case
from candidacy.cohort.columns.query import disc_column
from candidacy.engine.decision import DirectChainer, Ground, PossibleStandings
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, truth_of
from candidacy.rules.resolved import RuleSet

_CONSIDERED = {Truth.MET: True, Truth.NOT_MET: False, Truth.UNKNOWN: None}


def by_assessment(case: Case, rule_set: RuleSet, as_of: date) -> dict[str, Any]:
    """The full front door."""
    return of_assessment(assess(case, rule_set, as_of, "direct"))


def of_assessment(assessment: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"standing": assessment.standing}
    for result in assessment.results:
        found[_column(result.subject, result.id)] = result.outcome
    for disc in assessment.discs:
        found[disc_column(disc.level, "standing")] = disc.decision.standing
        found[disc_column(disc.level, "considered")] = _CONSIDERED[disc.considered]
    return found


class Single:
    """The direct evaluation and the direct chainer, without explanations; checked against the front door."""

    def __init__(self, rule_set: RuleSet, as_of: date) -> None:
        self._assessor, self._as_of = Assessor(rule_set, "direct"), as_of
        self._chainer = DirectChainer(rule_set.decisions)
        self._possible = PossibleStandings(rule_set.decisions)
        self._force = {item.id: item.force for item in rule_set.criteria}
        self._of: dict[str, list[CompiledCriterion]] = {"patient": [], "disc": []}
        for item in rule_set.criteria:
            self._of[item.criterion.subject].append(CompiledCriterion(item))

    def outcomes(self, case: Case) -> dict[str, Any]:
        view = self._assessor.view(case, self._as_of)
        found: dict[str, Any] = {}
        record = self._assessor.record(view)
        states: dict[str, Options] = {}
        standings: dict[str, str] = {}
        apart = set()
        for level in view.named_levels():
            evaluations = [criterion.read(view, level) for criterion in self._of["disc"]]
            grounds = self._grounds(evaluations) + record.of_disc(level)
            standings[level] = self._chainer.decide(grounds, {}).standing
            states[level] = Options(self._possible.of(grounds))
            found |= {_column(level, r.criterion): r.outcome for r in evaluations}
            considered = _CONSIDERED[truth_of(view.fact("considered_for_treatment", level).value)]
            if considered is False:
                apart.add(level)
            found[disc_column(level, "standing")] = standings[level]
            found[disc_column(level, "considered")] = considered
        view.settle_discs(states)
        patient = [criterion.read(view, "patient") for criterion in self._of["patient"]]
        found |= {r.criterion: r.outcome for r in patient}
        found["standing"] = self._chainer.decide(
            self._grounds(patient) + record.of_case(apart), standings
        ).standing
        return found

    def _grounds(self, evaluations: Iterable[Evaluation]) -> list[Ground]:
        return [Ground(r.criterion, self._force[r.criterion], r.outcome) for r in evaluations]


def _column(subject: str, criterion: str) -> str:
    return criterion if subject == "patient" else disc_column(subject, criterion)


def differences(expected: dict[str, dict[str, Any]], rows: Iterable[dict[str, Any]]) -> list[str]:
    """Every outcome, standing or case that differs, as text; a disc that is not named has none."""
    found: list[str] = []
    seen = set()
    for row in rows:
        case = row["case_id"]
        seen.add(case)
        wanted = expected.get(case, {})
        for column in {*wanted, *row} - {"case_id"}:
            if wanted.get(column) != row.get(column):
                found.append(f"{case} {column}: single {wanted.get(column)}, columns {row.get(column)}")
    return found + [f"{case}: not in the cohort" for case in expected.keys() - seen]
