"""Check a whole library, or one rule set of it, and report everything at once."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from candidacy.check.cases import check_cases
from candidacy.check.criterion import check_criterion
from candidacy.check.outlook import check_forces, check_names
from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.rules.findings import Findings
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet
from candidacy.rules.schema import Citation, Criterion, DecisionOrder, Source


def check_library(library: Library) -> list[Problem]:
    """Check every source, table, setting, criterion with its cases, decision order and rule set of a folder."""
    problems = _check_shared(library)
    for path in library.criterion_files().values():
        problems += check_criterion_file(library, path)
    for path in library.rule_set_files().values():
        problems += check_rule_set_file(library, path)
    return _in_order(problems)


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


def check_criterion_file(library: Library, path: Path) -> list[Problem]:
    """Check one criterion file and the cases beside it."""
    try:
        criterion: Criterion = library.criterion(path.stem)
        findings = Findings(path, library.tree(path))
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
    if file.changes[-1].version != file.version:
        findings.add(("changes",), Code.BAD_VERSION, "the last change is not of this version",
                     found=file.changes[-1].version, expected=file.version)  # fmt: skip
    for number, selection in enumerate(file.criteria):
        cites: list[Citation] = [c for change in selection.parameters.values() for c in change.cites]
        cites += selection.force.cites if selection.force else []
        _known_sources(cites, sources, ("criteria", number), findings)
    _known_sources((c for s in file.settings.values() for c in s.cites), sources, ("settings",), findings)
    for number, companion in enumerate(file.companions or ()):
        place = ("companions", number)
        if companion.within is not None:
            _known_sources(companion.within.cites, sources, (*place, "within"), findings)
        if companion.id not in library.rule_set_names():
            findings.add((*place, "id"), Code.UNKNOWN_RULE_SET, "no such rule set", found=companion.id,
                         expected=", ".join(library.rule_set_names()))  # fmt: skip
    order = rule_set.decisions
    _known_sources((c for rule in order.rules for c in rule.cites), sources, ("decisions",), findings)
    _check_in_use(rule_set, findings)
    _check_order(order, findings)
    check_names(order, findings)
    check_forces(rule_set, findings)
    return findings.problems


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


def _check_order(order: DecisionOrder, findings: Findings) -> None:
    """Every rule must be able to decide; that every case is decided has been seen to at loading."""
    covered: set[tuple[object, object, object]] = set()
    for number, rule in enumerate(order.rules):
        patterns = {(p.force, p.outcome, p.any_disc) for p in rule.when}
        if (not patterns and number < len(order.rules) - 1) or (patterns and patterns <= covered):
            findings.add(("decisions",), Code.UNREACHABLE, "a decision rule can never decide, or hides those after it",
                         found=rule.id)  # fmt: skip
        covered |= patterns


def _check_shared(library: Library) -> list[Problem]:
    problems: list[Problem] = []
    sources: Mapping[str, Source] = {}
    try:
        sources = library.sources()
        path = library.folder / "settings.yaml"
        if path.is_file():
            findings = Findings(path, library.tree(path))
            for name, setting in library.settings().items():
                _known_sources(setting.cites, sources, ("settings", name), findings)
                for alternative in setting.alternatives:
                    _known_sources(alternative.cites, sources, ("settings", name), findings)
            problems += findings.problems
    except InputError as error:
        problems += error.problems
    for name, path in library.table_files().items():
        try:
            table = library.table(name)
            findings = Findings(path, library.tree(path))
            for number, row in enumerate(table.rows):
                _known_sources(row.cites, sources, ("rows", number), findings)
            problems += findings.problems
        except InputError as error:
            problems += error.problems
    return problems


def _known_sources(
    cites: Iterable[Citation], sources: Mapping[str, Source], place: tuple[str | int, ...], findings: Findings
) -> None:
    for cite in cites:
        if cite.source not in sources:
            findings.add(place, Code.UNKNOWN_SOURCE, "not in sources.yaml", found=cite.source)


def _in_order(problems: list[Problem]) -> list[Problem]:
    return sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line, p.column))
