"""Words that correct what stands before them, in a report, a note or a letter: ``scratch that``, ``amended to read``, ``I misspoke``."""

from candidacy.reading.gate_words import gate_words
from candidacy.reading.model import Span


def turn_in(text: str, start: int, end: int) -> Span | None:
    """Give the first words of a passage that correct what stands before them, at its beginning or behind a comma, bracket or dash."""
    if not any(p in text[start:end].lower() for p in gate_words().turn_pieces):
        return None
    found = gate_words().turns.search(text, start, end)
    return None if found is None else Span(found.start("turn"), found.end("turn"))
