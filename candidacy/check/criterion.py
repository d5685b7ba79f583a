"""Static checks of one criterion: elements, operators, units, parameters, citations, status."""

from collections.abc import Iterator, Mapping

from candidacy.case.catalogue import LISTS, Element, catalogue
from candidacy.check.findings import Findings
from candidacy.errors import Code
from candidacy.evaluate import possible_operators
from candidacy.rules.conditions import CODED, NUMERIC, Condition, ParameterRef, operands_of, parameters_of
from candidacy.rules.schema import Citation, Criterion, Parameter, Source

_CALENDAR = ("day", "week", "month", "year")
Path = tuple[str | int, ...]


def check_criterion(criterion: Criterion, sources: Mapping[str, Source], findings: Findings) -> None:
    """Add everything wrong with a criterion to the findings."""
    used: set[str] = set()
    for start, condition in (("when", criterion.when), ("applies_when", criterion.applies_when)):
        if condition is not None:
            _check_condition(condition, (start,), criterion.subject, criterion, findings)
            used |= set(parameters_of(condition))
    if criterion.recency is not None:
        used.add(criterion.recency.max_age.parameter)
        _check_recency(criterion, findings)
    for name, parameter in criterion.parameters.items():
        place: Path = ("parameters", name)
        if name not in used:
            findings.add(place, Code.UNUSED_PARAMETER, "this parameter is never used", found=name)
        _check_parameter(parameter, place, findings)
    _check_citations(criterion, sources, findings)
    _check_status(criterion, findings)
    if criterion.changes[-1].version != criterion.version:
        findings.add(("changes",), Code.BAD_VERSION, "the last change is not of this version",
                     found=criterion.changes[-1].version, expected=criterion.version)  # fmt: skip


def _check_condition(
    condition: Condition, place: Path, scope: str, criterion: Criterion, findings: Findings
) -> None:
    for operand in operands_of(condition):
        _check_operand(operand, condition, place, criterion, findings)
    if condition.element is not None:
        _check_test(condition, place, scope, criterion, findings)
    if condition.elapsed is not None:
        _check_elapsed(condition, place, scope, criterion, findings)
    for path, part, inner_scope in _inside(condition, scope):
        _check_condition(part, (*place, *path), inner_scope, criterion, findings)


def _inside(condition: Condition, scope: str) -> Iterator[tuple[Path, Condition, str]]:
    for head in ("all", "any", "none"):
        for number, part in enumerate(getattr(condition, head) or ()):
            yield (head, number), part, scope
    if condition.not_ is not None:
        yield ("not",), condition.not_, scope
    if condition.at_least_of is not None:
        for number, part in enumerate(condition.at_least_of.conditions):
            yield ("at_least_of", "conditions", number), part, scope
    for head in ("any_disc", "every_disc", "count_discs"):
        over = getattr(condition, head)
        if over is not None:
            yield (head, "that"), over.that, "disc"
            if getattr(over, "where", None) is not None:
                yield (head, "where"), over.where, "disc"
    for head in ("any_entry", "every_entry", "count_entries"):
        over = getattr(condition, head)
        if over is not None:
            yield (head, "that"), over.that, LISTS[over.of]


def _check_operand(
    operand: object, condition: Condition, place: Path, criterion: Criterion, findings: Findings
) -> None:
    if isinstance(operand, ParameterRef):
        if operand.parameter not in criterion.parameters:
            findings.add(place, Code.UNKNOWN_PARAMETER, "no such parameter", found=operand.parameter,
                         expected=", ".join(criterion.parameters) or "declare it under parameters")  # fmt: skip
        return
    values = operand if isinstance(operand, tuple) else (operand,)
    if any(isinstance(v, int | float) and not isinstance(v, bool) for v in values):
        findings.add(place, Code.UNCITED, "a number in a condition has no source", found=operand,
                     expected="a parameter", next_step="declare a parameter with its citation")  # fmt: skip


def _check_test(
    condition: Condition, place: Path, scope: str, criterion: Criterion, findings: Findings
) -> None:
    name, op = condition.element or "", condition.op or ""
    shelf = catalogue()
    element = shelf.get(name)
    if element is None:
        close = shelf.nearest(name)
        findings.add((*place, "element"), Code.UNKNOWN_ELEMENT, "not a data element", found=name,
                     expected=f"closest is {close}" if close else "candidacy elements lists them")  # fmt: skip
        return
    if element.scope not in ("patient", scope):
        findings.add((*place, "element"), Code.BAD_RULE, f"an element of {element.scope} read where the subject is {scope}",
                     found=name, next_step="use any_disc, count_discs, any_entry or count_entries")  # fmt: skip
    if name == "disc_standing" and criterion.subject == "disc":
        findings.add(
            (*place, "element"), Code.CYCLE, "a disc criterion reads the standing it helps to decide"
        )
    if op not in possible_operators(element):
        findings.add((*place, "op"), Code.BAD_RULE, f"this operator does not fit {element.kind} {name}", found=op,
                     expected=", ".join(sorted(possible_operators(element))))  # fmt: skip
        return
    for operand in operands_of(condition):
        _check_against_element(operand, element, op, place, criterion, findings)
    _check_order(condition, element, place, criterion, findings)


