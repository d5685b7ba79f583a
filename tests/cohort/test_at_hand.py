"""A small table that is read row by row in memory says what is drawn of it by queries, and asks no row twice for the same."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort.columns.facts_table import FactsTable
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.from_cases import frame_of_cases
from candidacy.foundation.errors import EngineError
from tests.cohort.generated import cases
from tests.cohort.screened import shipped
from tests.strategies import AS_OF

RULES = "practice_baseline"


@pytest.fixture(scope="module")
def frames(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[FactsTable]]:
    """The same cases at hand, and asked for by queries."""
    folder, given, found = tmp_path_factory.mktemp("frames"), cases(12, 40), []
    for name, most in (("hand", 2_000), ("queries", 0)):
        (folder / name).mkdir()
        engine = EmbeddedEngine(folder / name)
        engine.at_hand = most
        found.append(frame_of_cases(engine, folder / name, given))
    assert [frame.rows is None for frame in found] == [False, True]
    yield found
    for frame in found:
        frame.engine.close()


def _by_value(view: RowView) -> Any:
    """Reads another column for each value of the first, and a day for some."""
    first = view.as_written("pregnancy_status", "patient") or view.as_written("body_weight", "patient")
    if first is None:
        return "nothing", view.as_written("age", "patient") is None
    day = first.provenance.day if first.element == "body_weight" else None
    return first.element, first.value, day


def _of_lists_and_discs(view: RowView) -> Any:
    complete, entries = view.entries("medicines")
    levels = [level for level in view.named_levels() if view.states("displacement", level)]
    return complete, len(entries), tuple(levels)


@pytest.mark.parametrize("answer", [_by_value, _of_lists_and_discs])
@pytest.mark.parametrize("where", ["", '("body_weight@patient" IS NOT NULL)'])
def test_each_row_has_the_answer_that_its_combination_has(
    answer: Callable[[RowView], Any], where: str, frames: list[FactsTable]
) -> None:
    asked: list[Any] = []

    def counting(view: RowView) -> Any:
        asked.append(answer(view))
        return asked[-1]

    hand, queries = frames
    found = look_up(hand, shipped(RULES), AS_OF, counting, where)
    other = look_up(queries, shipped(RULES), AS_OF, answer, where)
    assert found.places is not None
    told = dict(zip(other.combinations, other.answers, strict=True))
    drawn = queries.engine.rows(f"SELECT case_id, {', '.join(other.keys)} FROM {queries.relation}")
    by_case = {name: told.get(tuple(keys)) for name, *keys in drawn}
    names = hand.engine.rows(f'SELECT case_id FROM {hand.relation} ORDER BY "case|place"')
    wanted = {
        name for (name,) in hand.engine.rows(f"SELECT case_id FROM {hand.relation} WHERE {where or True}")
    }
    for (name,), place in zip(names, found.places, strict=True):
        if name in wanted:
            assert place is not None
            assert found.answers[place] == by_case[name]
    assert len(set(by_case.values())) > 2
    # a row whose answer follows from an earlier one is not asked
    assert len(asked) == len(found.answers) < len(wanted)


def test_an_answer_that_reads_nothing_holds_for_every_row(frames: list[FactsTable]) -> None:
    found = look_up(frames[0], shipped(RULES), AS_OF, lambda view: 1, '("body_weight@patient" IS NOT NULL)')
    assert (found.keys, found.answers, found.whole) == ((), [1], True)
    assert found.places == (0,) * 40


def test_what_would_go_unnoticed_is_refused(frames: list[FactsTable]) -> None:
    with pytest.raises(EngineError, match="without a note"):
        look_up(frames[0], shipped(RULES), AS_OF, lambda view: view.stated_among({"age"}, "patient"))
    with pytest.raises(EngineError, match="without a note"):
        look_up(frames[0], shipped(RULES), AS_OF, lambda view: list(view.facts.patient))
