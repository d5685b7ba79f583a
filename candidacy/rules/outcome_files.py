"""What stands in ``outcomes/ID.yaml`` of a library: definitions of response, running checks, columns of a registry table.

The shapes only; `candidacy.outcomes` counts by them, and `candidacy.check.outcomes` checks them.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, model_validator

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.errors import InputError, RuleError
from candidacy.foundation.shape import validate
from candidacy.rules.cited import Alternative, Bounds, Change, Citation, Parameter
from candidacy.rules.library import Library
from candidacy.rules.vocabulary import Identifier, Version

Amount = int | float


class ResponseTest(Strict):
    """One part of a definition: everything that is written here must hold for it.

    A fall is the baseline less the later value, in the unit of the measure or in percent of the baseline. In percent it is
    not known where the baseline is 0.
    """

    measures: Rows[str] = ()
    """Measures of the forms that may carry it; the first that is known both before and at the visit is used, never two."""
    fall_at_least: Amount | None = None
    """Least fall in the unit of the measure."""
    fall_percent_at_least: Amount | None = None
    """Least fall in percent of the baseline."""
    fall_percent_above: Amount | None = None
    """Percent of the baseline that the fall must exceed."""
    final_at_most: Amount | None = None
    """Highest later value."""
    final_below: Amount | None = None
    """Value that the later one must stay below."""
    no_later_intervention: bool = False
    """No later intervention at a treated disc until the visit."""

    @model_validator(mode="after")
    def _something(self) -> "ResponseTest":
        asks = [getattr(self, name) is not None for name in _OF_A_MEASURE]
        if any(asks) != bool(self.measures) or not (any(asks) or self.no_later_intervention):
            raise ValueError(
                "a test names measures and what they must show, or asks for no later intervention"
            )
        return self


_OF_A_MEASURE = (
    "fall_at_least",
    "fall_percent_at_least",
    "fall_percent_above",
    "final_at_most",
    "final_below",
)


class ResponseDefinition(Strict):
    """When a patient is said to have responded."""

    id: Identifier
    """Its name; to be declared before results are looked at."""
    title: Text
    """The definition in one line."""
    needs: Literal["all", "any"]
    """Whether all tests must hold, or one is enough."""
    tests: Annotated[Rows[ResponseTest], Field(min_length=1)]
    """The tests."""
    at: Rows[Identifier] = ()
    """Visits at all of which it must hold; without any, the visit that is asked about."""
    note: str = ""
    """What should be known before it is used or compared."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Who uses it."""


class _ContentFile(Strict):
    version: Version
    """Version of the file; the last of ``changes``."""
    title: Text
    """Its heading."""
    meaning: Text
    """What it is for, and what it is not."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, newest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a file of one's own."""


class PublishedResult(Strict):
    """A result of a controlled trial, to be read beside any count."""

    words: Text
    """What was found, in words."""
    note: Text
    """Of what, against what."""
    treated: Rows[Annotated[int, Field(ge=0)]] = ()
    """Responders and patients of the treated group, where both were read."""
    control: Rows[Annotated[int, Field(ge=0)]] = ()
    """Responders and patients of the control group, where both were read."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where it stands."""

    @model_validator(mode="after")
    def _both_or_none(self) -> "PublishedResult":
        groups = [group for group in (self.treated, self.control) if group]
        if len(groups) == 1 or any(len(group) != 2 or not group[0] <= group[1] for group in groups):
            raise ValueError("both groups are given as responders and patients, or neither")
        return self


class RespondersFile(_ContentFile):
    """Definitions of response, side by side."""

    id: Literal["responders"]
    """Name of the file."""
    usual_visit: Parameter
    """Visit that is looked at unless another is asked for."""
    definitions: Annotated[Rows[ResponseDefinition], Field(min_length=1)]
    """The definitions; none is preferred."""
    published: Annotated[Rows[PublishedResult], Field(min_length=1)]
    """Results of controlled trials to be read beside any count."""


class CountedEvents(Strict):
    """Adverse events that a running check counts; each patient once."""

    grade_at_least: Annotated[int, Field(ge=1, le=5)]
    """Least grade."""
    within_days: Annotated[int, Field(ge=1, le=3660)]
    """Days after the injection in which it begins."""
    unrelated_too: bool = False
    """Whether events judged not related are counted as well."""


class RunningCheck(Strict):
    """A count that is watched patient by patient against an expected rate."""

    id: Identifier
    """Its name."""
    title: Text
    """What is watched."""
    events: CountedEvents | None = None
    """Adverse events that are counted."""
    response: Identifier | None = None
    """Id of a definition of response whose successes are counted, at ``visit``."""
    visit: Identifier | None = None
    """Visit at which response is counted."""
    expected: Parameter
    """Expected share, above 0 and below 1."""
    ratio: Parameter
    """Odds ratio to detect: 2 for odds that have doubled, 0.5 for odds that have halved."""
    note: str = ""
    """What the expected rate is of, where that is not quite what is counted."""

    @model_validator(mode="after")
    def _one_kind(self) -> "RunningCheck":
        if (self.events is None) == (self.response is None) or (self.response is None) != (
            self.visit is None
        ):
            raise ValueError("a check counts events, or a response at a visit")
        if not 0 < number_of(self.expected) < 1:
            raise ValueError("expected is a share above 0 and below 1")
        if number_of(self.ratio) <= 0 or number_of(self.ratio) == 1:
            raise ValueError("ratio is a number above 0 and other than 1")
        return self


