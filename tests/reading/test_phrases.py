"""A pattern made for speed finds what the plain pattern finds."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.reading.phrases import any_of

PHRASES = ["ct", "ct myelogram", "mri", "si joint", "spine", "kidney", "kidneys", "l/s spine", "?", "3 tesla"]
GAPS = [r"\s+", r"[\s.\-]+"]
PIECES = st.sampled_from(
    ["ct", "CT", "myelogram", "MRI", "mri", "SI", "ſi", "ſpine", "joint", "Kidney", "\u212aidney", "kidneys", "l/s",
     "spine", "?", "3", "tesla", " ", "-", ".", "\n", "x", "_", "9"]
)  # fmt: skip


def plain(phrases: list[str], gap: str) -> re.Pattern[str]:
    forms = (gap.join(map(re.escape, p.split())) for p in sorted(phrases, key=len, reverse=True))
    return re.compile(rf"(?<!\w)(?:{'|'.join(forms)})(?!\w)", re.IGNORECASE)


@pytest.mark.parametrize("gap", GAPS)
@given(pieces=st.lists(PIECES, max_size=12), start=st.integers(0, 8))
def test_the_quick_pattern_finds_what_the_plain_one_finds(gap: str, pieces: list[str], start: int) -> None:
    text = "".join(pieces)
    quick = [m.span() for m in any_of(PHRASES, gap).finditer(text, start)]
    assert quick == [m.span() for m in plain(PHRASES, gap).finditer(text, start)]


@pytest.mark.parametrize("gap", GAPS)
@pytest.mark.parametrize(
    "text", ["an MRI.", "\u212aidneys", "CT\nmyelogram of the ſpine", "why? l/s spine", "xct ct_"]
)
def test_each_case_of_a_letter_is_the_same_letter(gap: str, text: str) -> None:
    found = [m[0] for m in any_of(PHRASES, gap).finditer(text)]
    assert found == [m[0] for m in plain(PHRASES, gap).finditer(text)]
    assert bool(found) is (text != "xct ct_")
