"""Which disc a finding belongs to: named before or after it, in a list, by a heading, or carried over.

A finding whose place the words leave open stays without one; nothing is guessed.
"""

from collections.abc import Sequence

from candidacy.reading import grades
from candidacy.reading.document import Sentence
from candidacy.reading.levels import ORDER, above, below, between
from candidacy.reading.lexer import Group
from candidacy.reading.link import Mention, Parts, Severity, severity_before

ALL = ("*all",)
OTHERS = ("*others",)

_OVER = frozenset(("on", "over", "upon", "onto", "relative", "respect", "above", "against", "to", "versus"))
_LEAD_IN = frozenset(
    (
        "at",
        "the",
        "level",
        "disc",
        "of",
        "on",
        "(",
        "and",
        "space",
        "level:",
        "segment",
        "in",
        "interspace",
        "there",
        "is",
        "intervertebral",
        "from",
        "also",
        "for",
    )
)
_LEAD_OUT = frozenset(("level", "disc", "space", ")", "interspace", "segment", "motion", "intervertebral"))
_NEAR = frozenset(
    (
        "at",
        "of",
        "in",
        "on",
        "involving",
        "within",
        "affecting",
        "from",
        "for",
        "the",
        "level",
        "disc",
        "seen",
        "noted",
        "space",
        "side",
        "left",
        "right",
        "both",
        "is",
        "are",
        "more",
        "to",
        "sided",
        "(",
        "visualized",
        "relative",
        "present",
        "posterior",
        "endplate",
        "at:",
        "endplates",
        "changes",
        "change",
        "about",
        "behind",
        "along",
        "below",
        "above",
        "just",
        "levels",
        "vertebra",
        "body",
        "also",
        "again",
        "adjacent",
    )
)
_ADVERBS = frozenset(
    ("mild", "moderate", "severe", "and", "slightly", "also", "minimally", "markedly", "relatively")
)
_CUTS = frozenset((",", ";", "and", "&", "with", "but", "while", "whereas", "causing"))
CONSEQUENCES = frozenset(
    ("neural_compression", "canal_stenosis", "foraminal_stenosis", "recess_stenosis", "annular_fissure")
)


class Context:
    """What earlier statements left behind: the heading in force, the disc spoken of, the discs last named."""

    __slots__ = (
        "block",
        "heading",
        "heading_line",
        "last",
        "last_line",
        "previous",
        "previous_line",
        "topic",
        "topic_line",
    )

    def __init__(self) -> None:
        self.heading: tuple[str, ...] = ()
        self.block = False
        self.heading_line = -1
        self.topic: tuple[str, ...] = ()
        self.topic_line = -1
        self.last: tuple[str, ...] = ()
        self.last_line = -9
        self.previous: tuple[str, ...] = ()
        self.previous_line = -1


def groups_of(parts: Parts, groups: list[Group]) -> tuple[list[Group], list[Group]]:
    """Sort level names into discs and vertebrae; a slip of one vertebra on the next is a disc."""
    discs: list[Group] = []
    bones: list[Group] = []
    covered = [(o.start, o.end) for o in parts.objs if o.entry.kind == "root"]
    landmarks = [p.start for p in parts.places if p.entry.kind == "landmark"]
    words = parts.words
    at = 0
    while at < len(groups):
        g = groups[at]
        at += 1
        if any(s <= g.start < e for s, e in covered) or any(0 <= g.start - m <= 10 for m in landmarks):
            continue
        if g.discs:
            discs.append(g)
            continue
        if at < len(groups) and groups[at].vertebra:
            h = groups[at]
            gap = words[g.end : h.start]
            if len(gap) <= 4 and any(w in _OVER for w in gap) and "and" not in gap:
                joined = between(g.vertebra, h.vertebra)
                if len(joined) == 1:
                    discs.append(Group(g.start, h.end, joined, ""))
                    at += 1
                    continue
        bones.append(g)
    for p in parts.places:
        if p.entry.kind == "all_levels":
            discs.append(Group(p.start, p.end, ALL, ""))
        elif p.entry.kind == "other_levels":
            discs.append(Group(p.start, p.end, OTHERS, ""))
    discs.sort()
    return discs, bones


