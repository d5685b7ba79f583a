"""At which value of one parameter of a rule set an outcome turns, for a case as it is recorded."""

from collections.abc import Iterator
from math import isinf

from msgspec import Struct

from candidacy.assessment.assess import Assessment
from candidacy.assessment.evaluate import CompiledCriterion, Trace
from candidacy.assessment.results import CriterionResult
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import RuleError
from candidacy.foundation.values import Span
from candidacy.rules.resolved import ResolvedParameter
from candidacy.rules.vocabulary import Standing

# Beside a limit that is not included itself, the nearest value that is tried.
_BESIDE = 1e-6
_STEP = 0.1


class Boundary(Struct, frozen=True):
    """One parameter at whose boundary a criterion comes to pass while everything else stays as it is.

    Attributes
    ----------
    value
        The boundary, in the unit of the parameter.
    included
        Whether the criterion passes at the value itself, or only beyond it.
    lower
        Whether the limit has to come down to it, rather than go up.
    allowed
        Whether the parameter may be set there.
    standing
        The standing of the case with it, from an assessment with that value; nothing where it may not be set so.
    """

    criterion: str
    subject: str
    parameter: ResolvedParameter
    value: float
    included: bool
    lower: bool
    allowed: bool
    standing: Standing | None


def boundaries(assessment: Assessment, result: CriterionResult) -> Iterator[Boundary]:
    """The parameters of a failing criterion of which one alone could make it pass, each with its boundary."""
    done: set[str] = set()
    traces = [result.evaluation.trace, result.evaluation.applies_trace]
    for leaf in [leaf for trace in traces if trace is not None for leaf in _leaves(trace)]:
        for name in leaf.parameters:
            parameter = result.resolved.parameters[name]
            number = isinstance(parameter.value, int | float) and not isinstance(parameter.value, bool)
            if name in done or not number:
                continue
            found = _boundary(assessment, result, parameter, leaf)
            if found is not None:
                done.add(name)
                yield found


def _leaves(trace: Trace) -> Iterator[Trace]:
    if trace.parameters:
        yield trace
    for part in trace.parts:
        yield from _leaves(part)


def _boundary(
    assessment: Assessment, result: CriterionResult, parameter: ResolvedParameter, leaf: Trace
) -> Boundary | None:
    """Where the value that was read stands is where the limit would have to be."""
    value = leaf.tally if leaf.tally is not None else leaf.fact.value if leaf.fact is not None else None
    now = float(str(parameter.value))
    if not isinstance(value, Span):
        return None
    ends = sorted((e for e in {value.low, value.high} if not isinf(e)), key=lambda e: abs(e - now))
    # where the value lies on the limit itself, the limit may have to move either way
    for end, lower in [(e, down) for e in ends for down in (True, False) if e == now or down == (e < now)]:
        toward = 1 if lower else -1
        if _passes(assessment, result, parameter, end):
            # at a boundary the outcome turns: a step back towards the limit in use it fails still
            if _passes(assessment, result, parameter, end + toward * _BESIDE):
                continue
            included, tried = True, end
        elif _passes(assessment, result, parameter, end - toward * _BESIDE):
            included = False
            step = 1 if isinstance(parameter.value, int) and parameter.unit != "%" else _STEP
            tried = end - toward * step
            if not _passes(assessment, result, parameter, tried):
                tried = end - toward * _BESIDE
        else:
            continue
        kind = int(tried) if isinstance(parameter.value, int) and float(tried).is_integer() else tried
        try:
            rule_set = assessment.rule_set.with_trial({(result.id, parameter.name): kind})
        except RuleError:
            return Boundary(result.id, result.subject, parameter, end, included, lower, False, None)
        again = assessment.again(rule_set=rule_set)
        outcome = next(r.outcome for r in again.results if (r.id, r.subject) == (result.id, result.subject))
        if outcome != "pass":
            continue
        return Boundary(result.id, result.subject, parameter, end, included, lower, True, again.standing)
    return None


def _passes(
    assessment: Assessment, result: CriterionResult, parameter: ResolvedParameter, value: float
) -> bool:
    """Whether the criterion passes with another value of one parameter."""
    item = result.resolved
    changed = replace(parameter, value=int(value) if float(value).is_integer() else value)
    tried = replace(item, parameters={**item.parameters, parameter.name: changed})
    return CompiledCriterion(tried).read(assessment.view, result.subject).outcome == "pass"
