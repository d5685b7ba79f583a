"""Check the files about the time after an injection: their sources, and that what they name is there and means the same."""

from collections.abc import Iterable
from pathlib import Path
from typing import get_args

from candidacy.course.content import MODELS, Content, Measure, content, read_content
from candidacy.course.record import Grade
from candidacy.course.triage import DANGER
from candidacy.day.checklist import FILE
from candidacy.foundation.dates import MEAN_DAYS
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.rules.cited import Citation
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.history import check_history
from candidacy.rules.library import Library

_KINDS = {"whole": "number", "number": "number", "choice": "choice", "yes_no": "boolean", "words": "words"}


def check_course(library: Library) -> list[Problem]:
    """Check the folder ``course`` of a library."""
    problems: list[Problem] = []
    for name, path in library.layout.care["course"].items():
        if name == FILE:  # the checklist of the day is checked by `check_day`
            continue
        try:
            problems += _check_file(library, name, path)
        except InputError as error:
            problems += error.problems
    return problems


def _check_file(library: Library, name: str, path: Path) -> list[Problem]:
    findings = Findings(path, library.tree(path))
    model = MODELS.get(name)
    if model is None:
        findings.add(
            (),
            Code.BAD_RULE,
            "nothing reads a file of this name",
            found=name,
            expected=", ".join((*MODELS, FILE)),
        )
        return findings.problems
    file = read_content(library, name, model)
    check_history(file.changes, file.version, findings)
    found = content(library)
    {"visits": _visits, "forms": _forms, "events": _events, "triage": _triage}[name](found, findings)
    return findings.problems


def _visits(found: Content, findings: Findings) -> None:
    known = {form.id for form in found.forms.forms}
    early = [
        (at, visit)
        for at, visit in enumerate(found.visits.visits)
        if visit.after.amount * MEAN_DAYS[visit.after.unit] <= found.triage.watch_days
    ]
    for at, visit in early:
        if DANGER not in visit.forms:
            findings.add(("visits", at, "forms"), Code.CONTRADICTORY_RULES, "asks nothing that triage reads",
                         found=", ".join(visit.forms), expected=f"{DANGER} among the forms of a visit in the first {found.triage.watch_days} days")  # fmt: skip
    if not early:
        findings.add(("visits",), Code.CONTRADICTORY_RULES, "no visit asks about danger signs in time",
                     expected=f"a visit in the first {found.triage.watch_days} days")  # fmt: skip
    _forms_known(found.visits.baseline_forms, known, ("baseline_forms",), findings)
    for at, visit in enumerate(found.visits.visits):
        place = ("visits", at)
        _forms_known(visit.forms, known, (*place, "forms"), findings)
        _sources(visit.cites, found, place, findings)
    _once([visit.id for visit in found.visits.visits], "visits", findings)


def _forms_known(
    names: Iterable[str], known: set[str], place: tuple[str | int, ...], findings: Findings
) -> None:
    for name in names:
        if name not in known:
            findings.add(place, Code.BAD_RULE, "no such form", found=name, expected=", ".join(sorted(known)))


def _danger_asked(found: Content, findings: Findings) -> None:
    """Every danger sign that the shipped form asks about is asked about by one's own: what is not asked is never known."""
    if found.library.base is None:
        return
    shipped, own = content(found.library.base).forms.get(DANGER), found.forms.get(DANGER)
    asked = {measure.element for measure in own.measures} if own is not None else set()
    for measure in shipped.measures if shipped is not None else ():
        if measure.element and measure.element not in asked:
            findings.add(("forms",), Code.CONTRADICTORY_RULES, "a danger sign that triage reads would never be asked",
                         found=f"without {measure.element}", expected=f"the form {DANGER} asks it")  # fmt: skip


def _forms(found: Content, findings: Findings) -> None:
    _danger_asked(found, findings)
    _once([form.id for form in found.forms.forms], "forms", findings)
    _once([measure.id for form in found.forms.forms for measure in form.measures], "forms", findings)
    for at, form in enumerate(found.forms.forms):
        _sources(form.cites, found, ("forms", at), findings)
        names = {measure.id for measure in form.measures}
        if form.score_of and form.score_of not in names:
            findings.add(
                ("forms", at, "score_of"), Code.BAD_RULE, "not a measure of the form", found=form.score_of
            )
        for number, measure in enumerate(form.measures):
            place = ("forms", at, "measures", number)
            _sources(measure.cites, found, place, findings)
            if measure.with_ and measure.with_ not in names:
                findings.add(
                    (*place, "with"), Code.BAD_RULE, "not a measure of the form", found=measure.with_
                )
            _element(found, measure, place, findings)