def _check_against_element(
    operand: object, element: Element, op: str, place: Path, criterion: Criterion, findings: Findings
) -> None:
    value, unit, where = operand, None, place
    if isinstance(operand, ParameterRef):
        parameter = criterion.parameters.get(operand.parameter)
        if parameter is None:
            return
        value, unit, where = parameter.value, parameter.unit, ("parameters", operand.parameter)
        if op in NUMERIC | CODED and (unit or None) != (element.unit or None):
            findings.add(where, Code.UNIT_CONFUSED, "the unit differs from the element's", found=unit or "none",
                         expected=element.unit or "none")  # fmt: skip
    for item in value if isinstance(value, tuple) else (value,):
        wrong = _misfit(item, element)
        if wrong:
            findings.add(where, Code.UNREACHABLE, wrong, found=item, expected=_allowed(element))


def _misfit(value: object, element: Element) -> str:
    if element.kind in ("number", "integer"):
        if isinstance(value, bool) or not isinstance(value, int | float):
            return "not a number, as the element is"
        possible = element.possible
        if possible and (
            (possible.low is not None and value < possible.low)
            or (possible.high is not None and value > possible.high)
        ):
            return "outside the possible range of the element, so this side can never be reached"
    elif element.kind == "boolean":
        return "" if isinstance(value, bool) else "not true or false, as the element is"
    elif element.kind in ("choice", "members") and value not in element.codes:
        return "not a code of the element"
    return ""


def _allowed(element: Element) -> str:
    if element.codes:
        return ", ".join(element.codes)
    if element.possible:
        return f"{element.possible.low} to {element.possible.high}"
    return element.kind


def _check_order(
    condition: Condition, element: Element, place: Path, criterion: Criterion, findings: Findings
) -> None:
    if condition.op != "between":
        return
    low, high = (_resolved(o, criterion) for o in (condition.low, condition.high))
    codes = element.codes
    if element.kind == "choice" and low in codes and high in codes:
        low, high = codes.index(str(low)), codes.index(str(high))
    if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
        findings.add(
            place, Code.UNREACHABLE, "the lower limit is above the upper one", found=f"{low} > {high}"
        )


def _resolved(operand: object, criterion: Criterion) -> object:
    if isinstance(operand, ParameterRef) and operand.parameter in criterion.parameters:
        return criterion.parameters[operand.parameter].value
    return operand


def _check_elapsed(
    condition: Condition, place: Path, scope: str, criterion: Criterion, findings: Findings
) -> None:
    over = condition.elapsed
    assert over is not None
    for name in (over.since, over.until):
        element = catalogue().get(name)
        if name != "as_of" and (
            element is None or element.kind != "date" or element.scope not in ("patient", scope)
        ):
            findings.add(
                (*place, "elapsed"), Code.UNKNOWN_ELEMENT, "not a date element of this subject", found=name
            )
    for operand in operands_of(condition):
        parameter = criterion.parameters.get(operand.parameter) if isinstance(operand, ParameterRef) else None
        if parameter is not None and parameter.unit != over.unit:
            findings.add((*place, "elapsed"), Code.UNIT_CONFUSED, "the unit of the parameter differs",
                         found=parameter.unit or "none", expected=over.unit)  # fmt: skip


def _check_recency(criterion: Criterion, findings: Findings) -> None:
    recency = criterion.recency
    assert recency is not None
    parameter = criterion.parameters.get(recency.max_age.parameter)
    place: Path = ("recency",)
    if parameter is None:
        findings.add(place, Code.UNKNOWN_PARAMETER, "no such parameter", found=recency.max_age.parameter)
    elif (
        parameter.unit not in _CALENDAR
        or not isinstance(parameter.value, int)
        or isinstance(parameter.value, bool)
    ):
        findings.add(("parameters", recency.max_age.parameter), Code.UNIT_CONFUSED, "an age needs a whole number of a calendar unit",
                     found=f"{parameter.value} {parameter.unit}", expected=", ".join(_CALENDAR))  # fmt: skip
    for name in recency.elements:
        if name not in _read_by(criterion):
            findings.add(
                place, Code.BAD_RULE, "recency names an element that the criterion does not read", found=name
            )
    dated_by = catalogue().get(recency.dated_by) if recency.dated_by else None
    if recency.dated_by is not None and (
        dated_by is None or dated_by.kind != "date" or dated_by.scope != "patient"
    ):
        findings.add(
            place,
            Code.UNKNOWN_ELEMENT,
            "dated_by must be a date element of the patient",
            found=recency.dated_by,
        )


def _read_by(criterion: Criterion) -> set[str]:
    from candidacy.rules.conditions import elements_of

    names = set(elements_of(criterion.when))
    return names | (set(elements_of(criterion.applies_when)) if criterion.applies_when else set())


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
    if criterion.status != "reviewed":
        return
    seen_use = any(c.supports == "use" and c.tag == "seen" for c in criterion.cites)
    unseen = [
        name
        for name, parameter in criterion.parameters.items()
        if not any(c.supports == "value" and c.tag == "seen" for c in parameter.cites)
    ]
    if not seen_use or unseen:
        findings.add(("status",), Code.STATUS_TOO_HIGH, "reviewed needs a seen source for its use and every number",
                     found=", ".join(unseen) or "the use is not covered", expected="draft, or seen sources")  # fmt: skip