def heading_of(parts: Parts, discs: list[Group]) -> tuple[Group | None, int]:
    """Give the group that heads the statement (``L4-L5:``, ``L4-5 level -``) and where its content begins."""
    if not discs or any(w not in _LEAD_IN for w in parts.words[: discs[0].start]):
        return None, 0
    words = parts.words
    at = discs[0].end
    while at < len(words) and words[at] in _LEAD_OUT:
        at += 1
    if at == len(words):
        return discs[0], at
    if words[at] in (":", "-", "–", "—", "--"):
        return discs[0], at + 1
    return None, 0


def assign(
    sentence: Sentence, parts: Parts, groups: list[Group], mentions: list[Mention], ctx: Context
) -> list[Group]:
    """Give every mention of a statement its discs, and leave in the context what the next one may need."""
    if sentence.fresh:
        ctx.heading, ctx.block = (ctx.heading, True) if ctx.block and not ctx.last else ((), False)
        ctx.topic = ctx.previous = ()
    discs, bones = groups_of(parts, groups) if (groups or parts.places) else ([], [])
    head, content = heading_of(parts, discs)
    if head is not None:
        ctx.heading, ctx.heading_line = head.discs, sentence.line
        ctx.block = content >= len(parts.words) or parts.words[-1] == ":"
        ctx.topic = ctx.previous = ()
        ctx.last, ctx.last_line = (() if ctx.block else head.discs), sentence.line
        rest = [g for g in discs if g is not head and not _same_disc(g, head)]
    else:
        rest = discs
    if mentions:
        if rest:
            others = [_known(k.start, k.end) for k in parts.known]
            _by_groups(parts, rest, mentions, others, ctx, sentence, head is not None)
        else:
            _by_context(parts, mentions, ctx, sentence)
        _by_vertebra(parts, bones, mentions, rest or ([head] if head else []))
    if rest:
        named = tuple(dict.fromkeys(d for g in rest for d in g.discs))
        ctx.last, ctx.last_line = named, sentence.line
        if head is None:
            lead = all(
                w in _LEAD_IN or _is_filler(parts, i) for i, w in enumerate(parts.words[: rest[0].start])
            )
            if lead and len(rest) == 1:
                ctx.topic, ctx.topic_line, ctx.previous = named, sentence.line, ()
                ctx.heading = ()
            else:
                ctx.topic = ()
                ctx.previous = named if len(rest) == 1 else ()
                ctx.previous_line = sentence.line
    elif head is not None:
        ctx.last = head.discs
    return discs


def _is_filler(parts: Parts, at: int) -> bool:
    return parts.words[at] in ("additionally", "again", "specifically", "next", "finally", "posteriorly", ",")


def _same_disc(g: Group, head: Group) -> bool:
    return g.discs == head.discs


def _set(m: Mention, discs: tuple[str, ...], placed: str, group: Group | None = None) -> None:
    m.discs = discs
    m.placed = placed
    m.group = group


def _kind_of_group(g: Group) -> str:
    if g.discs is ALL or g.discs == ALL:
        return "all_levels"
    if g.discs == OTHERS:
        return "other_levels"
    return "named" if len(g.discs) == 1 else "list"


def _by_context(parts: Parts, mentions: Sequence[Mention], ctx: Context, sentence: Sentence) -> None:
    kinds = {p.entry.kind for p in parts.places}
    first = next((i for i, w in enumerate(parts.words) if w not in _ADVERBS), 0)
    starts = {p.entry.kind for p in parts.places if p.start == first} or _refers_back(parts, mentions)
    same_line = ctx.heading_line == sentence.line
    near = 0 <= sentence.line - ctx.last_line <= 1 and not sentence.fresh
    if ctx.heading and same_line:
        for m in mentions:
            _set(m, ctx.heading, "heading")
        return
    if "same_place" in kinds and ctx.last:
        for m in mentions:
            _set(m, ctx.last, "carried")
        return
    if "multilevel" in kinds:
        return
    if ctx.heading and ctx.block:
        below = sentence.line == ctx.heading_line + 1
        for m in mentions:
            if below or not _denial(m):
                _set(m, ctx.heading, "heading")
        return
    if ctx.topic and ctx.topic_line == sentence.line and not sentence.item * (sentence.order == 0):
        for m in mentions:
            _set(m, ctx.topic, "carried")
        return
    if near and "continuation" in starts and ctx.last and not (sentence.item and sentence.order == 0):
        for m in mentions:
            _set(m, ctx.last, "carried")
        return
    if ctx.heading and sentence.line == ctx.heading_line + 1 and not sentence.fresh and not sentence.item:
        for m in mentions:
            if m.kind in CONSEQUENCES and not _denial(m):
                _set(m, ctx.heading, "carried")
        return
    if ctx.previous and ctx.previous_line == sentence.line:
        for m in mentions:
            if m.kind in CONSEQUENCES and not _denial(m):
                _set(m, ctx.previous, "carried")


