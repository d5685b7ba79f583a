"""Which disc a finding belongs to: named before or after it, in a list, by a heading, or carried over.

A finding whose place the words leave open stays without one; nothing is guessed.
"""

from collections.abc import Sequence

from candidacy.reading.directions import NEXT, as_far_as, beside_it, but_there, neighbours, next_to
from candidacy.reading.groups import (
    LEAD_IN,
    groups_of,
    heading_of,
    kind_of_group,
    place_by_vertebra,
    set_place,
)
from candidacy.reading.level_selection import all_but, compared, in_turn, leave_out, set_apart, turn_round
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts, Severity
from candidacy.reading.model import Statement
from candidacy.reading.several_levels import CONSEQUENCES, directly_after, is_local, share_out, stand_in
from candidacy.reading.singled import counted, single_out

_ADVERBS = grammar("adverbs")
_BESIDE = grammar("list") | {"<disc>", ":", "(", ")", "-", "–", "is", "."}
_LEAD = LEAD_IN | {"additionally", "again", "specifically", "next", "finally", "posteriorly", ","}
_PAUSES = frozenset((",", ";", "with", "and"))
_TURNS = frozenset(("but", "however", "yet", "though", "although"))
_ARTICLES = (["a"], ["an"], ["there"])
"""Right behind a level that opens a clause: ``no stenosis and at L4-5 a bulge``."""
_OF_LEVELS = frozenset(("multilevel", "level", "levels", "disc", "elsewhere"))
_COUNTED = {"two": 2, "2": 2, "three": 3, "3": 3, "four": 4, "4": 4}
_AWAY = frozenset(("above", "below", "beneath", "over", "under", "adjacent", "elsewhere"))
_FROM_IT = (["it"], ["this"], ["that"], ["them"], ["these"], ["to"], [","], [":"])
UNDER_HEADING = "under_heading"
"""A denial on a line of its own below a level's heading: of that disc or of all, the words do not say."""


class Context:
    """What earlier statements left behind: the heading in force, the disc spoken of, the discs last named."""

    __slots__ = (
        "block",
        "graded",
        "heading",
        "heading_item",
        "heading_line",
        "last",
        "last_line",
        "named",
        "previous",
        "previous_line",
        "stepped",
        "topic",
        "topic_line",
        "topic_normal",
    )

    def __init__(self) -> None:
        self.heading: tuple[str, ...] = ()
        self.block = False
        self.heading_line = -1
        self.heading_item = 0
        self.topic: tuple[str, ...] = ()
        self.topic_line = -1
        self.topic_normal = False
        self.last: tuple[str, ...] = ()
        self.last_line = -9
        self.named: tuple[str, ...] = ()
        self.graded: Mention | None = None
        self.previous: tuple[str, ...] = ()
        self.previous_line = -1
        self.stepped = ""  # the way to the disc spoken of, where it was told as a neighbour


