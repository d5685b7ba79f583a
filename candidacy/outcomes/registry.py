"""The registry table: one row for each treated patient, with a data dictionary, by the columns that a library declares.

It holds references as the practice gave them, so it is for those who may see them; nothing in it is masked.
"""

from collections.abc import Callable, Iterator
from datetime import date

from candidacy.assessment.assess import Assessment
from candidacy.foundation import units
from candidacy.foundation.dates import day, years_between
from candidacy.foundation.values import Options, Span
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.later import interventions
from candidacy.outcomes.practice import Patient
from candidacy.outcomes.visits import Seen, baseline_of, number_at
from candidacy.rules.outcome_files import BASELINE, RegistryColumn, RegistryFile

Cell = str | float | int | bool | date | None
DICTIONARY = ("variable", "form", "field_type", "label", "choices", "units")


def table_of(found: Outcomes, as_days: bool = False) -> tuple[list[RegistryColumn], list[list[Cell]]]:
    """The columns and one row for each patient with a session that can be counted.

    Parameters
    ----------
    as_days
        Give every date as whole days from the injection, so that no date leaves the practice.
    """
    columns = list(found.registry.columns)
    rows = [list(_row(found, at, patient, columns, as_days)) for at, patient in enumerate(found.patients)]
    return ([_as_days(column) for column in columns] if as_days else columns), rows


def dictionary_of(file: RegistryFile, as_days: bool = False) -> list[list[str]]:
    """The data dictionary: a line for each column, in the order of `DICTIONARY`."""
    columns = [_as_days(column) if as_days else column for column in file.columns]
    return [
        [
            column.variable, column.form, column.kind, column.label,
            " | ".join(f"{code}, {words}" for code, words in (column.choices or {}).items()), column.unit,
        ]
        for column in columns
    ]  # fmt: skip


def _as_days(column: RegistryColumn) -> RegistryColumn:
    if column.kind != "date":
        return column
    return column.model_copy(
        update={"kind": "whole", "unit": "day", "label": f"{column.label}, in days from the injection"}
    )


def _row(
    found: Outcomes, at: int, patient: Patient, columns: list[RegistryColumn], as_days: bool
) -> Iterator[Cell]:
    again = found.again.found.get(patient.reference)
    for column in columns:
        cell = _cell(found, at, patient, again, column)
        if as_days and isinstance(cell, date):
            assert patient.injected is not None
            cell = (cell - patient.injected).days
        yield cell


def _cell(
    found: Outcomes, at: int, patient: Patient, again: Assessment | None, column: RegistryColumn
) -> Cell:
    where, _, what = column.of.partition(".")
    if where == "course":
        return _COURSE[what](patient)
    if where == "case":
        return _fact(again, what)
    if where == BASELINE:
        return _number(number_at(baseline_of(patient), what), column)
    states = found.seen.get(where)
    if states is None:
        return None
    seen: Seen = states[at]
    if what == "state":
        return seen.state
    if what == "date":
        return day(seen.visit.date) if seen.visit else None
    return _number(number_at(seen.visit, what), column)


def _number(value: float | None, column: RegistryColumn) -> Cell:
    return int(value) if value is not None and column.kind == "whole" and value == int(value) else value


def _fact(again: Assessment | None, element: str) -> Cell:
    """A fact of the case record as it stood at the assessment; nothing where it is not exactly known."""
    if again is None:
        return None
    value = again.view.fact(element, "patient").value
    if isinstance(value, Span):
        return round(value.low, 2) if value.exact else None
    if isinstance(value, Options) and value.exact:
        (only,) = value.codes
        return only
    return None


def _age(patient: Patient) -> Cell:
    fact = patient.case.facts.patient.get("birth_date") if patient.case else None
    if fact is None or patient.injected is None or not isinstance(fact.value, Span):
        return None
    today = float(patient.injected.toordinal())
    years = years_between(fact.value, Span(today, today))
    return int(years.low) if years.exact else None


def _volume(patient: Patient) -> Cell:
    if patient.first is None or any(disc.volume is None for disc in patient.first.discs):
        return None
    volumes = [disc.volume for disc in patient.first.discs if disc.volume]
    found = [units.convert(Span(v.value, v.value), units.normal_spelling(v.unit), "mL").low for v in volumes]
    return round(sum(found), 3)


def _had_later(patient: Patient) -> bool | None:
    """Whether there was one at a treated disc; None where one is recorded whose level and reason are not known."""
    found = [treated for _, treated in interventions(patient)]
    return True if True in found else None if None in found else False


def _later(patient: Patient) -> date | None:
    return next((when for when, treated in interventions(patient) if treated), None)


def _assessed(name: str) -> Callable[[Patient], Cell]:
    def of(patient: Patient) -> Cell:
        assessed = patient.first.assessed if patient.first else None
        if assessed is None:
            return None
        if name == "on":
            return day(assessed.on)
        return f"{assessed.rule_set} {assessed.version}" if name == "rule_set" else assessed.standing

    return of


_COURSE: dict[str, Callable[[Patient], Cell]] = {
    "reference": lambda p: p.reference,
    "age_at_injection": _age,
    "assessed_on": _assessed("on"),
    "rule_set": _assessed("rule_set"),
    "standing": _assessed("standing"),
    "went_on_because": lambda p: p.first.went_on.because if p.first and p.first.went_on else None,
    "injected_on": lambda p: p.injected,
    "discs": lambda p: " ".join(p.discs),
    "number_of_discs": lambda p: len(p.discs),
    "material": lambda p: (
        "; ".join(dict.fromkeys(disc.material for disc in p.first.discs)) if p.first else None
    ),
    "total_volume": _volume,
    "further_injections": lambda p: len(p.record.injections) - 1,
    "adverse_events": lambda p: len(p.record.events),
    "highest_grade": lambda p: max((e.grade for e in p.record.events if e.grade is not None), default=None),
    "serious_events": lambda p: sum(bool(e.serious) for e in p.record.events),
    "later_intervention": _had_later,
    "later_intervention_on": _later,
    "last_known_on": lambda p: p.known_until,
    "last_known_state": lambda p: p.ended or None,
}
