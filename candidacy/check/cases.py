"""The cases beside a criterion: load them, run them, and see which boundaries they cover."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any
from weakref import WeakKeyDictionary

from pydantic import Field

from candidacy.assessment.evaluate import CompiledCriterion, Evaluation, Trace
from candidacy.assessment.missing import open_leaves
from candidacy.assessment.relate import Relations
from candidacy.assessment.view import View
from candidacy.case.catalogue import LISTS, Rows, Strict, catalogue
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, EntryList, FactTable
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError, Code, InputError, Problem, RuleError
from candidacy.foundation.files import Node, read_tree
from candidacy.foundation.shape import validate
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options
from candidacy.rules.conditions import Scalar
from candidacy.rules.criterion import Criterion
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits
from candidacy.rules.library import Library
from candidacy.rules.operators import NUMERIC
from candidacy.rules.resolved import ResolvedCriterion, as_declared, value_problem
from candidacy.rules.rule_set_file import ParameterChange
from candidacy.rules.tree import asks_presence, children, walk
from candidacy.rules.vocabulary import Day, Outcome, Standing

DEFAULT_DAY = "2026-11-25"


class CriterionCase(Strict):
    """One small case for one criterion, in a file a clinician can read."""

    name: str
    """What the case shows, as a sentence."""
    expect: Outcome
    """The outcome that the criterion must come to."""
    given: FactTable = Field(default_factory=dict)
    """Facts of the subject; those of others stand under ``patient``, ``discs`` or the lists."""
    subject: str = ""
    """The disc ("L4-L5") that a criterion of the disc is read for; without it L4-L5."""
    as_of: Day = DEFAULT_DAY
    """Day of the assessment, YYYY-MM-DD; without it 2026-11-25."""
    document_date: Day | None = None
    """Day of facts without a date or source of their own; without it the day of the assessment."""
    why: str = ""
    """The reason for not knowing that the outcome must rest on, such as ``out_of_date``; one of those of an answer."""
    parameters: dict[str, Scalar | Rows[Scalar]] = Field(default_factory=dict)
    """Values of parameters that differ from the defaults."""
    settings: dict[str, Scalar | Rows[Scalar]] = Field(default_factory=dict)
    """Values of settings that differ from the defaults."""
    patient: FactTable = Field(default_factory=dict)
    """Facts of the patient."""
    discs: dict[str, FactTable] = Field(default_factory=dict)
    """Facts of discs, by level."""
    disc_standings: dict[str, Standing] = Field(default_factory=dict)
    """Standing of discs, by level, for a criterion that reads it."""
    medicines: EntryList | None = None
    """Medicines."""
    treatments: EntryList | None = None
    """Conservative treatments."""
    injections: EntryList | None = None
    """Injections other than into a disc."""
    surgeries: EntryList | None = None
    """Surgeries of the spine."""
    intradiscal_procedures: EntryList | None = None
    """Earlier procedures in a disc."""


class CaseFile(Strict):
    """The cases beside a criterion."""

    cases: Annotated[Rows[CriterionCase], Field(min_length=1)]
    """The cases; at least one."""


def cases_path(path: Path) -> Path:
    """Where the cases of a criterion file stand."""
    return path.with_name(path.stem + ".cases.yaml")


def load_cases(path: Path) -> tuple[tuple[CriterionCase, ...], Node]:
    """Load the cases beside a criterion.

    Raises
    ------
    RuleError
        If the file cannot be used.
    """
    try:
        tree = read_tree(path)
        if isinstance(tree.value, list):
            tree = Node({"cases": tree}, tree.line, tree.column)
        keys = list(CriterionCase.model_fields)
        return validate(CaseFile, tree, str(path), lambda _: keys).cases, tree
    except InputError as error:
        raise RuleError(error.problems) from None


def run_case(library: Library, criterion: Criterion, case: CriterionCase) -> Evaluation:
    """Read a criterion on one of its cases.

    Raises
    ------
    CaseError, RuleError
        If the case states something impossible, or changes a parameter that does not exist.
    """
    subject = case.subject or ("patient" if criterion.subject == "patient" else "L4-L5")
    loaded = case_from_record(_record(case, subject), case.name)
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


def _record(case: CriterionCase, subject: str) -> CaseRecord:
    dated = {"source": "given"}
    shelf = catalogue()
    own = {name: entry for name, entry in case.given.items() if _scope(shelf.get(name)) != "patient"}
    patient = {name: entry for name, entry in case.given.items() if name not in own} | dict(case.patient)
    discs = dict(case.discs)
    if subject == "patient":
        patient |= own
    else:
        discs[subject] = {**discs.get(subject, {}), **own}

    def with_source(table: FactTable) -> FactTable:
        return {
            name: entry if entry.source or entry.date else entry.model_copy(update=dated)
            for name, entry in table.items()
        }

    lists = {}
    for name in LISTS:
        listed = getattr(case, name)
        if listed is not None:
            lists[name] = listed.model_copy(update={"entries": tuple(with_source(e) for e in listed.entries)})
    return CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": "criterion-case",
            "documents": {"given": {"kind": "other", "date": case.document_date or case.as_of}},
            "patient": with_source(patient),
            "discs": {level: with_source(table) for level, table in discs.items()},
            **lists,
        }
    )


def _scope(element: Any) -> str:
    return element.scope if element is not None else "unknown"


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
    for number, case in enumerate(cases):
        place = ("cases", number)
        try:
            evaluation = run_case(library, criterion, case)
        except (CaseError, RuleError) as error:
            beside.add(place, Code.CASE_DIFFERS, "the case cannot be used", found=error.problems[0].message,
                       expected=str(error.problems[0].field), next_step=str(error.problems[0].expected))  # fmt: skip
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
