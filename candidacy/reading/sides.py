"""On which side a finding is, and its site and containment; where each side has a grade, a finding for each."""

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.measures import UNITS
from candidacy.reading.mention import COPULA, Mention, Parts, Severity
from candidacy.reading.reach import NEURAL, SIDES

_MIDLINE = "canal"
_HAVE_SIDES = frozenset(("canal", "recess", "foramen", "facet"))
"""Things that keep the side named before them from one another."""
_JOINS = (["and"], [","], ["/"], ["&"])
_BETWEEN = grammar("between_sides")
_CUT_WORDS = grammar("phrase_end")
_ON = (["on", "the"], ["to", "the"], ["on"])
_VERBS = frozenset(("is", "lies", "was"))
_LEAD = _VERBS | {"at", "in", "of", "<disc>", "level", "disc", "on", "the"}
_BEHIND_SIDE = grammar("behind_side")
_SET_OFF: tuple[list[str], ...] = ([], ["on", "the"], ["to", "the"], [","], ["("])
"""Between a finding and a side behind it."""
_COMPARED = ([">"], ["<"], ["="])
_OF_A_SIZE = frozenset(
    ("measuring", "measures", "x", ")", "about", "approximately", "up", "size", "in", "on", "to")
)
_SET_OFF_SIZE: tuple[list[str], ...] = ([], [","], ["the"], ["("], [",", ","], ["(", ","])
"""Between a displaced disc and the site or side behind it, without what tells of its size."""
_MORE_THAN = (frozenset(("more", "greater", "larger", "worse")), "than")
_WAYS = {
    "anterior": grammar("slipped_forward"),
    "posterior": grammar("slipped_back"),
    "lateral": grammar("slipped_sideways"),
}
_ADVERB = ("ly", "ward", "wards", "ways")
_OPENS, _CLOSES = frozenset((",", "(", ":")), frozenset((",", ")", ";", "."))
_ENDS_ITS_WAY = frozenset(("and", "but", "with", "while", "which"))
_APART = 3
"""So many words stand between the grades of two sides at most."""
_NEAR = 7
"""So many words before a finding its side may stand."""


def describe(m: Mention, parts: Parts) -> None:
    """Collect side, site and containment words of the noun phrase around a mention."""
    if not parts.attributes or m.sides:
        return
    sides: list[str] = []
    for a in parts.attributes:
        told = a.entry.kind == "side" and _is_told(parts.words[m.end : a.start])
        behind = a.start >= m.end and not told
        if behind and (m.kind == "displacement" or parts.words[m.end : a.start] == [","]):
            told = _behind_its_size(a, m, parts)
            if not told:
                continue
        near = m.start - _NEAR <= a.start < m.end or (a.start >= m.end and (told or a.start - m.end <= 2))
        if not near or any(low <= a.start < high for low, high in m.beside):
            continue
        if a.end <= m.start and _cut(parts, a.end, m.start, m):
            continue
        if a.start >= m.end and not told and parts.words[m.end : a.start] not in _SET_OFF:
            continue
        if a.entry.kind == "side":
            discs_are = not COPULA.isdisjoint(parts.words[a.end : a.end + 1]) and m.obj not in {
                *_HAVE_SIDES,
                "root",
            }
            of_discs = m.kind == "displacement" or discs_are
            if of_discs and parts.words[a.start : a.end] == ["both"]:
                continue  # "both bulge", "both are desiccated" speak of discs
            if a.start > m.end and not _closes_phrase(parts, a.end, m):
                continue
            sides += [s for s in (*a.entry.value, *_less_so(a, parts)) if s not in sides]
        elif m.kind == "displacement":
            m.attributes = (*m.attributes, a)
    m.sides = tuple(sorted(sides))


def add_way(m: Mention, parts: Parts) -> None:
    """Give a slip the way told behind it: ``slip of L4 on L5 by 4 mm anteriorly``, and set off ``slip (anterior)``."""
    if m.kind != "listhesis" or m.value != "unstated":
        return
    words, said = (
        parts.words,
        [x.start for rows in (parts.heads, parts.acts, parts.objs, parts.known) for x in rows],
    )
    found: dict[str, int] = {}
    for at in range(m.end, len(words)):
        if words[at] in _CUT_WORDS and words[at : at + 1] != [","]:
            break
        way = next((way for way, known in _WAYS.items() if words[at] in known), "")
        alone = words[at - 1] in _OPENS and (words[at + 1 : at + 2] == [] or words[at + 1] in _CLOSES)
        if way and (words[at].endswith(_ADVERB) or alone):
            found[way] = at + 1
        elif not way and (at in said or words[at] in _ENDS_ITS_WAY):
            break
    if len(found) == 1:
        m.value, m.end = found.popitem()


