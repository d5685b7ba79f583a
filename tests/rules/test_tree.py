"""The tree of a condition: short forms taken away once, with their limits, ages and places."""

from typing import Any, get_args

import pytest

from candidacy.case.element import LISTS
from candidacy.explain.wording import condition_words
from candidacy.rules.cited import Parameter
from candidacy.rules.conditions import HEADS, Condition, Operator
from candidacy.rules.libraries import shipped
from candidacy.rules.operators import OPERATORS, Primitives, compare_numbers
from candidacy.rules.resolved import as_declared
from candidacy.rules.tree import (
    Age,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Limit,
    Node,
    NoneOf,
    children,
    elements_of,
    for_disc,
    kind_of,
    lists_of,
    lower,
    names_this_disc,
    operands_of,
    parameters_of,
    scope_inside,
    walk,
)
from tests.rows import each_row

FEVER = {"element": "fever", "op": "is", "value": True}
GRADE = {"element": "canal_stenosis", "op": "at_least", "value": "moderate"}
CHOSEN = {"element": "considered_for_treatment", "op": "is", "value": True}
ENTRY = {"element": "medicine_class", "op": "is", "value": "nsaid"}
CITE = {"source": "common_practice", "supports": "value", "tag": "common practice"}
LIMIT = Parameter.model_validate({"value": 35, "unit": "kg/m2", "meaning": "m", "cites": [CITE]})
BODY = {"element": "body_mass_index", "op": "at_most", "value": {"parameter": "limit"}}

# Every head of the language as written, the kind it is lowered to, and its name in traces.
FORMS: list[tuple[dict[str, Any], type, str]] = [
    (FEVER, Compare, "test"),
    ({"all": [FEVER, GRADE]}, AllOf, "all"),
    ({"any": [FEVER, GRADE]}, AnyOf, "any"),
    ({"none": [FEVER, GRADE]}, NoneOf, "none"),
    ({"not": FEVER}, NoneOf, "not"),
    ({"at_least_of": {"count": 1, "conditions": [FEVER, GRADE]}}, CountOf, "at_least_of"),
    ({"any_disc": {"that": GRADE}}, AnyOf, "any_disc"),
    ({"every_disc": {"that": GRADE}}, AllOf, "every_disc"),
    ({"count_discs": {"that": GRADE, "op": "at_most", "value": 2}}, CountOf, "count_discs"),
    ({"any_entry": {"of": "medicines", "that": ENTRY}}, AnyOf, "any_entry"),
    ({"every_entry": {"of": "medicines", "that": ENTRY}}, AllOf, "every_entry"),
    ({"count_entries": {"of": "medicines", "that": ENTRY, "op": "is", "value": 0}}, CountOf, "count_entries"),
    ({"complete_list": "medicines"}, Complete, "complete_list"),
    (
        {"elapsed": {"since": "lumbar_mri_date", "unit": "day", "op": "at_most", "value": 90}},
        Elapsed,
        "elapsed",
    ),
]


def tree(written: dict[str, Any], **more: Any) -> Node:
    return lower(Condition.model_validate(written), {"limit": LIMIT}, **more)


@pytest.mark.parametrize(("written", "kind", "name"), FORMS, ids=[form[2] for form in FORMS])
def test_every_written_form_becomes_one_of_seven_kinds(
    written: dict[str, Any], kind: type, name: str
) -> None:
    node = tree(written)
    assert type(node) is kind
    assert kind_of(node) == name


def test_the_table_of_forms_has_every_head_and_every_kind() -> None:
    assert {Condition.model_validate(written).head for written, _, _ in FORMS} == set(HEADS)
    assert {kind for _, kind, _ in FORMS} == set(get_args(Node))
    assert len(get_args(Node)) == 7


def test_the_choice_of_discs_is_part_of_what_each_disc_is_asked() -> None:
    over = {"where": CHOSEN, "that": GRADE}
    some, each = tree({"any_disc": over}), tree({"every_disc": over})
    chosen, grade = tree(CHOSEN), tree(GRADE)
    assert some == AnyOf(of=Each("discs", AllOf(of=(chosen, grade))))
    assert each == AllOf(of=Each("discs", AnyOf(of=(NoneOf(of=(chosen,)), grade))))
    assert condition_words(some) == "any disc where " + condition_words(chosen) + ": " + condition_words(
        grade
    )