def _element(found: Content, measure: Measure, place: tuple[str | int, ...], findings: Findings) -> None:
    """A measure with the meaning of a data element takes what that takes."""
    if not measure.element:
        return
    element = found.library.catalogue().get(measure.element)
    if element is None:
        findings.add((*place, "element"), Code.UNKNOWN_ELEMENT, "not a data element", found=measure.element)
        return
    kind = "number" if element.kind == "integer" else element.kind
    if kind != _KINDS[measure.kind] or (element.unit or "") != measure.unit:
        findings.add((*place, "element"), Code.UNIT_CONFUSED, "another kind or unit than the data element",
                     found=f"{measure.kind} {measure.unit}".strip(), expected=f"{kind} {element.unit or ''}".strip())  # fmt: skip
    elif element.possible is not None and (measure.lowest, measure.highest) != (
        element.possible.low,
        element.possible.high,
    ):
        findings.add((*place, "lowest"), Code.CONTRADICTORY_RULES, "another range than the data element",
                     found=measure.allowed, expected=f"{element.possible.low} to {element.possible.high}")  # fmt: skip
    elif measure.choices is not None and set(measure.choices) != set(element.codes):
        findings.add((*place, "choices"), Code.CONTRADICTORY_RULES, "other codes than the data element",
                     found=", ".join(measure.choices), expected=", ".join(element.codes))  # fmt: skip


def _events(found: Content, findings: Findings) -> None:
    file = found.events
    _sources((*file.grades_cites, *file.serious_cites), found, ("grades",), findings)
    if [grade.grade for grade in file.grades] != list(get_args(Grade)):
        findings.add(("grades",), Code.BAD_RULE, "not the grades 1 to 5 in order", expected="1, 2, 3, 4, 5")
    _once([term.id for term in file.terms], "terms", findings)
    _once([clock.id for clock in file.clocks], "clocks", findings)
    for at, term in enumerate(file.terms):
        _sources(term.cites, found, ("terms", at), findings)
    for at, clock in enumerate(file.clocks):
        _sources(clock.cites, found, ("clocks", at), findings)


def _triage(found: Content, findings: Findings) -> None:
    """Every criterion is there, and none that decides may stay open and yet be passed over."""
    file = found.triage
    _sources(file.cites, found, ("cites",), findings)
    for name in content(found.library.base).triage.criteria if found.library.base is not None else ():
        if name not in file.criteria:
            findings.add(("criteria",), Code.CONTRADICTORY_RULES, "a danger that the shipped file looks at would be passed over",
                         found=f"without {name}", expected="every criterion of the shipped file, and more")  # fmt: skip
    for name in file.criteria:
        if name not in found.library.criterion_names():
            findings.add(("criteria",), Code.UNKNOWN_CRITERION, "no such criterion", found=name)
        elif found.library.criterion(name).subject != "patient":
            findings.add(("criteria",), Code.BAD_RULE, "is not about the patient", found=name)
    for at, advice in enumerate(file.advice):
        for finding in advice.when:
            if finding.criterion not in file.criteria:
                findings.add(("advice", at, "when"), Code.UNKNOWN_CRITERION, "not among the criteria",
                             found=finding.criterion, expected=", ".join(file.criteria))  # fmt: skip
        if bool(advice.when) == (at == len(file.advice) - 1):
            findings.add(("advice", at, "when"), Code.UNDECIDED, "the last line, and no other, is without findings",
                         found=advice.id)  # fmt: skip
    caught = {(finding.criterion, finding.outcome) for advice in file.advice for finding in advice.when}
    for name in file.criteria:
        for outcome in ("fail", "undetermined"):
            if (name, outcome) not in caught:
                findings.add(
                    ("advice",), Code.UNDECIDED, "no line of advice looks at it", found=f"{name} {outcome}"
                )
    _once([advice.id for advice in file.advice], "advice", findings)


def _once(names: list[str], place: str, findings: Findings) -> None:
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            findings.add((place,), Code.DUPLICATE_KEY, "stands twice", found=name)


def _sources(
    cites: Iterable[Citation], found: Content, place: tuple[str | int, ...], findings: Findings
) -> None:
    for cite in cites:
        if cite.source not in found.library.sources():
            findings.add_misfit(no_such_source(place, cite.source, found.library.sources()))
