"""A sentence that only denies or ends what the one before it says: ``This has resolved.``"""

from functools import cache

from candidacy.reading.clause_data import clause_data
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Parts

_REFERS = grammar("refers")
_ENDS = frozenset(("negation", "resolved", "hypothetical"))


@cache
def _told(name: str) -> frozenset[str]:
    return frozenset(lexicon().spell(w) for w in clause_data()[name].split())


def takes_back(parts: Parts) -> bool:
    """Say whether a statement, which names no finding, takes back what the one before it says."""
    told = _told("taken_back")
    if told.intersection(parts.words) and (told | _REFERS).issuperset(parts.words):
        return True
    if any((parts.heads, parts.acts, parts.objs, parts.known)):
        return False
    if not _told("revokes").isdisjoint(
        parts.words
    ):  # "Dictation error, please ignore the preceding sentence."
        return True
    return any(
        x.entry.kind in _ENDS
        and x.entry.reach == "backward"
        and _REFERS.issuperset(parts.words[: x.start])
        and (parts.words[x.start] != "no" or x.end == len(parts.words))  # "No haematoma."
        for x in parts.mods
    )