def assign(
    sentence: Statement, parts: Parts, groups: list[Group], mentions: list[Mention], ctx: Context
) -> list[Group]:
    """Give every mention of a statement its discs, and leave in the context what the next one may need."""
    if sentence.fresh:
        ctx.heading, ctx.block = (ctx.heading, True) if ctx.block and not ctx.last else ((), False)
        ctx.topic = ctx.previous = ctx.named = ()
        ctx.graded = None
    if sentence.listed and not ctx.block:  # "1. L4-5: bulge. 2. Mild stenosis."
        ctx.heading = ctx.topic = ctx.previous = ctx.last = ()
        ctx.graded = None
    discs, bones = groups_of(parts, groups) if (groups or parts.places) else ([], [])
    before = ctx.last if 0 <= sentence.line - ctx.last_line <= 1 and not sentence.fresh else ()
    discs = counted(parts, discs, before)
    beside = compared(parts, discs)
    if beside:
        discs = [g for g in discs if g not in beside]
    told = discs
    discs, left_out = set_apart(parts, discs)
    head, content = heading_of(parts, discs)
    if head is not None:
        ctx.heading, ctx.heading_line = head.discs, sentence.line
        ctx.heading_item = sentence.item
        rest_of_line = [w for w in parts.words[content:] if len(w) > 1 and w[0].isalpha()]
        ctx.block = not rest_of_line or parts.words[-1] == ":"
        ctx.topic = ctx.previous = ()
        ctx.last, ctx.last_line = (() if ctx.block else head.discs), sentence.line
        rest = [g for g in discs if g is not head and not _same_disc(g, head)]
    else:
        rest = discs
    steps = neighbours(parts) if parts.places else []
    if not discs and parts.words[:1] and parts.words[0] in _AWAY and parts.words[1:2] in _FROM_IT:
        ctx.heading = ctx.topic = ctx.previous = ctx.last = ()  # "Fusion L5-S1. Above it: narrow canal"
    if discs:
        ctx.stepped = ""
    ctx.graded = _again(parts, discs, mentions, ctx)
    if mentions:
        if rest:
            others = [stand_in(k.start, k.end) for k in parts.known]
            _by_groups(parts, rest, mentions, others, ctx, sentence, head is not None)
            _by_neighbours(parts, rest, mentions, steps)
        else:
            _by_context(parts, mentions, ctx, sentence)
        place_by_vertebra(parts, bones, mentions, rest or ([head] if head else []))
        for m in as_far_as(parts, bones, mentions):
            set_place(m, (), "left_out")
        for m in (*beside_it(parts, mentions), *but_there(parts, mentions)):
            set_place(m, (), "left_out")
        single_out(parts, discs, mentions, before)
        in_turn(parts, rest, mentions)
        leave_out(parts, told, mentions, left_out)
        turn_round(parts, rest, mentions)
        if left_out:
            all_but(parts, told, mentions)
        _open_before_a_level(parts, rest, mentions)
    if discs:
        named_now = dict.fromkeys(d for g in discs for d in g.discs)
        ctx.named = (*(d for d in ctx.named if d not in named_now), *named_now)
    if rest:
        named = tuple(dict.fromkeys(d for g in rest for d in g.discs))
        ctx.last, ctx.last_line = named, sentence.line
        if head is None:
            lead = _LEAD.issuperset(parts.words[: rest[0].start])
            if lead and all(_same_disc(g, rest[0]) and _by_bones(parts, g) for g in rest[1:]):
                ctx.topic, ctx.topic_line, ctx.previous = named, sentence.line, ()
                ctx.topic_normal = bool(mentions) and all(m.value == "none" for m in mentions)
                ctx.heading = ()
            else:
                ctx.topic = ()
                ctx.previous = named if len(rest) == 1 else ()
                ctx.previous_line = sentence.line
    if rest and (left_out or any(p.entry.kind == "exception" for p in parts.places)):
        ctx.last = ctx.topic = (
            ctx.previous
        ) = ()  # "all discs but L5-S1 are normal. There is ...": of which, is not said
    elif rest:
        pass
    elif head is not None:
        ctx.last = head.discs
    elif steps:
        other = len({p.entry.kind for p in steps}) > 1 or ctx.stepped not in ("", steps[0].entry.kind)
        ctx.last = ctx.topic = () if other else next_to(parts, ctx.last, steps[0])
        ctx.last_line = ctx.topic_line = sentence.line  # what follows is of that disc, or of none
        ctx.heading = ctx.previous = ()
        ctx.stepped = steps[0].entry.kind
    elif bones:
        by_rule = next((m.discs for m in mentions if m.placed == "vertebra"), ())
        if by_rule:
            ctx.last, ctx.last_line = by_rule, sentence.line
    return discs


def _by_neighbours(
    parts: Parts, groups: Sequence[Group], mentions: Sequence[Mention], steps: Sequence[Match]
) -> None:
    """``L5-S1 is narrowed; the one above it is dark``: a neighbour of the disc named before, or none that can be told."""
    for m in mentions if steps else ():
        p = next((p for p in reversed(steps) if p.end <= m.start), None)
        if p is None or m.scope == "report" or any(p.end <= g.start < m.start for g in groups):
            continue
        before = [g for g in groups if g.end <= p.start]
        if before:
            beside = next_to(parts, before[-1].discs, p)
            set_place(m, beside, "carried" if beside else "left_out")


