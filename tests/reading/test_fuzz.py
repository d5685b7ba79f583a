"""Any text is read without an exception, with spans inside it, and always in the same way."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.reading import Reading, read_text
from candidacy.reading.context import context_of
from candidacy.reading.elements import facts
from candidacy.reading.marks import marks
from candidacy.reading.model import STATUSES
from candidacy.reading.show import as_data, as_html, as_text

WORDS = st.sampled_from(
    [
        "L4-5",
        "L5-S1",
        "L4/L5:",
        "L1",
        "through",
        "S1",
        "S1",
        "L3",
        "disc",
        "bulge",
        "protrusion",
        "extrusion",
        "no",
        "without",
        "possible",
        "?",
        "mild",
        "severe",
        "moderate",
        "canal",
        "stenosis",
        "foraminal",
        "narrowing",
        "thecal",
        "sac",
        "compressing",
        "nerve",
        "root",
        "annular",
        "tear",
        "Modic",
        "type",
        "2",
        "II",
        "grade",
        "1",
        "anterolisthesis",
        "of",
        "on",
        "and",
        "or",
        ",",
        ".",
        ";",
        ":",
        "-",
        "4",
        "mm",
        "7",
        "x",
        "4",
        "40%",
        "loss",
        "height",
        "with",
        "where",
        "noticeably",
        "at",
        "all",
        "levels",
        "remaining",
        "discs",
        "IMPRESSION:",
        "FINDINGS:",
        "history",
        "of",
        "resolved",
        "\n",
        "\n\n",
        "L45",
        "L23-L3",
        "4-5",
        "Pfirrmann",
        "modified",
        "Schizas",
        "C",
        "Castellvi",
        "IIa",
        "versus",
        "is",
        "patent",
        "normal",
        "(",
        ")",
        "1.",
        "2)",
        "-",
        "•",
        "LSS",
        "MRI",
        "RT",
        "KNEE",
        "MRI",
        ":",
        "<b>",
        "&amp;",
    ]
)
TEXTS = st.one_of(st.text(max_size=400), st.lists(WORDS, max_size=60).map(" ".join))


def check(reading: Reading) -> None:
    size = len(reading.text)
    spans = [s.span for s in reading.statements] + [u.span for u in reading.not_understood]
    for f in reading.findings:
        spans += [f.evidence, *(m.span for m in f.modifiers)]
        spans += [f.place] if f.place is not None else []
        assert f.status in STATUSES
        assert reading.words(f.evidence)
    for span in spans:
        assert 0 <= span.start < span.end <= size
    assert {f.disc for f in reading.findings if f.disc} <= set(reading.discs_named)


@pytest.mark.parametrize(
    "text",
    [
        "|||",
        "L4-5 | bulge\n|||||\nL5-S1 | normal",
        "Retrolisthesis at L1-2, grade 2\u00b2.",
        "L4-5: Pfirrmann grade \u00b2.",
    ],
)
def test_empty_rows_of_tables_and_digits_that_are_no_numbers_are_read_without_a_fault(text: str) -> None:
    reading = read_text(text)
    assert not [f for f in reading.findings if f.kind in ("pfirrmann_grade", "meyerding_grade")]


@settings(max_examples=600, deadline=None)
@given(TEXTS)
def test_any_text_is_read(text: str) -> None:
    reading = read_text(text)
    check(reading)
    assert read_text(text) == reading
    json.dumps([as_data(reading), marks(reading)])
    facts(reading, "report")


@settings(max_examples=150, deadline=None)
@given(TEXTS)
def test_any_reading_is_shown_and_nothing_of_it_is_markup(text: str) -> None:
    reading = read_text(text + " <script>alert(1)</script> L4-5: bulge <img src=x onerror=y>")
    page = as_html(reading, "<b>name</b>")
    assert "<script" not in page.lower().replace("&lt;script", "")
    assert "<img" not in page
    assert "<b>name" not in page
    as_text(reading, "name")


@settings(max_examples=200, deadline=None)
@given(st.text(min_size=1, max_size=120), st.data())
def test_context_of_any_span(text: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(text) - 1))
    end = data.draw(st.integers(start + 1, len(text)))
    context_of(text, start, end)


LONG = {
    "one word": "L4-5 " + "a" * 100_000,
    "denials": "no " * 30_000 + "bulge at L4-5",
    "levels": "L4-5, " * 15_000,
    "findings": "bulge at L4-5 and " * 3_000,
    "colons": ": " * 40_000,
    "measures": "4 mm x " * 15_000,
    "a chain": "L1-" * 30_000,
}


@pytest.mark.parametrize("name", LONG)
def test_no_statement_grows_without_bound(name: str) -> None:
    """Work within a statement may grow with its square, so statements are kept short."""
    reading = read_text(LONG[name])
    check(reading)
    assert all(s.end - s.start <= 1200 for s in reading.statements)
