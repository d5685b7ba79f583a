"""Assessments that a desk keeps as bytes are, when they come back, what they were."""

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.assessment.assess import assess
from candidacy.case.load import load_case
from candidacy.case.record import FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.page import page
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from candidacy.ui.desk import Desk
from candidacy.ui.kept_documents import KEPT, Documents, Key
from tests.ui.conftest import TODAY, demo

CASES = sorted(demo_cases_folder().glob("*.yaml"))
REFUSED = ("mixed-scales", "impossible-values")  # demonstrate what is refused


@cache
def document(stem: str, rules: str) -> AssessmentDocument:
    case = load_case(demo_cases_folder() / f"{stem}.yaml")
    return build_document(assess(case, load_rule_set(rules), TODAY))


def put_away(kept: Documents) -> None:
    """Two drawings that ask for nothing."""
    kept.settle()
    kept.settle()


@pytest.mark.parametrize("rules", ["practice_baseline", "wide_screen"])
@pytest.mark.parametrize("stem", [file.stem for file in CASES if file.stem not in REFUSED])
def test_an_assessment_comes_back_as_it_was(stem: str, rules: str) -> None:
    made = document(stem, rules)
    kept, key = Documents(), Key(stem, rules, "")
    kept.get(key, lambda: made)
    put_away(kept)
    assert not kept.holds(made)
    back = kept.get(key, lambda: pytest.fail("worked out anew"))
    assert back is not made
    assert back == made
    assert back.to_json() == made.to_json()
    assert page(back) == page(made)
    assert kept.get(key, lambda: pytest.fail("worked out anew")) is back


@given(st.lists(st.integers(0, KEPT * 2) | st.just(None), max_size=120))
def test_every_key_gives_its_own_assessment_whatever_was_asked_and_drawn_before(
    asked: list[int | None],
) -> None:
    plain = document("one-disc-candidate", "wide_screen")
    kept = Documents()
    for number in asked:
        if number is None:
            kept.settle()
            continue
        mine = plain.model_copy(update={"case": plain.case.model_copy(update={"title": str(number)})})
        assert kept.get(Key(str(number), "", ""), lambda mine=mine: mine).case.title == str(number)


def test_a_desk_holds_the_last_drawing_whole_and_no_more_than_so_many_in_all(screen, monkeypatch) -> None:
    screened = screen(record=demo("two-discs-candidate"))
    for value in range(60, 64):
        screened.desk.write(
            "patient", "body_weight", lambda value=value: FactEntry(value=value, unit="kg"), str(value)
        )
        screened.run()
    made = []
    monkeypatch.setattr(
        "candidacy.ui.desk.build_document", lambda found: made.append(found) or build_document(found)
    )
    for _ in range(4):
        screened.desk.undo()
        screened.run()
    assert made == [], "what an undo shows again is kept"
    kept, made_again = Documents(), []

    def make(number: int) -> AssessmentDocument:
        made_again.append(number)
        return document("one-disc-candidate", "wide_screen")

    for number in range(KEPT + 1):
        kept.get(Key(str(number), "", ""), lambda number=number: make(number))
        kept.settle()
    kept.get(Key("1", "", ""), lambda: make(1))
    assert made_again == list(range(KEPT + 1))
    kept.get(Key("0", "", ""), lambda: make(0))
    assert made_again[-1] == 0, "the oldest of more is let go"


def test_a_copy_and_its_desk_do_not_share_what_comes_later() -> None:
    first = Desk(today=lambda: TODAY)
    first.open(demo("one-disc-candidate"), "opened")
    second = first.copy()
    first.write("patient", "age", lambda: FactEntry(value=50, unit="years"), "50")
    assert first.document() != second.document()
    first.lay_down()
    assert second.document().to_json() == first.document(second.record).to_json()


@pytest.mark.parametrize("rest", [Desk.settle, Desk.doze, Desk.lay_down])
def test_a_desk_that_rested_shows_what_it_showed(rest) -> None:
    desk = Desk(today=lambda: TODAY)
    desk.open(demo("stale-mri"), "opened")
    desk.write("patient", "age", lambda: FactEntry(value=50, unit="years"), "50")

    def shown() -> list[object]:
        words = {p: desk.worked_out(*p) for p in (("patient", "bmi"), ("patient", "age"))}
        label, changed = desk.last_changes()
        return [
            desk.document().to_json(),
            desk.whole_document().to_json(),
            desk.settled().to_json(),
            words,
            label,
            changed,
        ]

    before, steps = shown(), desk.to_keep()
    rest(desk)
    rest(desk)
    assert shown() == before
    assert desk.to_keep() == steps