def _open_before_a_level(parts: Parts, groups: list[Group], mentions: Sequence[Mention]) -> None:
    """``Modic 2; L5-S1 Modic 1``: what stands before a level that has a finding of its own may be of a level not read."""
    if len(groups) != 1:
        return
    (g,) = groups
    behind = [
        m.kind
        for m in mentions
        if m.start >= g.end and not _PAUSES.intersection(parts.words[g.end : m.start])
    ]
    at = g.start - 1
    while at >= 0 and parts.words[at] in LEAD_IN:
        at -= 1
    pause = parts.words[at] if at >= 0 else ""
    anew = pause in _TURNS or (pause in _PAUSES and parts.words[g.end : g.end + 1] in _ARTICLES)
    for m in mentions:
        before = m.group is g and m.end <= g.start
        if before and behind and (pause == ";" or anew or (pause == "," and m.kind in behind)):
            set_place(m, (), "left_out")


def _again(parts: Parts, groups: list[Group], mentions: list[Mention], ctx: Context) -> Mention | None:
    """Repeat the graded finding before where only a level and a grade follow: ``L4-L5, mild``.

    Returns the graded finding that the next statement may repeat.
    """
    if mentions:
        last = mentions[-1]
        return last if last.severity_graded and last.severity and last.status == "present" else None
    if ctx.graded is None or len(groups) != 1 or len(parts.severities) != 1:
        return None
    start, end, value = parts.severities[0]
    rest = [w for i, w in enumerate(parts.words) if not (start <= i < end) and w not in _BESIDE]
    if rest:
        return None
    m = Mention(ctx.graded.kind, ctx.graded.value, start, end, ctx.graded.rule)
    m.severity_graded, m.also, m.scope = True, ctx.graded.also, ctx.graded.scope
    m.set_severity(Severity(start, end, value))
    mentions.append(m)
    return m


def _by_bones(parts: Parts, g: Group) -> bool:
    """``L4 on L5``: a level named again by its two vertebrae, inside what is said of it."""
    return "<vert>" in parts.words[g.start : g.end] or bool(g.vertebra)


def _same_disc(g: Group, head: Group) -> bool:
    return g.discs == head.discs


def _by_context(parts: Parts, mentions: Sequence[Mention], ctx: Context, sentence: Statement) -> None:
    same_line = ctx.heading_line == sentence.line
    near = 0 <= sentence.line - ctx.last_line <= 1 and not sentence.fresh
    kinds = {p.entry.kind for p in parts.places}
    if not kinds.isdisjoint(NEXT):
        marks = neighbours(parts)
        for m in mentions:
            p = next((p for p in reversed(marks) if p.start < m.end), marks[0])
            beside = () if ctx.stepped not in ("", p.entry.kind) else next_to(parts, ctx.last, p)
            set_place(m, beside, "carried" if beside else "left_out")
        return
    spread = [p for p in parts.places if p.entry.kind == "multilevel" and _names_levels(parts, p)]
    if spread and "<disc>" not in parts.words:
        for m in mentions if any(parts.words[p.start] == "elsewhere" for p in spread) else ():
            set_place(m, (), "left_out")
        return
    if ctx.heading and same_line:
        for m in mentions:
            set_place(m, ctx.heading, "heading")
        return
    if "counted" in kinds:
        counted = _counted(parts, ctx)
        for m in mentions:
            set_place(m, counted, "carried" if counted else "left_out")
        return
    if "both_places" in kinds:
        both = ctx.named[-2:] if len(ctx.named) > 1 else ()
        for m in mentions:
            set_place(m, both, "carried" if both else "left_out")
        return
    if "same_place" in kinds and ctx.last:
        for m in mentions:
            set_place(m, ctx.last, "carried")
        return
    if "multilevel" in kinds:
        return
    if ctx.heading and ctx.block:
        nested = sentence.item > ctx.heading_item > 0
        own = sentence.line == ctx.heading_line + 1 or nested or _labelled(parts)
        for m in mentions:
            if own or not _denial(m):
                set_place(m, ctx.heading, "heading")
            else:
                m.placed = UNDER_HEADING
        return
    if ctx.topic and ctx.topic_line == sentence.line and not sentence.item * (sentence.order == 0):
        for m in mentions:
            if ctx.topic_normal and _denial(m):  # "L5-S1 is normal. No root compression."
                m.placed = UNDER_HEADING
            else:
                set_place(m, ctx.topic, "carried")
        return
    if near and ctx.last and _continues(parts, mentions) and not (sentence.item and sentence.order == 0):
        for m in mentions:
            set_place(m, ctx.last, "carried")
        return
    if ctx.heading and sentence.line == ctx.heading_line + 1 and not sentence.fresh and not sentence.item:
        # A line broken in mid-sentence was joined before; what begins anew may be of another disc.
        for m in mentions:
            if _denial(m):
                m.placed = UNDER_HEADING
        return
    if ctx.heading:
        for m in mentions:
            if _denial(m):
                m.placed = UNDER_HEADING
    if ctx.previous and ctx.previous_line == sentence.line:
        for m in mentions:
            if _denial(m) and _labelled(parts):  # "Findings L5-S1: bulge: yes; protrusion: no"
                m.placed = UNDER_HEADING
            elif m.kind in CONSEQUENCES and not _denial(m):
                set_place(m, ctx.previous, "carried")


