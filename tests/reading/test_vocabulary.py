"""The ordinary words that take nothing back are none of those that may, and beside a bulge they leave it asserted."""

from pathlib import Path

import pytest
import yaml

import candidacy.reading
from candidacy.reading import read_text

DATA = Path(candidacy.reading.__file__).parent / "data"
WORDS = {
    name: frozenset(row.split())
    for name, row in yaml.safe_load((DATA / "vocabulary.yaml").read_text()).items()
}
CLASSES = ("anatomy", "signal", "shape", "degree", "nature", "verbs", "other")
TAKING = ("telling", "doubtful", "between")
CHANGING = ("possible", "mood", "historical", "resolved", "hypothetical", "other_person", "negation")


def changing() -> frozenset[str]:
    rows = yaml.safe_load((DATA / "modifiers.yaml").read_text())
    return frozenset(p for r in rows if r["kind"] in CHANGING for p in r["phrases"] if " " not in p)


@pytest.mark.parametrize("name", CLASSES)
def test_no_ordinary_word_may_take_back(name: str) -> None:
    assert len(WORDS[name]) > 100
    for other in TAKING:
        assert not WORDS[name] & WORDS[other], other
    assert not WORDS[name] & changing()


@pytest.mark.parametrize("name", ["shape", "degree"])
def test_a_bulge_so_described_is_still_asserted_or_unread_but_never_denied(name: str) -> None:
    lost = []
    for word in sorted(WORDS[name]):
        found = [f for f in read_text(f"L4-5: a {word} bulge.").findings if f.kind == "displacement"]
        assert all((f.disc, f.value, f.status) == ("L4-L5", "bulge", "present") for f in found), word
        lost += [] if found else [word]
    assert len(lost) < 0.03 * len(WORDS[name]), lost
