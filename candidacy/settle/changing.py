"""What would change a standing: the nearest changes that make failing criteria pass, and which single limits decide.

Only what can change is offered: what a criterion declares that time or an act mends (`candidacy.rules.criterion.Mendable`).
An amount is told only of what can be measured anew and may then be otherwise (`MEASURED`), such as a weight or a blood value; never
of a fact of history, a duration or the score of a questionnaire, because there is no way to change those but to misreport them.
Every change is tried: the changed case is assessed whole, or the case on the day, and the criterion passes; with a smaller
amount, or a day earlier, it does not. Of an urgent case nothing is worked out: the act comes first.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from math import ceil, floor
from typing import Literal

from msgspec import Struct

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.outlook import Mending
from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Value, point
from candidacy.rules.vocabulary import Standing
from candidacy.settle.answers import Answers
from candidacy.settle.boundary import Boundary, boundaries
from candidacy.settle.situation import Replies, Reply
from candidacy.settle.suppose import Supposing

# Facts that a new measurement may show to have changed, with the steps in which they are told.
MEASURED: dict[str, float] = {
    "body_weight": 0.1,
    "body_mass_index": 0.1,
    "cigarettes_per_day": 1,
    "hba1c": 0.1,
    "glucose": 0.1,
    "c_reactive_protein": 1,
    "esr": 1,
    "white_cell_count": 0.1,
    "platelet_count": 1,
    "haemoglobin": 0.1,
    "inr": 0.1,
    "body_temperature": 0.1,
    "opioid_mme_per_day": 1,
}
# What is worked out from what is measured: its input that can change.
_THROUGH = {"body_mass_index": "body_weight"}
_MOST_STEPS = 100_000
# What division leaves over.
_SLIP = 1e-6


class Changed(Struct, frozen=True):
    """One change that makes a failing criterion pass.

    Attributes
    ----------
    element, now, needed, at_most
        The measured fact that changes, its value, and the nearest value that does; ``at_most`` where it has to come down.
        Nothing where what has to happen is an act or a day.
    day
        The earliest day, or nothing where none can be given.
    shown_by
        How it was tried: with a changed ``fact``, on the ``day``, or ``not_shown``, where nothing could be tried.
    """

    mending: Mending
    shown_by: Literal["fact", "day", "not_shown"]
    element: str = ""
    now: Value | None = None
    needed: float | None = None
    at_most: bool = False
    day: date | None = None
    replies: Replies = ()


class Change(Struct, frozen=True):
    """What would change the standing of a case.

    Attributes
    ----------
    mendable
        Changes of what time or an act can mend, for the patient and each disc that may be treated.
    not_mendable
        Failing criteria that neither mends.
    open
        How many deciding criteria are open: what they wait for is asked (`candidacy.settle.settling`).
    day, together
        The day from which all tried changes can hold, and the standing of the case with all of them on that day.
    limits
        Single parameters at whose boundary a failing criterion comes to pass.
    """

    standing: Standing
    mendable: tuple[Changed, ...] = ()
    not_mendable: tuple[CriterionResult, ...] = ()
    open: int = 0
    day: date | None = None
    together: Standing | None = None
    limits: tuple[Boundary, ...] = ()


def change(assessment: Assessment) -> Change:
    """What would change the standing of an assessed case.

    Raises
    ------
    EngineError
        If a law of the engine is broken.
    """
    if assessment.standing == "urgent":
        return Change("urgent")
    aside = {disc.level for disc in assessment.discs if disc.considered is Truth.NOT_MET}
    forces = {p.force for rule in assessment.rule_set.decisions.rules for p in rule.when}
    deciding = [r for r in assessment.results if r.resolved.force in forces and r.subject not in aside]
    failing = [r for r in deciding if r.outcome == "fail"]
    reader = _Reader(assessment)
    mendable, fixed = [], []
    for result in failing:
        mending = assessment.outlook.mendings[result.id, result.subject]
        if mending.how in ("time", "act"):
            mendable.append(reader.changed(result, mending))
        elif mending.how == "no":
            fixed.append(result)
    day, together = reader.together(mendable)
    return Change(
        assessment.standing,
        tuple(mendable),
        tuple(fixed),
        sum(r.outcome == "undetermined" for r in deciding),
        day,
        together,
        tuple(found for result in failing for found in boundaries(assessment, result)),
    )


class _Reader:
    def __init__(self, assessment: Assessment) -> None:
        self._assessment = assessment
        self._supposing = Supposing(assessment)
        self._answers = Answers(self._supposing)

    def changed(self, result: CriterionResult, mending: Mending) -> Changed:
        """The nearest change that makes a failing criterion pass, tried."""
        day = mending.earliest
        for element in dict.fromkeys(self._measured(result)):
            found = self._amount(result, mending, element)
            if found is not None:
                return found
        # a day told by the calendar is the first: the day before it fails still
        if (
            day is not None
            and day > self._assessment.as_of
            and self._passes_on(result, day)
            and not self._passes_on(result, day - timedelta(1))
        ):
            return Changed(mending, "day", day=day)
        for reply in self._otherwise(result):
            if self._passes(result, (reply,)):
                return Changed(mending, "fact", day=day, replies=(reply,))
        return Changed(mending, "not_shown", day=day)

    def together(self, changes: Sequence[Changed]) -> tuple[date | None, Standing | None]:
        """The standing with all that was tried, on the first day on which all of it can hold."""
        tried = [each for each in changes if each.shown_by != "not_shown"]
        if not tried:
            return None, None
        replies = {(r.element, r.subject): r for each in tried for r in each.replies}
        day = max([self._assessment.as_of, *(each.day for each in tried if each.day is not None)])
        found = self._assess(tuple(replies.values()), day)
        return day, found.standing

    def _assess(self, replies: Replies, day: date) -> Assessment:
        case = self._assessment.case
        changed = replace(case, facts=self._supposing.facts(replies)) if replies else case
        if day == self._assessment.as_of:
            return self._assessment.again(changed)
        return assess(changed, self._assessment.rule_set, day, "direct")

    def _passes(self, result: CriterionResult, replies: Replies) -> bool:
        """Whether the criterion passes in the changed case, and the change contradicts nothing."""
        found = self._assess(replies, self._assessment.as_of)
        told = {(f.element, f.subject) for f in self._assessment.conflicts}
        if not {(f.element, f.subject) for f in found.conflicts} <= told:
            return False
        return _outcome(found, result) == "pass"

    def _passes_on(self, result: CriterionResult, day: date) -> bool:
        return _outcome(self._assess((), day), result) == "pass"

    # --- amounts

    def _measured(self, result: CriterionResult) -> Iterator[str]:
        for leaf in _failing(result.evaluation.trace):
            if leaf.fact is None or leaf.element not in MEASURED:
                continue
            through = _THROUGH.get(leaf.element)
            if through is not None and self._known(through) is not None:
                yield through
            yield leaf.element

    def _known(self, element: str) -> Span | None:
        value = self._assessment.view.fact(element, "patient").value
        return value if isinstance(value, Span) else None

    def _amount(self, result: CriterionResult, mending: Mending, name: str) -> Changed | None:
        """The value nearest to the present one with which the criterion passes, in the steps in which it is told."""
        now, element, step = self._known(name), catalogue()[name], MEASURED[name]
        if now is None or element.possible is None:
            return None
        for down in (True, False):
            end = element.possible.low if down else element.possible.high
            # a step at or before the present value, where it fails still
            start = ceil(now.low / step - _SLIP) if down else floor(now.high / step + _SLIP)
            last = ceil(float(end) / step) if down and end is not None else floor(float(end or 0) / step)
            if not 0 < abs(start - last) <= _MOST_STEPS:
                continue
            found = self._first(result, element, start, last)
            if found is None:
                continue
            value = round(found * step, 6)
            reply = Reply(name, "patient", point(value))
            back = Reply(name, "patient", point(round((found + (1 if down else -1)) * step, 6)))
            if self._passes(result, (reply,)) and not self._passes(result, (back,)):
                return Changed(mending, "fact", name, now, value, down, mending.earliest, (reply,))
        return None

    def _first(self, result: CriterionResult, element: Element, start: int, last: int) -> int | None:
        """The step nearest to ``start`` at which the criterion passes, found by halving."""
        step, toward = MEASURED[element.name], 1 if last > start else -1
        criterion = self._supposing.reads.by_id[result.id]

        def passes(number: int) -> bool:
            reply = Reply(element.name, "patient", point(round(number * step, 6)))
            return self._supposing.outcome(criterion, result.subject, (reply,)) == "pass"

        # doubling first, since the other end of the possible range may fail for another reason
        most = abs(last - start)
        fails, reach = start, 1
        while not passes(start + toward * min(reach, most)):
            if reach >= most:
                return None
            fails, reach = start + toward * reach, reach * 2
        good = start + toward * min(reach, most)
        while abs(good - fails) > 1:
            middle = (good + fails) // 2
            if passes(middle):
                good = middle
            else:
                fails = middle
        return good

    # --- acts

    def _otherwise(self, result: CriterionResult) -> Iterator[Reply]:
        """Every other answer to each single fact that a failing criterion rests on."""
        shelf = catalogue()
        traces = [result.evaluation.trace, result.evaluation.applies_trace]
        for leaf in [leaf for trace in traces if trace is not None for leaf in _failing(trace)]:
            if leaf.fact is None or leaf.element not in shelf:
                continue
            for fact in (leaf.fact, *leaf.fact.derived_from):
                element = shelf[fact.element]
                if not element.statable:
                    continue
                made, _ = self._answers.possible(element, fact.subject, None)
                yield from (answer.reply for answer in made)


def _outcome(found: Assessment, result: CriterionResult) -> str:
    return next(
        (r.outcome for r in found.results if (r.id, r.subject) == (result.id, result.subject)), "undetermined"
    )


def _failing(trace: Trace) -> Iterator[Trace]:
    """The tests of single facts in what was read."""
    if trace.kind in ("test", "elapsed"):
        yield trace
    for part in trace.parts:
        yield from _failing(part)
