"""Scores of questionnaires answered at a visit, by the same formulas as those of a case record."""

from collections.abc import Mapping
from functools import lru_cache

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.dates import day
from candidacy.foundation.values import Span
from candidacy.rules.libraries import library_in_use

INDEX = "oswestry_disability_index"
SECTIONS = tuple(f"odi_section_{number}" for number in range(1, 11))
_ITEMS = tuple(f"odi_item{number}" for number in range(1, 11))
_ANY_DAY = "2026-01-01"  # nothing in a score depends on the day


def index_of_sections(answers: Mapping[str, object], blank: Mapping[str, str]) -> float | None:
    """Oswestry Disability Index from its sections, in percent, 0 to 100.

    Parameters
    ----------
    answers
        Answers of a visit; sections 0 to 5 by their id.
    blank
        Unanswered measures of the visit; sections among them count as left blank.

    Returns
    -------
    float or None
        None where the sections do not fix one score: more than two are blank, or some are neither answered nor said to
        be blank.
    """
    given = tuple(answers.get(section) for section in SECTIONS)
    if not any(isinstance(each, int) for each in given):
        return None
    return _index(
        tuple(each if isinstance(each, int) else None for each in given),
        tuple(section in blank for section in SECTIONS),
    )


def sections_misfit(answers: Mapping[str, object]) -> tuple[str, str, str] | None:
    """Where a stated index cannot be that of its sections: the measure, what was found, and what the sections give."""
    stated = answers.get(INDEX)
    if isinstance(stated, bool) or not isinstance(stated, int | float):
        return None
    left = [section for section in SECTIONS if section not in answers]
    found = index_of_sections(answers, dict.fromkeys(left, "blank"))
    if found is None or abs(found - stated) <= catalogue()["odi_percent"].agrees_within:
        return None
    return INDEX, f"{stated}", f"{found:g} from {len(SECTIONS) - len(left)} sections"


@lru_cache(4096)
def _index(given: tuple[int | None, ...], blank: tuple[bool, ...]) -> float | None:
    table = {
        item: FactEntry(unknown="not_stated") if left else FactEntry(value=answer, date=_ANY_DAY)
        for item, answer, left in zip(_ITEMS, given, blank, strict=True)
        if left or answer is not None
    }
    case = case_from_record(CaseRecord(schema_version="1", id="visit", as_of=_ANY_DAY, patient=table))
    library = library_in_use()
    settings = {name: setting.value for name, setting in library.settings().items()}
    value = View(case.facts, day(_ANY_DAY), settings, library.tables()).fact("odi_percent", "patient").value
    return float(value.low) if isinstance(value, Span) and value.exact else None
