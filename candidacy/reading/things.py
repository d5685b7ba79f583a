"""Which things a statement speaks of: those that longer words hold, and those that are no disc, nerve or canal."""

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import Entry, Lexicon, grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import POSSIBLE
from candidacy.reading.reach import side_by_side

_OTHER_THINGS = frozenset(("other", "cord", "cauda", "known"))
"""Things whose signal, height or form is none of a disc; words known for making no finding among them."""
_LOSES = frozenset(("loss", "dim", "off", "narrow", "collapse", "black"))
_TO_WHAT_IS_LOST = frozenset(("of", "the", "its", "their", "from", "in", "disc", "intervertebral"))
_TO_ITS_LOSS = frozenset(
    ("is", "are", "was", "were", "has", "have", "been", "at", "in", "of", "the", "disc", "<disc>", "now")
)
_CUT_WORDS = grammar("phrase_end")
_CLAUSE_ENDS = frozenset((",", ";", ".", ":", "but", "while", "whereas"))
_TO_ROOT = frozenset(
    ("the", "on", "upon", "against", "with", "exiting", "exit", "traversing", "descending", "transiting")
)
_BONE = grammar("bone")
_BONE_PARTS = _BONE | {
    "endplate",
    "superior",
    "inferior",
    "level",
    "disc",
    "upper",
    "lower",
    "on",
    "over",
    "facet",
}
"""Behind the name of a vertebra: it is the bone that is meant, not the root."""
_ONE_DISC = frozenset(("lumbosacral", "next_up", "next_down", "counted_low", "counted_high"))
"""Places whose words may end in the disc itself."""
_T1 = grammar("not_of_water")
_APART = frozenset((",", ";", "and", "with", "as"))
"""Between two findings of which each has a thing of its own."""
_BEHIND, _IN_BONE = 3, 7
"""So many words behind a signal may name the images, or the bone."""


def drop_lost_normal(parts: Parts) -> None:
    """Take out the word for what is lost: ``loss of the normal disc height``, ``the normal signal is reduced`` call nothing normal."""
    lost = [a for a in parts.acts if a.entry.kind in _LOSES]
    if not lost:
        return
    words = parts.words
    things = [(o.start, o.end) for o in parts.objs]

    def is_lost(a: Match) -> bool:
        if any(x.end <= a.start and _TO_WHAT_IS_LOST.issuperset(words[x.end : a.start]) for x in lost):
            return True
        ends = [e for s, e in things if s >= a.end and _TO_WHAT_IS_LOST.issuperset(words[a.end : s])]
        return bool(ends) and any(
            x.start >= min(ends) and _TO_ITS_LOSS.issuperset(words[min(ends) : x.start]) for x in lost
        )

    parts.acts = [a for a in parts.acts if a.entry.kind != "normal" or not is_lost(a)]


def add_hidden(parts: Parts, lex: Lexicon) -> None:
    """Add the things that longer words hold.

    ``Dehydrated disc, narrowed``, ``the lumbosacral disc is narrowed``: the disc of a longer phrase can also be narrowed.
    ``Touching the left S1``: what lies behind a word of contact or compression is the root of that name.
    """
    rows = [h for h in parts.heads if h.entry.kind == "desiccation"]
    rows += [p for p in parts.places if p.entry.kind in _ONE_DISC]
    ends = [h.end - 1 for h in rows if h.end - h.start > 1 and parts.words[h.end - 1] == "disc"]
    more = [(at, "disc") for at in ends] + [(at, "root") for at in _roots_by_name(parts)]
    if more:
        things = [
            Match(at, at + 1, e) for at, word in more for e in lex.trie[word][""] if e.group == "objects"
        ]
        parts.objs = sorted((*parts.objs, *things), key=lambda o: o.start)


def _roots_by_name(parts: Parts) -> list[int]:
    if "<vert>" not in parts.words:
        return []
    held = {i for o in parts.objs for i in range(o.start, o.end)}
    sides = {i for a in parts.attributes if a.entry.kind == "side" for i in range(a.start, a.end)}
    found = []
    for a in parts.acts:
        at = a.end
        while at < len(parts.words) and (at in sides or parts.words[at] in _TO_ROOT):
            at += 1
        if a.entry.kind != "compress" or parts.words[at : at + 1] != ["<vert>"] or at in held:
            continue
        if not _BONE_PARTS.intersection(parts.words[at + 1 : at + 2]):
            found.append(at)
    return found


def said_so(words: list[str], e: Entry) -> bool:
    """Say whether a statement holds the words that a finding needs, and none with which it is another one."""
    if any(grammar(name).isdisjoint(words) for name in e.needs):
        return False
    if not e.without:
        return True
    other = grammar(e.without)
    ends, known = tuple(w[1:] for w in other if w[0] == "-"), grammar("spine_surgery")
    return other.isdisjoint(words) and not any(w.endswith(ends) and w not in known for w in words)


def is_of(words: list[str], m: Match, things: frozenset[str]) -> bool:
    """Say whether a finding is one of some other things: under their label, or beside their name with nothing between."""
    label = words[: words.index(":")] if ":" in words[: m.start] else []
    before, behind = words[len(label) : m.start], words[m.end :]
    start = max((i + 1 for i, w in enumerate(before) if w in _APART), default=0)
    end = next((i for i, w in enumerate(behind) if w in _APART), len(behind))
    if not things.isdisjoint(label):
        return "disc" not in before
    return not things.isdisjoint((*before[start:], *behind[:end]))


def of_another(act: Match, parts: Parts) -> bool:
    """Say whether what is said is of a thing that is none of a disc."""
    before = max(
        (o for o in (*parts.objs, *parts.known) if o.end <= act.start), key=lambda o: o.end, default=None
    )
    if before is None or before.entry.kind not in _OTHER_THINGS:
        return False
    return side_by_side(parts.words[before.end : act.start], before.end, parts)


def of_bone(act: Match, o: Match, parts: Parts) -> bool:
    """Say whether a signal is told on images that do not show how much water a disc holds, or of a bone: ``low T1 signal in L3``."""
    words = parts.words
    low, high = min(act.start, o.start), max(act.end, o.end)
    stop = next((i for i in range(high, len(words)) if words[i] in _CUT_WORDS), len(words))
    if not _T1.isdisjoint(words[max(0, low - 1) : min(stop, high + _BEHIND)]):
        return True
    start = next((i + 1 for i in range(low - 1, -1, -1) if words[i] in _CLAUSE_ENDS), 0)
    clause = words[start:stop]
    if "disc" not in clause and "<disc>" not in clause and not _BONE.isdisjoint(words[start:low]):
        return True  # "cord and conus show normal signal"
    behind = words[high : min(stop, high + _IN_BONE)]
    return "disc" not in behind and "<disc>" not in behind and not _BONE.isdisjoint(behind)


def without_metal(found: list[Mention], parts: Parts) -> list[Mention]:
    """``Fractured left S1 screw``, ``the cage has migrated``: what befalls an implant is no finding of bone or disc."""
    metal = [m for m in found if m.kind == "implant"]
    if not metal:
        return found
    if not any(m.kind == "displacement" for m in found):
        found = [m for m in found if m.kind != "displacement_migrated"]
    for m in found:
        if m.kind == "fracture" and any(_of_metal(m, x, parts) for x in metal):
            m.status = POSSIBLE
    return found


def _of_metal(m: Mention, metal: Mention, parts: Parts) -> bool:
    low, high = sorted((m, metal), key=lambda x: x.start)
    gap = parts.words[low.end : high.start]
    return len(gap) <= _BEHIND + 1 and _CUT_WORDS.isdisjoint(gap) and "and" not in gap
