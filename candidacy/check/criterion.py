"""Static checks of one criterion: whether it fits the catalogue, its parameters, citations and status."""

from collections.abc import Iterator, Mapping

from candidacy.check.outlook import check_outlook
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Citation, Parameter, Source
from candidacy.rules.criterion import Criterion
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.fit import misfits
from candidacy.rules.history import check_history
from candidacy.rules.resolved import ResolvedCriterion, as_declared
from candidacy.rules.tree import (
    AllOf,
    AnyOf,
    Compare,
    Complete,
    Elapsed,
    Node,
    Path,
    asks_presence,
    bare_limits,
    children,
    elements_of,
    parameters_of,
    walk,
)


def check_criterion(criterion: Criterion, sources: Mapping[str, Source], findings: Findings) -> None:
    """Add everything wrong with a criterion to the findings."""
    item = as_declared(criterion)
    for misfit in misfits(item):
        findings.add_misfit(misfit)
    used = set(parameters_of(*item.conditions))
    optional = _optional(item)
    for root in item.conditions:
        for place, bare in bare_limits(root):
            findings.add(place, Code.UNCITED, "a number in a condition has no source", found=bare.value,
                         expected="a parameter", next_step="declare a parameter with its citation")  # fmt: skip
        if criterion.group not in _PRESENCE_GROUPS:
            _check_presence(criterion, root, optional, findings)
    if criterion.recency is not None:
        used.add(criterion.recency.max_age.parameter)
    for name, parameter in criterion.parameters.items():
        place = ("parameters", name)
        if name not in used:
            findings.add(place, Code.UNUSED_PARAMETER, "this parameter is never used", found=name)
        _check_parameter(parameter, place, findings)
    _check_citations(criterion, sources, findings)
    check_outlook(item, sources, findings)
    _check_status(criterion, findings)
    check_history(criterion.changes, criterion.version, findings)


# Only these groups ask whether something is stated at all.
_PRESENCE_GROUPS = ("report", "documentation")


def _optional(item: ResolvedCriterion) -> frozenset[str]:
    """Elements that ``applies_when`` asks to be recorded, alone or several of them, and that are tested by value too.

    An optional measurement counts only if recorded: without it the criterion does not apply, and says so, where it would
    otherwise leave open every case in which nobody had a reason to measure.
    """
    if item.applies_when is None:
        return frozenset()
    several = item.applies_when
    outermost = (several, *(children(several) if isinstance(several, AllOf | AnyOf) else ()))
    asked = {node.element for node in outermost if isinstance(node, Compare) and node.op == "known"}
    tested = set[str]()
    for node in (node for root in item.conditions for node in walk(root)):
        if isinstance(node, Elapsed):
            tested.update(node.dates)
        elif isinstance(node, Compare) and node.op != "known":
            tested.add(node.element)
    return frozenset(asked & tested)


def _check_presence(
    criterion: Criterion,
    node: Node,
    optional: frozenset[str],
    findings: Findings,
    beside: tuple[str, ...] = (),
) -> None:
    """Elsewhere a test of presence would turn "not recorded" into pass, and a later fact would unsettle it.

    It may stand in ``applies_when``, for an optional element, and in an exclusion beside a test of the value of that
    element, both of which must hold ("recorded, and too high"); in an inclusion, or denied, what is not recorded would
    fail. ``beside`` are the elements whose value is tested in the same ``all``.
    """
    place = node.place
    if asks_presence(node):
        name = node.element if isinstance(node, Compare) else node.of if isinstance(node, Complete) else ""
        asks = place[0] == "applies_when" and place[1::2] in ((), ("any",), ("all",))
        guards = criterion.kind == "exclusion" and not {"not", "none"} & set(place) and name in beside
        if not (name in optional and (asks or guards)):
            findings.add(
                place,
                Code.BAD_RULE,
                "a test of presence outside report and documentation would turn what is not recorded into a pass",
                found=name,
                expected="a test of the value, which stays unknown while it is not recorded; or applies_when it is "
                "known, for an optional measurement",
                next_step="let a summary cover its signs (covers, in the catalogue) or make two criteria",
            )
    together = children(node) if isinstance(node, AllOf) else ()
    valued = elements_of(
        *(part for part in together if not (isinstance(part, Compare) and part.op == "known"))
    )
    for part in children(node):
        _check_presence(criterion, part, optional, findings, valued)


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
                (*place, "value"),
                Code.UNREACHABLE,
                "the default lies outside its own bounds",
                found=parameter.value,
                expected=f"{'any' if low is None else low} to {'any' if high is None else high}",
                next_step="another value, or other bounds under allowed",
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
            findings.add_misfit(no_such_source((*place, "source"), cite.source, sources))
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
