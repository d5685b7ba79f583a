"""Two criteria ask the same thing by what their conditions read, how and in which direction, whatever they are called."""

import pytest

from candidacy.rules.criterion import Criterion
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.resolved import as_declared
from candidacy.rules.sameness import sameness

BMI = load_rule_set("practice_baseline").criterion("body_mass_index_limit").criterion


def asks(kind, when, subject="patient"):
    """What a criterion of a kind with a condition asks for."""
    written = BMI.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    written |= {"kind": kind, "when": when, "subject": subject}
    return sameness(as_declared(Criterion.model_validate(written)))


def compares(element, op, value="limit", **more):
    operand = {"parameter": "bmi_upper_limit"} if value == "limit" else value
    return {"element": element, "op": op, "value": operand, **more}


AT_MOST = asks("inclusion", compares("body_mass_index", "at_most"))


@pytest.mark.parametrize(
    ("kind", "when"),
    [
        ("inclusion", compares("body_mass_index", "less_than")),
        ("exclusion", compares("body_mass_index", "more_than")),
        ("exclusion", compares("body_mass_index", "at_least")),
        ("inclusion", {"not": compares("body_mass_index", "at_least")}),
        ("exclusion", {"none": [compares("body_mass_index", "at_most")]}),
        (
            "inclusion",
            {"all": [compares("body_mass_index", "at_most"), compares("body_mass_index", "less_than")]},
        ),
    ],
)
def test_one_direction_is_one_question(kind, when):
    assert asks(kind, when) == AT_MOST


@pytest.mark.parametrize(
    ("kind", "when"),
    [
        ("exclusion", compares("body_mass_index", "at_most")),
        ("inclusion", compares("body_mass_index", "at_least")),
        ("inclusion", compares("age", "at_most")),
        ("inclusion", {"any": [compares("body_mass_index", "at_most"), compares("age", "at_most")]}),
    ],
)
def test_another_direction_or_element_is_another_question(kind, when):
    assert asks(kind, when) != AT_MOST


def test_joins_are_turned_round_by_a_denial():
    both = {"all": [compares("body_mass_index", "at_most"), compares("age", "at_most")]}
    either = {"any": [compares("age", "more_than"), compares("body_mass_index", "more_than")]}
    assert asks("inclusion", both) == asks("exclusion", either)
    assert asks("inclusion", both) != asks("inclusion", {"any": both["all"]})


def test_a_code_in_the_condition_itself_is_part_of_the_question():
    negative = asks("exclusion", compares("discography_class", "is", "negative"), "disc")
    invalid = asks("exclusion", compares("discography_class", "is", "not_valid"), "disc")
    assert negative != invalid
    assert asks("inclusion", compares("smoker", "is", False)) == asks(
        "exclusion", compares("smoker", "is", True)
    )


def test_the_shipped_rule_sets_share_what_they_ask_under_two_names():
    by = {}
    for name in shipped().rule_set_names():
        for item in load_rule_set(name).criteria:
            by.setdefault(sameness(item), set()).add(item.id)
    pairs = [ids for ids in by.values() if len(ids) > 1]
    assert {"body_mass_index_limit", "body_mass_index_limit_inclusive"} in pairs
    assert {"disc_height_loss_limit", "disc_height_loss_limit_inclusive"} in pairs
    assert any({"fever_recorded", "temperature_below_fever"} <= ids for ids in pairs)
    assert not any({"age_lower_limit", "age_upper_limit"} <= ids for ids in pairs)
    assert not any({"discography_negative", "discography_valid"} <= ids for ids in pairs)
    assert not any("report_displacement" in ids for ids in pairs), "whether it is known is another question"
