"""Check the files that outcomes are counted by: sources, and that measures, visits and definitions they name are there."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from candidacy.course.content import content
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.rules.cited import Citation
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.history import check_history
from candidacy.rules.library import Library
from candidacy.rules.outcome_files import (
    MODELS,
    RegistryFile,
    RespondersFile,
    RunningFile,
    outcome_file,
    wrong_column,
)
from candidacy.rules.replacing import replacement

Place = tuple[str | int, ...]


def check_outcomes(library: Library) -> list[Problem]:
    """Check the folder ``outcomes`` of a library."""
    problems: list[Problem] = []
    for name, path in library.layout.care["outcomes"].items():
        try:
            problems += _check_file(library, name, path)
        except InputError as error:
            problems += error.problems
    return problems


def _check_file(library: Library, name: str, path: Path) -> list[Problem]:
    findings = Findings(path, library.tree(path))
    if name not in MODELS:
        findings.add(
            (), Code.BAD_RULE, "nothing reads a file of this name", found=name, expected=", ".join(MODELS)
        )
        return findings.problems
    file = outcome_file(library, name)
    check_history(file.changes, file.version, findings)
    if library.base is not None and name in library.base.care_files("outcomes"):
        former = outcome_file(library.base, name).version
        replacement("file of outcomes", name, file.replaces, (file.version, former), findings)
    sources = library.sources()
    for place, cite in _cites(file):
        if cite.source not in sources:
            findings.add_misfit(no_such_source(place, cite.source, sources))
    if isinstance(file, RespondersFile):
        _responders(library, file, findings)
    elif isinstance(file, RunningFile):
        _running(library, file, findings)
    else:
        _registry(library, file, findings)
    return findings.problems


def _cites(file: RespondersFile | RunningFile | RegistryFile) -> Iterator[tuple[Place, Citation]]:
    if isinstance(file, RespondersFile):
        yield from _placed(("usual_visit",), file.usual_visit.cites)
        for at, definition in enumerate(file.definitions):
            yield from _placed(("definitions", at), definition.cites)
        for at, result in enumerate(file.published):
            yield from _placed(("published", at), result.cites)
    elif isinstance(file, RunningFile):
        for name in ("mask_below", "patients", "false_alarms"):
            yield from _placed((name,), getattr(file, name).cites)
            for other in getattr(file, name).alternatives:
                yield from _placed((name, "alternatives"), other.cites)
        for at, check in enumerate(file.checks):
            for name in ("expected", "ratio"):
                yield from _placed(("checks", at, name), getattr(check, name).cites)
                for other in getattr(check, name).alternatives:
                    yield from _placed(("checks", at, name, "alternatives"), other.cites)


def _placed(place: Place, cites: Iterable[Citation]) -> Iterator[tuple[Place, Citation]]:
    return ((place, cite) for cite in cites)


def _responders(library: Library, file: RespondersFile, findings: Findings) -> None:
    measures, visits = content(library).measures, content(library).visits
    _once([each.id for each in file.definitions], ("definitions",), findings)
    if visits.get(str(file.usual_visit.value)) is None:
        findings.add(("usual_visit", "value"), Code.BAD_CHOICE, "no such planned visit", found=file.usual_visit.value,
                     expected=", ".join(visit.id for visit in visits.visits))  # fmt: skip
    for at, definition in enumerate(file.definitions):
        for number, test in enumerate(definition.tests):
            for measure in test.measures:
                place = ("definitions", at, "tests", number, "measures")
                known = measures.get(measure)
                if known is None:
                    findings.add(place, Code.UNKNOWN_ELEMENT, "not a measure of the forms", found=measure)
                elif known.kind not in ("whole", "number") or known.worse != "higher":
                    findings.add(place, Code.BAD_RULE, "a fall is only an improvement of a number of which more is worse",
                                 found=measure)  # fmt: skip


def _running(library: Library, file: RunningFile, findings: Findings) -> None:
    responders = outcome_file(library, "responders")
    assert isinstance(responders, RespondersFile)
    known = {each.id for each in responders.definitions}
    _once([check.id for check in file.checks], ("checks",), findings)
    for at, check in enumerate(file.checks):
        if check.response is not None and check.response not in known:
            findings.add(("checks", at, "response"), Code.BAD_CHOICE, "no such definition of response", found=check.response,
                         expected=", ".join(sorted(known)))  # fmt: skip
        if check.visit is not None and content(library).visits.get(check.visit) is None:
            findings.add(("checks", at, "visit"), Code.BAD_CHOICE, "no such planned visit", found=check.visit)


def _registry(library: Library, file: RegistryFile, findings: Findings) -> None:
    visits = tuple(visit.id for visit in content(library).visits.visits)
    measures = tuple(content(library).measures)
    _once([column.variable for column in file.columns], ("columns",), findings)
    for at, column in enumerate(file.columns):
        wrong = wrong_column(column, visits, measures)
        if wrong:
            findings.add(("columns", at, "of"), Code.BAD_RULE, "a column cannot be read from this", found=column.of,
                         expected=wrong)  # fmt: skip
        if (column.kind == "choice") != bool(column.choices):
            findings.add(
                ("columns", at),
                Code.BAD_RULE,
                "a choice, and nothing else, has choices",
                found=column.variable,
            )


def _once(names: list[str], place: Place, findings: Findings) -> None:
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            findings.add(place, Code.DUPLICATE_KEY, "stands twice", found=name)
