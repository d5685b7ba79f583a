"""Every sentence is accounted for: used, known to carry no weight, or shown as unread with its reason."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.reading import Reading, read_text
from candidacy.reading.model import KNOWN, PARTLY, UNREAD, USED, Account
from tests.published.score_reports import load
from tests.reading.test_fuzz import LONG, TEXTS
from tests.reading.test_metamorphic import PASSAGES
from tests.rows import each_row

_DATA = Path(__file__).parent / "data"
REPORTS = [
    g["text"] for name in ("dictation_gold", "dictation_gold_2") for g in load(_DATA / f"{name}.jsonl")
]
_WORD = re.compile(r"[^\W_]+")


def law(reading: Reading) -> None:
    """One entry a statement, in order, apart from each other; together they hold every word; a reason is a reason."""
    accounts = reading.ledger
    assert [a.statement for a in accounts if a.statement >= 0] == list(range(len(reading.statements)))
    at = 0
    for a in accounts:
        assert at <= a.span.start < a.span.end <= len(reading.text)
        at = a.span.end
    covered = bytearray(len(reading.text))
    for a in accounts:
        covered[a.span.start : a.span.end] = b"\1" * (a.span.end - a.span.start)
    assert all(covered[i] for m in _WORD.finditer(reading.text) for i in range(*m.span()))
    for a in accounts:
        assert bool(a.missed) == (a.state in (PARTLY, UNREAD))
        assert all(a.span.start <= s.start < s.end <= a.span.end for s in a.missed)
        assert (a.state == USED) == (not a.why), a
        assert bool(a.rule) == (a.state == KNOWN)
        assert all(reading.outside[n].statement == a.statement for n in a.outside)
        assert a.state != USED or a.findings or a.outside
        if a.statement >= 0:
            assert a.span == reading.statements[a.statement].span
    told = {n for a in accounts for n in a.findings}
    assert told == set(range(len(reading.findings)))
    assert [n for a in accounts for n in a.outside] == list(range(len(reading.outside)))
    shown = reading.unread
    assert len(shown) == sum(bool(a.missed) for a in accounts)
    assert [bool(a.danger) for a in shown] == sorted((bool(a.danger) for a in shown), reverse=True)


@settings(max_examples=400, deadline=None)
@given(TEXTS)
def test_any_text_is_accounted_for(text: str) -> None:
    law(read_text(text))


@each_row("text", [*PASSAGES, *LONG.values()], ids=lambda t: t[:20])
def test_passages_are_accounted_for(text: str) -> None:
    law(read_text(text))


def test_invented_reports_are_accounted_for() -> None:
    for text in REPORTS:
        law(read_text(text))


CHANGES = [
    lambda t, n: t[:n] + t[n + 7 :],
    lambda t, n: t[:n] + "\n\n" + t[n:],
    lambda t, n: t.replace("\n\n", "\n"),
    lambda t, n: t.replace("\n", " "),
    lambda t, n: t.replace(". ", "\n"),
    lambda t, n: t.replace(":", ""),
    lambda t, n: t.replace(":", " -"),
    lambda t, n: t[n:] + " " + t[:n],
    lambda t, n: t.upper(),
    lambda t, n: t[:n] + " | " + t[n:],
    lambda t, n: t[:n] + "\t12) " + t[n:],
    lambda t, n: t[:n] + "\u2028### **Findings** " + t[n:],
]


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(REPORTS), st.lists(st.tuples(st.sampled_from(CHANGES), st.integers(0, 2000)), max_size=4)
)
def test_changed_reports_are_accounted_for(text: str, changes: list) -> None:
    for change, at in changes:
        text = change(text, at % (len(text) + 1))
    law(read_text(text))


def only(text: str) -> Account:
    (account,) = [a for a in read_text(text).ledger if a.statement >= 0]
    return account


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("L4-5: disc bulge.", USED),
        ("Dear colleague, thank you for referring this pleasant teacher.", KNOWN),
        ("TECHNIQUE: Sagittal T1 and T2 images.", KNOWN),
        ("Dictated by the radiologist.", KNOWN),
        ("HISTORY: He works with horses.", KNOWN),
        ("HISTORY: He fell from a horse.", UNREAD),  # a fall may be behind a fracture
        ("Alignment is normal.", KNOWN),
        ("Vertebral body heights are maintained.", KNOWN),
        ("The conus terminates at L1.", KNOWN),
        ("The paraspinal muscles are unremarkable.", KNOWN),
        ("The paraspinal muscles measure 4 cm.", UNREAD),
        ("The paraspinal muscles are wasted.", USED),
        ("Facet effusions are seen.", UNREAD),
        ("It is smaller than on the prior.", UNREAD),
        ("L4-5: disc bulge with crowding of the cauda equina.", PARTLY),
        ("L4-5: disc bulge, and an ossified whatnot.", PARTLY),
    ],
)
def test_state_of_a_sentence(text: str, state: str) -> None:
    assert only(text).state == state


def test_a_part_that_was_not_used_is_named_with_its_words() -> None:
    text = "L4-5: disc bulge, with crowding of the cauda equina."
    account = only(text)
    assert [text[s.start : s.end] for s in account.missed] == ["with crowding of the cauda equina"]
    assert account.why == "words that no rule knows: crowding"


def test_what_is_not_understood_gives_its_reason() -> None:
    assert only("L5-S1: Grade 4 degeneration.").why.startswith("scale not stated")


def test_a_word_of_danger_in_an_unread_sentence_stands_first() -> None:
    reading = read_text("The disc frobs at L4-5.\n\nTECHNIQUE: T1. Marrow metastasis in L2.")
    assert [a.danger for a in reading.unread] == ["tumour, mass or unexplained lesion", ""]


def test_another_part_of_the_body_is_shown_as_unread() -> None:
    reading = read_text("LSS MRI\nL4-5: bulge.\nRT KNEE MRI:\nMedial meniscus is torn.")
    assert [a.why for a in reading.unread][-1] == "about another part of the body, which is not read"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("L3-4: adjacent segment degeneration with moderate canal stenosis.", "degeneration"),
        ("L5-S1: protrusion touching the right S1 endplate.", "touching"),
        ("The L4-5 disc has lost some water content but not height.", "but not height"),
        ("L4-5: bulge with granular enhancement.", "enhancement"),
    ],
)
def test_what_is_said_of_no_known_thing_is_shown_beside_what_was_read(text: str, words: str) -> None:
    reading = read_text(text)
    assert reading.findings
    assert any(words in reading.words_missed(a) for a in reading.unread)


def test_what_is_denied_of_no_known_thing_is_of_no_weight() -> None:
    assert read_text("L5-S1: protrusion without mass effect.").unread == ()
