"""Written records that come to many answers: the cases beside criteria, and the demonstration cases.

An element with a formula that is not tabulated gets its value in a witness from these: from facts with which the program's own
formula is known to give it.
"""

from datetime import date
from functools import cache

from candidacy.case.element import LEVELS
from candidacy.case.load import load_case
from candidacy.case.record import CaseRecord
from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.prove.draft import Draft, draft_of
from candidacy.rules.criterion_cases import load_cases, record_of
from candidacy.rules.libraries import library_in_use
from candidacy.rules.library import Library
from candidacy.rules.resolved import as_declared
from candidacy.rules.tree import elements_of


def samples_of(element: str, as_of: date) -> tuple[Draft, ...]:
    """The records of criterion cases whose criterion reads an element, moved to a day, short ones first."""
    return _moved(_of_library(library_in_use(), element), as_of)


def demonstration(as_of: date) -> tuple[Draft, ...]:
    """The demonstration cases, moved to a day."""
    return _moved(_demonstration(), as_of)


def _moved(records: tuple[tuple[CaseRecord, date], ...], as_of: date) -> tuple[Draft, ...]:
    found = [draft_of(record, (as_of - then).days) for record, then in records]
    return tuple(sorted((each for each in found if each is not None), key=lambda each: len(each.facts)))


@cache
def _of_library(library: Library, element: str) -> tuple[tuple[CaseRecord, date], ...]:
    found: list[tuple[CaseRecord, date]] = []
    if library.base is not None:
        found += _of_library(library.base, element)
    for name, path in library.layout.cases.items():
        try:
            if name not in library.layout.criteria or element not in _read(library, name):
                continue
            criterion = library.criterion(name)
            for case in load_cases(path)[0]:
                subject = case.subject or ("patient" if criterion.subject == "patient" else "L4-L5")
                found.append((record_of(case, subject), day(case.as_of)))
        except InputError:  # what is wrong with it is told by the checks of the library
            continue
    return tuple(found)


@cache
def _read(library: Library, name: str) -> frozenset[str]:
    return frozenset(elements_of(*as_declared(library.criterion(name)).conditions))


@cache
def _demonstration() -> tuple[tuple[CaseRecord, date], ...]:
    found = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            record = load_case(path).record
        except InputError:
            continue
        if record.as_of is not None and set(record.discs) <= set(LEVELS):
            found.append((record, day(record.as_of)))
    return tuple(found)
