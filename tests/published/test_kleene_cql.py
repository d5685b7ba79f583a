"""Our logic, comparisons and units against the HL7 Clinical Quality Language test suite.

Source: HL7 CQL tests (cqframework/cql-tests), Apache-2.0, in ``shared/data/cql_open.jsonl``: logical, nullological,
comparison, conditional and aggregate cases. Each case either maps to something of ours and is run, or stands in
``NOT_OURS`` with the reason; the table is checked to be complete.
"""

import json
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation import units
from candidacy.foundation.dates import date_span, days_between
from candidacy.foundation.truth import Truth, all_of, any_of, negate
from candidacy.foundation.values import Members, Options, Span, point
from tests.conftest import SHARED
from tests.reads import criterion, read

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
TRUTHS = {"true": M, "false": N, "null": U}
FILE = SHARED / "data" / "cql_open.jsonl"
NUMBER = r"(-?[0-9]+(?:\.[0-9]+)?)L?"
COMPARISONS = {
    "=": "equals",
    "!=": "not",
    ">": "more_than",
    ">=": "at_least",
    "<": "less_than",
    "<=": "at_most",
}


@cache
def rows() -> tuple[dict[str, Any], ...]:
    if not FILE.is_file():
        return ()
    return tuple(json.loads(line) for line in FILE.read_text(encoding="utf-8").splitlines())


# --- what of ours a case maps to; each takes the match of its pattern and gives a truth


def by_elements(*truths: Truth, join: str) -> Truth:
    """The same through the rule language: yes-or-no facts of a case, read by a criterion."""
    names = ["worse_sitting", "worse_flexion"]
    facts = [
        f"{n}: {'true' if t is M else 'false'}" for n, t in zip(names, truths, strict=False) if t is not U
    ]
    tests = [f"{{element: {name}, op: is, value: true}}" for name in names[: len(truths)]]
    when = f"{join}: [{', '.join(tests)}]" if join != "not" else f"not: {tests[0]}"
    return read(criterion(when), f"patient: {{{', '.join(facts)}}}\n").truth


def logical(found: re.Match[str]) -> Truth:
    left, word, right = TRUTHS[found[1]], found[2], TRUTHS[found[3]]
    if word in ("and", "or"):
        ours = (all_of if word == "and" else any_of)((left, right))
        assert by_elements(left, right, join="all" if word == "and" else "any") is ours
        return ours
    if word == "implies":  # a criterion that applies only to some: not applying, or met
        facts = {"worse_flexion": left, "worse_sitting": right}
        body = ", ".join(f"{n}: {'true' if t is M else 'false'}" for n, t in facts.items() if t is not U)
        item = criterion(
            "{element: worse_sitting, op: is, value: true}",
            applies_when="{element: worse_flexion, op: is, value: true}",
        )
        outcome = read(item, f"patient: {{{body}}}\n").outcome
        return {"pass": M, "fail": N, "undetermined": U}[outcome]
    # exclusive or, written out in our connectives
    return all_of((any_of((left, right)), negate(all_of((left, right)))))


def negation(found: re.Match[str]) -> Truth:
    truth = TRUTHS[found[1]]
    assert by_elements(truth, join="not") is negate(truth)
    return negate(truth)


def compare(left: Span, sign: str, right: Span) -> Truth:
    """Compare two spans with the operators we have: what is left is compared with a point on the right."""
    if right.exact:
        name, limit = COMPARISONS[sign], right.low
        return negate(left.equals(limit)) if name == "not" else getattr(left, name)(limit)  # type: ignore[no-any-return]
    passed = days_between(right, left)
    return getattr(passed, COMPARISONS[sign])(0)  # type: ignore[no-any-return]


def numbers(found: re.Match[str]) -> Truth:
    return compare(point(float(found[1])), found[2], point(float(found[3])))


def between(found: re.Match[str]) -> Truth:
    return point(float(found[1])).between(float(found[2]), float(found[3]))


def codes(found: re.Match[str]) -> Truth:
    """Equality of texts or of true and false, as of coded values; null is a value that is not known."""
    left, sign, right = found[1].removesuffix(" as String"), found[2], found[3]
    if "null" in (left, right):
        known = left if right == "null" else right
        if known == "null":
            return U
        truth = Options(frozenset((known, "any other"))).one_of(frozenset((known,)))
    else:
        truth = Options(frozenset((left,))).one_of(frozenset((right,)))
    return truth if sign == "=" else negate(truth)


def lengths(found: re.Match[str]) -> Truth:
    given, wanted = (units.convert(point(float(found[n])), found[n + 1], "cm") for n in (1, 4))
    return compare(given, found[3], wanted)


def calendar(found: re.Match[str]) -> Truth:
    """DateTime(2014) is known to the year, as a partial date of ours."""

    def span(parts: str) -> Span:
        whole = [part.strip() for part in parts.split(",")][:3]
        return date_span("-".join(part.zfill(2) for part in whole))

    return compare(span(found[1]), found[2], span(found[3]))


