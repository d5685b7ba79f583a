"""A sentence that only denies or ends what the one before it says: ``This has resolved.``"""

from functools import cache

from candidacy.reading.clause_data import clause_data
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Parts

_REFERS = grammar("refers")
_THAT = frozenset(("that", "this", "it"))
_ENDS = frozenset(("negation", "resolved", "hypothetical"))


@cache
def _told(name: str) -> frozenset[str]:
    return frozenset(lexicon().spell(w) for w in clause_data()[name].split())


def begins_anew(parts: Parts) -> bool:
    """``Scratch that, disc protrusion``: takes back what stands before, whatever it goes on to say."""
    words = parts.words
    return words[:1] != [] and words[0] in _told("revokes_first") and words[1:2] != [] and words[1] in _THAT


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
