"""Margins as one says them."""

import pytest

from candidacy import assess
from candidacy.conference.margins import margin_words, margins_of
from candidacy.explain.document import TestInfo as Info  # the name alone would be collected as a test
from candidacy.foundation.shipped import demo_cases_folder


def info(**given):
    usual = {"kind": "test", "truth": "not_met", "subject": "patient", "element": "body_mass_index", "op": "at_most", "parameters": [],
             "unit": "kg/m2", "why": None, "age_days": None, "words": "w", "parts": []}  # fmt: skip
    return Info(**(usual | given))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"value": "38.4 kg/m2", "limits": ["35"], "margin": [-3.4, -3.4]}, "38.4, limit 35 kg/m2: +3.4"),
        (
            {"value": "38.4 kg/m2", "limits": ["35"], "margin": [-3.4000000000000057, -3.4]},
            "38.4, limit 35 kg/m2: +3.4",
        ),
        (
            {"value": "35 to 38 kg/m2", "limits": ["35"], "op": "less_than", "margin": [-3.0, 0.0]},
            "35 to 38, limit 35 kg/m2: 0 to +3",
        ),
        (
            {
                "value": "0",
                "limits": ["7"],
                "op": "at_least",
                "unit": "",
                "margin": [-7.0, -7.0],
                "subject": "L4-L5",
            },
            "L4-L5: 0, limit 7: -7",
        ),
        (
            {"value": "more than 8", "limits": ["5"], "unit": "mm", "margin": [None, -3.0]},
            "more than 8, limit 5 mm: +3 to open",
        ),
        (
            {"value": "2", "limits": ["3", "7"], "op": "between", "unit": "", "margin": [-1.0, -1.0]},
            "2, limits 3 to 7: 1 outside",
        ),
        (
            {"value": "5", "limits": ["3", "7"], "op": "between", "unit": "", "margin": [2.0, 2.0]},
            "5, limits 3 to 7: 2 inside",
        ),
        ({"value": "negative", "limits": ["positive"], "op": "is", "unit": "", "margin": None}, ""),
        ({"value": "", "limits": ["35"], "margin": None}, ""),
    ],
)
def test_the_way_from_the_limit_to_the_value_bears_its_sign(given, words):
    assert margin_words(info(**given)) == words


def test_only_what_the_outcome_rests_on_has_a_margin():
    """A white cell count within its limits is no reason for a raised marker, though its test is met."""
    found = assess(demo_cases_folder() / "suspected-spinal-infection.yaml", "practice_baseline").document
    criterion = next(c for c in found.criteria if c.id == "inflammation_marker_recorded_raised")
    assert margins_of(criterion) == ("84, limit 10 mg/L: +74",)
