"""What a caller may hand over for a case, a rule set or a day, and what is made of it. Nothing is guessed."""

import os
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path

from candidacy.case import load
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case
from candidacy.case.record import CaseRecord
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import CaseError, Code, InputError, Problem, RuleError, shorten
from candidacy.rules.in_use import own_library
from candidacy.rules.libraries import load_rule_set as load_named
from candidacy.rules.libraries import rule_set_path, shipped
from candidacy.rules.resolved import RuleSet

DEFAULT_RULES = "practice_baseline"
CaseSource = Case | CaseRecord | Path | str | Mapping[str, object]
RuleSource = RuleSet | Path | str
Day = date | str


def load_case(case: CaseSource) -> Case:
    """A case from the path of its file, from plain data as a reader of YAML or JSON gives it, or from a record.

    Text is always a path; `candidacy.parse_case` takes the content of a file. A case that is loaded comes back as it is, unless
    it was loaded with data elements of a library that is not in use any more.

    Raises
    ------
    CaseError
        With every problem found, each with its field, and its place where there is a file; E203 for anything else.
    """
    if isinstance(case, Case):
        known = all(fact.element in catalogue() for fact in case.facts.stated())
        return (
            case if known else load.case_from_record(case.record, case.name)
        )  # which tells what is not known
    if isinstance(case, CaseRecord):
        return load.case_from_record(case, case.id)
    if isinstance(case, Mapping):
        return load.case_from_mapping(case)
    if isinstance(case, str | os.PathLike):
        if isinstance(case, str) and "\n" in case:
            raise CaseError([Problem(Code.UNREADABLE, "this is no path of a file", "case", found=shorten(case),
                                     next_step="parse_case takes the text of a record")])  # fmt: skip
        return load.load_case(case)
    raise CaseError([_wrong_type("case", case, "a path, a mapping, a CaseRecord or a Case")])


def load_rule_set(rules: RuleSource = DEFAULT_RULES) -> RuleSet:
    """A rule set by its id, or by the path of its file or folder. One that is loaded comes back as it is.

    The library that a path belongs to is checked whole, as ``rules check`` does, unless it is in use and so was checked.

    Raises
    ------
    RuleError
        E302 if there is none of that id, with the nearest; otherwise everything that is wrong with it.
    """
    if isinstance(rules, RuleSet):
        return rules
    if isinstance(rules, os.PathLike):
        path = Path(rules)
        # a path of one word stays a path, and is not looked for among the ids
        rules = str(path) if len(path.parts) > 1 or path.suffix else f"{os.curdir}{os.sep}{path}"
    if isinstance(rules, str):
        found = load_named(rules)
        _check_library_of(rules)
        return found
    raise RuleError([_wrong_type("rules", rules, "an id, a path or a RuleSet")])


def _check_library_of(name: str) -> None:
    path = rule_set_path(name)
    if path is None:
        return
    from candidacy.check.opening import target_of

    target = target_of(path)
    problems = target.problems() if target.sets or target.library not in (own_library(), shipped()) else []
    if problems:
        raise RuleError(problems)


def day_of(as_of: Day | None, case: Case | None = None) -> date:
    """The day asked for; else that of the record, else today.

    Raises
    ------
    InputError
        E207 for text that is not a whole date that exists, E203 for anything else, a moment of a day among it.
    """
    if as_of is None:
        return day(case.record.as_of) if case is not None and case.record.as_of else date.today()
    if isinstance(as_of, datetime):
        raise InputError([Problem(Code.WRONG_TYPE, "a moment, of which the day depends on a time zone",
                                  field="as_of", found=as_of.isoformat(), expected="a date",
                                  next_step="choose the day: as_of=moment.date()")])  # fmt: skip
    if isinstance(as_of, str | date):
        try:
            return day(str(as_of))
        except DateError as error:
            raise InputError([Problem(Code.BAD_DATE, str(error), field="as_of", found=shorten(str(as_of)),
                                      expected="a date, YYYY-MM-DD")]) from None  # fmt: skip
    raise InputError([_wrong_type("as_of", as_of, "a date, or text YYYY-MM-DD")])


def _wrong_type(field: str, given: object, expected: str) -> Problem:
    return Problem(
        Code.WRONG_TYPE,
        "not of the expected form",
        field=field,
        found=type(given).__name__,
        expected=expected,
    )