def _refers_back(parts: Parts, mentions: Sequence[Mention]) -> set[str]:
    """``The protrusion compresses ...`` speaks of the disc before."""
    definite = (
        parts.words[0] in ("the", "this") and mentions[0].kind == "displacement" and mentions[0].start <= 3
    )
    return {"continuation"} if definite else set()


def _denial(m: Mention) -> bool:
    return m.status == "absent" or m.value in ("none", "absent")


def _by_groups(
    parts: Parts,
    groups: list[Group],
    mentions: list[Mention],
    others: Sequence[Mention],
    ctx: Context,
    sentence: Sentence,
    headed: bool,
) -> None:
    disc_mentions = [m for m in mentions if m.scope != "report"]
    stressed = [p for p in parts.places if p.entry.kind == "emphasis"]
    emphatic = [
        g
        for g in groups
        if any(
            0 <= g.start - p.end <= 2 or p.start < g.start < p.end or p.end - 1 == g.start for p in stressed
        )
    ]
    if emphatic and not ctx.heading:  # a stressed level takes nothing from levels named after it
        emphatic = [g for g in emphatic if any(o.start < g.start and o not in emphatic for o in groups)]
    plain = [g for g in groups if g not in emphatic]
    heading = ctx.heading if headed or (ctx.heading and ctx.heading_line == sentence.line) else ()
    if not heading and ctx.block and ctx.heading and not plain:
        heading = ctx.heading
    if not plain and heading:
        for m in disc_mentions:
            local = next((g for g in emphatic if _local(parts, g, m)), None)
            if local is not None:
                _set(m, local.discs, "named", local)
            else:
                _set(m, heading, "heading")
        return
    if not plain:
        plain, emphatic = groups, []
    if heading and headed:
        for m in disc_mentions:
            g = _directly_after(parts, m, plain, mentions)
            if g is not None and m.kind not in CONSEQUENCES:
                _set(m, g.discs, _kind_of_group(g), g)
            else:
                _set(m, heading, "heading")
        return
    if len(plain) == 1:
        for m in disc_mentions:
            local = next((g for g in emphatic if _local(parts, g, m)), None)
            g = local or plain[0]
            _set(m, g.discs, _kind_of_group(g), g)
        return
    pool = sorted((*disc_mentions, *others), key=lambda m: m.start)
    _share_out(parts, plain, emphatic, pool)
    if len(pool) > len(disc_mentions) + len(others):
        mentions += [m for m in pool if m not in disc_mentions and m.kind != "known"]


def _known(start: int, end: int) -> Mention:
    """Stand in for words that make no finding but may own a level all the same."""
    return Mention("known", "", start, end, "")


def _local(parts: Parts, g: Group, m: Mention) -> bool:
    """Say whether a mention stands in a ``where`` clause that follows a stressed level."""
    if m.start < g.end:
        return False
    gap = parts.words[g.end : m.start]
    return "where" in gap[:3] and "," not in gap[gap.index("where") :]


