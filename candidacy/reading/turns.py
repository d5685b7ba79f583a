"""Words that correct what stands before them, in a report, a note or a letter: ``scratch that``, ``amended to read``, ``I misspoke``."""

from bisect import bisect_left
from functools import lru_cache

from candidacy.reading.gate_words import NO, gate_words
from candidacy.reading.model import Span


def turn_in(text: str, start: int, end: int) -> Span | None:
    """Give the first words of a passage that correct what stands before them, at its beginning or behind a comma, bracket or dash."""
    found = _turns(text)
    at = bisect_left(found, Span(start, start))
    return found[at] if at < len(found) and found[at].end <= end else None


@lru_cache(maxsize=4)
def _turns(text: str) -> list[Span]:
    """All of a text, found once: most texts have none, and each of their sentences is asked."""
    words = gate_words()
    low = text.lower()
    if NO not in low and not any(p in low for p in words.turn_pieces):
        return []
    out = []
    for m in words.turns.finditer(text):
        lead = next(i for i, c in enumerate(m[0]) if c.isalnum())
        out.append(Span(m.start() + lead, m.end()))
    return out


def opens_inside(text: str, start: int, turn: int) -> bool:
    """Say whether words stand before those that correct in their sentence: then it is these that they correct."""
    return any(c.isalnum() for c in text[start:turn])


def is_weak(text: str, turn: Span) -> bool:
    """Say whether words such as "in fact" correct only where what they lead to is of what stands before."""
    return " ".join(text[turn.start : turn.end].lower().split()) in gate_words().weak_turns
