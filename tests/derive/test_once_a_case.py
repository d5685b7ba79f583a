"""What several formulas ask of one medicine is worked out once for a case, and each still says what it read."""

import pytest

from candidacy.derive.base import Inputs, Underivable, once_a_case
from candidacy.foundation.values import Why
from tests.views import case_of, view_of

MEDICINES = [
    {"medicine_agent": "warfarin", "medicine_name": "warfarin"},
    {"medicine_agent": "aspirin", "medicine_name": "aspirin"},
]


def test_it_is_worked_out_once_for_each_subject_of_a_view_and_counts_as_read_by_each_that_asks() -> None:
    asked: list[str] = []

    @once_a_case
    def agent(entry: Inputs) -> str | None:
        asked.append(entry.subject)
        entry.say("looked at")
        entry.setting("bleeding_risk_class")
        return entry.code("medicine_agent")

    view = view_of(case_of(medicines=MEDICINES))
    for _ in range(2):
        for number, expected in ((1, "warfarin"), (2, "aspirin")):
            inputs = Inputs(view, f"medicines[{number}]")
            assert agent(inputs) == expected
            assert [(fact.element, fact.subject) for fact in inputs.read] == [
                ("medicine_agent", f"medicines[{number}]")
            ]
            assert (inputs.notes, inputs.chosen) == (["looked at"], {"bleeding_risk_class"})
    assert asked == ["medicines[1]", "medicines[2]"]
    agent(Inputs(view_of(case_of(medicines=MEDICINES)), "medicines[1]"))
    assert asked[2:] == ["medicines[1]"]


def test_a_refusal_is_kept_too_and_what_was_read_before_it() -> None:
    asked = []

    @once_a_case
    def refused(entry: Inputs) -> str:
        asked.append(entry.words("medicine_name"))
        raise Underivable(Why.CONFLICTING, "they do not agree")

    view = view_of(case_of(medicines=MEDICINES))
    for _ in range(2):
        inputs = Inputs(view, "medicines[1]")
        with pytest.raises(Underivable, match="do not agree") as found:
            refused(inputs)
        assert found.value.why is Why.CONFLICTING
        assert [fact.element for fact in inputs.read] == ["medicine_name"]
    assert asked == ["warfarin"]


def test_nothing_found_is_kept_as_well() -> None:
    asked = []

    @once_a_case
    def nothing(entry: Inputs) -> str | None:
        asked.append(entry.subject)
        return None

    view = view_of(case_of(medicines=MEDICINES))
    assert [nothing(Inputs(view, "medicines[1]")) for _ in range(2)] == [None, None]
    assert len(asked) == 1