def _names_levels(parts: Parts, place: Match) -> bool:
    """``Mild bulges at several levels``, ``none elsewhere``: other discs than that of the heading are meant."""
    return not _OF_LEVELS.isdisjoint(parts.words[place.start : place.end])


def _counted(parts: Parts, ctx: Context) -> tuple[str, ...]:
    """``all three levels``: those just named, if they are as many; without a number two or more."""
    said = next(p for p in parts.places if p.entry.kind == "counted")
    number = next((_COUNTED[w] for w in parts.words[said.start : said.end] if w in _COUNTED), 0)
    for named in (ctx.last, ctx.named):
        if len(named) == number or (not number and len(named) > 1):
            return named
    return ()


def _labelled(parts: Parts) -> bool:
    """``Canal: patent``: a line of a form, opened by the name of what it describes."""
    at = parts.words.index(":") if ":" in parts.words[:6] else 0
    return any(p.end <= at for rows in (parts.objs, parts.heads, parts.known) for p in rows)


def _continues(parts: Parts, mentions: Sequence[Mention]) -> bool:
    """``Compressing the sac``, ``With stenosis``, ``The protrusion ...`` go on about the disc before."""
    first = next((i for i, w in enumerate(parts.words) if w not in _ADVERBS), 0)
    if any(p.start == first and p.entry.kind == "continuation" for p in parts.places):
        return True
    return parts.words[0] in ("the", "this") and mentions[0].kind == "displacement" and mentions[0].start <= 3


def _denial(m: Mention) -> bool:
    return m.status == "absent" or m.value in ("none", "absent")


def _by_groups(
    parts: Parts,
    groups: list[Group],
    mentions: list[Mention],
    others: Sequence[Mention],
    ctx: Context,
    sentence: Statement,
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
            local = next((g for g in emphatic if is_local(parts, g, m)), None)
            if local is not None:
                set_place(m, local.discs, "named", local)
            else:
                set_place(m, heading, "heading")
        return
    if not plain:
        plain, emphatic = groups, []
    if heading and headed:
        for m in disc_mentions:
            g = directly_after(parts, m, plain, mentions)
            if g is not None and m.kind not in CONSEQUENCES:
                set_place(m, g.discs, kind_of_group(g), g)
            else:
                set_place(m, heading, "heading")
        return
    if len(plain) == 1:
        for m in disc_mentions:
            local = next((g for g in emphatic if is_local(parts, g, m)), None)
            g = local or plain[0]
            set_place(m, g.discs, kind_of_group(g), g)
        return
    pool = sorted((*disc_mentions, *others), key=lambda m: m.start)
    share_out(parts, plain, emphatic, pool)
    if len(pool) > len(disc_mentions) + len(others):
        mentions += [m for m in pool if m not in disc_mentions and m.kind != "known"]
