"""Sixty plain checks, once as criteria and once as a straight Python function, for comparing their speed.

Forty of the patient and twenty of a disc: comparisons, ranges, codes, yes or no, pairs of them, and ages of facts. The
Python function is written out line by line, as a programmer would by hand, and says in words what it found.
"""

from collections.abc import Callable
from random import Random
from typing import Any, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS, Element
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Span
from candidacy.rules.resolved import ResolvedCriterion
from tests.reads import criterion
from tests.strategies import AS_OF, FULL, random_case

Plain = dict[str, dict[str, Any]]
Outcomes = dict[tuple[str, str], dict[str, Any]]


class Check(NamedTuple):
    """One check: an element, how it is compared, with what, and how old the fact may be, in days."""

    name: str
    element: Element
    op: str
    limits: tuple[Any, ...]
    oldest: int | None
    second: "Check | None" = None


def _single(number: int, element: Element) -> Check:
    name, oldest = f"check_{number:02}", 365 if number % 3 == 0 else None
    if element.kind == "boolean":
        return Check(name, element, "is", (False,), oldest)
    if element.kind == "choice":
        return Check(name, element, "one_of", element.codes[: max(1, len(element.codes) // 2)], oldest)
    span = element.likely or element.possible
    assert span is not None
    low, high = span.low or 0, span.high or 100
    middle = round((low + high) / 2, 1)
    op = ("at_least", "at_most", "between", "less_than", "more_than")[number % 5]
    return Check(name, element, op, (round(low, 1), middle) if op == "between" else (middle,), oldest)


def _checks(scope: str, number: int, start: int) -> list[Check]:
    plain = [e for e in catalogue().of_scope(scope) if e.statable and not e.derived and not e.covers]
    plain = [e for e in plain if e.name not in catalogue().covered_by]
    numbers = [e for e in plain if e.kind == "number"]
    yes_or_no = [e for e in plain if e.kind == "boolean"]
    choices = [e for e in plain if e.kind == "choice"]
    mixed = [e for some in zip(numbers, yes_or_no, choices, strict=False) for e in some]
    found = []
    for place in range(number):
        check = _single(start + place, mixed[place % len(mixed)])
        if place % 4 == 3:  # one in four joins two tests
            check = check._replace(
                second=_single(start + place, mixed[(place + 5) % len(mixed)])._replace(oldest=None)
            )
        found.append(check)
    return found


CHECKS = {"patient": _checks("patient", 40, 0), "disc": _checks("disc", 20, 40)}


def criteria() -> list[ResolvedCriterion]:
    """The checks as criteria of the rule language."""
    return [_criterion(check, subject) for subject, some in CHECKS.items() for check in some]


def _criterion(check: Check, subject: str) -> ResolvedCriterion:
    parameters: dict[str, Any] = {}

    def test(one: Check, letter: str) -> str:
        unit = one.element.unit
        if one.op == "is":
            return f"{{element: {one.element.name}, op: is, value: {str(one.limits[0]).lower()}}}"
        if one.op == "one_of":
            parameters[letter] = list(one.limits)
            return f"{{element: {one.element.name}, op: one_of, value: {{parameter: {letter}}}}}"
        names = [f"{letter}{n}" for n in range(len(one.limits))]
        parameters.update({name: (limit, unit) for name, limit in zip(names, one.limits, strict=True)})
        keys = ("low", "high") if one.op == "between" else ("value",)
        operands = ", ".join(f"{key}: {{parameter: {name}}}" for key, name in zip(keys, names, strict=True))
        return f"{{element: {one.element.name}, op: {one.op}, {operands}}}"

    when = test(check, "a")
    if check.second is not None:
        when = f"all: [{when}, {test(check.second, 'b')}]"
    more: dict[str, Any] = {}
    if check.oldest is not None:
        parameters["oldest"] = (check.oldest, "day")
        more["recency"] = f"{{max_age: {{parameter: oldest}}, elements: [{check.element.name}]}}"
    return criterion(when, id=check.name, subject=subject, parameters=parameters, **more)


# --- the same by hand: a fact is (lowest, highest, day, source) or (codes, day, source); None where there is none

_MET = {"at_least": "low >= {0}", "at_most": "high <= {0}", "more_than": "low > {0}", "less_than": "high < {0}",
        "between": "low >= {0} and high <= {1}"}  # fmt: skip
_NOT_MET = {"at_least": "high < {0}", "at_most": "low > {0}", "more_than": "high <= {0}", "less_than": "low >= {0}",
            "between": "high < {0} or low > {1}"}  # fmt: skip
_WORDS = {"at_least": "at least {0}", "at_most": "at most {0}", "more_than": "more than {0}", "less_than": "less than {0}",
          "between": "between {0} and {1}"}  # fmt: skip


def by_hand() -> Callable[[Plain, int], Outcomes]:
    """The function: facts of each subject and the as-of day in, outcome and explanation of each check out.

    Straight code with no calls, three answers to each comparison, and an explanation that holds what ours holds:
    the value, the limit with its unit, why it is open, how old the fact is, where it came from, and a sentence.
    """
    lines = ["def check_all(facts, today):", "    found = {}", "    patient = facts['patient']"]
    for check in CHECKS["patient"]:
        lines += _lines(check, "patient", "'patient'", "    ")
    lines.append("    for level, disc in facts.items():")
    lines.append("        if level == 'patient': continue")
    for check in CHECKS["disc"]:
        lines += _lines(check, "disc", "level", "        ")
    lines.append("    return found")
    space: dict[str, Any] = {}
    exec(compile("\n".join(lines), "by hand", "exec"), space)
    function: Callable[[Plain, int], Outcomes] = space["check_all"]
    return function


def _lines(check: Check, table: str, subject: str, indent: str) -> list[str]:
    tests = [check] + ([check.second] if check.second is not None else [])
    lines = []
    for letter, one in zip("ab", tests, strict=False):
        lines += _test(one, letter, table, subject)
    if len(tests) == 1:
        lines.append("outcome = 'undetermined' if a is None else 'pass' if a else 'fail'")
        lines.append(f"found[{check.name!r}, {subject}] = {{'outcome': outcome, 'tests': [test_a]}}")
    else:
        lines.append(
            "outcome = 'fail' if a is False or b is False else 'undetermined' if a is None or b is None else 'pass'"
        )
        lines.append(f"found[{check.name!r}, {subject}] = {{'outcome': outcome, 'tests': [test_a, test_b]}}")
    return [indent + line for line in lines]


def _test(one: Check, letter: str, table: str, subject: str) -> list[str]:
    label, unit, limits = one.element.label, one.element.unit or "", one.limits
    shared = f"'element': {one.element.name!r}, 'subject': {subject}, 'op': {one.op!r}, 'limits': {limits!r}, 'unit': {unit!r}"
    lines = [
        f"fact = {table}.get({one.element.name!r})",
        "if fact is None:",
        f"    {letter} = None",
        f"    test_{letter} = {{{shared}, 'truth': None, 'why': 'not recorded', 'words': {label + ': not recorded'!r}}}",
        "else:",
        "    why = age = None",
    ]
    if one.op in _MET:
        lines.append("    low, high, day, source = fact")
        lines.append(
            f"    {letter} = True if {_MET[one.op].format(*limits)} else False if {_NOT_MET[one.op].format(*limits)} else None"
        )
        value, said = "(low, high)", _WORDS[one.op].format(*limits)
        shown = "{low if low == high else (low, high)}"
    else:
        lines.append("    codes, day, source = fact")
        allowed = "{" + ", ".join(repr(limit) for limit in limits) + "}"
        lines.append(f"    {letter} = True if codes <= {allowed} else None if codes & {allowed} else False")
        value, said, shown = "codes", "one of " + ", ".join(map(str, limits)), "{codes}"
    lines.append(f"    if {letter} is None: why = 'not precise enough'")
    lines.append(
        f"    if day is not None and day > today: {letter}, why = None, 'after the day of the assessment'"
    )
    if one.oldest is not None:
        lines.append(f"    if day is None: {letter}, why = None, 'undated'")
        lines.append("    else:")
        lines.append("        age = today - day")
        lines.append(f"        if age > {one.oldest}: {letter}, why = None, 'out of date'")
    lines.append(
        f"    test_{letter} = {{{shared}, 'truth': {letter}, 'value': {value}, 'why': why, 'age': age, 'source': source, "
        f"'words': f'{label} {shown} {unit}, compared with: {said}'}}"
    )
    return lines


def case(seed: int) -> Case:
    """A case of five discs; some facts missing, some imprecise, some dated and some old."""
    wanted = {
        one.element.name for some in CHECKS.values() for c in some for one in (c, c.second) if one is not None
    }
    elements = [e for e in catalogue().all if e.name in wanted]
    mix = replace(FULL, stated=0.9, imprecise=0.2, dated=0, text=0)
    record = random_case(Random(seed), elements, mix=mix, levels=STANDARD_LEVELS, as_of=AS_OF)
    return case_from_record(_plainly_dated(record))


def _plainly_dated(record: CaseRecord) -> CaseRecord:
    """Leave out what the plain function does not know: open ends, partial dates, reasons for not knowing."""

    def keep(table: dict[str, Any]) -> dict[str, Any]:
        return {
            name: entry
            for name, entry in table.items()
            if {"value", "between", "one_of"} & set(entry) and len(entry.get("date", "2026-01-01")) == 10
        }

    data = record.plain()
    data["patient"] = keep(data.get("patient", {}))
    data["discs"] = {level: keep(table) for level, table in data.get("discs", {}).items()}
    return CaseRecord.model_validate(data)


def plain(case: Case) -> Plain:
    """The same facts as the plain function takes them."""

    def fact(one: Any) -> tuple[Any, ...]:
        day = one.provenance.day.low if one.provenance.day is not None else None
        if isinstance(one.value, Span):
            return one.value.low, one.value.high, day, one.provenance
        return one.value.codes, day, one.provenance

    tables = {"patient": case.facts.patient, **case.facts.discs}
    return {subject: {name: fact(one) for name, one in table.items()} for subject, table in tables.items()}
