"""Whom a document is of, as far as its own words tell: sex, and years of birth. It may be another patient's.

Only what labels give (``Sex: M``, ``DOB: 1959-02-11``) and what stands as ``67-year-old man``; of relatives nothing, and nothing
where a document tells two things. A name or a record number is never taken.
"""

import re
from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from candidacy.case.edit import facts_of
from candidacy.case.reader_notes import READER
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.errors import Code, Problem
from candidacy.reading.elements import ReadFact

_MAN, _WOMAN = r"male|man|gentleman|m", r"female|woman|lady|f"
_WHO = rf"(?P<sex>{_MAN}|{_WOMAN})"
_AGE = r"0?(?P<age>\d{1,3})"
_OLD = r"[- ]?(?:years?|yrs?|y)[-/. ]{0,2}(?:old|of age|o)\b\.?"
_SEX_LABEL = re.compile(
    rf"\b(?:(?:sex|gender)[ \t]*[:=|][ \t]*{_WHO}|patient[ \t]*[:=|][ \t]*(?P<sex2>male|female))\b",
    re.IGNORECASE,
)
_AGE_LABEL = re.compile(
    rf"(?<!bone )\bage[ \t]*[:=|][ \t]*{_AGE}(?!\d|[ \t]*(?:months?|weeks?|days?|m\b|w\b|d\b))", re.IGNORECASE
)
_BOTH_LABEL = re.compile(
    rf"\b(?:age[ \t]*/[ \t]*(?:sex|gender)|(?:sex|gender)[ \t]*/[ \t]*age)[ \t]*[:=|][ \t]*"
    rf"(?:{_AGE}(?:[ \t]*y\w*)?[ \t]*[/,][ \t]*{_WHO}\b|(?P<sex2>{_MAN}|{_WOMAN})[ \t]*[/,][ \t]*0?(?P<age2>\d{{1,3}})\b)",
    re.IGNORECASE,
)
_NARRATIVE = re.compile(
    rf"\b{_AGE}{_OLD}(?:[ ,]+(?!and\b|or\b|with\b|the\b)[a-z-]+)?[ ,]+{_WHO}\b", re.IGNORECASE
)
_SHORT = re.compile(r"\b(?P<age>\d{2})[ ]?(?:years?|yrs?|y)[ ]?/[ ]?(?P<sex>[MF])\b")
_BORN = re.compile(
    r"\b(?:d\.?o\.?b\.?|date of birth|birth ?date|born(?: on)?)[ \t]*[:=|]?[ \t]*"
    r"(?P<day>(?P<year>(?:19|20)\d\d)-\d\d-\d\d|(?:(?:\d{1,2}|(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*)[-/. ,]{1,2}){1,2}(?P<last>(?:19|20)\d\d))\b",
    re.IGNORECASE,
)
_RELATIVE = re.compile(
    r"\b(?:mother|father|sister|brother|son|daughter|husband|wife|partner|parents?|aunt|uncle|cousin|friend|carer|twin|donor)\b",
    re.IGNORECASE,
)
_NEAR = 30  # signs before an age in which a relative may stand
_YEARS_BEFORE = 5  # so old may a document without a day be (common practice)


class Person(NamedTuple):
    """Whom a text tells of: sex, first and last year of birth; each empty where it is not told, or told in two ways."""

    sex: str = ""
    born: tuple[int, int] | None = None
    words: tuple[str, ...] = ()
    """The words that tell it."""

    @property
    def told(self) -> str:
        """In words."""
        years = "" if self.born is None else (
            f"born {self.born[0]}" if self.born[0] == self.born[1] else f"born {self.born[0]} to {self.born[1]}")  # fmt: skip
        return ", ".join(filter(None, (self.sex, years)))


