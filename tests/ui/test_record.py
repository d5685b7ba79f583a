"""The screens show contradictions, unread signs of danger, companions and which disc near the standing."""

import pytest

from candidacy.assessment.assess import assess
from candidacy.assessment.results import UnreadFact
from candidacy.case.edit import with_fact, with_header
from candidacy.case.record import FactEntry
from candidacy.foundation.changed_copy import replace
from tests.explain.test_record import CONFLICT, CONFLICT_WORDS, DANGER, DANGER_WORDS, FEVER, SIGN
from tests.ui.conftest import demo


@pytest.fixture
def constructed(monkeypatch):
    """Every assessment of the desk carries one contradiction, one disputed sign and one unread danger."""

    def made(*given):
        return replace(
            assess(*given), conflicts=(CONFLICT, SIGN), unread=(UnreadFact(FEVER, (DANGER,), False),)
        )

    monkeypatch.setattr("candidacy.ui.desk.assess", made)


def test_the_referral_page_shows_them_before_and_beside_the_standing(screen, constructed):
    page = screen(record=demo("one-disc-candidate"))
    for words in (*CONFLICT_WORDS, *DANGER_WORDS, "acts in spite of a denial"):
        assert words in page.text.replace("( ", "("), words
    (panel,) = [body for body in page.bodies if 'class="c-standing' in body]
    assert panel.index(DANGER_WORDS[0]) < panel.index("✓")
    assert panel.count("<h2>") == 4  # danger, standing, disputed, contradictions: each block has a heading
    assert 'aria-label="To settle first"' in panel
    assert 'aria-label="Not read by this rule set"' in panel


def test_the_panel_says_wait_first_and_names_the_companions_of_the_day(screen):
    record = with_header(demo("morning-with-reasons-to-wait"), as_of="2026-12-10")
    page = screen(record=record)
    assert "Wait under Procedural safety as of 2026-12-10" in page.text
    assert "Companion sets: Is the disc the source of the pain:" in page.text
    (panel,) = [body for body in page.bodies if 'class="c-standing' in body]
    assert panel.index("Wait under ") < panel.index("≈ Borderline")


def test_the_panel_says_which_disc(screen):
    record = with_fact(
        demo("two-discs-candidate"), "patient", "discs_under_consideration", FactEntry(value=["L4-L5"])
    )
    page = screen(record=record)
    assert "Positive at discography but not considered: L5-S1." in page.text