def test_a_parameter_stands_with_its_value_and_unit_and_a_missing_one_without_value() -> None:
    assert operands_of(tree(BODY)) == (Limit(35, "limit", "kg/m2"),)
    (missing,) = operands_of(lower(Condition.model_validate(BODY), {}))
    assert missing == Limit(None, "limit")
    assert parameters_of(tree({"all": [FEVER, BODY]}), None) == ("limit",)


def test_an_age_stands_at_the_tests_of_its_elements_only() -> None:
    age = Age(6, "month", "lumbar_mri_date")
    node = tree({"all": [FEVER, {"not": GRADE}]}, ages={"canal_stenosis": age})
    assert [(n.element, n.age) for n in walk(node) if isinstance(n, Compare)] == [
        ("fever", None),
        ("canal_stenosis", age),
    ]


def test_places_lead_back_to_the_file() -> None:
    written = {"all": [FEVER, {"any_disc": {"where": CHOSEN, "that": {"not": GRADE}}}]}
    leaves = {n.place for n in walk(tree(written, place=("when",))) if not children(n)}
    assert leaves == {
        ("when", "all", 0),
        ("when", "all", 1, "any_disc", "where"),
        ("when", "all", 1, "any_disc", "that", "not"),
    }


def test_walking_names_elements_in_order_and_lists_and_scopes() -> None:
    node = tree(
        {"all": [FEVER, *(form[0] for form in FORMS if "entr" in form[2]), {"complete_list": "surgeries"}]}
    )
    assert elements_of(node, None) == ("fever", "medicine_class")
    assert lists_of(node) == ("medicines", "surgeries")
    assert [scope_inside(part, "patient") for part in children(node)][:2] == ["patient", LISTS["medicines"]]
    assert scope_inside(tree({"any_disc": {"that": GRADE}}), "patient") == "disc"


def test_this_disc_is_put_in_wherever_it_stands() -> None:
    level = {"element": "surgery_levels", "op": "contains", "value": "this_disc"}
    node = tree({"none": [{"any_entry": {"of": "surgeries", "that": {"all": [level, FEVER]}}}, FEVER]})
    assert names_this_disc(node)
    here = for_disc(node, "L4-L5")
    assert not names_this_disc(here)
    assert [o.value for n in walk(here) for o in operands_of(n) if isinstance(o.value, str)] == ["L4-L5"]
    assert for_disc(tree(FEVER), "L4-L5") == tree(FEVER)


def test_operators_are_those_of_the_written_language() -> None:
    assert set(OPERATORS) == set(get_args(Operator))


def test_numbers_are_compared_through_a_few_primitives_and_an_unknown_operator_is_refused() -> None:
    said = Primitives(
        at_least=lambda n: f">={n:g}", at_most=lambda n: f"<={n:g}", equals=lambda n: f"={n:g}",
        among=lambda many: "in " + ",".join(f"{n:g}" for n in many),
        negate=lambda one: f"not({one})", both=lambda one, other: f"{one} and {other}",
    )  # fmt: skip
    assert {op: compare_numbers(op, (1, 2), said) for op in ("at_least", "less_than", "at_most", "more_than")} == {
        "at_least": ">=1", "less_than": "not(>=1)", "at_most": "<=1", "more_than": "not(<=1)",
    }  # fmt: skip
    assert compare_numbers("between", (1, 2), said) == ">=1 and <=2"
    assert compare_numbers("is_not", (1,), said) == "not(=1)"
    assert compare_numbers("none_of", (1, 2), said) == "not(in 1,2)"
    with pytest.raises(KeyError):
        compare_numbers("contains", (1,), said)


@each_row("name", list(shipped().criterion_files()))
def test_every_shipped_criterion_has_a_tree_whose_limits_are_known(name: str) -> None:
    item = as_declared(shipped().criterion(name))
    for root in item.conditions:
        for node in walk(root):
            assert all(operand.value is not None for operand in operands_of(node))
            assert node.place[0] in ("when", "applies_when")
