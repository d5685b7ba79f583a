"""Check a whole library, or one rule set of it, and report everything at once."""

from collections.abc import Callable, Iterable, Mapping
from contextlib import nullcontext
from pathlib import Path

from candidacy.check.cases import check_cases
from candidacy.check.chosen_rows import SUFFIX, check_chosen_rows, check_items
from candidacy.check.course import check_course
from candidacy.check.criterion import check_criterion
from candidacy.check.day import check_day
from candidacy.check.elements import element_misfits
from candidacy.check.letters import check_letters
from candidacy.check.orders import check_holds, check_no_looser
from candidacy.check.outcomes import check_outcomes
from candidacy.check.outlook import check_forces, check_names
from candidacy.check.plan import check_plans
from candidacy.check.proofs import check_proofs
from candidacy.check.relations import accounted_for, bare_numbers, relation_faults
from candidacy.check.replaced import check_setting, check_table
from candidacy.check.report_flags import check_flags
from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.rules.cited import Citation, Source
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.history import check_history
from candidacy.rules.in_use import using
from candidacy.rules.layout import is_library
from candidacy.rules.library import Library
from candidacy.rules.relations import RelationFile
from candidacy.rules.resolved import RuleSet, value_problem
from candidacy.rules.vocabulary import REPORT_RED_FLAGS


def check_library(library: Library, sets: Iterable[Path] = ()) -> list[Problem]:
    """Check every file of a folder: shared content, elements, criteria with their cases, decision orders, rule sets.

    Parameters
    ----------
    sets
        Rule sets outside ``sets/``, checked as well.

    Raises
    ------
    RuleError
        E601 if the library has data elements of its own while another one is in use.
    """
    asked = tuple(sets)
    if library.base is not None and library.layout.elements:
        try:
            library.catalogue()
        except RuleError as error:  # nothing that reads elements can be told from what is wrong with them
            return _in_order([*error.problems, *_unread(library, asked)])
    with using(library) if library.layout.elements else nullcontext():
        unfit = _check_elements(library)
        shared, related = _check_shared(library), _checked(_check_relations, library)
        problems = [*_unread(library, asked), *shared, *related, *unfit]
        if unfit or related:  # a criterion cannot be read on cases with them
            return _in_order(problems)
        for path in library.criterion_files().values():
            problems += check_criterion_file(library, path)
        for name, path in library.layout.decisions.items():
            problems += _check_order_file(library, name, path)
        problems += check_letters(library)
        for path in (*library.rule_set_files().values(), *asked):
            problems += check_rule_set_file(library, path)
        problems += _check_chosen(library, asked) if not problems else []
        problems += check_course(library)
        problems += check_day(library)
        problems += check_outcomes(library)
        if library.replaced() and not problems:
            problems += _check_base_sets(library)
    return _in_order(problems)


# Criteria that are read after an injection and stand in no rule set.
_AFTER = "after_injection"


def _check_chosen(library: Library, asked: tuple[Path, ...]) -> list[Problem]:
    """What of one's own no rule set uses, so that whoever wrote it takes it to act: criteria, and orders of decision rules."""
    paths = (*library.rule_set_files().values(), *asked)
    if library.base is None or not paths:
        return []
    problems, sets = [], [library.resolve(path) for path in paths]
    used = {item.id for each in sets for item in each.criteria} | set(library.base.criterion_files())
    for name, path in library.layout.criteria.items():
        criterion = library.criterion(name)
        if name not in used and criterion.group != _AFTER and criterion.status != "retired":
            findings = Findings(path, library.tree(path))
            findings.add(("id",), Code.BAD_RULE, "no rule set selects this criterion, so it is read of nobody", found=name,
                         expected=f"- id: {name} under criteria of a rule set",
                         next_step=f"select it in {paths[0]}, or say status: retired")  # fmt: skip
            problems += findings.problems
    orders = {each.decisions.id for each in sets}
    for name, path in library.layout.decisions.items():
        if name not in orders and not library.base.has_decisions(name):
            findings = Findings(path, library.tree(path))
            findings.add(("id",), Code.BAD_RULE, "no rule set decides by this order, so it decides nothing", found=name,
                         expected=f"decisions: {name} in a rule set", next_step=f"name it in {paths[0]}, or take it out of the folder")  # fmt: skip
            problems += findings.problems
    return problems


