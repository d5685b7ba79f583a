"""How far a number of a rule set may go with no outcome of one case changing.

An outcome can change only where a parameter passes a value that the case holds against it: a number, a count, a length of time, an
age. So the outcomes are read at each of these, between them, and at the ends of the parameter's range; nothing is searched.
"""

from collections.abc import Iterator
from datetime import date
from math import ceil, floor

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.evaluate import CompiledCriterion, Trace
from candidacy.assessment.view import View
from candidacy.case.load import Case
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import MEAN_DAYS
from candidacy.foundation.values import Options, Span
from candidacy.prove.document import RangeInfo
from candidacy.rules.resolved import ResolvedCriterion, RuleSet

_Outcomes = tuple[tuple[str, str], ...]


def ranges(rule_set: RuleSet, case: Case, as_of: date) -> Iterator[RangeInfo]:
    """For each parameter that is a number, the range around its value in which no outcome of a case changes."""
    assessor = assessor_for(rule_set, "direct")
    view = assessor.view(case, as_of)
    found = assessor.assess(case, as_of)
    view.settle_discs({disc.level: Options(frozenset((disc.decision.standing,))) for disc in found.discs})
    for item in rule_set.criteria:
        for name, parameter in item.parameters.items():
            if isinstance(parameter.value, int | float) and not isinstance(parameter.value, bool):
                yield _range(item, name, view)


def _range(item: ResolvedCriterion, name: str, view: View) -> RangeInfo:
    parameter = item.parameters[name]
    assert isinstance(parameter.value, int | float)
    value = float(parameter.value)
    bounds = parameter.declared.allowed
    least = bounds.low if bounds is not None else None
    most = bounds.high if bounds is not None else None
    whole = isinstance(parameter.value, int)
    points = [
        p
        for p in _points(item, name, view, whole)
        if (least is None or p >= least) and (most is None or p <= most)
    ]
    here = _outcomes(item, name, value, view)
    low, low_in, below = _edge(item, name, view, here, [p for p in points if p < value][::-1], value, least)
    high, high_in, above = _edge(item, name, view, here, [p for p in points if p > value], value, most)
    return RangeInfo(
        criterion=item.id, parameter=name, value=value, unit=parameter.unit, low=low, high=high, low_included=low_in,
        high_included=high_in, changes_below=below, changes_above=above,
    )  # fmt: skip


def _edge(
    item: ResolvedCriterion,
    name: str,
    view: View,
    here: _Outcomes,
    points: list[float],
    value: float,
    end: float | None,
) -> tuple[float | None, bool, str | None]:
    """The last value in one direction with which nothing changes, whether it belongs to the range, and what changes beyond."""
    last = value
    for place in (*points, *([end] if end is not None and end not in points and end != value else [])):
        between = (last + place) / 2
        if between not in (last, place) and _outcomes(item, name, between, view) != here:
            return last, True, _told(here, _outcomes(item, name, between, view))
        if _outcomes(item, name, place, view) != here:
            return place, False, _told(here, _outcomes(item, name, place, view))
        last = place
    if end is None and points:
        beyond = last + (1 if last > value else -1)
        if _outcomes(item, name, beyond, view) != here:
            return last, True, _told(here, _outcomes(item, name, beyond, view))
    return None, True, None


def _told(here: _Outcomes, there: _Outcomes) -> str:
    changed = [f"{subject} {before} becomes {after}" for (subject, before), (_, after) in zip(here, there, strict=True)
               if before != after]  # fmt: skip
    return ", ".join(changed)


def _outcomes(item: ResolvedCriterion, name: str, value: float, view: View) -> _Outcomes:
    changed = replace(item, parameters={**item.parameters, name: replace(item.parameters[name], value=value)})
    compiled = CompiledCriterion(changed)
    subjects = ("patient",) if compiled.subject == "patient" else view.named_levels()
    return tuple((subject, compiled.read(view, subject).outcome) for subject in subjects)


def _points(item: ResolvedCriterion, name: str, view: View, whole: bool) -> list[float]:
    """Every value that the case holds against a parameter."""
    compiled = CompiledCriterion(item)
    subjects = ("patient",) if compiled.subject == "patient" else view.named_levels()
    recency = item.criterion.recency
    by_age = recency is not None and recency.max_age.parameter == name
    found: set[float] = set()
    for subject in subjects:
        read = compiled.read(view, subject)
        for trace in (
            *_all(read.trace),
            *(_all(read.applies_trace) if read.applies_trace is not None else ()),
        ):
            held = (
                trace.tally
                if trace.tally is not None
                else trace.fact.value
                if trace.fact is not None
                else None
            )
            if name in trace.parameters:
                if isinstance(held, Span) and held.bounded:
                    found |= {held.low, held.high}
                elif trace.parts:  # a count of written conditions
                    found |= {float(number) for number in range(len(trace.parts) + 1)}
            if by_age and trace.age is not None and trace.element in recency.elements:  # type: ignore[union-attr]
                found |= _ages(trace.age, item.parameters[name].unit or "day")
    return sorted(
        {float(end) for point in found for end in ((floor(point), point, ceil(point)) if whole else (point,))}
    )


def _ages(age: Span, unit: str) -> set[float]:
    """Where an age in days may pass a limit in its unit; months are counted on the calendar, so both beside it."""
    days = MEAN_DAYS[unit]
    return {
        float(near + step)
        for end in (age.low, age.high)
        for near in (floor(end / days),)
        for step in (-1, 0, 1, 2)
    }


def _all(trace: Trace) -> Iterator[Trace]:
    yield trace
    for part in trace.parts:
        yield from _all(part)
