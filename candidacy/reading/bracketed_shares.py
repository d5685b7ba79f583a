"""A share in brackets behind a grade: ``mild (less than a third) loss of height``. The grade is read, the share is shown."""

from candidacy.reading.lexer import Tokens, match
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.mention import Parts
from candidacy.reading.model import Span

_SHARE = frozenset(grammar("share_in_words"))
_LEADS = frozenset(grammar("leads_to_share")) | _SHARE
_PERCENT = frozenset(("%", "percent"))


def without_shares(tokens: Tokens, lex: Lexicon) -> tuple[Tokens, list[Span]]:
    """Leave out such brackets, and give where they stand; a percentage only where what is graded stands behind it."""
    words = tokens.words
    if "(" not in words or (_SHARE.isdisjoint(words) and _PERCENT.isdisjoint(words)):
        return tokens, []
    ends = {end for _, end, _ in Parts(words, match(words, lex)).severities}
    out: set[int] = set()
    aside: list[Span] = []
    for start in (i for i, w in enumerate(words) if w == "("):
        stop = next((i for i in range(start, len(words)) if words[i] == ")"), 0)
        inside = words[start + 1 : stop]
        goes_on = words[stop + 1 : stop + 2] != [] and words[stop + 1][0].isalpha()
        told = not _SHARE.isdisjoint(inside) or (goes_on and not _PERCENT.isdisjoint(inside))
        graded = start in ends or (start > 1 and not goes_on and any(e < start for e in ends))
        if told and graded and all(w in _LEADS or w in _PERCENT or w[0].isdigit() for w in inside):
            out.update(range(start, stop + 1))
            aside.append(tokens.span(start, stop + 1))
    if not out:
        return tokens, []
    kept = [i for i in range(len(words)) if i not in out]
    groups = [
        g._replace(start=g.start - sum(i < g.start for i in out), end=g.end - sum(i < g.start for i in out))
        for g in tokens.groups
    ]
    return Tokens([words[i] for i in kept], [tokens.found[i] for i in kept], groups), aside
