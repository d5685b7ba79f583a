"""Into which groups the criteria of a rule set divide the treated: by outcome, by what happened where one failed, by value."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct

from candidacy.assessment.evaluate import Trace
from candidacy.assessment.results import CriterionResult
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.outcomes.practice import Patient
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter, RuleSet

# Results of an assessment by their criterion; of patients by their reference.
Results = Mapping[str, Sequence[CriterionResult]]
PASSED, UNDETERMINED, NOT_ASSESSED = "passed", "undetermined", "not assessed again"
NOT_KNOWN, DIFFER = "value not known", "treated discs differ"
WENT_ON = {
    "conference": "failed, treated after the conference",
    "physician": "failed, treated by decision of the physician",
    "trial": "failed, treated in a trial",
    "other": "failed, treated for another reason",
    "": "failed, treated, reason not written",
}
STILL_CANDIDATE = "failed, candidate all the same"


class Split(Struct, frozen=True):
    """A division of the treated: the name of the group of each patient, by reference.

    Attributes
    ----------
    criterion, parameter
        What divides them; ``parameter`` is empty for outcomes.
    order
        Names of the groups in order; each patient is in exactly one.
    limits
        Limits of a parameter, the one in use and those of other sources.
    """

    criterion: str
    title: str
    parameter: str
    order: tuple[str, ...]
    members: Mapping[str, str]
    limits: tuple[float, ...] = ()
    in_use: float | None = None
    unit: str = ""


def standing_split(patients: tuple[Patient, ...]) -> Split:
    """Patients by the standing that was recorded, and why those went on that were no candidates."""
    members = {}
    for patient in patients:
        first = patient.first
        assessed = first.assessed if first else None
        if assessed is None:
            members[patient.reference] = "no assessment recorded"
        elif assessed.standing == "candidate":
            members[patient.reference] = "candidate"
        else:
            because = first.went_on.because if first and first.went_on else ""
            reason = WENT_ON[because].removeprefix("failed, ")
            members[patient.reference] = f"{assessed.standing.replace('_', ' ')}, {reason}"
    order = tuple(sorted(set(members.values()), key=lambda name: (name != "candidate", name)))
    return Split("", "Standing as recorded before the injection", "", order, members)


def outcome_split(
    item: ResolvedCriterion, patients: tuple[Patient, ...], again: Mapping[str, Results]
) -> Split:
    """Patients by the outcome of a criterion; a disc criterion fails if it fails of one treated disc."""
    order = (PASSED, *WENT_ON.values(), STILL_CANDIDATE, UNDETERMINED, NOT_ASSESSED)
    members = {}
    for patient in patients:
        found = again.get(patient.reference)
        outcomes = set(_outcomes(item, patient, found)) if found is not None else set()
        if not outcomes:
            members[patient.reference] = NOT_ASSESSED
        elif "fail" in outcomes:
            went_on = patient.first.went_on if patient.first else None
            assessed = patient.first.assessed if patient.first else None
            if assessed is not None and assessed.standing == "candidate" and went_on is None:
                members[patient.reference] = STILL_CANDIDATE
            else:
                members[patient.reference] = WENT_ON[went_on.because if went_on else ""]
        else:
            members[patient.reference] = UNDETERMINED if "undetermined" in outcomes else PASSED
    return Split(item.id, item.criterion.title, "", order, members)


def _outcomes(item: ResolvedCriterion, patient: Patient, found: Results) -> Iterator[str]:
    wanted = ("patient",) if item.criterion.subject == "patient" else patient.discs
    for result in found.get(item.id, ()):
        if result.subject in wanted:
            yield result.outcome


def value_splits(
    rule_set: RuleSet, patients: tuple[Patient, ...], again: Mapping[str, Results]
) -> Iterator[Split]:
    """Patients by their value below and above each limit of a rule set, and each limit that other sources have.

    Only numbers are divided so; a value that was too old or too imprecise to be read is not known.
    """
    for item in rule_set.criteria:
        for name, parameter in item.parameters.items():
            limits = limits_of(parameter)
            if not limits:
                continue
            bands = band_names(limits, parameter.unit or "")
            members = {}
            for patient in patients:
                found = again.get(patient.reference)
                members[patient.reference] = (
                    _band(item, name, patient, found, limits, bands) if found is not None else NOT_ASSESSED
                )
            if len(set(members.values()) & set(bands)) > 1:
                yield Split(
                    item.id, item.criterion.title, name, (*bands, DIFFER, NOT_KNOWN, NOT_ASSESSED), members, limits,
                    float(parameter.value), parameter.unit or "",  # type: ignore[arg-type]
                )  # fmt: skip


def limits_of(parameter: ResolvedParameter) -> tuple[float, ...]:
    """The limit in use and those of other sources, in order; nothing where the parameter is no single number."""
    values = (
        parameter.value,
        parameter.declared.value,
        *(other.value for other in parameter.declared.alternatives),
    )
    if isinstance(parameter.value, str | bool | tuple):
        return ()
    return tuple(sorted({float(v) for v in values if isinstance(v, int | float) and not isinstance(v, bool)}))


def band_names(limits: tuple[float, ...], unit: str) -> tuple[str, ...]:
    """Names of the bands between limits; a value that is a limit belongs to the band above it.

    Examples
    --------
    >>> band_names((30.0, 35.0), "kg/m2")
    ('below 30 kg/m2', '30 to below 35 kg/m2', '35 kg/m2 and above')
    """
    of = f" {unit}" if unit and unit != "1" else ""
    between = [f"{low:g} to below {high:g}{of}" for low, high in pairwise(limits)]
    return (f"below {limits[0]:g}{of}", *between, f"{limits[-1]:g}{of} and above")


def _band(
    item: ResolvedCriterion,
    parameter: str,
    patient: Patient,
    found: Results,
    limits: tuple[float, ...],
    bands: tuple[str, ...],
) -> str:
    subjects = ("patient",) if item.criterion.subject == "patient" else patient.discs
    seen: set[str] = set()
    for result in found.get(item.id, ()):
        if result.subject in subjects:
            value = next(_values(result.evaluation.trace, parameter), None)
            if value is None:
                return NOT_KNOWN
            low, high = (sum(1 for limit in limits if end >= limit) for end in (value.low, value.high))
            if low != high:
                return NOT_KNOWN
            seen.add(bands[low])
    if not seen:
        return NOT_KNOWN
    return seen.pop() if len(seen) == 1 else DIFFER


def _values(trace: Trace, parameter: str) -> Iterator[Span]:
    """Values that were compared with a parameter and could be read."""
    if parameter in trace.parameters and trace.truth is not Truth.UNKNOWN:
        value = trace.tally if trace.kind == "elapsed" else trace.fact.value if trace.fact else None
        if isinstance(value, Span):
            yield value
    for part in trace.parts:
        yield from _values(part, parameter)
