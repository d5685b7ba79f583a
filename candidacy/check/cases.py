"""The cases beside a criterion: load them, run them, and see which boundaries they cover."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from candidacy.assessment.evaluate import CompiledCriterion, Evaluation, Trace
from candidacy.assessment.missing import open_leaves
from candidacy.assessment.relate import Relations
from candidacy.assessment.view import View
from candidacy.case.load import case_from_record
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError, Code, Problem, RuleError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options
from candidacy.rules.criterion import Criterion
from candidacy.rules.criterion_cases import CriterionCase, cases_path, load_cases, record_of
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits
from candidacy.rules.library import Library
from candidacy.rules.operators import NUMERIC
from candidacy.rules.resolved import ResolvedCriterion, as_declared, value_problem
from candidacy.rules.rule_set_file import ParameterChange
from candidacy.rules.tree import asks_presence, children, walk


def run_case(library: Library, criterion: Criterion, case: CriterionCase) -> Evaluation:
    """Read a criterion on one of its cases.

    Raises
    ------
    CaseError, RuleError
        If the case states something impossible, or changes a parameter that does not exist.
    """
    subject = case.subject or ("patient" if criterion.subject == "patient" else "L4-L5")
    loaded = case_from_record(record_of(case, subject), case.name)
    view = View(
        loaded.facts, day(case.as_of), _settings(library, case), library.tables(), _relations(library)
    )
    view.settle_discs({level: Options(frozenset((s,))) for level, s in case.disc_standings.items()})
    return CompiledCriterion(_resolve(criterion, case)).read(view, subject)


def _relations(library: Library) -> Relations:
    if library not in _ready:
        _ready[library] = Relations(library.relations())
    return _ready[library]


_ready: WeakKeyDictionary[Library, Relations] = WeakKeyDictionary()


def _settings(library: Library, case: CriterionCase) -> dict[str, Any]:
    declared = library.settings()
    for name, value in case.settings.items():
        if name not in declared:
            raise RuleError([_no_such("setting", name, list(declared))])
        problem = value_problem(declared[name], value, name, case.name)
        if problem is not None:
            raise RuleError([problem])
    return {name: setting.value for name, setting in declared.items()} | case.settings


def _resolve(criterion: Criterion, case: CriterionCase) -> ResolvedCriterion:
    item = as_declared(criterion)
    parameters = dict(item.parameters)
    for name, value in case.parameters.items():
        if name not in parameters:
            raise RuleError([_no_such("parameter", name, list(parameters))])
        declared = parameters[name].declared
        problem = value_problem(declared, value, name, criterion.id)
        if problem is not None:
            raise RuleError([problem])
        change = ParameterChange(value=value, unit=declared.unit, reason="case", cites=declared.cites)
        parameters[name] = replace(parameters[name], value=value, change=change)
    changed = replace(item, parameters=parameters)
    for wrong in misfits(changed):
        raise RuleError([Problem(wrong.code, wrong.message, found=wrong.found, expected=wrong.expected)])
    return changed


def _no_such(what: str, name: str, allowed: list[str]) -> Problem:
    return Problem(Code.UNKNOWN_PARAMETER, f"no such {what}", field=name, expected=", ".join(allowed))


def check_cases(library: Library, criterion: Criterion, path: Path, findings: Findings) -> list[Evaluation]:
    """Run the cases beside a criterion; add what differs and what is not covered.

    Returns
    -------
    list[Reading]
        What was read, for coverage reports.
    """
    file = cases_path(path)
    if not file.is_file():
        findings.add(("id",), Code.NO_CASES, "no cases stand beside this criterion", expected=file.name)
        return []
    try:
        cases, tree = load_cases(file)
    except RuleError as error:
        findings.problems += error.problems
        return []
    beside = Findings(file, tree)
    evaluations: list[Evaluation] = []
    names: set[str] = set()
    for number, case in enumerate(cases):
        place = ("cases", number)
        if case.name in names:
            beside.add((*place, "name"), Code.DUPLICATE_KEY, "two cases have this name", found=case.name)
        names.add(case.name)
        try:
            evaluation = run_case(library, criterion, case)
        except (CaseError, RuleError) as error:
            if (
                (elsewhere := error.problems[0].file)
                and elsewhere.endswith(".yaml")
                and elsewhere != str(file)
            ):
                # a table or relation that the case reads cannot be used: told where it is wrong, and once
                findings.problems += [each for each in error.problems if each not in findings.problems]
                return evaluations
            first = error.problems[0]
            where = (*place, "given", first.field.rpartition(".")[2]) if first.field else place
            beside.add(where, Code.CASE_DIFFERS, f"the case cannot be used: {first.message}", found=first.found,
                       expected=first.expected, next_step=first.next_step)  # fmt: skip
            continue
        evaluations.append(evaluation)
        if evaluation.outcome != case.expect:
            beside.add((*place, "expect"), Code.CASE_DIFFERS, f"differs: {case.name}", found=evaluation.outcome,
                       expected=case.expect)  # fmt: skip
        elif case.why:
            reasons = {leaf.why.value for leaf in _open(evaluation) if leaf.why}
            if case.why not in reasons:
                beside.add((*place, "why"), Code.CASE_DIFFERS, f"another reason: {case.name}",
                           found=", ".join(sorted(reasons)) or "none", expected=case.why)  # fmt: skip
    _check_coverage(criterion, evaluations, beside)
    findings.problems += beside.problems
    return evaluations


def _open(evaluation: Evaluation) -> Iterator[Trace]:
    yield from open_leaves(evaluation.trace)
    if evaluation.applies_trace is not None:
        yield from open_leaves(evaluation.applies_trace)


def _check_coverage(criterion: Criterion, evaluations: list[Evaluation], beside: Findings) -> None:
    outcomes = {evaluation.outcome for evaluation in evaluations}
    for wanted in ("pass", "fail", "undetermined"):
        if wanted not in outcomes and not (wanted == "undetermined" and _only_presence(criterion)):
            beside.add((), Code.NO_CASES, f"no case of {criterion.id} has this outcome", found=wanted)
    sides: dict[str, set[Truth]] = {}
    for evaluation in evaluations:
        for trace in _all_traces(evaluation):
            if trace.op in NUMERIC:
                for name in trace.parameters:
                    sides.setdefault(name, set()).add(trace.truth)
    for name, truths in sides.items():
        if not {Truth.MET, Truth.NOT_MET} <= truths:
            beside.add((), Code.NO_CASES, "no case on each side of this boundary", found=name)


def _only_presence(criterion: Criterion) -> bool:
    """Criteria that only ask for presence are never undetermined, unless whether they apply is unknown."""
    tests = [node for node in walk(as_declared(criterion).when) if not children(node)]
    return all(asks_presence(node) for node in tests) and criterion.applies_when is None


def _all_traces(evaluation: Evaluation) -> Iterator[Trace]:
    stack = [evaluation.trace, *([evaluation.applies_trace] if evaluation.applies_trace else [])]
    while stack:
        trace = stack.pop()
        yield trace
        stack += trace.parts