def _behind_its_size(a: Match, m: Mention, parts: Parts) -> bool:
    """``Protrusion measuring 8 mm, left subarticular zone``, ``bulge, left``; not ``bulge, left foramen narrowed``."""
    inner = {i for b in parts.attributes for i in range(b.start, b.end)}
    gap = [
        w
        for i, w in enumerate(parts.words[m.end : a.start], m.end)
        if i not in inner and w not in UNITS and w not in _OF_A_SIZE and not w[0].isdigit()
    ]
    end = a.end
    while end in inner:
        end += 1
    behind = parts.words[end : end + 1]
    closes = not behind or not (behind[0][0].isalnum() or behind[0] == "<disc>") or behind[0] in _BEHIND_SIDE
    return closes and gap in _SET_OFF_SIZE


def _less_so(a: Match, parts: Parts) -> tuple[str, ...]:
    """``Stenosis, right > left``, ``right more than left``: it is on the other side too."""
    for b in parts.attributes:
        gap = parts.words[a.end : b.start] if b.entry.kind == "side" and b.start > a.end else []
        if gap in _COMPARED or (
            len(gap) == len(_MORE_THAN) and gap[0] in _MORE_THAN[0] and gap[1] == _MORE_THAN[1]
        ):
            return tuple(b.entry.value)
    return ()


def _is_told(gap: list[str]) -> bool:
    """``The protrusion at L4-5 is on the right``: words that lead from a finding to the side it is on."""
    return gap[-2:] == ["on", "the"] and not _VERBS.isdisjoint(gap) and _LEAD.issuperset(gap)


def _closes_phrase(parts: Parts, at: int, m: Mention) -> bool:
    """Say whether a side set off behind a finding names nothing else: ``stenosis, left``, but not ``stenosis, left facet cyst``."""
    rest = parts.words[at : at + 1]
    has_sides = m.obj in _HAVE_SIDES or m.kind.endswith("_stenosis")
    if has_sides and any(o.start == at for o in parts.objs):
        return False  # "right foramen patent, left foramen narrowed"
    own = any(x.start == at for rows in (parts.attributes, parts.mods, parts.places) for x in rows)
    return (
        not rest
        or own
        or not rest[0][0].isalpha()
        or rest[0] in _BEHIND_SIDE
        or any(s == at for s, _, _ in parts.severities)
    )


def _cut(parts: Parts, low: int, high: int, m: Mention) -> bool:
    """Say whether the noun phrase of a mention begins after a word that stands before it."""
    gap = parts.words[low:high]
    if not _CUT_WORDS.isdisjoint(gap):
        return True
    if "and" in gap and SIDES.isdisjoint(gap[gap.index("and") :]):
        return True
    high = min(high, m.start)
    others = NEURAL | _HAVE_SIDES if m.obj in _HAVE_SIDES else NEURAL
    return any(low <= h.start < high for rows in (parts.heads, parts.acts) for h in rows) or any(
        low <= o.start < high and o.entry.kind in others for o in parts.objs
    )


def words_of_others(o: Match, objs: list[Match], parts: Parts) -> tuple[tuple[int, int], ...]:
    """Give the words of the other things in a list: ``mild canal and moderate right recess stenosis``.

    A side before the list, or before the thing ahead in it, is of all (``bilateral``, ``left recess and foramen``), unless
    a thing has its own; the canal lies in the middle.
    """
    at = objs.index(o)
    found = [(o.end, max(objs[-1].end, o.end))]
    if at:
        before = objs[at - 1].end
        own = any(a.entry.kind == "side" and before <= a.start < o.start for a in parts.attributes)
        if own or o.entry.kind == _MIDLINE:
            found.append((0, before))
    if len({x.entry.kind for x in objs}) > 1:  # "both the canal and the recess": the word joins them
        found += [
            (a.start, a.end)
            for a in parts.attributes
            if parts.words[a.start : a.end + 1] == ["both", "the"] and a.start < objs[0].start
        ]
    return tuple((low, high) for low, high in found if low < high)


