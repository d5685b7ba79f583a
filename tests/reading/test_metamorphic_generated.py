"""Changes of generated reports: what is only form changes nothing, and what adds a sentence changes nothing else."""

import random
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.reading import read_text
from candidacy.reading.model import UNREAD
from tests.reading.generator import GRADES, LAYOUTS, LEVELS, made
from tests.reading.test_generated import asserted, wrong
from tests.reading.test_metamorphic import wrapped
from tests.rows import each_row

IN_LINES = frozenset(("table", "form", "ticked", "sideways", "columns", "leaders", "block"))
"""Layouts of which the line ends carry meaning."""
RUNNING = sorted(LAYOUTS.keys() - IN_LINES)
SEEDS = st.integers(0, 10**6)


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_blank_lines_mean_nothing_between_what_has_headings(layout: str) -> None:
    for seed in range(30):
        report = made(layout, seed)
        closed = re.sub(r"\n\n+", "\n", report.text)
        assert asserted(read_text(closed)) == asserted(read_text(report.text)), report.text


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(RUNNING), SEEDS, st.integers(40, 120))
def test_wrapped_at_any_column_nothing_wrong_is_said(layout: str, seed: int, width: int) -> None:
    report = made(layout, seed)
    assert not wrong(report, read_text(wrapped(report.text, width))), wrapped(report.text, width)


@pytest.mark.parametrize(
    "layout", ["prose", "block", "shared", "remaining", "some_none", "denied", "both_levels"]
)
def test_joined_the_same_is_said_and_wrapped_nothing_is_lost_in_silence(layout: str) -> None:
    for seed in range(25):
        text = made(layout, seed).text
        before = asserted(read_text(text))
        joined = " ".join(text.split("\n"))
        assert asserted(read_text(joined)) == before, joined
        if layout != "block":
            for width in (60, 72, 80, 100):
                reading = read_text(wrapped(text, width))
                after = asserted(reading)
                assert after <= before, reading.text
                assert after == before or reading.unread or reading.questions, reading.text


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(["block", "leaders", "form"]), SEEDS, st.randoms(use_true_random=False))
def test_levels_in_any_order_say_the_same(layout: str, seed: int, dice: random.Random) -> None:
    text = made(layout, seed).text
    head, *rows = text.strip().split("\n")
    size = 4 if layout == "form" else 1
    groups = ["\n".join(rows[i : i + size]) for i in range(0, len(rows), size)]
    dice.shuffle(groups)
    assert asserted(read_text("\n".join([head, *groups]))) == asserted(read_text(text)), text


@pytest.mark.parametrize("grade", GRADES)
@pytest.mark.parametrize("number", ["1", "2", "II", "3"])
@each_row(
    "first",
    [
        "Anterolisthesis, grade {}. ",
        "There is anterolisthesis, Meyerding grade {}. ",
        "Endplate changes, Modic type {}. ",
        "Disc degeneration, Pfirrmann grade {}. ",
    ],
)
def test_sentence_that_ends_on_a_grade_ends_there(first: str, number: str, grade: str) -> None:
    alone = asserted(read_text(f"FINDINGS: L4-5: {first.format(number)}"))
    stenosis = asserted(read_text(f"FINDINGS: L4-5: {grade.capitalize()} canal stenosis."))
    both = asserted(read_text(f"FINDINGS: L4-5: {first.format(number)}{grade.capitalize()} canal stenosis."))
    assert stenosis == {("L4-L5", "canal_stenosis", grade)}
    assert both == alone | stenosis


@pytest.mark.parametrize(
    ("finding", "field", "value"),
    [
        ("canal stenosis", "canal_stenosis", "present_ungraded"),
        ("annular fissure", "annular_fissure", "present"),
        ("disc desiccation", "desiccation", "present"),
        ("nerve root compression", "neural_compression", "present"),
    ],
)
@pytest.mark.parametrize("level", LEVELS)
@each_row(
    "frame",
    [
        "{n}: Disc protrusion {w} {f}.",
        "At {n} there is a disc protrusion {w} {f}.",
        "Disc protrusion at {n} {w} {f}.",
    ],
)
def test_with_and_without_turn_one_status_and_nothing_else(
    finding: str, field: str, value: str, level: str, frame: str
) -> None:
    said = asserted(read_text("FINDINGS: " + frame.format(n=level, w="with", f=finding)))
    denied = asserted(read_text("FINDINGS: " + frame.format(n=level, w="without", f=finding)))
    assert (level, field, value) in said
    off = {(level, field, "none"), (level, field, "absent")}
    assert said - {(level, field, value)} == denied - off
    assert denied & off


IRRELEVANT = [
    "The conus medullaris ends at a normal level.",
    "Paraspinal soft tissues are unremarkable.",
    "Thank you for this referral.",
    "Images were reviewed on a workstation.",
]
UNKNOWN = [
    "The quarterly budget for lanterns was approved by the harbour council.",
    "Seven herons crossed the estuary before the ferry left.",
]


@pytest.mark.parametrize("sentence", IRRELEVANT + UNKNOWN)
@pytest.mark.parametrize("layout", ["block", "prose", "shared", "denied", "some_none"])
def test_another_sentence_anywhere_changes_nothing(layout: str, sentence: str) -> None:
    for seed in range(12):
        text = made(layout, seed).text
        before = asserted(read_text(text))
        places = [m.end() for m in re.finditer(r"\.(?=\s|$)", text)]
        for at in places:
            reading = read_text(f"{text[:at]} {sentence}{text[at:]}")
            assert asserted(reading) == before, reading.text
            mine = [a for a in reading.ledger if a.statement >= 0 and sentence[:-1] in reading.words(a.span)]
            assert mine, reading.text
            if sentence in UNKNOWN:
                assert [a.state for a in mine] == [UNREAD], reading.text
