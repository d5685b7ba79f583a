"""Whether time or an act can mend what fails or stands open, and from which day: "not yet" told apart from "no".

It reads an assessment and what each criterion declares (`candidacy.rules.criterion.Mendable`); it changes no outcome and no
standing. A date is the earliest day on which the failure may be mended, not a promise: everything else must pass on it
too. Where a date cannot be worked out there is none.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import ceil, floor
from typing import Literal

from msgspec import Struct

from candidacy.assessment.assessed import Assessed
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.missing import open_leaves
from candidacy.assessment.results import CriterionResult, DiscResult
from candidacy.case.catalogue import catalogue
from candidacy.derive.arithmetic import tidy
from candidacy.engine.decision import Decision
from candidacy.foundation import dates
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth, negate
from candidacy.foundation.values import Span, Why
from candidacy.rules.criterion import Earliest, Mendable
from candidacy.rules.vocabulary import Force, Outcome, ShownStanding, Standing

# The date that a person may move; any other date of a record is what it is.
_PLANNED = "planned_procedure_date"
DISC_PASSES = "Passes"
_LONGEST_MONTH = 31
_DIGITS = 6  # a length told in weeks is kept in rounded months
_NO = Mendable(how="no")


How = Literal["time", "act", "discs", "settle", "ask", "no"]


class Mending(Struct, frozen=True):
    """What can be done about one criterion that fails or is open.

    Attributes
    ----------
    how
        ``time``, ``act``, ``discs`` (by what mends the discs it counts), ``settle`` for one that is open because facts
        of the record contradict each other, ``ask`` for any other open one, or ``no``.
    act
        What must have happened, as it reads after the word "after"; of an open one, what to ask for or to settle.
    who
        Who does it; of an open one, who can tell.
    earliest
        The earliest day; ``None`` where no date can be worked out.
    """

    criterion: str
    subject: str
    outcome: Outcome
    force: Force
    how: How
    act: str = ""
    who: str = ""
    earliest: date | None = None


class NotYetResult(Struct, frozen=True):
    """What the case waits for, where everything that makes it ``not_candidate`` or ``borderline`` can be mended.

    ``earliest`` is the latest of the earliest days, or ``None`` where one of them has none.
    """

    earliest: date | None
    after: tuple[Mending, ...]


class Outlook(Struct, frozen=True):
    """Names of the standings as the rule set calls them, and what can be mended.

    Attributes
    ----------
    name, next_step
        Of the case.
    not_yet
        Present where the case is ``not_candidate`` and everything behind that can be mended, or ``borderline`` and a
        day can be given for everything behind it.
    discs
        Name of the standing of each disc; one that passes in a case that does not is not named as the case would be.
    waiting
        The case (``patient``) and the discs that bear the name of the rule set for "not yet".
    mendings
        For each criterion and subject that fails or is open.
    """

    name: str
    next_step: str
    not_yet: NotYetResult | None
    discs: Mapping[str, str]
    waiting: frozenset[str]
    mendings: Mapping[tuple[str, str], Mending]

    def shown(self, subject: str, standing: Standing) -> ShownStanding:
        """How the standing of the case or of a disc is marked: "not yet" never as the refusal it is not."""
        return "not_yet" if subject in self.waiting else standing


def outlook(assessment: Assessed) -> Outlook:
    """What can be mended of an assessment, and how its rule set names the standings."""
    return _Reader(assessment).outlook()


class _Reader:
    def __init__(self, assessment: Assessed) -> None:
        self._assessment = assessment
        self._today = assessment.as_of
        self._order = assessment.rule_set.decisions
        self._view = assessment.view
        self._mendings: dict[tuple[str, str], Mending] = {}
        self._behind: dict[tuple[str, str], tuple[Mending, ...]] = {}
        self._outcomes = {(r.id, r.subject) for r in assessment.results}
        results = [r for r in assessment.results if r.outcome != "pass"]
        # criteria that count discs rest on what those discs can mend, so they come last
        for result in sorted(results, key=lambda r: _mendable(r).how == "discs"):
            self._mendings[result.id, result.subject] = self._mending(result)

    def outlook(self) -> Outlook:
        assessment, order = self._assessment, self._order
        rule = next(r for r in order.rules if r.id == assessment.decision.rule)
        not_yet = self._not_yet(assessment.decision, "patient", assessment.discs)
        name, step = order.name_of(rule.standing), rule.next_step
        # nothing of a case that does not stand may be called clear, so a disc without fault only passes
        names = {
            d.level: DISC_PASSES
            if d.decision.standing == "candidate" and rule.standing != "candidate"
            else order.name_of(d.decision.standing)
            for d in assessment.discs
        }
        waiting: set[str] = set()
        if order.not_yet is not None:
            waiting = {d.level for d in assessment.discs if self._not_yet(d.decision, d.level) is not None}
            names |= dict.fromkeys(waiting, order.not_yet.name)
            if not_yet is not None:
                waiting.add("patient")
                name = order.not_yet.name
                step = order.not_yet.next_step + (f" {step}" if rule.standing == "borderline" else "")
        return Outlook(name, step, not_yet, names, frozenset(waiting), self._mendings)

    def _not_yet(
        self, decision: Decision, subject: str, discs: Sequence[DiscResult] = ()
    ) -> NotYetResult | None:
        """What a standing waits for; nothing where one of its grounds cannot be mended.

        A borderline one waits only where every ground comes with a day; else it is to be discussed.
        """
        standing = decision.standing
        if standing not in ("not_candidate", "borderline"):
            return None
        given = {rule.id for rule in self._order.rules if rule.standing == standing}
        because = dict.fromkeys(
            name for fired in decision.fired if fired.rule in given for name in fired.because
        )
        levels = {disc.level: disc for disc in discs}
        grounds: list[Mending] = []
        for name in because:
            found = self._mendings.get((name, subject))
            below = self._not_yet(levels[name].decision, name) if name in levels else None
            if found is not None and found.how != "no":
                grounds.append(found)
            elif below is not None:
                grounds += below.after
            else:
                return None
        day = _latest([m.earliest for m in grounds])
        if not grounds or (standing == "borderline" and day is None):
            return None
        after = [part for m in grounds for part in self._behind.get((m.criterion, m.subject), (m,))]
        return NotYetResult(day, tuple(dict.fromkeys(after)))

    def _mending(self, result: CriterionResult) -> Mending:
        base = Mending(result.id, result.subject, result.outcome, result.resolved.force, "no")
        mendable = _mendable(result)
        if mendable.how == "discs":
            return self._through_discs(result, base)
        if result.outcome == "undetermined":
            day = self._day(result, mendable.earliest) if mendable.how == "time" else None
            return replace(_asked(result, base), earliest=day)
        if mendable.how == "no":
            return base
        day = self._day(result, mendable.earliest)
        return replace(base, how=mendable.how, act=mendable.act, who=mendable.who or "", earliest=day)

    def _through_discs(self, result: CriterionResult, base: Mending) -> Mending:
        """By what mends enough of the considered discs; too many suitable discs are nothing that is mended."""
        if result.outcome == "undetermined":
            return _asked(result, base)
        trace = result.evaluation.trace
        if (
            trace.tally is not None
            and trace.op in ("between", "at_most")
            and trace.tally.low > trace.limits[-1]
        ):
            return base
        wanted = (
            ("stop", "absolute") if base.force in ("stop", "absolute") else ("stop", "absolute", "relative")
        )
        ways: list[tuple[date | None, tuple[Mending, ...]]] = []
        discs = [d for d in self._assessment.discs if d.considered is not Truth.NOT_MET]
        if trace.kind == "every_disc":
            holding_up = {part.subject for part in trace.parts if part.truth is not Truth.MET}
            discs = [d for d in discs if d.level in holding_up]
        for disc in discs:
            kept = [m for (_, of), m in self._mendings.items() if of == disc.level and m.force in wanted]
            failing = tuple(m for m in kept if m.outcome == "fail")
            if not self._held_by_record(disc) and all(m.how != "no" for m in failing):
                ways.append((_latest([self._today, *(m.earliest for m in failing)]), failing))
        ways.sort(key=lambda way: (way[0] is None, way[0] or date.max, len(way[1])))
        number = int(trace.limits[0]) if trace.kind == "count_discs" else len(discs)
        if not ways or len(ways) < number:
            return base
        chosen = ways[:number]
        self._behind[result.id, result.subject] = tuple(m for _, failing in chosen for m in failing)
        return replace(base, how="discs", earliest=_latest([day for day, _ in chosen]))

    def _held_by_record(self, disc: DiscResult) -> bool:
        """Whether a conflict or an unread danger keeps the disc from passing, which mending a criterion does not settle."""
        order = {rule.id: rule.standing for rule in self._order.rules}
        return any(
            (name, disc.level) not in self._outcomes
            for fired in disc.decision.fired
            if order[fired.rule] != "candidate"
            for name in fired.because
        )

    def _day(self, result: CriterionResult, earliest: Earliest | None) -> date | None:
        if earliest is None:
            return None
        if earliest.today:
            return self._today
        if earliest.wait is not None:
            return dates.add(self._today, earliest.wait.amount, earliest.wait.unit)
        if earliest.day_of is not None:
            value = self._view.fact(earliest.day_of, "patient").value
            return _on_or_after(self._today, value.high) if isinstance(value, Span) else None
        wanted = Truth.MET if result.resolved.criterion.kind == "inclusion" else Truth.NOT_MET
        day = self._comes(result.evaluation.trace, wanted, earliest)
        return None if day is None else max(day, self._today)

    def _comes(self, trace: Trace, wanted: Truth, by: Earliest) -> date | None:
        """The day on which a condition is as wanted if nothing happens but that time passes."""
        if trace.truth is wanted:
            return self._today
        if trace.kind == "test":
            return self._test_comes(trace, wanted, by)
        if trace.kind == "elapsed":
            return _elapsed_comes(trace, wanted) if by.elapsed else None
        if (
            trace.kind not in _ONE_OF
            and trace.kind not in _EACH_OF
            and trace.kind not in ("not", "at_least_of")
        ):
            return None
        turned = trace.kind in ("not", "none")
        days = sorted(
            day
            for part in trace.parts
            if (day := self._comes(part, negate(wanted) if turned else wanted, by)) is not None
        )
        needed = _needed(trace, wanted)
        return days[needed - 1] if 1 <= needed <= len(days) else None

    def _test_comes(self, trace: Trace, wanted: Truth, by: Earliest) -> date | None:
        if trace.element in by.turns and wanted is Truth.MET:
            value = self._view.fact(by.turns[trace.element], trace.subject).value
            return date.fromordinal(int(value.high)) if isinstance(value, Span) else None
        if trace.element in by.grows and (trace.op, wanted) in _GROWING and trace.why is not Why.OUT_OF_DATE:
            return self._grown(trace)
        return None

    def _grown(self, trace: Trace) -> date | None:
        """When a length of time reaches its limit, counted from the day it was true, if it goes on."""
        fact = trace.fact
        if fact is None or not isinstance(fact.value, Span):
            return None
        since = fact.provenance.day
        start = self._today if since is None else date.fromordinal(int(since.high))
        left = tidy(float(trace.limits[0]) - fact.value.low) * (12 if trace.unit == "year" else 1)
        try:
            if trace.unit in ("month", "year"):
                # days of a broken month are counted as in the longest, so that the day is never too early
                whole = floor(left)
                day = dates.add(start, whole, "month") + timedelta(
                    ceil(round((left - whole) * _LONGEST_MONTH, _DIGITS))
                )
            elif trace.unit in ("day", "week"):
                day = start + timedelta(ceil(tidy(left * (7 if trace.unit == "week" else 1))))
            else:
                return None
            return day + timedelta(1) if trace.op in ("more_than", "at_most") else day
        except (OverflowError, ValueError):
            return None


_ONE_OF = ("any", "any_disc", "any_entry")
_EACH_OF = ("all", "none", "every_disc", "every_entry")
_GROWING = {
    ("at_least", Truth.MET), ("more_than", Truth.MET), ("less_than", Truth.NOT_MET), ("at_most", Truth.NOT_MET),
}  # fmt: skip


def _needed(trace: Trace, wanted: Truth) -> int:
    """How many parts must come out as wanted."""
    parts, met = len(trace.parts), wanted is Truth.MET
    if trace.kind == "at_least_of":
        return int(trace.limits[0]) if met else parts - int(trace.limits[0]) + 1
    if trace.kind == "not":
        return 1
    return parts if (trace.kind in _EACH_OF) is met else 1


def _elapsed_comes(trace: Trace, wanted: Truth) -> date | None:
    """When a test of elapsed time turns; nothing where it ends on a date that nobody can move."""
    until = trace.parts[1].element if len(trace.parts) > 1 else _PLANNED
    since = trace.fact.value if trace.fact is not None else None
    if until != _PLANNED or not isinstance(since, Span):
        return None
    met, limits = wanted is Truth.MET, trace.limits
    if (met and trace.op == "at_least") or (not met and trace.op == "less_than"):
        limit, further = float(limits[0]), False
    elif (met and trace.op == "more_than") or (not met and trace.op == "at_most"):
        limit, further = float(limits[0]), True
    elif met and trace.op == "between" and (trace.tally is None or trace.tally.low < limits[0]):
        limit, further = float(limits[0]), False
    else:
        return None
    try:
        start = date.fromordinal(int(since.high))
        if trace.unit in ("month", "year"):
            return dates.add(start, ceil(limit), trace.unit)
        days = tidy(limit * (7 if trace.unit == "week" else 1))
        return start + timedelta(floor(days) + 1 if further else ceil(days))
    except (OverflowError, ValueError):
        return None


def _latest(days: Sequence[date | None]) -> date | None:
    """The latest day; nothing where one of them is not known."""
    known = [day for day in days if day is not None]
    return max(known) if known and len(known) == len(days) else None


def _on_or_after(today: date, ordinal: float) -> date | None:
    try:
        day = date.fromordinal(int(ordinal))
    except (OverflowError, ValueError):
        return None
    return day if day >= today else None


def _mendable(result: CriterionResult) -> Mendable:
    return result.resolved.criterion.mendable or _NO


def _asked(result: CriterionResult, base: Mending) -> Mending:
    """What an open criterion waits for: contradictions are settled first, then what is missing is asked."""
    leaves = _open(result)
    apart = [leaf for leaf in leaves if leaf.why is Why.CONFLICTING]
    if apart:
        return replace(base, how="settle", act="; ".join(dict.fromkeys(map(_contradiction, apart))),
                       who=_teller(apart))  # fmt: skip
    return replace(base, how="ask", act=result.resolved.criterion.ask_for.strip(), who=_teller(leaves))


def _contradiction(leaf: Trace) -> str:
    """What contradicts what, or else the name of the fact of which a source says that sources conflict."""
    if leaf.fact is not None and leaf.fact.note:
        return leaf.fact.note
    element = catalogue().get(leaf.element)
    return element.label if element is not None else leaf.element.replace("_", " ")


def _open(result: CriterionResult) -> list[Trace]:
    """The tests that keep an open criterion open."""
    traces = (result.evaluation.trace, result.evaluation.applies_trace)
    return [leaf for trace in traces if trace is not None for leaf in open_leaves(trace)]


def _teller(leaves: Sequence[Trace]) -> str:
    """Who can tell the first fact that is waited for."""
    for leaf in leaves:
        element = catalogue().get(leaf.element)
        if element is not None and element.supplied_by != "derived":
            return element.supplied_by
    return ""
