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
# A form that nobody filled in (Sex: M / F), and "41 y.o. f/u": one letter or word of two tells nothing.
_ALONE = r"\b(?![ \t]*/[ \t]*(?:m|f|male|female|u|c)\b)"
_SEX_LABEL = re.compile(
    rf"\b(?:(?:sex|gender)[ \t]*[:=|][ \t]*{_WHO}|patient[ \t]*[:=|][ \t]*(?P<sex2>male|female)){_ALONE}",
    re.IGNORECASE,
)
_SEX_COLUMN = re.compile(
    r"(?<![\w.] )(?<![\w.-])(?:sex|gender)[ \t]{1,9}(?P<sex>male|female|m|f)(?=[ \t]?(?:$|[,;|\t]|  ))",
    re.IGNORECASE | re.MULTILINE,
)
_AGE_LABEL = re.compile(
    rf"\bage[ \t]*[:=|][ \t]*{_AGE}"
    r"(?!\d|[ \t]*(?:months?|weeks?|days?|m\b|w\b|d\b)|[ \t]*(?:y\w*[ \t]*)?(?:[-–][ \t]*\d|(?:to|and|or|at|when)\b))",
    re.IGNORECASE,
)
_BOTH_LABEL = re.compile(
    rf"\b(?:age[ \t]*/[ \t]*(?:sex|gender)|(?:sex|gender)[ \t]*/[ \t]*age)[ \t]*[:=|][ \t]*"
    rf"(?:{_AGE}(?:[ \t]*y\w*)?[ \t]*[/,][ \t]*{_WHO}\b|(?P<sex2>{_MAN}|{_WOMAN})[ \t]*[/,][ \t]*0?(?P<age2>\d{{1,3}})\b)",
    re.IGNORECASE,
)
_BETWEEN = (
    r"(?!(?:and|or|with|the|by|of|in|to|for|from|his|her|who|whose|an?|is|was|has|had|patient)\b)[a-z-]{2,}"
)
_NARRATIVE = re.compile(
    rf"\b{_AGE}{_OLD}(?:(?:[ ,]+{_BETWEEN}){{0,3}}?[ ,]+(?P<sex>male|man|gentleman|female|woman|lady)\b|[ ,]+(?P<sex2>[mf]){_ALONE})",
    re.IGNORECASE,
)
_SHORT = re.compile(r"\b(?P<age>\d{2})[ ]?(?:years?|yrs?|y)[ ]?/[ ]?(?P<sex>[MF])\b")
_MONTH = r"(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*"
_BORN = re.compile(
    r"\b(?:d\.?o\.?b\.?|date of birth|birth ?date|born(?: on)?)[ \t]{0,9}[:=|]?[ \t]{0,9}"
    r"(?:(?P<year>(?:19|20)\d\d)(?:[-/.]\d\d?[-/.]\d\d?(?:T[\d:.]+)?|\d{4})"
    rf"|(?:(?:\d{{1,2}}(?:st|nd|rd|th)?|{_MONTH})[-/. ,]{{1,2}}){{1,2}}(?P<last>(?:19|20)\d\d)"
    rf"|\d{{1,2}}[-/.](?:\d{{1,2}}|{_MONTH})[-/.](?P<short>\d\d))\b(?![-/.]\d)",
    re.IGNORECASE,
)
_RELATIVES = (
    r"(?:mother|father|sister|brother|son|daughter|husband|wife|spouse|partner|parents?|aunt|uncle|cousin|niece|nephew"
    r"|grand\w+|child(?:ren)?|baby|infant|friend|boyfriend|girlfriend|next of kin|emergency contact|carer|twin|donor)"
)
# Before what is told of somebody else: a relative, who is compared with, who is cared for, and what is no age of a person.
_OF_OTHERS = re.compile(
    rf"\b{_RELATIVES}\b|\b(?:with|than|like|versus|as|car(?:e|es|ed|ing) for|looks? after)\s+an?\s+$"
    r"|\b(?:bone|fracture|lesion|injury|gestational|mental)\s+$",
    re.IGNORECASE,
)
# Behind it: "a 67-year-old man, her husband".
_OTHERS_BEHIND = re.compile(
    rf"[ ,(]+(?:who is |being )?(?:her|his|the patient's) {_RELATIVES}(?=\s*(?:[.,;)]|$))", re.IGNORECASE
)
_SENTENCE = re.compile(r"[.!?]\s")
# How a record notes beside a document whom it tells of, where nothing else of the record tells that.
_NOTED = re.compile(
    r"\btells of a patient: (?P<sex>male|female)?(?:, )?(?:born (?P<low>\d{4})(?: to (?P<high>\d{4}))?)?"
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
    for pattern in (_SEX_LABEL, _SEX_COLUMN, _AGE_LABEL, _BOTH_LABEL, _NARRATIVE, _SHORT):
        for match in pattern.finditer(text):
            if _of_others(text, match):
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
        if _of_others(text, match):
            continue
        year = int(match["year"] or match["last"] or f"19{match['short']}")
        if match["short"] and int(match["short"]) <= today.year % 100:
            continue  # it may be of this century as well
        exact[year, year] = f"born {year}"
    years = exact or years
    sex = next(iter(sexes)) if len(sexes) == 1 else ""
    born = _together(list(years))
    told = ([sexes[sex]] if sex else []) + (list(years.values())[:1] if born else [])
    return Person(sex, born, tuple(dict.fromkeys(told)))


def _of_others(text: str, match: re.Match[str]) -> bool:
    """Whether what stands beside it in its sentence says that it is told of somebody else."""
    before = _SENTENCE.split(text[max(0, match.start() - _NEAR) : match.start()])[-1]
    return bool(_OF_OTHERS.search(before) or _OTHERS_BEHIND.match(text, match.end()))


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
        born = _years(
            int(age.value),
            age.date or (source.date if source is not None else "") or record.as_of or "",
            today,
        )
    of = str(sex.value) if sex is not None and sex.value in ("male", "female") else ""
    noted = [each for document in record.documents.values() for each in _NOTED.finditer(document.note)]
    sexes = {each["sex"] for each in noted if each["sex"]}
    years = [(int(each["low"]), int(each["high"] or each["low"])) for each in noted if each["low"]]
    return Person(of or ("".join(sexes) if len(sexes) == 1 else ""), born or _together(years))


def told_anew(told: Person, known: Person, facts: Iterable[ReadFact]) -> str:
    """What a document tells of its patient and the record does not, for the note beside it: the next document is held against it.

    ``facts`` were read from it and go into the record themselves.
    """
    read = {fact.element for fact in facts if fact.subject == "patient"}
    sex = "" if known.sex or "sex" in read else told.sex
    born = None if known.born or read & {"age", "birth_date"} else told.born
    words = Person(sex, born).told
    return f"tells of a patient: {words}" if words else ""


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
