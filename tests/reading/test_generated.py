"""Generated reports: nothing is asserted that is not marked, and little is missed."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.reading import Reading, read_text
from candidacy.reading.marks import marks
from tests.published.score_reports import all_values, certain, warned
from tests.reading.generator import LAYOUTS, Made, made

SEEDS = 150
OPEN = ("present_ungraded", "present_untyped")
"""Says only that something is there: less than a grade, and not against it."""
Item = tuple[str, str, str]


def sized(reading: Reading) -> set[Item]:
    """Sizes of displacement, which the marked sets do not hold."""
    rows = [f for f in reading.findings if f.kind == "displacement_size" and f.status == "present" and f.disc]
    return {(f.disc, "size", f"{float(v):g}") for f in rows for v in (f.value if isinstance(f.value, tuple) else (f.value,))}  # type: ignore[arg-type]  # fmt: skip


def asserted(reading: Reading) -> set[Item]:
    """Everything certain that a reading says of a disc, present or absent."""
    return certain(marks(reading)["discs"]) | sized(reading)  # type: ignore[arg-type]


def wrong(report: Made, reading: Reading) -> set[Item]:
    """What is asserted against the marks, or beyond them, without a question; what must never be said, always."""
    said = asserted(reading)
    raised, truth = warned(reading), all_values(report.marks)
    there = {(d, f) for d, f, v in truth if v not in ("none", "absent", "possible")}
    less = {(d, f, v) for d, f, v in said if v in OPEN and (d, f) in there}
    beyond = {(d, f, v) for d, f, v in said - truth - less if (d, f) not in raised}
    return beyond | {
        (d, f, v) for d, f, v in said if (d, f) in report.never or (d, f"{f}={v}") in report.never
    }


def missed(report: Made, reading: Reading) -> tuple[int, int]:
    """How many of the marks were found, and of how many."""
    truth = {i for i in all_values(report.marks) if i[1] != "displacement_certainty"}
    return len(truth & asserted(reading)), len(truth)


FLOORS: dict[str, float] = {
    "corrected": 0.25,  # most corrections make the disc doubtful, and say nothing new
    "modic": 0.75,
    "sizes": 0.93,
    "ranged": 0.88,
    "run_on": 0.5,
    "above": 0.6,
    "columns": 0.7,
    "spoken": 0.0,  # signs typed as words are not read as signs
}
"""Least share of the marks that is found where it is less than all of them; the rest is shown as unread or asked."""


@pytest.mark.parametrize("layout", LAYOUTS)
def test_nothing_is_asserted_that_the_report_does_not_say(layout: str) -> None:
    found = total = 0
    for seed in range(SEEDS):
        report = made(layout, seed)
        reading = read_text(report.text)
        assert not wrong(report, reading), report.text
        here, of = missed(report, reading)
        found, total = found + here, total + of
        if here < of:
            assert reading.unread or reading.questions, report.text
    assert found >= FLOORS.get(layout, 1.0) * total


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(sorted(LAYOUTS)), st.integers(1000, 10**9))
def test_nor_with_any_seed(layout: str, seed: int) -> None:
    report = made(layout, seed)
    assert not wrong(report, read_text(report.text)), report.text


def test_what_is_said_in_two_ways_is_asked() -> None:
    for layout in ("at_odds", "corrected"):
        for seed in range(SEEDS):
            report = made(layout, seed)
            reading = read_text(report.text)
            for disc, field in report.asked:
                silent = {(d, f) for d, f, _ in asserted(reading)} - warned(reading)
                assert (disc, field) not in silent, report.text


def test_a_wrong_mark_is_noticed() -> None:
    """The comparison can fail: a report read under another report's marks shows as wrong."""
    report = made("block", 1)
    disc = next(iter(report.marks))
    other = report._replace(marks={disc: {"canal_stenosis": "none"}})
    assert wrong(other, read_text(report.text))
    assert missed(other, read_text(report.text)) == (0, 1)
    never = report._replace(never=frozenset({(disc, "displacement")}))
    assert wrong(never, read_text(report.text))