def each_its_side(m: Mention, grade: Severity, parts: Parts) -> list[Mention]:
    """Give a finding again for each further side that has a grade of its own: ``severe right and moderate left stenosis``."""
    before = _graded_before(m, grade, parts)
    return ([before] if before is not None else []) + _graded_behind(m, grade, parts)


def _graded_before(m: Mention, near: Severity, parts: Parts) -> Mention | None:
    """``severe right and moderate left foraminal stenosis``: two grades, one to each side."""
    sided = {a.start: a.entry.value for a in parts.attributes if a.entry.kind == "side"}
    ahead = {a.end: a.entry.value for a in parts.attributes if a.entry.kind == "side"}
    for start, end, value in parts.severities:
        if start in ahead and near.start in ahead and end <= near.start <= end + _APART:
            twin = m.copy()  # "foramina right moderately, left mildly narrowed"
            twin.set_severity(Severity(start, end, value))
            twin.sides, m.sides = ahead[start], ahead[near.start]
            return twin
        between = range(end, near.start)
        sides = [sided[i] for i in between if i in sided]
        stop = m.start if near.end <= m.start else m.end  # "foramina: mild right, moderate left stenosis"
        if (
            end <= near.start <= end + _APART
            and sides
            and all(i in sided or parts.words[i] in ("and", ",", "/", "&") for i in between)
        ):
            twin = m.copy()
            twin.set_severity(Severity(start, end, value))
            twin.sides, m.sides = (
                sides[0],
                next((sided[i] for i in range(near.end, stop) if i in sided), ()),
            )
            return twin
    return None


def _graded_behind(m: Mention, first: Severity, parts: Parts) -> list[Mention]:
    """``stenosis is mild on the left and moderate on the right``: the later grade is of the other side."""
    twins: list[Mention] = []
    at = max(m.end, first.end)
    own = _side_in(parts, at, next((s for s, _, _ in parts.severities if s >= at), at))
    for start, end, value in parts.severities:
        if start < at:
            continue
        behind = _side_in(parts, end, end + 4)
        if not behind or not _BETWEEN.issuperset(parts.words[at:start]):
            break
        twin = m.copy()
        twin.set_severity(Severity(start, end, value))
        twin.sides, m.sides = behind, own or m.sides
        twins.append(twin)
        at = end
    return twins


def _side_in(parts: Parts, low: int, high: int) -> tuple[str, ...]:
    """Give the side that is named first in a range of tokens, if only words between sides stand before it."""
    for a in parts.attributes:
        if a.entry.kind == "side" and low <= a.start < high:
            named = _thing_follows(parts, a.end)
            alone = not named and _BETWEEN.issuperset(parts.words[low : a.start])
            return a.entry.value if alone else ()  # "severe right foraminal stenosis" has its own thing
    return ()


def _thing_follows(parts: Parts, at: int) -> bool:
    """Say whether a thing of its own follows a side, further grades and sides between: ``right and mild left foramen``."""
    inner = {i for start, end, _ in parts.severities for i in range(start, end)}
    inner |= {i for a in parts.attributes if a.entry.kind == "side" for i in range(a.start, a.end)}
    joined = at
    while joined in inner or parts.words[joined : joined + 1] in _JOINS:
        joined += 1
    if joined > at and joined - 1 not in inner:
        return False
    return any(o.start == joined for rows in (parts.objs, parts.heads, parts.acts) for o in rows)


def ungraded_side(m: Mention, parts: Parts) -> Mention | None:
    """``Bilateral stenosis, severe on the right``: it is there on the other side too, in a degree that is not said."""
    if len(m.sides) < 2 or m.severity_at is None or m.severity_at[0] < m.end:
        return None
    behind = m.severity_at[1]
    at = behind + next((len(w) for w in _ON if parts.words[behind : behind + len(w)] == w), 0)
    side = next((a.entry.value for a in parts.attributes if a.start == at and a.entry.kind == "side"), ())
    if len(side) != 1:
        return None
    twin = m.copy()
    twin.severity, twin.severity_at = (), None
    twin.set_severity(None)
    twin.sides, m.sides = tuple(s for s in m.sides if s not in side), side
    return twin