def durations(found: re.Match[str]) -> Truth:
    given, sign, unit = units.normal_spelling(found[2]), found[3], units.normal_spelling(found[5])
    storage = "month" if unit in ("year", "month") else unit
    return compare(
        units.convert(point(float(found[1])), given, storage),
        sign,
        units.convert(point(float(found[4])), unit, storage),
    )


def is_known(found: re.Match[str]) -> Truth:
    truth = read(criterion("{element: worse_sitting, op: known}"), "" if found[1] == "null" else "patient: {worse_sitting: false}\n").truth  # fmt: skip
    return negate(truth)  # IsNull asks for absence, we ask for presence


def over_entries(found: re.Match[str]) -> Truth:
    """AllTrue and AnyTrue over a list without null, as a quantifier over a complete list."""
    entries = ", ".join(
        f"{{treatment_supervised: {word.strip()}}}" for word in found[2].split(",") if word.strip()
    )
    head = "every_entry" if found[1] == "AllTrue" else "any_entry"
    item = criterion(
        f"{head}: {{of: treatments, that: {{element: treatment_supervised, op: is, value: true}}}}"
    )
    return read(item, f"treatments: {{complete: true, entries: [{entries}]}}\n").truth


BOOLEAN = r"(true|false|null)"
DURATION = r"(day|days|week|weeks|d|wk|hour|hours|h|minute|minutes|min|month|months|year|years)"
MAPPED: list[tuple[str, Callable[[re.Match[str]], Truth]]] = [
    (rf"{BOOLEAN} (and|or|xor|implies) {BOOLEAN}", logical),
    (rf"not {BOOLEAN}", negation),
    (rf"{NUMBER} (=|!=|<=|>=|<|>) {NUMBER}", numbers),
    (rf"{NUMBER} between {NUMBER} and {NUMBER}", between),
    (r"('[^']*'|true|false|null(?: as String)?) (=|!=) ('[^']*'|true|false|null)", codes),
    (rf"{NUMBER}'(cm|m)' (=|!=|<=|>=|<|>) {NUMBER}'(cm|m)'", lengths),
    (
        r"DateTime\(([0-9]{4}(?:, [0-9]+, [0-9]+)?)\) (<=|>=|<|>) DateTime\(([0-9]{4}, [0-9]+, [0-9]+)\)",
        calendar,
    ),
    (rf"{NUMBER} '?{DURATION}'? (=) {NUMBER} '?{DURATION}'?", durations),
    (r"IsNull\(('[^']*'|[0-9]+|null)\)", is_known),
    (r"(AllTrue|AnyTrue)\(\{((?:true|false|,| )*)\}\)", over_entries),
]

# Cases that have no counterpart, by file, group and a pattern of their names, with the reason.
TEXT = "texts are shown and never put in order"
CLOCK = "we keep days; no time of day"
NO_SUM = "conditions do no arithmetic; derived elements do, each tested with its source"
NULL_OUT = "CQL leaves null out of a list; a null among our facts keeps the answer unknown, on purpose"
NOT_OURS: list[tuple[str, str, str, str]] = [
    ("CqlNullologicalOperatorsTest", "Coalesce", ".*", "no value stands in for a missing one, by law"),
    ("CqlNullologicalOperatorsTest", "Is(True|False)", ".*", "turns null into false, which our first law forbids"),
    ("CqlComparisonOperatorsTest", "Equal|Not Equal", "Tuple.*", "no records are compared, only single elements"),
    ("CqlComparisonOperatorsTest", "Equal", "Ratio.*", "no ratios of quantities; a percentage is an element"),
    ("CqlComparisonOperatorsTest", "Equal|Not Equal", "DateTime(Eq|NotEq)(Jan|Missing|Null|Today|True).*|DateTime(UTC|DayCompare)", CLOCK),
    ("CqlComparisonOperatorsTest", "Equal|Not Equal", "Time(Eq|NotEq).*", CLOCK),
    ("CqlComparisonOperatorsTest", "Equivalent", ".*", "equivalence calls null equal to null; unknown is never equal here"),
    ("CqlComparisonOperatorsTest", "Greater|Greater Or Equal|Less|Less Or Equal", ".*(AA|AB|BA|AThanAA|AAThanA|JackJill)", TEXT),
    ("CqlComparisonOperatorsTest", "Greater|Greater Or Equal|Less|Less Or Equal", "Time.*", CLOCK),
    ("CqlComparisonOperatorsTest", "Greater Or Equal|Less Or Equal", "DateTime.*", CLOCK),
    ("CqlComparisonOperatorsTest", "Unit Comparison", ".*(Millisecond|Second).*|.*EqualMs", CLOCK),
    ("CqlComparisonOperatorsTest", "Unit Comparison", ".*Equivalent.*", "no approximate equality of units: a month is 28 to 31 days"),
    ("CqlComparisonOperatorsTest", "Unit Comparison", ".*(Not)?Equal(Mo|A)", "UCUM's mean month and year are not among our units; ours are those of the calendar"),
    ("CqlComparisonOperatorsTest", "Unit Comparison", "TestDayEqualHours", "days of the calendar and hours of the clock are kept apart"),
    ("CqlConditionalOperatorsTest", ".*", ".*", "no branches in conditions: applies_when and any are the only ways"),
    ("CqlAggregateFunctionsTest", "AllTrue", "AllTrueNullFirst|AllTrueIsTrueWhenNull", NULL_OUT),
    ("CqlAggregateFunctionsTest", "AnyTrue", "AnyTrueNullFirst.*|AnyTrueIsFalseWhenNull", NULL_OUT),
    ("CqlAggregateFunctionsTest", "Avg|Product|Max|Median|Min|Mode|Population.*|StdDev|Sum|Variance", ".*", NO_SUM),
    ("CqlAggregateFunctionsTest", "Count", ".*", "counts here are of entries that meet a condition, not of values; see the law below"),
    ("CqlAggregateTest", ".*", ".*", NO_SUM),
]  # fmt: skip


