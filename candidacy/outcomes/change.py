"""Change from baseline against what is called important and against the error of measurement, source by source."""

from collections.abc import Callable
from datetime import date
from statistics import fmean, stdev

from msgspec import Struct

from candidacy.course.content import Measure, PlannedVisit
from candidacy.explain.cited import cites_words
from candidacy.outcomes.intervals import Proportion, proportion
from candidacy.outcomes.practice import Patient
from candidacy.outcomes.visits import both_at, seen_at
from candidacy.rules.cited import TableRow
from candidacy.rules.library import Library

# Of a baseline and an improvement, whether that is as much as a published size of change.
Meets = Callable[[float, float], bool]
IMPORTANT, ERROR = "important_change", "measurement_error"


class Bar(Struct, frozen=True):
    """A published size of change, and how many improved by as much.

    ``kind`` is important_change or measurement_error; ``in_use`` says that a setting of the library names this row.
    """

    kind: str
    key: str
    words: str
    cites: str
    reached: Proportion
    in_use: bool


class Change(Struct, frozen=True):
    """Improvement of one measure from baseline to a visit, over patients with both; positive is better.

    Attributes
    ----------
    mean, spread
        Mean and standard deviation of the improvement, in the unit of the measure; None of too few.
    improvements
        The improvements in order, for the curve over all thresholds.
    important_within_error
        Patients whose improvement is called important by the row in use and lies within the error of the row in use.
    """

    measure: Measure
    visit: str
    pairs: int
    mean: float | None
    spread: float | None
    improvements: tuple[float, ...]
    bars: tuple[Bar, ...]
    important_within_error: int | None


def change_of(
    patients: tuple[Patient, ...], measure: Measure, planned: PlannedVisit, on: date, library: Library
) -> Change:
    """How a measure changed from baseline to a visit."""
    pairs = []
    for patient in patients:
        seen = seen_at(patient, planned, on)
        found = both_at(patient, seen.visit, (measure.id,)) if seen.state == "seen" else None
        if found is not None:
            pairs.append(found[1:])
    better = -1 if measure.worse == "lower" else 1
    improved = [(before, better * (before - after)) for before, after in pairs]
    used = _rows_in_use(library)
    bars: list[Bar] = []
    reached: dict[str, list[bool]] = {}
    for kind in (IMPORTANT, ERROR):
        for row in _rows(library, kind, measure.element):
            words, meets = important(row, measure) if kind == IMPORTANT else _beyond_error(row, measure)
            if words:
                yes = [meets(before, fall) for before, fall in improved]
                in_use = row.key in used[kind]
                if in_use:
                    reached[kind] = yes
                bars.append(
                    Bar(kind, row.key, words, cites_words(row.cites), proportion(sum(yes), len(yes)), in_use)
                )
    falls = sorted(fall for _, fall in improved)
    both = None
    if IMPORTANT in reached and ERROR in reached:
        both = sum(
            important and not beyond
            for important, beyond in zip(reached[IMPORTANT], reached[ERROR], strict=True)
        )
    return Change(
        measure, planned.id, len(pairs), fmean(falls) if falls else None, stdev(falls) if len(falls) > 1 else None,
        tuple(falls), tuple(bars), both,
    )  # fmt: skip


def _rows(library: Library, table: str, element: str) -> list[TableRow]:
    """Rows of a table of the library that speak of a data element; none where there is no such table."""
    if not element or not library.has_table(table):
        return []
    return [row for row in library.table(table).rows if element in _several(row.values.get("elements"))]


def _rows_in_use(library: Library) -> dict[str, frozenset[str]]:
    settings = library.settings()
    found = {}
    for kind in (IMPORTANT, ERROR):
        setting = settings.get(f"{kind}_in_use")
        found[kind] = frozenset(_several(setting.value)) if setting else frozenset()
    return found


def _several(value: object) -> tuple[str, ...]:
    return tuple(str(v) for v in value) if isinstance(value, tuple) else (str(value),) if value else ()


def _number(row: TableRow, column: str) -> float | None:
    value = row.values.get(column)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def important(row: TableRow, measure: Measure) -> tuple[str, Meets]:
    """A change in the unit or in percent of the baseline, joined as the row says; rows of other forms are not counted."""
    absolute, percent = _number(row, "absolute"), _number(row, "percent")
    low, high = _number(row, "baseline_low"), _number(row, "baseline_high")
    if (absolute is None and percent is None) or low is not None or high is not None:
        return "", _never
    final, rule = _number(row, "final_value"), str(row.values.get("final_rule") or "")
    if final is not None and (measure.worse == "lower" or rule not in ("less_than", "at_most")):
        return "", _never
    unit = " percentage points" if measure.unit == "%" else f" {measure.unit}" if measure.unit else " points"
    words = [
        f"{abs(absolute):g}{unit}" if absolute is not None else "",
        f"{abs(percent):g} % of the baseline" if percent is not None else "",
        f"ending {'below' if rule == 'less_than' else 'at or below'} {final:g}{unit}"
        if final is not None
        else "",
    ]
    joined = str(row.values.get("joined") or "or")

    def meets(before: float, fall: float) -> bool:
        parts = []
        if absolute is not None:
            parts.append(fall >= abs(absolute) - 1e-9)
        if percent is not None:
            parts.append(bool(before) and 100 * fall >= abs(percent) * abs(before) - 1e-9)
        if final is not None:
            after = before - fall
            parts.append(after < final - 1e-9 if rule == "less_than" else after <= final + 1e-9)
        return all(parts) if joined == "and" else any(parts)

    return (
        f"at least {f' {joined} '.join(w for w in words if w)}, {row.values.get('grade') or 'important'}",
        meets,
    )


def _beyond_error(row: TableRow, measure: Measure) -> tuple[str, Meets]:
    """More than the smallest change outside error: at 95 % where that is known, else at 90 %."""
    for column, level in (("mdc95", "95 %"), ("mdc90", "90 %")):
        limit = _number(row, column)
        if limit is not None:
            unit = f" {measure.unit}" if measure.unit else " points"
            return f"more than {limit:g}{unit}, outside error at {level}", _exceeds(limit)
    return "", _never


def _exceeds(limit: float) -> Meets:
    return lambda before, fall: fall > limit + 1e-9


def _never(before: float, fall: float) -> bool:
    return False