def person_told(text: str, day: str, today: date, facts: Iterable[ReadFact] = ()) -> Person:
    """Whom a document tells of; ``day`` is its own (``YYYY-MM-DD``), empty where it is not known.

    ``facts`` were read from it: a letter tells the sex in more ways than labels.
    """
    sexes: dict[str, str] = {}
    years: dict[tuple[int, int], str] = {}
    for pattern in (_SEX_LABEL, _AGE_LABEL, _BOTH_LABEL, _NARRATIVE, _SHORT):
        for match in pattern.finditer(text):
            if pattern in (_NARRATIVE, _SHORT) and _RELATIVE.search(
                text[max(0, match.start() - _NEAR) : match.start()]
            ):
                continue
            found = match.groupdict()
            words = " ".join(match[0].split())
            if sex := found.get("sex") or found.get("sex2"):
                sexes["male" if re.fullmatch(_MAN, sex.lower()) else "female"] = words
            if age := found.get("age") or found.get("age2"):
                years[_years(int(age), day, today)] = words
    for fact in facts:
        if (fact.subject, fact.element) == ("patient", "sex") and fact.entry.value in ("male", "female"):
            sexes.setdefault(str(fact.entry.value), " ".join((fact.entry.words or "").split()))
    exact = {}
    for match in _BORN.finditer(text):
        year = int(match["year"] or match["last"])
        exact[year, year] = f"born {year}"
    years = exact or years
    sex = next(iter(sexes)) if len(sexes) == 1 else ""
    born = _together(list(years))
    told = ([sexes[sex]] if sex else []) + (list(years.values())[:1] if born else [])
    return Person(sex, born, tuple(dict.fromkeys(told)))


def _together(years: list[tuple[int, int]]) -> tuple[int, int] | None:
    low, high = max((y[0] for y in years), default=1), min((y[1] for y in years), default=0)
    return (low, high) if low <= high else None


def _years(age: int, day: str, today: date) -> tuple[int, int]:
    if re.match(r"\d{4}", day):
        return int(day[:4]) - age - 1, int(day[:4]) - age
    return today.year - _YEARS_BEFORE - age - 1, today.year - age


def person_recorded(record: CaseRecord, today: date) -> Person:
    """Whom a case record is of."""
    facts = facts_of(record, "patient")
    sex, birth, age = facts.get("sex"), facts.get("birth_date"), facts.get("age")
    born = None
    if birth is not None and isinstance(birth.value, str) and re.match(r"\d{4}", birth.value):
        born = int(birth.value[:4]), int(birth.value[:4])
    elif age is not None and isinstance(age.value, int | float):
        source = record.documents.get(age.source or "")
        born = _years(int(age.value), age.date or (source.date if source is not None else "") or "", today)
    return Person(str(sex.value) if sex is not None and sex.value in ("male", "female") else "", born)


def apart(one: Person, other: Person) -> bool:
    """Whether two cannot be one person; a year more or less may be a birthday, or a slip of counting."""
    if one.sex and other.sex and one.sex != other.sex:
        return True
    if one.born is None or other.born is None:
        return False
    return max(one.born[0], other.born[0]) > min(one.born[1], other.born[1]) + 1


def of_another(told: Person, known: Person, name: str, of: str, step: str) -> Problem | None:
    """That a document's own words tell of another patient than a record or document ``of``, if so; ``step`` is the way out."""
    if not apart(told, known):
        return None
    return Problem(Code.CONTRADICTION, "the document tells of another patient", name, field="patient",
                   found=f"document: {' / '.join(told.words)}; {of}: {known.told}", next_step=step)  # fmt: skip


def in_conflict(told: Person, known: Person) -> tuple[ReadFact, ...]:
    """What a document tells of whom it is of, as facts that differ from the record's, to be written down as a conflict."""
    found = []
    if told.sex and known.sex and told.sex != known.sex:
        found.append(("sex", FactEntry(value=told.sex, words=told.words[0], by=READER)))
    if apart(told._replace(sex=""), known._replace(sex="")) and told.born is not None:
        low, high = told.born
        value = {"value": f"{low}"} if low == high else {"between": [f"{low}", f"{high}"]}
        found.append(("birth_date", FactEntry(**value, words=told.words[-1], by=READER)))
    return tuple(ReadFact("patient", element, entry, ()) for element, entry in found)
