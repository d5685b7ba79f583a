"""Our joins against SQL's three-valued logic, as SQLite evaluates it, on random expression trees.

Source: ISO/IEC 9075 (SQL) three-valued logic; SQLite, https://www.sqlite.org/nulls.html and
https://www.sqlite.org/lang_expr.html, through Python's sqlite3.
"""

import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.foundation.truth import Truth, all_of, any_of, at_least, negate
from candidacy.foundation.values import Span
from tests.reads import criterion, read

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
IN_SQL = {M: "1", N: "0", U: "NULL"}
FROM_SQL = {1: M, 0: N, None: U}
CONNECTION = sqlite3.connect(":memory:")

# Yes-or-no elements of the patient that nothing works out and no summary covers.
SIGNS = ["worse_sitting", "worse_flexion", "axial_dominance", "latex_allergy", "litigation"]
truths = st.sampled_from([M, N, U])
Tree = Any  # a sign, or (join, parts...)
trees = st.recursive(
    st.sampled_from(SIGNS),
    lambda inner: (
        st.tuples(st.just("not"), inner)
        | st.tuples(st.sampled_from(["all", "any", "none"]), st.lists(inner, min_size=1, max_size=4))
        | st.tuples(st.just("at_least_of"), st.lists(inner, min_size=1, max_size=4), st.integers(1, 4))
    ),
    max_leaves=15,
)


def sqlite(expression: str) -> Truth:
    return FROM_SQL[CONNECTION.execute(f"SELECT {expression}").fetchone()[0]]


def as_sql(tree: Tree, value: Callable[[str], str]) -> str:
    if isinstance(tree, str):
        return value(tree)
    head, parts = (
        tree[0],
        [as_sql(part, value) for part in (tree[1] if isinstance(tree[1], list) else [tree[1]])],
    )
    if head == "not":
        return f"(NOT {parts[0]})"
    if head == "at_least_of":
        # certain ones and possible ones, counted; a null is possible and not certain
        certain = " + ".join(f"coalesce({part}, 0)" for part in parts)
        possible = " + ".join(f"coalesce({part}, 1)" for part in parts)
        return f"(CASE WHEN {certain} >= {tree[2]} THEN 1 WHEN {possible} < {tree[2]} THEN 0 ELSE NULL END)"
    joined = f"({(' AND ' if head == 'all' else ' OR ').join(parts)})"
    return f"(NOT {joined})" if head == "none" else joined


def as_truth(tree: Tree, value: Callable[[str], Truth]) -> Truth:
    if isinstance(tree, str):
        return value(tree)
    parts = [as_truth(part, value) for part in (tree[1] if isinstance(tree[1], list) else [tree[1]])]
    return {
        "not": lambda: negate(parts[0]),
        "all": lambda: all_of(parts),
        "any": lambda: any_of(parts),
        "none": lambda: negate(any_of(parts)),
        "at_least_of": lambda: at_least(tree[2], parts),
    }[tree[0]]()


def as_condition(tree: Tree, counts: dict[str, int]) -> dict[str, Any]:
    if isinstance(tree, str):
        return {"element": tree, "op": "is", "value": True}
    parts = [as_condition(part, counts) for part in (tree[1] if isinstance(tree[1], list) else [tree[1]])]
    if tree[0] == "not":
        return {"not": parts[0]}
    if tree[0] == "at_least_of":
        name = f"count_{len(counts)}"
        counts[name] = tree[2]
        return {"at_least_of": {"count": {"parameter": name}, "conditions": parts}}
    return {tree[0]: parts}


@settings(max_examples=300)
@given(trees, st.lists(truths, min_size=len(SIGNS), max_size=len(SIGNS)))
def test_random_expressions_give_what_sqlite_gives(tree: Tree, values: list[Truth]) -> None:
    known = dict(zip(SIGNS, values, strict=True))
    wanted = sqlite(as_sql(tree, lambda sign: IN_SQL[known[sign]]))
    assert as_truth(tree, known.__getitem__) is wanted
    facts = [
        f"{sign}: {'true' if truth is M else 'false'}" for sign, truth in known.items() if truth is not U
    ]
    counts: dict[str, int] = {}
    item = criterion(yaml.safe_dump(as_condition(tree, counts)), parameters=counts)
    assert read(item, f"patient: {{{', '.join(facts)}}}\n").truth is wanted


@pytest.mark.parametrize("left", [M, N, U])
@pytest.mark.parametrize("right", [M, N, U])
def test_every_cell_of_and_and_or_is_that_of_sqlite(left: Truth, right: Truth) -> None:
    assert all_of((left, right)) is sqlite(f"{IN_SQL[left]} AND {IN_SQL[right]}")
    assert any_of((left, right)) is sqlite(f"{IN_SQL[left]} OR {IN_SQL[right]}")
    assert negate(left) is sqlite(f"NOT {IN_SQL[left]}")


@given(st.lists(truths, max_size=6))
def test_quantifiers_and_counts_over_entries_are_those_of_a_table(values: list[Truth]) -> None:
    """EXISTS, NOT EXISTS and counts over rows of a table, one row an entry of a complete list."""
    rows = (
        " UNION ALL ".join(f"SELECT {IN_SQL[value]} AS met" for value in values)
        or "SELECT NULL AS met WHERE 0"
    )
    certain, possible = CONNECTION.execute(
        f"SELECT coalesce(sum(met IS 1), 0), coalesce(sum(met IS NOT 0), 0) FROM ({rows})"
    ).fetchone()
    words = {M: "{treatment_supervised: true}", N: "{treatment_supervised: false}", U: "{}"}
    body = f"treatments: {{complete: true, entries: [{', '.join(words[value] for value in values)}]}}\n"
    over = "of: treatments, that: {element: treatment_supervised, op: is, value: true}"
    any_of_them = sqlite(f"(SELECT max(met) FROM ({rows}))") if certain else (U if possible else N)
    assert read(criterion(f"any_entry: {{{over}}}"), body).truth is any_of_them
    assert read(criterion(f"every_entry: {{{over}}}"), body).truth is all_of(values)
    counted = criterion(
        f"count_entries: {{{over}, op: at_least, value: {{parameter: two}}}}", parameters={"two": (2, "1")}
    )
    trace = read(counted, body).trace
    assert trace.tally == Span(certain, possible)
    assert trace.truth is sqlite(f"CASE WHEN {certain} >= 2 THEN 1 WHEN {possible} < 2 THEN 0 ELSE NULL END")
