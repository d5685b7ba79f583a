"""Several levels in one statement: which finding belongs to which of them."""

import itertools
from collections.abc import Sequence

from candidacy.reading import grades
from candidacy.reading.groups import kind_of_group, set_place
from candidacy.reading.lexer import Group
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts, Severity, severity_before

_NEAR = grammar("near")
_CUTS = grammar("cuts")
_TIES = frozenset(("with", "causing"))
CONSEQUENCES = frozenset(
    ("neural_compression", "canal_stenosis", "foraminal_stenosis", "recess_stenosis", "annular_fissure")
)
"""Findings that go with a displacement said just before them."""


def stand_in(start: int, end: int) -> Mention:
    """Stand in for words that make no finding but may own a level all the same."""
    return Mention("known", "", start, end, "")


def is_local(parts: Parts, g: Group, m: Mention) -> bool:
    """Say whether a mention stands in a ``where`` clause that follows a stressed level."""
    if m.start < g.end:
        return False
    gap = parts.words[g.end : m.start]
    return "where" in gap[:3] and "," not in gap[gap.index("where") :]


def directly_after(
    parts: Parts, m: Mention, groups: Sequence[Group], mentions: Sequence[Mention]
) -> Group | None:
    """Find the level that directly follows a mention (``protrusion noted at L4-5``)."""
    for g in groups:
        if m.start <= g.start < m.end:
            return g
        if g.start >= m.end:
            gap = parts.words[m.end : g.start]
            if len(gap) <= 7 and all(w in _NEAR for w in gap):
                return g
            return None
    return None


def share_out(parts: Parts, groups: list[Group], emphatic: list[Group], mentions: list[Mention]) -> None:
    """Give each mention the level it belongs to, where a statement names several."""
    if not mentions:
        return
    owner: dict[int, Group] = {}
    lead = groups[0].start < min(m.start for m in mentions)
    for i, m in enumerate(mentions):
        local = next((g for g in emphatic if is_local(parts, g, m)), None)
        if local is not None:
            owner[i] = local
            continue
        before = [g for g in groups if g.end <= m.start]
        after = directly_after(parts, m, groups, mentions)
        if after is not None and m.start <= after.start < m.end:
            owner[i] = after
        elif lead:
            gap = parts.words[before[-1].end : m.start] if before else []
            owner[i] = (
                after
                if after
                and any(w in _CUTS for w in gap)
                and (m.kind not in CONSEQUENCES or _TIES.isdisjoint(gap))
                else (before[-1] if before else groups[0])
            )
    if not lead:
        _trailing(parts, groups, mentions, owner)
    for i, m in enumerate(mentions):
        g = owner.get(i)
        if g is not None:
            set_place(m, g.discs, kind_of_group(g), g)
    _inherit(parts, groups, mentions, lead)


def _trailing(
    parts: Parts, groups: list[Group], mentions: Sequence[Mention], owner: dict[int, Group]
) -> None:
    """Levels follow their findings: cut the text between two levels into what belongs to each."""
    for i, m in enumerate(mentions):
        if i not in owner and m.start < groups[0].start:
            owner[i] = groups[0]
    for g, h in zip(groups, [*groups[1:], None], strict=True):
        inside = [
            i
            for i, m in enumerate(mentions)
            if i not in owner and m.start >= g.end and (h is None or m.start < h.start)
        ]
        if not inside:
            continue
        last = mentions[inside[-1]]
        if h is None or directly_after(parts, last, [h], mentions) is None:
            for i in inside:
                owner[i] = g
            continue
        opening = parts.words[g.end : mentions[inside[0]].start]
        tied = mentions[inside[0]].kind in CONSEQUENCES or "with" in opening or "causing" in opening
        if not tied and opening and any(w in _CUTS for w in opening):
            for i in inside:
                owner[i] = h
            continue
        cut = last.start
        while cut > g.end and parts.words[cut - 1] not in _CUTS:
            cut -= 1
        for i in inside:
            owner[i] = h if mentions[i].start >= cut else g
        owner[inside[-1]] = h


def _inherit(parts: Parts, groups: list[Group], mentions: list[Mention], lead: bool) -> None:
    """A further level without a finding of its own shares those before it (``mild at L3-4, moderate at L4-5``)."""
    extra: list[tuple[Mention, Group]] = []
    for g, following in itertools.pairwise(groups):  # "mild L3-4 and moderate L4-5 canal stenosis"
        gap = range(g.end, following.start)
        if any(m.group is g for m in mentions) or not all(
            parts.words[i] in ("and", ",", "&") or any(s <= i < e for s, e, _ in parts.severities)
            for i in gap
        ):
            continue
        near = severity_before(parts, g.start, 0)
        for m in [m for m in mentions if m.group is following]:
            copy = m.copy()
            if near:
                copy.set_severity(near)
            set_place(copy, g.discs, kind_of_group(g), g)
            extra.append((copy, g))
    for before, g in itertools.pairwise(groups):
        own = [m for m in mentions if m.group is g and not _in_brackets(parts, g, m)]
        if any(o is g for _, o in extra) or any(m.kind not in CONSEQUENCES or m.start < g.start for m in own):
            continue
        if own and (lead or any(before.end <= m.start < g.start for m in mentions)):
            continue
        if lead and not any(p.entry.kind == "also" and 0 <= g.start - p.end <= 2 for p in parts.places):
            continue
        owned = [m for m in mentions if m.group is before and not _in_brackets(parts, before, m)]
        owned = owned or [m for m, o in extra if o is before]
        near = severity_before(parts, g.start, before.end) or _closing(parts, before.end, g.start)
        for m in owned:
            copy = m.copy()
            if near:
                copy.set_severity(near)
            elif m.kind == "endplate_change":
                types = grades.before(parts.words, g.start, 4)[0]
                copy.value = str(types[0]) if types else copy.value
            set_place(copy, g.discs, kind_of_group(g), g)
            doubt = next(
                (x for x in parts.mods if x.entry.kind == "possible" and 0 <= g.start - x.end <= 1), None
            )
            if doubt is not None and doubt.start >= before.end and copy.status == "present":
                copy.status, copy.mods = "possible", (*copy.mods, doubt)  # "at L4-5 and possibly at L3-4"
            extra.append((copy, g))
    mentions.extend(c for c, _ in extra)


def _in_brackets(parts: Parts, g: Group, m: Mention) -> bool:
    """Say whether a finding stands in brackets right behind a level: it is of that level alone."""
    words = parts.words
    if words[g.end : g.end + 1] != ["("] or m.start < g.end or ")" not in words[g.end :]:
        return False
    return m.end <= words.index(")", g.end)


def _closing(parts: Parts, low: int, high: int) -> Severity | None:
    found = (
        Severity(s, e, v)
        for s, e, v in reversed(parts.severities)
        if low <= s and e <= high and high - e <= 3
    )
    return next(found, None)