class ChosenHigh(Strict):
    """A worked example of regression to the mean."""

    mean: Amount
    """Mean of everybody."""
    spread: Annotated[Amount, Field(gt=0)]
    """Standard deviation of everybody."""
    reliability: Annotated[Amount, Field(ge=0, le=1)]
    """Intraclass correlation of two readings."""
    cut: Amount
    """The score from which patients are chosen."""
    words: Text
    """The sentence; ``{fall}`` stands for the fall without any effect."""


class RunningFile(_ContentFile):
    """Running checks, the smallest count that is shown, and what is said beside every count."""

    id: Literal["running_checks"]
    """Name of the file."""
    mask_below: Parameter
    """Counts from 1 to one less than this are masked."""
    patients: Parameter
    """Length of the run for which the limit of a check holds, in patients."""
    false_alarms: Parameter
    """Share of runs that may reach the limit by chance."""
    checks: Annotated[Rows[RunningCheck], Field(min_length=1)]
    """The checks."""
    chosen_high: ChosenHigh
    """What choosing patients at a high score does by itself."""
    cautions: Annotated[Rows[str], Field(min_length=1)]
    """What is said beside every count."""

    @model_validator(mode="after")
    def _in_range(self) -> "RunningFile":
        if not 0 < number_of(self.false_alarms) < 1:
            raise ValueError("false_alarms is a share above 0 and below 1")
        for name, low, high in (("patients", 1, 5000), ("mask_below", 3, 1000)):
            value = getattr(self, name).value
            if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
                raise ValueError(f"{name} is a whole number from {low} to {high}")
        return self


def number_of(parameter: Parameter) -> float:
    """The value of a parameter that is a number.

    Raises
    ------
    ValueError
        If it is none.
    """
    if isinstance(parameter.value, str | bool | tuple):
        raise ValueError("a number is needed")
    return parameter.value


BASELINE = "baseline"
# What a column may be read from besides visits and case records.
OF_COURSE = (
    "reference", "age_at_injection", "assessed_on", "rule_set", "standing", "went_on_because", "injected_on", "discs",
    "number_of_discs", "material", "total_volume", "further_injections", "adverse_events", "highest_grade", "serious_events",
    "later_intervention", "later_intervention_on", "last_known_on", "last_known_state",
)  # fmt: skip
OF_VISIT = ("date", "state")


def wrong_column(column: "RegistryColumn", visits: tuple[str, ...], measures: tuple[str, ...]) -> str:
    """What is wrong with where a column is read; empty where nothing is."""
    where, _, what = column.of.partition(".")
    if where == "course":
        return "" if what in OF_COURSE else f"course has {', '.join(OF_COURSE)}"
    if where == "case":
        element = catalogue().get(what)
        return (
            ""
            if element is not None and element.scope == "patient"
            else "case takes a data element of the patient"
        )
    if where == BASELINE or where in visits:
        known = (*measures, *(OF_VISIT if where != BASELINE else ()))
        return (
            ""
            if what in known
            else f"{where} takes a measure of the forms{'' if where == BASELINE else ', date or state'}"
        )
    return f"begins with course, case, {BASELINE} or a planned visit: {', '.join(visits)}"


class RegistryColumn(Strict):
    """One column of the registry table."""

    variable: Identifier
    """Its name."""
    form: Identifier
    """Heading under which it stands."""
    kind: Literal["text", "date", "number", "whole", "choice", "yes_no"]
    """Type of the field."""
    label: Text
    """What it holds, in words."""
    choices: dict[str, str] | None = None
    """Codes of a choice, each with what it means."""
    unit: str = ""
    """Unit of a number."""
    of: str
    """Where it is read: ``course.NAME``, ``case.ELEMENT``, ``baseline.MEASURE`` or ``VISIT.MEASURE``."""


class RegistryFile(_ContentFile):
    """Columns of the table that is handed to a registry."""

    id: Literal["registry"]
    """Name of the file."""
    columns: Annotated[Rows[RegistryColumn], Field(min_length=1)]
    """The columns, in order."""


OutcomeFile = RespondersFile | RunningFile | RegistryFile
MODELS: dict[str, type[RespondersFile] | type[RunningFile] | type[RegistryFile]] = {
    "responders": RespondersFile,
    "running_checks": RunningFile,
    "registry": RegistryFile,
}


def outcome_file(library: Library, name: str) -> OutcomeFile:
    """Read one of the files of a library; one's own stands in the place of the shipped one.

    Raises
    ------
    RuleError
        With everything that is wrong with it.
    KeyError
        If there is no such file.
    """
    path = library.care_files("outcomes")[name]
    model = MODELS[name]
    try:
        return validate(model, library.tree(path), str(path), lambda at: _keys(model, at))
    except InputError as error:
        raise RuleError(error.problems) from None


def _keys(model: type[BaseModel], at: tuple[Any, ...]) -> list[str]:
    """Keys that may stand at a place, for "did you mean"."""
    inside: dict[str, type[BaseModel]] = {
        "definitions": ResponseDefinition, "tests": ResponseTest, "cites": Citation, "checks": RunningCheck,
        "events": CountedEvents, "columns": RegistryColumn, "changes": Change, "alternatives": Alternative,
        "published": PublishedResult, "allowed": Bounds, "usual_visit": Parameter, "mask_below": Parameter, "expected": Parameter,
        "ratio": Parameter, "patients": Parameter, "false_alarms": Parameter, "chosen_high": ChosenHigh,
    }  # fmt: skip
    last = next((step for step in reversed(at) if isinstance(step, str)), "")
    return list(inside.get(last, model).model_fields)
