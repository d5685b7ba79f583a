"""Marks dictated as words end sentences and clauses as the marks do; other uses of the words are left alone."""

import re

import pytest

from candidacy.reading import read_text

SPOKEN = [
    (
        "L2-3 protrusion period moderate canal stenosis\nperiod next line L3-4 extrusion full\nstop severe canal stenosis period",
        {
            ("L2-L3", "displacement"),
            ("L2-L3", "canal_stenosis"),
            ("L3-L4", "displacement"),
            ("L3-L4", "canal_stenosis"),
        },
    ),
    (
        "findings colon disc bulge at L2-3 comma mild canal stenosis period new paragraph at L5-S1 comma\n"
        "there is a disc protrusion with moderate canal stenosis period",
        {
            ("L2-L3", "displacement"),
            ("L2-L3", "canal_stenosis"),
            ("L5-S1", "displacement"),
            ("L5-S1", "canal_stenosis"),
        },
    ),
    (
        "L4-5 no bulge comma mild facet arthropathy full stop L5-S1 protrusion full stop",
        {("L4-L5", "displacement"), ("L4-L5", "facet_arthropathy"), ("L5-S1", "displacement")},
    ),
]
LEFT_ALONE = [
    "Symptoms over a period of 3 months. L4-5: bulge.",
    "L4-5: comma shaped bulge over this period.",
    "The sigmoid colon is normal. L4-5: bulge.",
]


@pytest.mark.parametrize(("text", "wanted"), SPOKEN)
def test_dictated_marks_part_what_they_part(text: str, wanted: set[tuple[str, str]]) -> None:
    reading = read_text(text)
    assert {(f.disc, f.kind) for f in reading.findings if f.disc and f.kind != "neural_compression"} == wanted
    assert reading.text == text
    assert all(reading.words(a.span).strip()[-1].isalnum() for a in reading.ledger)
    entries = [(a.span.start, a.span.end) for a in reading.ledger]
    assert all(any(s <= m.start() and m.end() <= e for s, e in entries) for m in re.finditer(r"\w+", text))


@pytest.mark.parametrize("text", LEFT_ALONE)
def test_the_words_in_another_sense_stay_words(text: str) -> None:
    assert [(f.disc, f.value) for f in read_text(text).findings] == [("L4-L5", "bulge")]
