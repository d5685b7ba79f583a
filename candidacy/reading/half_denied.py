"""Denials that do not reach all of what they seem to deny: a part of it, a sort of it, or nothing behind a dash."""

import re
from collections.abc import Sequence

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT

_IN_ORDER = ("none", "absent")
_TO_A_LEVEL = frozenset(("at", "in", "of", "the", "and", "or", "level", "disc"))
_AUXILIARIES = frozenset(("has", "have", "had", "is", "are", "was", "were", "does", "do", "did"))
_OF_ONE_NAMED = frozenset(("the", "this", "that", "these", "those", "its", "their"))
_CAUSES = frozenset(("bony", "osseous", "developmental", "ligamentous", "discogenic"))
NOT_QUITE = frozenset(("near", "better", "best", "more", "most", "less", "least", "worse"))
"""Before a word for normal: it is not quite so, or more so than something else."""
_SHARE = re.compile(r"[1-4]/[2-5]")
PARTLY_THERE = frozenset(
    (
        "anteriorly",
        "posteriorly",
        "laterally",
        "centrally",
        "medially",
        "peripherally",
        "ventrally",
        "dorsally",
    )
)
_VIEWS = frozenset(("flexion", "extension", "axial", "sagittal", "coronal", "supine", "standing", "upright"))
_NONE, _SOME, _BEHIND = frozenset(("none", "nil")), grammar("some_of_them"), 3
_CAUSE_NEAR = 2
_AGAINST = frozenset(
    ("compared", "comparison", "relative", "since", "beyond", "confidence", "certainty", "conviction")
)
_CLAUSE_ENDS = frozenset((",", ";", "."))
_YEAR = re.compile(r"(?:19|20)\d\d")
_OF_YEAR = frozenset(("in", "on", "of", "from", "during"))
_EXCEPT = (["except"], ["but"], ["save"])
_NEAR = 4
_ONE_OF_ALL = frozenset(
    (
        "<vert>",
        "one",
        "two",
        "1",
        "2",
        "first",
        "last",
        "lowest",
        "lower",
        "upper",
        "uppermost",
        "middle",
        "lowermost",
    )
)
_CAUSING = frozenset(("causing", "producing", "resulting"))
_DOING = frozenset(
    ("compress", "contact", "displace", "efface", "impinge", "indent", "abut", "narrow", "big", "sufficient")
)
_REACHING = frozenset(
    (
        "touching",
        "contacting",
        "reaching",
        "extending",
        "encroaching",
        "pressing",
        "close",
        "near",
        "adjacent",
        "beside",
        "against",
        "into",
        "toward",
        "towards",
    )
)
_IN = (["in"], ["within"])
_BY_WHAT = frozenset(
    ("contact", "touch", "proximity", "vicinity", "neighbourhood", "neighborhood", "relation", "continuity")
)
"""Behind "in": a denial is of one that lies so, ``no bulge in close proximity to the root``."""
_OF_AN_ANNULUS = frozenset(("outer", "inner", "grade", "type"))
_PHRASE_ENDS = grammar("phrase_end") | {"and", "or", "but"}
_DASHES = frozenset(("-", "–", "—", "--"))