def _directly_after(
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


def _share_out(parts: Parts, groups: list[Group], emphatic: list[Group], mentions: list[Mention]) -> None:
    if not mentions:
        return
    owner: dict[int, Group] = {}
    lead = groups[0].start < min(m.start for m in mentions)
    for i, m in enumerate(mentions):
        local = next((g for g in emphatic if _local(parts, g, m)), None)
        if local is not None:
            owner[i] = local
            continue
        before = [g for g in groups if g.end <= m.start]
        after = _directly_after(parts, m, groups, mentions)
        if after is not None and m.start <= after.start < m.end:
            owner[i] = after
        elif lead:
            gap = parts.words[before[-1].end : m.start] if before else []
            owner[i] = (
                after
                if after and any(w in _CUTS for w in gap) and m.kind not in CONSEQUENCES
                else (before[-1] if before else groups[0])
            )
    if not lead:
        _trailing(parts, groups, mentions, owner)
    for i, m in enumerate(mentions):
        g = owner.get(i)
        if g is not None:
            _set(m, g.discs, _kind_of_group(g), g)
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
        if h is None or _directly_after(parts, last, [h], mentions) is None:
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
    for g, following in zip(groups, groups[1:], strict=False):  # "mild L3-4 and moderate L4-5 canal stenosis"
        gap = range(g.end, following.start)
        if any(m.group is g for m in mentions) or not all(
            parts.words[i] in ("and", ",", "&") or any(s <= i < e for s, e, _ in parts.severities)
            for i in gap
        ):
            continue
        near = severity_before(parts, g.start, 0)
        for m in [m for m in mentions if m.group is following]:
            copy = m.copy()
            if near and m.severity_graded:
                copy.set_severity(near)
            _set(copy, g.discs, _kind_of_group(g), g)
            extra.append((copy, g))
    for before, g in zip(groups, groups[1:], strict=False):
        if any(m.group is g for m in mentions) or any(o is g for _, o in extra):
            continue
        if lead and not any(p.entry.kind == "also" and 0 <= g.start - p.end <= 2 for p in parts.places):
            continue
        owned = [m for m in mentions if m.group is before] or [m for m, o in extra if o is before]
        near = severity_before(parts, g.start, before.end) or _closing(parts, before.end, g.start)
        for m in owned:
            copy = m.copy()
            if near and m.severity_graded:
                copy.set_severity(near)
            elif m.kind == "endplate_change":
                types = grades.before(parts.words, g.start, 4)[0]
                copy.value = str(types[0]) if types else copy.value
            _set(copy, g.discs, _kind_of_group(g), g)
            extra.append((copy, g))
    mentions.extend(c for c, _ in extra)


def _closing(parts: Parts, low: int, high: int) -> Severity | None:
    found = (
        Severity(s, e, v)
        for s, e, v in reversed(parts.severities)
        if low <= s and e <= high and high - e <= 3
    )
    return next(found, None)


def _by_vertebra(parts: Parts, bones: list[Group], mentions: Sequence[Mention], groups: list[Group]) -> None:
    """Place a slip or an endplate finding named by its vertebra: a slip lies below it, an endplate tells its side."""
    if not bones:
        return
    for m in mentions:
        if m.kind == "listhesis" or m.kind == "meyerding_grade":
            if groups and m.discs:
                continue
            g = min(bones, key=lambda b: abs(b.start - m.start))
            disc = below(g.vertebra)
            if disc:
                _set(m, (disc,), "vertebra", g)
        elif m.kind in ("endplate_change", "modic", "endplate_defect") and not groups:
            _endplate(parts, bones, m)


def _endplate(parts: Parts, bones: list[Group], m: Mention) -> None:
    words = parts.words
    found: list[str] = []
    for g in bones:
        around = words[max(0, g.start - 5) : g.start] + words[g.end : g.end + 3]
        if "inferior" in around or "lower" in around:
            found.append(below(g.vertebra))
        elif "superior" in around or "upper" in around:
            found.append(above(g.vertebra))
    if not found and len(bones) == 2:
        a, b = (ORDER.index(g.vertebra) for g in bones)
        if b == a + 1 and "and" in words[bones[0].end : bones[1].start]:
            found = [f"{bones[0].vertebra}-{bones[1].vertebra}"]
    discs = tuple(dict.fromkeys(d for d in found if d))
    if len(discs) == 2 and len(bones) == 2:
        low, high = below(bones[0].vertebra), above(bones[1].vertebra)
        if low == high:
            discs = (low,)
    if discs:
        _set(m, discs, "vertebra", bones[0])
