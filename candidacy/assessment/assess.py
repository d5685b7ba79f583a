"""The front door: a case, a rule set and a day give an assessment.

It reads every criterion on its subject, lets the chainer carry outcomes to standings (discs first), and
gathers what is missing. It decides nothing clinical itself, and it explains nothing in words.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import cached_property
from typing import Literal

from candidacy.assessment.alike import Alike, alike
from candidacy.assessment.assessed import Assessed
from candidacy.assessment.companions import CompanionResult, companions_of
from candidacy.assessment.discs import DiscChoice, disc_choice
from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.assessment.hold_plan import HoldPlan, plan_of
from candidacy.assessment.outlook import Outlook, outlook
from candidacy.assessment.record_grounds import Dangers, RecordGrounds
from candidacy.assessment.relate import aged_elements, conflicts, relations_of
from candidacy.assessment.results import CriterionResult, DiscResult
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import is_doubtful
from candidacy.case.facts import Fact
from candidacy.case.load import Case
from candidacy.engine.choose import chainer_for, engine_of, engine_version
from candidacy.engine.decision import Ground, PossibleStandings, Standings
from candidacy.foundation import dates
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import FALSE, TRUE, Options, Span
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import elements_of
from candidacy.rules.vocabulary import GROUPS, OUTCOMES


class Assessment(Assessed):
    """The full answer for one case under one rule set as of one day: everything clinical that is said about it.

    What rests on the outcomes is worked out when first asked for, and once.
    """

    @cached_property
    def outlook(self) -> Outlook:
        """What time or an act can mend, and how the rule set names the standings."""
        return outlook(self)

    @cached_property
    def disc_choice(self) -> DiscChoice:
        """Which recorded discs pass, fail or wait, and which pass though nobody considers them."""
        return disc_choice(self)

    @property
    def summary(self) -> str:
        """The case, rule set, day and standing in one line, and how the deciding criteria came out.

        Advisory criteria, and discs that are known not to be considered, are not counted: they decide nothing.
        """
        aside = {disc.level for disc in self.discs if disc.considered is Truth.NOT_MET}
        deciding = [r for r in self.results if r.subject not in aside and r.resolved.force != "advisory"]
        found = Counter(result.outcome for result in deciding)
        told = ", ".join(f"{found[outcome]} {outcome}" for outcome in ("fail", "undetermined", "pass"))
        rules = f"{self.rule_set.id} {self.rule_set.file.version}"
        return f"{self.case.record.id} under {rules} as of {self.as_of}: {self.standing}; {told}"

    def __repr__(self) -> str:
        return f"Assessment({self.summary})"

    @cached_property
    def companions(self) -> "tuple[CompanionResult[Assessment], ...]":
        """The standing under each companion of the rule set."""
        return companions_of(self)

    def again(self, case: Case | None = None, rule_set: RuleSet | None = None) -> "Assessment":
        return assess(
            case or self.case, rule_set or self.rule_set, self.as_of, engine_of(self.engine), beside=self
        )


class Assessor:
    """A rule set made ready: compile once, assess many cases. Safe to share between threads.

    Raises
    ------
    EngineError
        If it has a criterion twice.
    """

    def __init__(self, rule_set: RuleSet, engine: str = "durable-rules") -> None:
        order = list(GROUPS)
        if len({item.id for item in rule_set.criteria}) < len(rule_set.criteria):
            raise EngineError(
                f"{rule_set.id} has a criterion twice, which would be read twice for one subject"
            )
        items = sorted(rule_set.criteria, key=lambda item: order.index(item.criterion.group))
        self.rule_set = rule_set
        self._settings = rule_set.setting_values()
        # an outcome of a criterion is the same ground in every case
        self._ground_of = {
            item.id: {outcome: Ground(item.id, item.force, outcome) for outcome in OUTCOMES} for item in items
        }
        self._patient = [CompiledCriterion(i) for i in items if i.criterion.subject == "patient"]
        self._disc = [CompiledCriterion(i) for i in items if i.criterion.subject == "disc"]
        self._chainer, self._engine_notice = chainer_for(rule_set.decisions, engine)
        self._engine = engine_version(self._chainer)
        self._standings, self._possible = Standings(rule_set.decisions), PossibleStandings(rule_set.decisions)
        self._relations, self._aged = relations_of(rule_set), aged_elements(rule_set)
        self.dangers = Dangers(rule_set)
        self._asks_holds = any(name.startswith("medicine_hold") for name in elements_used(rule_set))
        self._alike: dict[str, Alike | None] = {}

    def criteria(self, of: Literal["patient", "disc"]) -> Sequence[CompiledCriterion]:
        """The criteria about the patient, or those about each disc, ready to be read."""
        return self._patient if of == "patient" else self._disc

    def view(self, case: Case, as_of: date) -> View:
        """The case as this rule set sees it on a day."""
        return self._view(case, as_of, None)

    def _view(self, case: Case, as_of: date, beside: "tuple[View, frozenset[str]] | None") -> View:
        return View(
            case.facts, as_of, self._settings, self.rule_set.tables, self._relations, self._aged, beside
        )

    def _alike_with(self, case: Case, as_of: date, beside: Assessed | None) -> Alike | None:
        """What is seen as in an earlier assessment, where that is of the same case on the same day."""
        if beside is None or beside.case.facts is not case.facts or beside.as_of != as_of:
            return None
        other = beside.rule_set
        if other.digest not in self._alike:
            if len(self._alike) >= _KEPT:
                self._alike.clear()
            self._alike[other.digest] = alike(self.rule_set, other)
        return self._alike[other.digest]

    def read(self, view: View, standings: Mapping[str, Options] | None = None) -> list[Evaluation]:
        """The direct evaluation alone: disc criteria on each named disc, then the patient's."""
        view.settle_discs(dict(standings or {}))
        evaluations = [c.read(view, level) for level in view.named_levels() for c in self._disc]
        return evaluations + [c.read(view, "patient") for c in self._patient]

    def record(self, view: View, told_apart: Iterable[Fact] | None = None) -> RecordGrounds:
        """What the record itself says: its conflicts, which may be known already, and what no criterion reads."""
        apart = (
            conflicts(view, self._relations)
            if told_apart is None
            else [view.fact(fact.element, fact.subject) for fact in told_apart if not is_doubtful(fact)]
        )
        known = {(fact.element, fact.subject) for fact in apart}
        doubtful = [f for f in self.dangers.doubts(view) if (f.element, f.subject) not in known]
        place = catalogue().place
        both = sorted((*apart, *doubtful), key=lambda fact: (place(fact.element), fact.subject))
        return RecordGrounds(tuple(both), self.dangers.unread(view))

    def assess(self, case: Case, as_of: date, beside: Assessed | None = None) -> Assessment:
        """Assess a case as of a day.

        Parameters
        ----------
        beside
            An assessment of perhaps the same case: what both rule sets see and read alike is taken from it. The answer is
            the same without it.

        Raises
        ------
        EngineError
            If a criterion did not get exactly one outcome, or a chainer broke its laws.
        """
        same = self._alike_with(case, as_of, beside)
        view = self._view(case, as_of, (beside.view, same.otherwise) if beside and same else None)
        read_before = _read_before(beside, same) if beside and same else {}
        levels = view.named_levels()
        results: list[CriterionResult] = []
        discs: list[DiscResult] = []
        standings: dict[str, Options] = {}
        record = self.record(view, beside.conflicts if beside and same else None)
        for level in levels:
            read = [_result(c, view, level, read_before) for c in self._disc]
            grounds = self._grounds(read) + record.of_disc(level)
            decision = self._chainer.decide(grounds, {})
            considered = view.fact("considered_for_treatment", level).value
            discs.append(DiscResult(level, _truth(considered), decision))
            standings[level] = Options(self._possible.of(grounds))
            results += read
        view.settle_discs(standings)
        patient = [_result(c, view, "patient", read_before) for c in self._patient]
        not_considered = {disc.level for disc in discs if disc.considered is Truth.NOT_MET}
        decision = self._chainer.decide(
            self._grounds(patient) + record.of_case(not_considered),
            {d.level: d.decision.standing for d in discs},
        )
        results += patient
        return Assessment(
            case=case,
            rule_set=self.rule_set,
            as_of=as_of,
            decision=decision,
            discs=tuple(discs),
            results=tuple(results),
            notices=self._notices(case, view, record.conflicts),
            engine=self._engine,
            view=view,
            standings=self._standings,
            conflicts=record.conflicts,
            unread=record.unread,
            holds=self._holds(view),
        )

    def _grounds(self, results: Iterable[CriterionResult]) -> list[Ground]:
        read = [result.evaluation for result in results]
        return [self._ground_of[each.criterion][each.outcome] for each in read]

    def _holds(self, view: View) -> HoldPlan | None:
        planned = self._asks_holds and view.fact("planned_procedure_date", "patient").value
        return plan_of(view, self.rule_set) if isinstance(planned, Span) else None

    def _notices(self, case: Case, view: View, conflicts: Iterable[Fact]) -> tuple[str, ...]:
        notices = [self._engine_notice] if self._engine_notice else []
        if self.rule_set.trial:
            notices.append(
                "Local trial, not the shipped rule set: "
                + "; ".join(self.rule_set.trial)
                + ". Nothing was saved."
            )
        notices += self.rule_set.own_words
        if self.rule_set.file.status != "in_use":
            notices.append(
                f"The rule set {self.rule_set.id} has status {self.rule_set.file.status}: "
                "it has not been approved for use by a local committee."
            )
        today = view.today.high
        later = [
            f"{catalogue()[fact.element].label} of {fact.subject} is dated {fact.provenance.day_words}, "
            "after the as-of date"
            for fact in case.facts.stated()
            if (day := fact.provenance.day) is not None and day.low > today
        ]
        planned = view.fact("planned_procedure_date", "patient").value
        if isinstance(planned, Span) and planned.high < view.today.low:
            notices.append(
                f"The planned procedure date ({dates.words(planned)}) lies before the as-of date: enter the new date, "
                "or assess as of a day before it."
            )
        # sorted, because the order of facts in a file must not show in the answer
        asked = {fact.note for fact in conflicts}
        return (
            *notices,
            *sorted(said for said in case.facts.questioned if said not in asked),
            *sorted(later),
        )