def denied_in_part(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """Say whether the denial of a finding leaves it possible elsewhere, of another cause, or unchanged."""
    return (
        _denied_but(m, mentions, parts)
        or _nor_has(m, parts)
        or _of_one_cause(m, parts)
        or _excepted(m, parts)
        or _not_free(m, parts)
        or _no_more_than(m, parts)
        or _near_normal(m, parts)
        or _in_one_part_or_view(m, parts)
        or _denied_then(m)
        or _or_a_little(m, parts)
        or _in_a_clause_of_its_own(m, parts)
        or _at_a_level_of_its_own(m, parts)
        or _doing_something(m, mentions, parts)
        or _of_one_place(m, parts)
        or _set_against(m, parts)
        or _of_another_year(m, parts)
    )


def _set_against(m: Mention, parts: Parts) -> bool:
    """``Height preserved relative to L3-4``, ``no desiccation beyond age``, ``no height loss since 2021``, ``no tear seen with certainty``: it is not denied outright."""
    if m.status != ABSENT and m.value not in _IN_ORDER:
        return False
    return not _AGAINST.isdisjoint(parts.words[m.end : _clause_end(parts, m.end)])


def _of_another_year(m: Mention, parts: Parts) -> bool:
    """``No infection in 2019``: of that year, whatever there is today."""
    if m.status != ABSENT:
        return False
    words = parts.words
    low = max((i + 1 for i in range(m.start) if words[i] in _CLAUSE_ENDS), default=0)
    return any(
        _YEAR.fullmatch(words[i]) and not _OF_YEAR.isdisjoint(words[max(low, i - 2) : i])
        for i in range(low, _clause_end(parts, m.end))
    )


def _clause_end(parts: Parts, at: int) -> int:
    words = parts.words
    return next((i for i in range(at, len(words)) if words[i] in _CLAUSE_ENDS), len(words))


def _denied_then(m: Mention) -> bool:
    """``No herniation was present on the prior study``: it is denied of another time."""
    return m.status == ABSENT and any(x.entry.kind == "historical" and x.start >= m.end for x in m.mods)


def _of_one_place(m: Mention, parts: Parts) -> bool:
    """``No midline protrusion``, ``no contained herniation``, ``no tear of the outer annulus``: elsewhere, or of another sort, it is not denied."""
    if m.status != ABSENT or not _denials(m):
        return False
    if m.kind == "displacement":
        return bool(m.attributes)
    low = min(x.start for x in _denials(m))
    end = next(
        (i for i in range(m.end, len(parts.words)) if parts.words[i] in _PHRASE_ENDS), len(parts.words)
    )
    return m.kind == "annular_fissure" and not _OF_AN_ANNULUS.isdisjoint(parts.words[low:end])


def _denials(m: Mention) -> list[Match]:
    return [x for x in m.mods if x.entry.kind == "negation"]


def _denied_but(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``No protrusion except a left foraminal one at L3-4``, ``no HIZ; possible one at L5-S1``: there it is not denied."""
    if m.status != ABSENT or m.group is None or m.group.start < m.end:
        return False
    if any(p.entry.kind == "exception" and m.end <= p.start < m.group.start for p in parts.places):
        return True
    between = parts.words[m.end : m.group.start]
    if ";" not in between or any(m.end <= k.start < m.group.start for k in mentions):
        return False
    return any(w[0].isalpha() and w not in _TO_A_LEVEL for w in between[between.index(";") :])


def _not_free(m: Mention, parts: Parts) -> bool:
    """``Free of bulge, not of tear``: the second is denied to be absent."""
    return m.status == ABSENT and any(
        parts.words[x.start] == "not" and parts.words[x.end : x.end + 1] == ["of"] and x.end <= m.start
        for x in parts.mods
    )


def _excepted(m: Mention, parts: Parts) -> bool:
    """``No fracture except at L1``, ``all but the last disc are normal``: what is excepted is told, but not as a disc by its name."""
    if m.status != ABSENT and m.value not in _IN_ORDER:
        return False
    left_out = [p for p in parts.places if p.entry.kind == "exception"]
    return any(
        "<disc>" not in parts.words[p.start : p.end + _NEAR]
        and not _ONE_OF_ALL.isdisjoint(parts.words[p.end : p.end + _NEAR])
        for p in left_out
    )


def _no_more_than(m: Mention, parts: Parts) -> bool:
    """``L4-5 does not bulge any more than before``: only that it has become more is denied."""
    return m.status == ABSENT and "than" in parts.words[m.end : m.end + _NEAR]


def _near_normal(m: Mention, parts: Parts) -> bool:
    """``Near normal height``, ``height better preserved than at L5-S1``, ``1/2 normal height``: it is not normal."""
    words = parts.words
    return m.value in _IN_ORDER and any(
        (words[i] in NOT_QUITE or _is_share(words, i))
        and any(a.start == i + 1 and a.entry.kind == "normal" for a in parts.acts)
        for i in range(max(0, m.start - 1), m.end)
    )


def _is_share(words: Sequence[str], at: int) -> bool:
    """Say whether a fraction ends at a word: ``1/2``, in one word or in three."""
    return bool(_SHARE.fullmatch(words[at])) or (
        at > 1 and bool(_SHARE.fullmatch("".join(words[at - 2 : at + 1])))
    )


def _in_a_clause_of_its_own(m: Mention, parts: Parts) -> bool:
    """``No stenosis and facets arthritic``: behind "and" something is said of another thing, which the denial may not reach."""
    own = m.end - 1 in parts.predicates and (
        any(o.start == m.start for o in parts.objs)
        or parts.words[m.start - 1] == "and"  # "has no fissure and bulges"
    )
    return (
        m.status == ABSENT
        and own
        and any(
            "and" in between and ("or" not in between or between[-1] == "and")
            for between in (parts.words[x.end : m.start] for x in _denials(m))
        )
    )


def _at_a_level_of_its_own(m: Mention, parts: Parts) -> bool:
    """``No herniation at L3-4 and desiccation at L4-5``: what stands behind "and" at a level of its own may be there."""
    if m.status != ABSENT or m.group is None or m.group.start < m.end:
        return False
    begin = max((x.end for x in _denials(m) if x.end <= m.start), default=m.start)
    between = parts.words[begin : m.start]
    if "<disc>" not in between or "or" in parts.words[begin:]:
        return False
    return "and" in between[len(between) - between[::-1].index("<disc>") :]


def _doing_something(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``No bulge effacing the sac``, ``no herniation causing compression``, ``no bulge near the root``: only one that does so is denied.

    What is caused and makes a finding of its own is told elsewhere.
    """
    behind = parts.words[m.end : m.end + 1]
    if m.status != ABSENT or m.kind != "displacement":
        return False
    if not _REACHING.isdisjoint(behind) or _lies_by_something(parts.words, m.end):
        return True
    alone = all(x.start < m.end for x in mentions)
    return not _DOING.isdisjoint(behind) or (alone and not _CAUSING.isdisjoint(behind))


def _lies_by_something(words: Sequence[str], at: int) -> bool:
    return words[at : at + 1] in _IN and not _BY_WHAT.isdisjoint(words[at + 1 : at + _NEAR])


def _or_a_little(m: Mention, parts: Parts) -> bool:
    """``Minimal/no stenosis``, ``no/mild bulge``: none of it, or a little."""
    words = parts.words
    starts, ends = {s for s, _, _ in parts.severities}, {e for _, e, _ in parts.severities}
    return m.status == ABSENT and any(
        (words[x.end : x.end + 1] == ["/"] and x.end + 1 in starts)
        or (x.start > 1 and words[x.start - 1] == "/" and x.start - 1 in ends)
        for x in _denials(m)
    )


def _nor_has(m: Mention, parts: Parts) -> bool:
    """``The bulge has not changed, nor has the narrowing``: it is the change that is denied."""
    words = parts.words
    return m.status == ABSENT and any(
        words[x.start] == "nor"
        and x.end <= m.start
        and words[x.end] in _AUXILIARIES
        and words[x.end + 1] in _OF_ONE_NAMED
        for x in m.mods
    )


def _of_one_cause(m: Mention, parts: Parts) -> bool:
    """``No bony canal stenosis``: soft parts may narrow it all the same."""
    if m.status != ABSENT or not m.kind.endswith("_stenosis"):
        return False
    low = max((x.end for x in _denials(m) if x.end <= m.start), default=max(0, m.start - _CAUSE_NEAR))
    return not _CAUSES.isdisjoint(parts.words[low : m.end])


def _in_one_part_or_view(m: Mention, parts: Parts) -> bool:
    """``Height preserved anteriorly``, ``slip not seen on flexion``: elsewhere, or in another view, it may be otherwise."""
    words, in_order = parts.words, m.value in _IN_ORDER
    if m.status != ABSENT and not in_order:
        return False
    behind = [x.end for x in _denials(m) if x.start >= m.end]
    before = [m.end] if m.status == ABSENT and len(behind) < len(_denials(m)) else []
    parts_behind = [end + (words[end : end + 1] in _EXCEPT) for end in (m.end, *behind)]
    if in_order and any(w in PARTLY_THERE for end in parts_behind for w in words[end : end + 1]):
        return True
    return any(
        words[end : end + 1] in (["on"], ["in"]) and not _VIEWS.isdisjoint(words[end + 1 : end + 2])
        for end in (*behind, *before)
    )


def some_denied(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Metastases: none new``, ``herniation: none large``: others may be there. Of fractures `fractures` knows it."""
    words = parts.words
    return m.kind != "fracture" and any(
        words[i] in _NONE and words[i + 1] in _SOME
        for i in range(m.start, min(m.end + _BEHIND, len(words) - 1))
    )


def denied_behind_a_dash(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``No protrusion - large extrusion``, ``no bulge-extrusion``: what stands behind a dash may be asserted, unless it is denied there again."""
    denials = [x for x in m.mods if x.entry.kind.startswith("negation")]
    rows = sorted(mentions, key=lambda k: k.start) if denials else []
    at = rows.index(m) if rows else 0
    if not at:
        return False
    before = rows[at - 1]
    dash = next((i for i in range(before.end, m.start) if parts.words[i] in _DASHES), None)
    if dash is None and m.start in parts.hyphened and before.kind == m.kind and before.end == m.start:
        dash = m.start
    return dash is not None and all(x.end <= dash for x in denials)
