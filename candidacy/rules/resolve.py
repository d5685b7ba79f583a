"""Work out a rule set: what it inherits, selects, changes and leaves out, in the library it is read in."""

from pathlib import Path
from typing import TYPE_CHECKING

from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, RuleError, shown
from candidacy.foundation.files import nearest
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits
from candidacy.rules.replacing import Replacement
from candidacy.rules.resolved import (
    ResolvedCriterion,
    ResolvedParameter,
    RuleSet,
    know_rule_set,
    value_problem,
)
from candidacy.rules.rule_set_file import (
    Companion,
    ExtendedRuleSetFile,
    ParameterChange,
    RuleSetFile,
    Selection,
)

if TYPE_CHECKING:
    from candidacy.rules.library import Library


def resolve(library: "Library", path: Path, below: tuple[str, ...] = ()) -> RuleSet:
    """Load a rule set file and work out what it inherits, selects and changes.

    Parameters
    ----------
    below
        Ids of the rule sets that extend this one.

    Raises
    ------
    RuleError
        With everything that is wrong with it.
    """
    written = library.written(path)
    problems = Findings(path, library.tree(path))
    parent: RuleSet | None = None
    if isinstance(written, ExtendedRuleSetFile):
        if written.extends == written.id or written.extends in below:
            chain = " -> ".join((*below, written.id, written.extends))
            problems.add(("extends",), Code.CYCLE, "the rule sets extend each other in a circle", found=chain)
        elif library.set_file(written.extends) is None:
            names = library.rule_set_names()
            close = nearest(written.extends, names)
            problems.add(("extends",), Code.UNKNOWN_RULE_SET, "no such rule set", found=written.extends,
                         expected=f"closest is {close}" if close else ", ".join(names))  # fmt: skip
        problems.stop()
        parent = library.parent(written.extends, (*below, written.id))
        file = written.filled(parent.file)
    else:
        file = written
    made_of = library.made_of(path, file, parent.id if parent else "")
    known = library.known(path, made_of)  # then all of it fitted the same catalogue
    chosen = _chosen(library, file, parent, problems, bool(known))
    settings = _settings(library, file, parent, problems)
    companions = _companions(file, parent, problems)
    if not chosen and not file.criteria:
        problems.add(("criteria",), Code.BAD_RULE, "the rule set selects no criterion")
    if not library.has_decisions(file.decisions):
        close = nearest(file.decisions, library.decision_names())
        problems.add(("decisions",), Code.BAD_RULE, "no such order of decision rules", found=file.decisions,
                     expected=f"closest is {close}" if close else ", ".join(library.decision_names()))  # fmt: skip
    problems.stop()
    order = library.decisions(file.decisions)
    found = RuleSet(
        file=file,
        criteria=tuple(chosen.values()),
        decisions=order,
        settings=settings,
        tables=library.tables(),
        relations=library.relations(),
        sources=library.sources(),
        path=str(path),
        companions=companions,
        library=library.companion,
        elements=library.own_elements(),
        replaced=_replaced(library, file, parent, chosen),
        extended=f"{parent.id} {parent.file.version}" if parent else "",
        departures=_departures(file, parent, chosen, settings) if parent else (),
    )
    if known:
        know_rule_set(found, known)
    else:
        library.know(path, made_of, found)
    return found


def _replaced(
    library: "Library", file: RuleSetFile, parent: RuleSet | None, chosen: dict[str, ResolvedCriterion]
) -> tuple[Replacement, ...]:
    """What of one's own stands in the place of shipped content and can bear on an answer under the rule set."""
    above = {each.id for each in parent.replaced if each.kind == "rule set"} if parent else set()
    bears = {"criterion": set(chosen), "decision order": {file.decisions}, "rule set": {file.id, *above}}
    return tuple(each for each in library.replaced() if each.id in bears.get(each.kind, {each.id}))


def _departures(
    file: RuleSetFile,
    parent: RuleSet,
    chosen: dict[str, ResolvedCriterion],
    settings: dict[str, ResolvedParameter],
) -> tuple[str, ...]:
    """What is other than in the rule set that is extended, and in those that it extends, a phrase each."""
    former = {item.id: item for item in parent.criteria}
    found = [f"without {left.id}" for left in file.leaves_out]
    for selection in file.criteria:
        item, before = chosen[selection.id], former.get(selection.id)
        for name in selection.parameters:
            value = item.parameters[name]
            found.append(
                _other(name, value, before.parameters[name] if before else value, value.declared.value)
            )
        force = before.force if before else item.criterion.force
        if item.force != force:
            found.append(f"{item.id} is {item.force} in place of {force}")
    found += [_other(name, settings[name], parent.settings[name], None) for name in file.settings]
    if file.decisions != parent.file.decisions:
        found.append(f"decides by {file.decisions} in place of {parent.file.decisions}")
    return (*parent.departures, *filter(None, found))


def _other(name: str, value: ResolvedParameter, before: ResolvedParameter, default: object) -> str:
    """That a parameter has another value than before, or than its default where it was not used before; else nothing."""
    former = default if before is value else before.value
    if value.value == former:
        return ""
    unit = f" {value.unit}" if value.unit else ""
    return f"{name} {shown(value.value)}{unit} in place of {shown(former)}{unit}"


