"""Check the plan files of a library: shape, steps, words, and that every source and criterion they name is there."""

from pathlib import Path

from candidacy.case.catalogue import Catalogue
from candidacy.course.content import Content
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.files import closest
from candidacy.plan.content import load_plan
from candidacy.plan.plan_file import PlanFile
from candidacy.rules.cited import Citation
from candidacy.rules.conditions import Condition
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.library import Library
from candidacy.rules.tree import bare_limits, elements_of, lower


def check_plans(library: Library) -> list[Problem]:
    """Everything that is wrong with the plan files of a folder, and where a plan and the schedule of visits disagree."""
    problems: list[Problem] = []
    own = library.layout.care
    if "visits" in own["course"]:
        for name in library.care_files("plan").keys() - own["plan"].keys():
            problems += _visits(name, own["course"]["visits"], library)
    for name, path in own["plan"].items():
        problems += _visits(name, path, library)
        try:
            rules = load_plan(library, name)
            findings = Findings(path, library.tree(path))
            _check(rules.file, library, findings)
            problems += findings.problems
        except InputError as error:
            problems += error.problems
    return problems


def _check(file: PlanFile, library: Library, findings: Findings) -> None:
    sources, shelf, criteria = library.sources(), library.catalogue(), set(library.criterion_names())
    own = {step: place for place, step in enumerate(_written_ids(findings))}
    cited: list[tuple[tuple[str | int, ...], Citation]] = [
        (("order_lead",), cite) for cite in file.order_lead.cites
    ]
    cited += [(("settings", name), cite) for name, setting in file.settings.items() for cite in setting.cites]
    for step in file.steps:
        at: tuple[str | int, ...] = ("steps", own[step.id]) if step.id in own else ("steps",)
        cited += [(at, cite) for cite in step.cites]
        for key in ("applies_when", "done_when"):
            condition = getattr(step, key)
            if condition is not None:
                _condition(condition, shelf, findings, (*at, key))
        for name in step.covers:
            if name not in criteria:
                findings.add((*at, "covers"), Code.UNKNOWN_CRITERION, "no such criterion", found=name,
                             expected=closest(name, criteria, "candidacy rules list shows them"))  # fmt: skip
    for place, cite in cited:
        if cite.source not in sources:
            findings.add_misfit(no_such_source(place, cite.source, sources))
    for name in file.after_order:
        if name not in criteria:
            findings.add(("after_order",), Code.UNKNOWN_CRITERION, "no such criterion", found=name,
                         expected=closest(name, criteria, "candidacy rules list shows them"))  # fmt: skip


def _visits(name: str, path: Path, library: Library) -> list[Problem]:
    """Steps that announce a visit on another day than the schedule in use has it; told at the file of one's own."""
    try:
        visits = {visit.id: visit.after for visit in Content(library).visits.visits}
        steps = load_plan(library, name).file.steps
    except InputError:
        return []  # told where that file is checked
    return [
        Problem(
            Code.BAD_RULE,
            f"the step {step.id} of the plan {name} and the schedule of visits disagree about a visit",
            str(path),
            found=f"{step.visit}: {step.when.amount} {step.when.unit} after the injection in the plan",
            expected=f"{visits[step.visit].amount} {visits[step.visit].unit}, as in course/visits.yaml"
            if step.visit in visits
            else f"one of {', '.join(visits)}",
            next_step="change both: a plan of one's own may extend the shipped one and change this step alone",
        )
        for step in steps
        if step.visit
        and (
            step.visit not in visits
            or (step.when.amount, step.when.unit) != (visits[step.visit].amount, visits[step.visit].unit)
        )
    ]


def _condition(condition: Condition, shelf: Catalogue, findings: Findings, at: tuple[str | int, ...]) -> None:
    node = lower(condition, {}, {})
    for name in elements_of(node):
        if name not in shelf:
            findings.add(
                at, Code.UNKNOWN_ELEMENT, "not a data element", found=name, expected=shelf.nearest(name)
            )
    for _, limit in bare_limits(node):
        if isinstance(limit.value, int | float) and not isinstance(limit.value, bool):
            findings.add(
                at,
                Code.UNCITED,
                "a number without a source",
                found=limit.value,
                expected="a condition of codes or of yes and no",
            )


def _written_ids(findings: Findings) -> list[str]:
    """Ids of the steps in the order in which this very file writes them."""
    plain = findings.tree.plain()
    steps = plain.get("steps", []) if isinstance(plain, dict) else []
    return [str(step.get("id", "")) for step in steps if isinstance(step, dict)]
