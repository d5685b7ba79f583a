"""Static checks of one criterion: whether it fits the catalogue, its parameters, citations and status."""

from collections.abc import Iterator, Mapping

from candidacy.check.outlook import check_outlook
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Citation, Parameter, Source
from candidacy.rules.conditions import (
    Condition,
    ParameterRef,
    elements_of,
    operands_of,
    parameters_of,
    walk,
)
from candidacy.rules.criterion import Criterion
from candidacy.rules.findings import Findings
from candidacy.rules.fit import Path, inside, misfits
from candidacy.rules.resolved import as_declared


def check_criterion(criterion: Criterion, sources: Mapping[str, Source], findings: Findings) -> None:
    """Add everything wrong with a criterion to the findings."""
    for misfit in misfits(as_declared(criterion)):
        findings.add_misfit(misfit)
    used: set[str] = set()
    for start, condition in (("when", criterion.when), ("applies_when", criterion.applies_when)):
        if condition is not None:
            _check_literals(condition, (start,), criterion.subject, findings)
            if criterion.group not in _PRESENCE_GROUPS:
                _check_presence(criterion, condition, (start,), criterion.subject, findings)
            used |= set(parameters_of(condition))
    if criterion.recency is not None:
        used.add(criterion.recency.max_age.parameter)
    for name, parameter in criterion.parameters.items():
        place: Path = ("parameters", name)
        if name not in used:
            findings.add(place, Code.UNUSED_PARAMETER, "this parameter is never used", found=name)
        _check_parameter(parameter, place, findings)
    _check_citations(criterion, sources, findings)
    check_outlook(criterion, sources, findings)
    _check_status(criterion, findings)
    if criterion.changes[-1].version != criterion.version:
        findings.add(("changes",), Code.BAD_VERSION, "the last change is not of this version",
                     found=criterion.changes[-1].version, expected=criterion.version)  # fmt: skip


# Only these groups ask whether something is stated at all.
_PRESENCE_GROUPS = ("report", "documentation")


def _optional(criterion: Criterion) -> frozenset[str]:
    """Elements that ``applies_when`` asks to be recorded, alone or several of them, and that are tested by value too.

    An optional measurement counts only if recorded: without it the criterion does not apply, and says so, where it would
    otherwise leave open every case in which nobody had a reason to measure.
    """
    applies = criterion.applies_when
    if applies is None:
        return frozenset()
    asked = {c.element for c in (applies, *(applies.any or ()), *(applies.all or ())) if c.op == "known"}
    conditions = (*walk(criterion.when), *walk(applies))
    valued = {c.element for c in conditions if c.element is not None and c.op != "known"}
    return frozenset(name for name in asked & valued if name is not None)


def _check_presence(
    criterion: Criterion,
    condition: Condition,
    place: Path,
    scope: str,
    findings: Findings,
    beside: tuple[str, ...] = (),
) -> None:
    """Elsewhere a test of presence would turn "not recorded" into pass, and a later fact would unsettle it.

    It may stand in ``applies_when``, for an optional element, and in an exclusion beside a test of the value of that
    element, both of which must hold ("recorded, and too high"); in an inclusion, or denied, what is not recorded would
    fail. ``beside`` are the elements whose value is tested in the same ``all``.
    """
    optional = _optional(criterion)
    asks = place[0] == "applies_when" and place[1::2] in ((), ("any",), ("all",))
    guards = (
        criterion.kind == "exclusion" and not {"not", "none"} & set(place) and condition.element in beside
    )
    allowed = condition.element in optional and (asks or guards)
    if (condition.op == "known" or condition.complete_list is not None) and not allowed:
        findings.add(
            place,
            Code.BAD_RULE,
            "a test of presence outside report and documentation would turn what is not recorded into a pass",
            found=condition.element or condition.complete_list or "",
            expected="a test of the value, which stays unknown while it is not recorded; or applies_when it is known, "
            "for an optional measurement",
            next_step="let a summary cover its signs (covers, in the catalogue) or make two criteria",
        )
    valued = tuple(name for part in condition.all or () if part.op != "known" for name in elements_of(part))
    for path, part, inner in inside(condition, scope):
        _check_presence(criterion, part, (*place, *path), inner, findings, valued)


def _check_literals(condition: Condition, place: Path, scope: str, findings: Findings) -> None:
    """A number in a condition has no source; it belongs into a parameter, which cites."""
    for operand in operands_of(condition):
        values = operand if isinstance(operand, tuple) else (operand,)
        if not isinstance(operand, ParameterRef) and any(type(value) in (int, float) for value in values):
            findings.add(place, Code.UNCITED, "a number in a condition has no source", found=operand,
                         expected="a parameter", next_step="declare a parameter with its citation")  # fmt: skip
    for path, part, inner in inside(condition, scope):
        _check_literals(part, (*place, *path), inner, findings)


def _check_parameter(parameter: Parameter, place: Path, findings: Findings) -> None:
    values = [cite for cite in parameter.cites if cite.supports == "value"]
    if not values:
        findings.add(place, Code.UNCITED, "no citation supports the value of this parameter",
                     expected="a citation with supports: value")  # fmt: skip
    elif all(cite.tag == "memory, low" for cite in values):
        findings.add(place, Code.UNCITED, "a doubtful recollection may not be a default", found="memory, low",
                     expected="another default, this one as an alternative")  # fmt: skip
    bounds = parameter.allowed
    if bounds is not None and isinstance(parameter.value, int | float):
        low, high = bounds.low, bounds.high
        if (low is not None and parameter.value < low) or (high is not None and parameter.value > high):
            findings.add(
                place, Code.UNREACHABLE, "the default lies outside its own bounds", found=parameter.value
            )


def cited(criterion: Criterion) -> Iterator[tuple[Path, Citation]]:
    """Every citation of a criterion with its place."""
    for number, cite in enumerate(criterion.cites):
        yield ("cites", number), cite
    for name, parameter in criterion.parameters.items():
        for number, cite in enumerate(parameter.cites):
            yield ("parameters", name, "cites", number), cite
        for place, alternative in enumerate(parameter.alternatives):
            for number, cite in enumerate(alternative.cites):
                yield ("parameters", name, "alternatives", place, "cites", number), cite


def _check_citations(criterion: Criterion, sources: Mapping[str, Source], findings: Findings) -> None:
    for place, cite in cited(criterion):
        if cite.source not in sources:
            findings.add((*place, "source"), Code.UNKNOWN_SOURCE, "not in sources.yaml", found=cite.source)
    if not any(cite.supports == "use" for cite in criterion.cites):
        findings.add(("cites",), Code.UNCITED, "no citation supports the use of this criterion",
                     expected="a citation with supports: use")  # fmt: skip


def _check_status(criterion: Criterion, findings: Findings) -> None:
    if criterion.status != "source_checked":
        return
    seen_use = any(c.supports == "use" and c.tag == "seen" for c in criterion.cites)
    unseen = [
        name
        for name, parameter in criterion.parameters.items()
        if not any(c.supports == "value" and c.tag == "seen" for c in parameter.cites)
    ]
    if not seen_use or unseen:
        findings.add(("status",), Code.STATUS_TOO_HIGH, "source_checked needs a seen source for its use and every number",
                     found=", ".join(unseen) or "the use is not covered", expected="draft, or seen sources")  # fmt: skip
