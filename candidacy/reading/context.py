"""What the words around any phrase say of it: denied, doubted, past, of another person.

The same triggers and reach as for imaging findings, for a phrase the caller points at.
"""

from candidacy.reading.document import sentences
from candidacy.reading.lexer import match, tokenise
from candidacy.reading.lexicon import lexicon
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.scope import apply


def context_of(text: str, start: int, end: int) -> frozenset[str]:
    """Give the kinds of modifiers that reach ``text[start:end]``.

    Kinds are ``negation``, ``possible``, ``historical``, ``resolved``, ``other_person``, ``hypothetical`` and
    ``persists``. A span that crosses sentences takes what reaches its first words.

    Examples
    --------
    >>> text = "No evidence of pneumonia but there is fever."
    >>> sorted(context_of(text, 15, 24)), sorted(context_of(text, 38, 43))
    (['negation'], [])
    """
    lex = lexicon()
    rows = [s for s in sentences(text, lex) if s.start <= start < s.end]
    low, high = (rows[0].start, rows[0].end) if rows else (0, len(text))
    tokens = tokenise(text, low, high, lex)
    first = next((i for i, t in enumerate(tokens.found) if t.end() > start), None)
    if first is None:
        return frozenset()
    last = next((i for i, t in enumerate(tokens.found) if t.start() >= end), len(tokens.words))
    last = max(last, first + 1)
    # A phrase is matched only outside the target: a trigger inside it belongs to the target itself.
    before = match(tokens.words[:first], lex)
    after = [m._replace(start=m.start + last, end=m.end + last) for m in match(tokens.words[last:], lex)]
    parts = Parts(tokens.words, [*before, *after])
    target = Mention("target", "", first, last, "")
    apply(parts, [target])
    return frozenset(m.entry.kind for m in target.mods)