def check_rule_set(library: Library, path: Path) -> list[Problem]:
    """Check one rule set and every criterion it uses that belongs to its library."""
    problems = check_rule_set_file(library, path)
    own = library.criterion_files()
    try:
        used = [item.id for item in library.resolve(path).criteria]
    except RuleError:
        used = list(own)
    base_files = library.base.criterion_files() if library.base else {}
    for identifier in used:
        if identifier in own:
            problems += check_criterion_file(library, own[identifier])
        elif identifier in base_files and library.base is not None:
            problems += check_criterion_file(library.base, base_files[identifier])
    return _in_order(problems)


def _unread(library: Library, asked: tuple[Path, ...]) -> list[Problem]:
    return library.layout.unread(asked) if is_library(library.folder) else []


def _check_base_sets(library: Library) -> list[Problem]:
    """What is replaced must fit the rule sets that are taken over as they are."""
    problems: list[Problem] = []
    for name in library.rule_set_names():
        if name not in library.rule_set_files():
            try:
                library.rule_set(name)
            except RuleError as error:
                problems += error.problems
    return problems


def check_criterion_file(library: Library, path: Path) -> list[Problem]:
    """Check one criterion file and the cases beside it."""
    try:
        criterion: Criterion = library.criterion(path.stem)
        findings = Findings(path, library.tree(path))
        if path.parent.name != criterion.group:
            findings.add(("group",), Code.BAD_RULE, "lies in the folder of another group", found=path.parent.name,
                         expected=f"criteria/{criterion.group}/{path.name}")  # fmt: skip
        check_criterion(criterion, library.sources(), findings)
        if findings.problems:
            return findings.problems
        check_cases(library, criterion, path, findings)
    except RuleError as error:
        return list(error.problems)
    return findings.problems


def check_rule_set_file(library: Library, path: Path) -> list[Problem]:
    """Check one rule set file: resolution, citations, version, and whether its status is deserved."""
    try:
        rule_set = library.resolve(path)
    except RuleError as error:
        return list(error.problems)
    findings = Findings(path, library.tree(path))
    file = rule_set.file
    sources = library.sources()
    check_history(file.changes, file.version, findings)
    for number, selection in enumerate(file.criteria):
        cites: list[Citation] = [c for change in selection.parameters.values() for c in change.cites]
        cites += selection.force.cites if selection.force else []
        _known_sources(cites, sources, ("criteria", number), findings)
    for name, setting in file.settings.items():
        check_items(library, name, setting.value, ("settings", name, "value"), findings)
    changed = [(("criteria", n, "parameters", name), change) for n, selection in enumerate(file.criteria)
               for name, change in selection.parameters.items()]  # fmt: skip
    for at, change in (*changed, *((("settings", name), each) for name, each in file.settings.items())):
        if not any(cite.supports == "value" for cite in change.cites):
            findings.add(at, Code.UNCITED, "no source supports this value", found=change.value,
                         expected="a citation with supports: value")  # fmt: skip
    _known_sources((c for s in file.settings.values() for c in s.cites), sources, ("settings",), findings)
    chosen = {selection.id: number for number, selection in enumerate(file.criteria)}
    for item in rule_set.criteria:
        if item.criterion.status == "retired":
            place: tuple[str | int, ...] = (
                ("criteria", chosen[item.id]) if item.id in chosen else ("criteria",)
            )
            findings.add(place, Code.CONTRADICTORY_RULES, "a criterion that is retired is in no rule set", found=item.id,
                         expected="another one, or leaves_out")  # fmt: skip
    for number, companion in enumerate(file.companions or ()):
        place = ("companions", number)
        if companion.within is not None:
            _known_sources(companion.within.cites, sources, (*place, "within"), findings)
        if companion.id not in library.rule_set_names():
            findings.add((*place, "id"), Code.UNKNOWN_RULE_SET, "no such rule set", found=companion.id,
                         expected=", ".join(library.rule_set_names()))  # fmt: skip
    if rule_set.decisions.id not in library.layout.decisions:
        _check_order(rule_set.decisions, sources, ("decisions",), findings)
    _check_in_use(rule_set, findings)
    check_holds(rule_set, _order_above(library, rule_set), ("decisions",), findings)
    check_forces(rule_set, findings)
    check_proofs(rule_set, findings)
    return findings.problems


