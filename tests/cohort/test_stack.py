"""Named expressions become one query that gives what they say, and reads nothing that does not count."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

duckdb = pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort.columns.stack import Join, Stack, names_in  # noqa: E402
from candidacy.cohort.engines.embedded import EmbeddedEngine  # noqa: E402

COLUMNS = ("case_id", "weight@patient", "unread", 'odd "name"')
DEFINITIONS = {
    "heavy": '("weight@patient" > 90)',
    "very_heavy": "(heavy AND \"weight@patient\" > 120 AND 'unread' <> 'dead')",
    "dead": "(1 / unread > 0)",
    "looked": "COALESCE(answer, 'none')",
    "odd": '"odd ""name""" + 1',
}
JOINS = (
    Join("LEFT JOIN answers ON case_id = id", ("answer", "second")),
    Join("LEFT JOIN no_such_table ON TRUE", ("never",)),
)


CASES = (
    "CREATE TABLE cases AS SELECT * FROM (VALUES (1, 80, 0, 5), (2, 130, 0, 6)) "
    'AS t(case_id, "weight@patient", unread, "odd ""name""")'
)
ANSWERS = "CREATE TABLE answers AS SELECT 2 AS id, 'found' AS answer, 'x' AS second"


def asked(*chosen: str) -> tuple[Stack, str]:
    stack = Stack(chosen, DEFINITIONS, COLUMNS, JOINS)
    return stack, f"SELECT {', '.join(chosen)} FROM {stack.over('cases')}"


@contextmanager
def engine(folder: Path) -> Iterator[EmbeddedEngine]:
    made = EmbeddedEngine(folder)
    made.execute(CASES)
    made.execute(ANSWERS)
    yield made
    made.close()


def answer(query: str) -> list[tuple[object, ...]]:
    with duckdb.connect() as connection:
        connection.execute(CASES)
        connection.execute(ANSWERS)
        return connection.execute(f"{query} ORDER BY ALL").fetchall()


def test_what_is_chosen_is_what_the_definitions_say() -> None:
    stack, query = asked("case_id", "very_heavy", "heavy", "looked", "odd")
    assert answer(query) == [(1, False, False, "none", 6), (2, True, True, "found", 7)]
    assert stack.made == sorted(stack.made, key=["heavy", "looked", "odd", "very_heavy"].index)
    assert stack.joined == ["answer", "second"]


def test_layers_one_after_another_say_the_same(tmp_path: Path) -> None:
    chosen = ["case_id", "very_heavy", "heavy", "odd", "always", "again"]
    definitions = DEFINITIONS | {"always": "TRUE", "again": "(NOT always)"}
    stack = Stack(chosen, definitions, COLUMNS, ())
    with engine(tmp_path) as found:
        layers, over = stack.steps(dict.fromkeys(COLUMNS, "cases"), "step")
        found.keep(layers)
        rows = found.rows(f"SELECT {', '.join(chosen)} FROM {over} ORDER BY case_id")
        assert rows == found.rows(f"SELECT {', '.join(chosen)} FROM {stack.over('cases')} ORDER BY case_id")
        assert rows[1] == (2, True, True, 7, True, False)
        alone = Stack(["again"], definitions, COLUMNS, ())
        layers, over = alone.steps(dict.fromkeys(COLUMNS, "cases"), "step")
        found.keep(layers)
        assert found.rows(f"SELECT again FROM {over}") == [(False,), (False,)]


def test_what_nobody_reads_is_neither_carried_nor_joined() -> None:
    _, query = asked("case_id", "very_heavy")
    assert "no_such_table" not in query
    assert "answers" not in query
    assert "dead" not in query.replace("'dead'", "")
    assert "unread" not in query.replace("'unread'", "")


def test_what_the_relation_beneath_has_is_not_worked_out_again() -> None:
    stack = Stack(["very_heavy"], DEFINITIONS, (*COLUMNS, "heavy"), JOINS)
    assert stack.made == ["very_heavy"]
    assert stack.reads("very_heavy") == {"heavy", "weight@patient"}


def test_a_query_that_reads_no_column_still_has_a_row_for_each_case() -> None:
    assert answer(asked("COUNT(*)")[1]) == [(2,)]


def test_words_of_a_text_are_no_names() -> None:
    assert names_in("a = 'b ''c'' \"d\"' AND \"e f\" = g") == {"a", "AND", "e f", "g"}