def mapped(row: dict[str, Any]) -> tuple[Callable[[re.Match[str]], Truth], re.Match[str]] | None:
    expression = " ".join(row["expression"].split())
    for pattern, run in MAPPED:
        found = re.fullmatch(pattern, expression)
        if found is not None:
            return run, found
    return None


def reason_against(row: dict[str, Any]) -> str:
    for file, group, test, reason in NOT_OURS:
        if row["file"] == file and re.fullmatch(group, row["group"]) and re.fullmatch(test, row["test"]):
            return reason
    return ""


def _label(row: dict[str, Any]) -> str:
    return f"{row['group']} {row['test']}"


def cases() -> list[Any]:
    ours = [pytest.param(row, id=_label(row)) for row in rows() if not reason_against(row)]
    absent = pytest.mark.skip(reason="data/cql_open.jsonl is not in a folder 'shared' beside this project")
    return ours or [pytest.param({}, marks=absent)]


@pytest.mark.parametrize("row", cases())
def test_case_of_the_cql_suite(row: dict[str, Any]) -> None:
    chosen = mapped(row)
    assert chosen is not None, row["expression"]
    run, found = chosen
    assert run(found) is TRUTHS[row["expected"]], row["expression"]


def test_every_case_of_the_suite_is_run_or_says_why_not() -> None:
    if not rows():
        pytest.skip("data/cql_open.jsonl is not in a folder 'shared' beside this project")
    assert [_label(row) for row in rows() if not reason_against(row) and not mapped(row)] == []
    both = [_label(row) for row in rows() if reason_against(row) and mapped(row)]
    assert both == ["Unit Comparison TestDayEqualHours"]  # written like the others, and meant otherwise
    used = {reason_against(row) for row in rows()} - {""}
    assert used == {entry[3] for entry in NOT_OURS}  # no reason is left over from a case that is gone
    for entry in NOT_OURS:
        assert any(row["file"] == entry[0] and re.fullmatch(entry[1], row["group"]) and re.fullmatch(entry[2], row["test"]) for row in rows()), entry  # fmt: skip
    counted = [row for row in rows() if not reason_against(row)]
    assert len(counted) >= 150
    assert {row["group"] for row in counted} >= {"And", "Or", "Not", "Xor", "Implies", "IsNull", "AllTrue", "AnyTrue", "Between", "Unit Comparison"}  # fmt: skip


def test_where_cql_leaves_null_out_we_stay_unknown() -> None:
    """The one place where the suite and our laws part, made explicit: AllTrue({null, true, true}) is true there."""
    entries = "treatments: {complete: true, entries: [{}, {treatment_supervised: true}]}\n"
    that = "that: {element: treatment_supervised, op: is, value: true}"
    assert read(criterion(f"every_entry: {{of: treatments, {that}}}"), entries).truth is U
    assert Members(frozenset(), None).empty() is U


@given(st.lists(st.sampled_from(["true", "false"]), max_size=6))
def test_counts_are_those_of_the_entries_that_meet_a_condition(words: list[str]) -> None:
    """As CQL's Count over a filtered list, which the suite does not hold as a case."""
    entries = ", ".join(f"{{treatment_supervised: {word}}}" for word in words)
    item = criterion(
        "count_entries: {of: treatments, that: {element: treatment_supervised, op: is, value: true}, op: is, value: {parameter: n}}",
        parameters={"n": (words.count("true"), "1")},
    )
    assert read(item, f"treatments: {{complete: true, entries: [{entries}]}}\n").truth is M


def test_the_file_is_where_the_tests_look_for_it(shared: Callable[[str], Path]) -> None:
    assert shared("data/cql_open.jsonl") == FILE