def _order_above(library: Library, rule_set: RuleSet) -> DecisionOrder | None:
    """The order of decision rules of the rule set that one extends, or that it replaces."""
    if rule_set.file.extends is not None:
        return library.rule_set(rule_set.file.extends).decisions
    if rule_set.file.replaces is not None and library.base is not None:
        return library.base.rule_set(rule_set.id).decisions
    return None


def _check_in_use(rule_set: RuleSet, findings: Findings) -> None:
    if rule_set.file.status != "in_use":
        return
    for item in rule_set.criteria:
        if item.criterion.status != "source_checked":
            findings.add(
                ("status",),
                Code.STATUS_TOO_HIGH,
                "in_use needs every criterion compared with its sources",
                found=item.id,
            )


def _check_order_file(library: Library, name: str, path: Path) -> list[Problem]:
    try:
        order = library.decisions(name)
        findings = Findings(path, library.tree(path))
        _check_order(order, library.sources(), ("rules",), findings)
        if library.base is not None and library.base.has_decisions(name):
            check_no_looser(order, library.base.decisions(name), ("rules",), findings)
    except InputError as error:
        return list(error.problems)
    return findings.problems


def _check_order(
    order: DecisionOrder, sources: Mapping[str, Source], place: tuple[str | int, ...], findings: Findings
) -> None:
    """Every rule must be able to decide; that every case is decided has been seen to at loading."""
    _known_sources((c for rule in order.rules for c in rule.cites), sources, place, findings)
    covered: set[tuple[object, object, object]] = set()
    for number, rule in enumerate(order.rules):
        patterns = {(p.force, p.outcome, p.any_disc) for p in rule.when}
        if (not patterns and number < len(order.rules) - 1) or (patterns and patterns <= covered):
            findings.add(place, Code.UNREACHABLE, "a decision rule can never decide, or hides those after it",
                         found=rule.id)  # fmt: skip
        covered |= patterns
    check_names(order, place, findings)


def _check_shared(library: Library) -> list[Problem]:
    """Sources, settings, tables and plans."""
    problems: list[Problem] = []
    for part in (_check_settings, _check_tables, check_plans):
        problems += _checked(part, library)
    return problems


def _checked(part: Callable[[Library], list[Problem]], library: Library) -> list[Problem]:
    """What is wrong with a part of a library, also where it cannot be loaded."""
    try:
        return part(library)
    except InputError as error:
        return list(error.problems)


def _check_settings(library: Library) -> list[Problem]:
    sources = library.sources()
    path = library.folder / "settings.yaml"
    if not path.is_file():
        return []
    findings = Findings(path, library.tree(path))
    base = library.base.settings() if library.base else {}
    for name, setting in library.settings().items():
        place = ("settings", name)
        if base.get(name) == setting:
            continue
        if library.base is not None:
            check_setting(name, setting, base, library, findings)
            if not name.endswith(SUFFIX):
                check_items(library, name, setting.value, ("settings", name, "value"), findings)
        check_chosen_rows(library, name, setting, findings)
        _known_sources(setting.cites, sources, place, findings)
        for alternative in setting.alternatives:
            _known_sources(alternative.cites, sources, place, findings)
        wrong = value_problem(setting, setting.value, name, str(path))
        if wrong is not None:
            findings.add(place, wrong.code, wrong.message, found=wrong.found, expected=wrong.expected)
    return findings.problems


