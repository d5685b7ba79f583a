"""What a label gives to an earlier study is not today's; without a label of today nothing is taken from today."""

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts


def discs(text: str, element: str = "displacement") -> dict[str, object]:
    return {f.subject: f.entry.value for f in facts(read_text(text)) if f.element == element}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("MRI 2020: L4-5 protrusion. MRI today: L4-5 bulge.", {"L4-L5": "bulge"}),
        ("MRI 2024: L4-5 bulge. MRI 2020: L4-5 protrusion.", {"L4-L5": "bulge"}),
        ("MRI 2020: protrusion at L4-5. Today: bulge at L4-5.", {"L4-L5": "bulge"}),
        ("Prior MRI: L4-5 extrusion. L5-S1 protrusion.\nCurrent MRI: L4-5 bulge.", {"L4-L5": "bulge"}),
        ("Previous MRI:\nL4-5: protrusion\nL5-S1: extrusion\n\nCurrent MRI:\nL4-5: bulge", {"L4-L5": "bulge"}),
        ("Previous study: L4-5 extrusion.\nCurrent study: L4-5 protrusion.", {"L4-L5": "protrusion"}),
        ("Current study: L4-5 bulge.\nPrior study: L4-5 extrusion.\nL5-S1: normal.", {"L4-L5": "bulge", "L5-S1": "none"}),
        ("Prior MRI: 2020.\nCurrent MRI: L4-5 bulge.\nFINDINGS: L5-S1: protrusion.", {"L4-L5": "bulge", "L5-S1": "protrusion"}),
        ("Prior MRI: L4-5 extrusion. Today: L4-5 extrusion persists.", {"L4-L5": "extrusion"}),
        ("MRI lumbar spine 2024: L4-5 bulge. L5-S1 protrusion.", {"L4-L5": "bulge", "L5-S1": "protrusion"}),
    ],
)  # fmt: skip
def test_only_what_the_study_of_today_says_is_said(text: str, said: dict[str, str]) -> None:
    assert discs(text) == said


def test_an_operation_seen_on_an_earlier_study_stays_told() -> None:
    text = "Prior imaging: L5-S1 fusion. Current imaging: L4-5 bulge."
    assert any(f.element == "prior_lumbar_surgery" and f.entry.value is True for f in facts(read_text(text)))


@pytest.mark.parametrize(
    ("text", "element", "left"),
    [
        ("L4-5: no significant annular fissure.", "annular_fissure", "uncertain_in_source"),
        ("L4-5: no significant desiccation.", "disc_desiccation", "uncertain_in_source"),
        ("L4-5: no significant Modic changes.", "modic_type", "uncertain_in_source"),
        ("L4-5: no significant canal stenosis.", "canal_stenosis", ("none", "mild")),
        ("L4-5: no bulge, protrusion or significant stenosis.", "canal_stenosis", ("none", "mild")),
        ("L4-5: no significant loss of disc height.", "disc_height_loss_words", ("none", "mild")),
    ],
)
def test_what_is_denied_as_significant_leaves_a_slight_one_open(
    text: str, element: str, left: object
) -> None:
    (fact,) = [f for f in facts(read_text(text)) if f.element == element]
    assert fact.entry.value is None
    assert left in (fact.entry.unknown, fact.entry.one_of)


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: no canal stenosis.",
        "L4-5: no significant canal stenosis. No canal stenosis.",
        "L4-5: no significant evidence of canal stenosis.",
    ],
)
def test_a_plain_denial_is_none(text: str) -> None:
    (fact,) = [f for f in facts(read_text(text)) if f.element == "canal_stenosis"]
    assert fact.entry.value == "none"