_Read = Mapping[tuple[int, str], CriterionResult]


def _read_before(beside: Assessed, same: Alike) -> _Read:
    """What was read earlier of criteria that read nothing else here, by the very criterion and the subject."""
    return {(id(r.resolved), r.evaluation.subject): r for r in beside.results if r.id in same.criteria}


def _result(criterion: CompiledCriterion, view: View, subject: str, read_before: _Read) -> CriterionResult:
    found = read_before.get((id(criterion.resolved), subject)) if read_before else None
    return found or CriterionResult(criterion.read(view, subject), criterion.resolved)


def _truth(value: object) -> Truth:
    return Truth.MET if value == TRUE else Truth.NOT_MET if value == FALSE else Truth.UNKNOWN


_ready: dict[tuple[str, str], Assessor] = {}
_KEPT = 64


def assessor_for(rule_set: RuleSet, engine: str = "durable-rules") -> Assessor:
    """The assessor of a rule set, compiled once per digest and kept."""
    key = (rule_set.digest, engine)
    found = _ready.get(key)
    if found is None:
        found = Assessor(rule_set, engine)
        if len(_ready) >= _KEPT:
            _ready.clear()
        _ready[key] = found
    return found


def assess(
    case: Case,
    rule_set: RuleSet,
    as_of: date,
    engine: str = "durable-rules",
    *,
    beside: Assessed | None = None,
) -> Assessment:
    """Assess a case under a rule set as of a day.

    Parameters
    ----------
    case
        A loaded case record.
    rule_set
        A loaded rule set.
    as_of
        The day for which ages and intervals are counted.
    engine
        ``durable-rules`` or ``direct``; both give the same answer.
    beside
        See `Assessor.assess`.

    Raises
    ------
    EngineError
        If a law of the engine is broken; no partial answer is given.
    """
    found = assessor_for(rule_set, engine).assess(case, as_of, beside)
    # the kept assessor may come from an equal rule set of another library, which has other companions
    return found if found.rule_set is rule_set else replace(found, rule_set=rule_set)


def elements_used(rule_set: RuleSet) -> tuple[str, ...]:
    """Names of the elements a rule set reads, in catalogue order."""
    used: set[str] = set()
    for item in rule_set.criteria:
        used |= set(elements_of(*item.conditions))
    return tuple(element.name for element in catalogue().all if element.name in used)
