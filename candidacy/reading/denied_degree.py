"""Denials of the utmost degree, or of one sort: ``no complete loss of height`` and ``no fissure with high signal`` leave others open."""

from collections.abc import Sequence

from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT

_JOINS = frozenset((",", ";", "and", "or", "nor", "/", "&"))
_WITH = (["with"], ["showing"], ["demonstrating"], ["of"])
_PARTS = frozenset((".", ":", "but", "at"))
_IN_ORDER = frozenset(("normal", "preserved", "maintained", "intact", "no"))
_SORT_OF_ENDPLATE = frozenset(("edema", "edematous", "sclerosis", "sclerotic"))
"""``No endplate edema`` denies Modic type 1 and leaves type 2 open."""
_OF_SORTS = frozenset(("annular_fissure", "high_intensity_zone", "endplate_change", "endplate_defect"))


def denied_degree(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """Say whether only the utmost degree of a finding is denied, or one sort of it."""
    if m.status != ABSENT or m.severity or m.kind == "fracture":
        return False
    ends = [x.end for x in m.mods if x.entry.kind == "negation" and x.end <= m.end]
    if not ends:
        return False
    # its own words alone: not "central" of "no central stenosis or annular fissure"
    own = max((i + 1 for i in range(m.start) if parts.words[i] in _JOINS), default=0)
    between = set(parts.words[max(min(ends), own) : m.end])
    if not grammar("utmost").isdisjoint(between):
        return True
    return m.kind in _OF_SORTS and (
        not grammar("sorts").isdisjoint(between)
        or _with_a_signal(parts.words, m.end)
        or (m.kind == "endplate_change" and not _SORT_OF_ENDPLATE.isdisjoint(between))
    )


def _with_a_signal(words: Sequence[str], at: int) -> bool:
    """``No fissure with high signal``: one without it may be there."""
    if words[at : at + 1] not in _WITH:
        return False
    end = next((i for i in range(at + 1, len(words)) if words[i] in _PARTS or words[i] in _JOINS), len(words))
    behind = set(words[at + 1 : end])
    return not grammar("of_signal").isdisjoint(behind) and _IN_ORDER.isdisjoint(behind)