def _chosen(
    library: "Library", file: RuleSetFile, parent: RuleSet | None, problems: Findings, fits: bool
) -> dict[str, ResolvedCriterion]:
    chosen = {item.id: item for item in parent.criteria} if parent else {}
    for number, left in enumerate(file.leaves_out):
        if left.id not in chosen:
            close = nearest(left.id, list(chosen))
            problems.add(
                ("leaves_out", number, "id"),
                Code.CONTRADICTORY_RULES,
                "leaves out a criterion that the extended rule set does not have",
                found=left.id,
                expected=f"closest is {close}" if close else "a criterion of it",
                next_step=f"candidacy rules show {parent.id if parent else file.id} lists them",
            )
        chosen.pop(left.id, None)
    left_out = {left.id for left in file.leaves_out}
    seen: set[str] = set()
    for number, selection in enumerate(file.criteria):
        place = ("criteria", number)
        if selection.id in left_out:
            problems.add(
                (*place, "id"),
                Code.CONTRADICTORY_RULES,
                "is both left out and selected",
                found=selection.id,
            )
        if selection.id in seen:
            problems.add((*place, "id"), Code.DUPLICATE_KEY, "is selected twice", found=selection.id)
        seen.add(selection.id)
        item = chosen.get(selection.id) or _default(library, selection, place, problems, fits)
        if item is not None:
            chosen[selection.id] = _changed(item, selection, place, problems, fits)
    return chosen


def _settings(
    library: "Library", file: RuleSetFile, parent: RuleSet | None, problems: Findings
) -> dict[str, ResolvedParameter]:
    if parent is not None:
        settings = dict(parent.settings)
    else:
        settings = {n: ResolvedParameter(n, s.value, s.unit, s) for n, s in library.settings().items()}
    for name, change in file.settings.items():
        if name not in settings:
            problems.add(("settings", name), Code.UNKNOWN_PARAMETER, "no such setting", found=name,
                         expected=", ".join(settings))  # fmt: skip
            continue
        settings[name] = _set(settings[name], change, ("settings", name), problems)
    return settings


def _default(
    library: "Library", selection: Selection, place: tuple[str | int, ...], problems: Findings, fits: bool
) -> ResolvedCriterion | None:
    try:
        item = library.declared(selection.id)
    except RuleError as error:
        if error.problems[0].code is Code.UNKNOWN_CRITERION:
            problems.add((*place, "id"), Code.UNKNOWN_CRITERION, "no such criterion", found=selection.id,
                         expected=error.problems[0].expected)  # fmt: skip
        else:
            problems.problems += error.problems
        return None
    unfit = [] if fits else library.misfits_of(item)
    problems.problems += unfit
    return None if unfit else item


def _companions(file: RuleSetFile, parent: RuleSet | None, problems: Findings) -> tuple[Companion, ...]:
    """The companions of a rule set: as written, else those of the rule set it extends."""
    if file.companions is None:
        return tuple(c for c in parent.companions if c.id != file.id) if parent else ()
    seen: set[str] = set()
    for number, companion in enumerate(file.companions):
        place = ("companions", number, "id")
        if companion.id == file.id:
            problems.add(place, Code.CYCLE, "a rule set cannot be its own companion", found=companion.id)
        if companion.id in seen:
            problems.add(place, Code.DUPLICATE_KEY, "is named twice", found=companion.id)
        seen.add(companion.id)
    return file.companions


def _changed(
    item: ResolvedCriterion,
    selection: Selection,
    place: tuple[str | int, ...],
    problems: Findings,
    fits: bool,
) -> ResolvedCriterion:
    if not selection.parameters and selection.force is None:
        return item
    parameters = dict(item.parameters)
    before = len(problems.problems)
    for name, change in selection.parameters.items():
        if name not in parameters:
            problems.add((*place, "parameters", name), Code.UNKNOWN_PARAMETER, "the criterion has no such parameter",
                         found=name, expected=", ".join(parameters) or "none")  # fmt: skip
            continue
        parameters[name] = _set(parameters[name], change, (*place, "parameters", name), problems)
    changed = replace(item, parameters=parameters)
    if selection.parameters and len(problems.problems) == before and not fits:
        for wrong in misfits(changed):
            problems.add_misfit(wrong, (*place, "parameters"))
    if selection.force is not None:
        return replace(changed, force=selection.force.value, force_change=selection.force)
    return changed


def _set(
    parameter: ResolvedParameter, change: ParameterChange, place: tuple[str | int, ...], problems: Findings
) -> ResolvedParameter:
    if change.unit != parameter.unit:
        problems.add(place, Code.UNIT_CONFUSED, "the unit differs from the parameter's", found=change.unit or "none",
                     expected=parameter.unit or "none")  # fmt: skip
    wrong = value_problem(parameter.declared, change.value, parameter.name, problems.name)
    if wrong is not None:
        problems.add(place, wrong.code, wrong.message, found=wrong.found, expected=wrong.expected)
    return replace(parameter, value=change.value, change=change)