def _check_tables(library: Library) -> list[Problem]:
    problems: list[Problem] = []
    for name, path in library.table_files().items():
        try:
            table = library.table(name)
            findings = Findings(path, library.tree(path))
            for number, row in enumerate(table.rows):
                _known_sources(row.cites, library.sources(), ("rows", number), findings)
            shipped = library.base is not None and library.base.has_table(name)
            check_table(
                table,
                library.base.table(name) if shipped and library.base else None,
                library.settings(),
                findings,
            )
            if name == REPORT_RED_FLAGS:
                check_flags(library, table, findings)
            check_history(table.changes, table.version, findings)
            problems += findings.problems
        except InputError as error:
            problems += error.problems
    return problems


def _check_relations(library: Library) -> list[Problem]:
    relations, sources, shelf = library.relations(), library.sources(), library.catalogue()
    told, problems, seen = accounted_for(shelf, relations), list[Problem](), set[str]()
    for path in library.relation_files().values():
        file = library.relation_file(path)
        findings = Findings(path, library.tree(path))
        for number, relation in enumerate(file.relations):
            faults = [*relation_faults(relation, shelf, sources)]
            faults += bare_numbers(relation) if library.base is not None else ()
            for fault in faults:
                findings.add_misfit(fault, ("relations", number, *fault.path))
        _check_unrelated(file, told, seen, library, findings)
        problems += findings.problems
    return problems


def _check_unrelated(
    file: RelationFile, told: frozenset[str], seen: set[str], library: Library, findings: Findings
) -> None:
    if not file.relations and not file.unrelated:
        findings.add((), Code.EMPTY, "neither relations nor unrelated elements", found=file.id)
    for number, group in enumerate(file.unrelated):
        place = ("unrelated", number, "elements")
        for name in group.elements:
            if name not in library.catalogue():
                findings.add(place, Code.UNKNOWN_ELEMENT, "not a data element", found=name,
                             expected=library.catalogue().nearest(name))  # fmt: skip
            elif name in told:
                findings.add(
                    place,
                    Code.CONTRADICTORY_RULES,
                    "is said to be unrelated, and is told by others",
                    found=name,
                )
            if name in seen:
                findings.add(place, Code.DUPLICATE_KEY, "stands twice", found=name)
            seen.add(name)


def _check_elements(library: Library) -> list[Problem]:
    """Data elements: those of the folder, or those of the program where it is the shipped library."""
    problems: list[Problem] = []
    try:
        shelf, sources, former = (
            library.catalogue(),
            library.sources(),
            library.base and library.base.catalogue(),
        )
        told = accounted_for(shelf, library.relations()) | set(library.unrelated())
    except InputError:  # told where they are checked themselves
        return problems
    if library.base is None:
        for element in shelf.all:
            problems += [
                Problem(wrong.code, wrong.message, "data elements of the program", field=element.name, found=wrong.found,
                        expected=wrong.expected)
                for wrong in element_misfits(element, shelf, sources)
            ]  # fmt: skip
    for path, file in library.element_files().items():
        findings = Findings(path, library.tree(path))
        for number, element in enumerate(file.elements):
            place = ("elements", number)
            for wrong in element_misfits(element, shelf, sources):
                findings.add_misfit(wrong, (*place, *wrong.path))
            if element.name not in told and not (former and element.name in former):
                findings.add(
                    place, Code.BAD_RULE, "no relation, and no reason why there is none", found=element.name,
                    expected="relations/TOPIC.yaml that has a relation of it or to it, or names it under unrelated with "
                    "the reason",
                )  # fmt: skip
        problems += findings.problems
    return problems


def _known_sources(
    cites: Iterable[Citation], sources: Mapping[str, Source], place: tuple[str | int, ...], findings: Findings
) -> None:
    for cite in cites:
        if cite.source not in sources:
            findings.add_misfit(no_such_source(place, cite.source, sources))


def _in_order(problems: list[Problem]) -> list[Problem]:
    return sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line, p.column))
