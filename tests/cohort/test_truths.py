"""Truths as SQL: what is folded while the text is made says what the connectives say of every row."""

from itertools import product
from random import Random

import duckdb
import pytest

from candidacy.cohort.engines import sqltext as sql

VALUES = (True, False, None)
NUMBERS = (1.0, 2.0, 3.0, None)
COMPARED = [f"(x {op} 2e0)" for op in (">=", "<=", "<", ">", "=", "<>")] + ["(x IS NULL)", "(x IS NOT NULL)"]
ATOMS = {"a": "a", "b": "b", "c": "c", sql.TRUE: True, sql.FALSE: False, sql.UNKNOWN: None} | {
    x: x for x in COMPARED
}


@pytest.fixture(scope="module")
def rows() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    connection.execute("CREATE TABLE t (a BOOLEAN, b BOOLEAN, c BOOLEAN, x DOUBLE)")
    connection.executemany(
        "INSERT INTO t VALUES (?, ?, ?, ?)", list(product(VALUES, VALUES, VALUES, NUMBERS))
    )
    return connection


def made(rng: Random, depth: int) -> tuple[str, object]:
    """A truth as SQL, and the same as a tree: an atom, or a connective with its parts."""
    kind = rng.choice(("all", "any", "not", "met", "not_met", "chosen")) if depth else "atom"
    if kind == "atom":
        atom = rng.choice((*ATOMS, sql.UNKNOWN))
        return atom, ATOMS[atom]
    if kind == "chosen":
        arms = [(made(rng, depth - 1), made(rng, depth - 1)) for _ in range(rng.randint(0, 2))]
        otherwise = made(rng, depth - 1)
        text = sql.chosen([(sql.is_met(here[0]), value[0]) for here, value in arms], otherwise[0])
        return text, (kind, [*((here[1], value[1]) for here, value in arms), (sql.TRUE, otherwise[1])])
    parts = [made(rng, depth - 1) for _ in range(rng.randint(1, 3) if kind in ("all", "any") else 1)]
    write = {"all": sql.all_of, "any": sql.any_of}.get(kind)
    one = {"not": sql.negate, "met": sql.is_met, "not_met": sql.is_not_met}.get(kind)
    text = write(part for part, _ in parts) if write is not None else one(parts[0][0])
    return text, (kind, [tree for _, tree in parts])


def truth(tree: object, row: dict[str, bool | None]) -> bool | None:
    """What a tree says of a row, by the tables of Kleene."""
    if isinstance(tree, str):
        return row[tree]
    if not isinstance(tree, tuple):
        return tree
    kind, parts = tree
    if kind == "chosen":
        return next(truth(value, row) for here, value in parts if here == sql.TRUE or truth(here, row))
    found = [truth(part, row) for part in parts]
    if kind == "all":
        return False if False in found else None if None in found else True
    if kind == "any":
        return True if True in found else None if None in found else False
    if kind == "not":
        return None if found[0] is None else not found[0]
    return found[0] is (kind == "met")


def test_folded_truths_say_what_the_connectives_say(rows: duckdb.DuckDBPyConnection) -> None:
    rng = Random(17)
    trees = [made(rng, rng.randint(1, 4)) for _ in range(600)]
    folded = 0
    for text, tree in trees:
        folded += sql.is_constant(text)
        asked = f"SELECT a, b, c, {', '.join(COMPARED)}, {text} FROM t"
        for *values, found in rows.execute(asked).fetchall():
            assert found is truth(tree, dict(zip(("a", "b", "c", *COMPARED), values, strict=True))), text
    assert 0 < folded < len(trees)


def test_what_can_never_be_met_is_not_asked() -> None:
    never = sql.any_of((sql.all_of(("a", sql.UNKNOWN)), sql.all_of((sql.UNKNOWN, "b"))))
    assert never == f"(((a) OR (b)) AND {sql.UNKNOWN})"
    assert sql.negate(sql.negate("(a)")) == "(a)"
    assert sql.is_met(never) == sql.FALSE
    assert sql.is_not_met(sql.negate(never)) == sql.FALSE
    assert sql.is_not_met(never) == f"({never} IS FALSE)"


@pytest.mark.parametrize("text", [f"(a) = (b AND {sql.UNKNOWN})", f"CASE WHEN a THEN (b AND {sql.UNKNOWN}) END",
                                  f"(a = '(' OR (b AND {sql.UNKNOWN}))"])  # fmt: skip
def test_only_a_whole_truth_is_taken_apart(text: str) -> None:
    assert sql.is_met(text) == f"({text} IS TRUE)"


def test_a_place_in_a_table_of_truths(rows: duckdb.DuckDBPyConnection) -> None:
    table = "".join(Random(3).choice("TFU") for _ in range(300))
    wanted = [{"T": True, "F": False, "U": None}[sign] for sign in table]
    asked = f"SELECT {sql.truth_in(table, 'place')} FROM range(300) AS places(place) ORDER BY place"
    assert [row[0] for row in rows.execute(asked).fetchall()] == wanted
    assert rows.execute(f"SELECT {sql.truth_in(table, 'CAST(NULL AS BIGINT)')}").fetchall() == [(None,)]
