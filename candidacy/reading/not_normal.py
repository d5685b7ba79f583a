"""Words by which "normal" is not said of the disc of today: ``used to be normal``, ``far from normal``, ``effacement of normal height``."""

from collections.abc import Sequence

from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

_IN_ORDER = ("none", "absent")
_ARTICLES = frozenset(("the", "its", "a", "their", "any"))
_FAR = 4
_NEAR = 4
_BEEN, _QUITE = "been", "quite"


def words_for_it(parts: Parts) -> bool:
    """Whether a statement has a word that may take a normal back."""
    watched = grammar("away_from_normal") | grammar("not_so_today") | {"of", _BEEN, _QUITE}
    rows = [a for a in parts.acts if a.entry.kind == "normal"]
    return bool(rows) and (
        not watched.isdisjoint(parts.words) or any(_tells_a_limit(a.end, parts) for a in rows)
    )


def normal_no_more(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """Say whether what a finding calls normal was, should be or would be so, is set against it, or is gone."""
    if m.value not in _IN_ORDER:
        return False
    rows = [a for a in parts.acts if a.entry.kind == "normal" and m.start <= a.start < m.end]
    if rows and any(x.entry.kind == "resolved" for x in m.mods):
        return True
    if any(a.entry.kind == "normal" and _tells_a_limit(a.end, parts) for a in parts.acts):
        return True
    return any(_taken_back(a.start, parts) for a in rows)


def _tells_a_limit(at: int, parts: Parts) -> bool:
    """``Canal 9 mm, normal 12 mm``, ``normal range 8-12 mm``: what would be normal is told, not that it is."""
    behind = parts.words[at : at + _NEAR]
    if parts.words[at - 1] != "normal" or not behind:
        return False
    return behind[0][0].isdigit() or (
        behind[0] in grammar("bounds_of_normal") and any(w[0].isdigit() for w in behind)
    )


def _taken_back(at: int, parts: Parts) -> bool:
    words, ends = parts.words, grammar("phrase_end")
    low = next((i + 1 for i in range(at - 1, -1, -1) if words[i] in ends), 0)
    before = words[max(low, at - _FAR) : at]
    if not grammar("not_so_today").isdisjoint(before) or ("had" in before and _BEEN in before):
        return True
    if "not" in before and _QUITE in before:
        return True
    while at > low and words[at - 1] in _ARTICLES:
        at -= 1
    last = "".join(words[at - 1 : at]) if at > low else ""
    return last in grammar("away_from_normal") or (last == "of" and _of_something(at - 2, low, parts))


def _of_something(at: int, low: int, parts: Parts) -> bool:
    """Say whether a word before "of normal height" may be the loss of it: ``effacement``, not ``discs`` or ``preservation``."""
    if at < low or not parts.words[at].isalpha():
        return False
    own = (*parts.objs, *(x for x in parts.acts if x.entry.kind == "normal"))
    held = {i for x in own for i in range(x.start, x.end)}
    return at not in held and parts.words[at] not in grammar("has_the_normal")
