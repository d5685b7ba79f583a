"""Words that single out some of the discs named together: ``respectively``, ``except``."""

from collections.abc import Collection, Sequence

from candidacy.reading.directions import ALL, BESIDE
from candidacy.reading.grades import ROMAN, number, values_at
from candidacy.reading.groups import kind_of_group, set_place
from candidacy.reading.levels import LUMBAR
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import COPULA, Mention, Parts, Severity
from candidacy.reading.model import PRESENT
from candidacy.reading.singled import COUNTED_NAMES

_CUES = grammar("grade_cue")
_OF_OPENINGS = grammar("of_openings")
_JOINERS = frozenset(("and", ",", "&", "/"))
_OR = frozenset(("or", "and", "at", "the", "disc", "level"))
_TO_NORMAL = COPULA | {"disc", "level"}
_OF_LEVEL = frozenset(("disc", "level", "the", "at", "in"))
_NORMAL_ENDS = frozenset(("", ",", ".", ";", "/", ")", "and", "but", "while"))
_CLAUSE_ENDS = frozenset((",", ";", ".", "/", ":", "and", "but", "while"))


def in_turn(parts: Parts, groups: Sequence[Group], mentions: list[Mention]) -> None:
    """``mild and moderate stenosis at L3-4 and L4-5, respectively``: the first word to the first disc, and so on."""
    if "respectively" not in parts.words:
        return
    at = parts.words.index("respectively")
    lists = [g for g in groups if len(g.discs) > 1]
    if not lists:
        return
    group = max((g for g in lists if g.end <= at), default=lists[0])
    own = [m for m in mentions if m.discs == group.discs]
    for kind in dict.fromkeys(m.kind for m in own):
        rows = [m for m in own if m.kind == kind]
        if (
            len(rows) > 1
            and len({m.value for m in rows}) == 1
            and len(_grades(parts, rows[0])) == len(group.discs)
        ):
            mentions[:] = [
                m for m in mentions if m not in rows[1:]
            ]  # "Modic type 1 and 2 endplate changes" is one thing
            del rows[1:]
        if len({m.start for m in rows}) == len(group.discs) == len(rows):
            for m, disc in zip(rows, group.discs, strict=True):
                m.discs = (disc,)
        elif len(rows) == 1:
            _split(parts, rows[0], group.discs, mentions)


def _split(parts: Parts, m: Mention, discs: tuple[str, ...], mentions: list[Mention]) -> None:
    severities = _chain(parts, m)
    numbers = _grades(parts, m)
    if len(severities) != len(discs) and len(numbers) != len(discs):
        return
    copies = [m, *(m.copy() for _ in discs[1:])]
    for i, (each, disc) in enumerate(zip(copies, discs, strict=True)):
        each.discs = (disc,)
        if len(severities) == len(discs):
            each.set_severity(severities[i])
        elif m.kind == "listhesis":
            each.obj = ROMAN[numbers[i]]
        else:
            each.value = str(numbers[i])
    mentions += copies[1:]


def _chain(parts: Parts, m: Mention) -> list[Severity]:
    """Give the severity words joined before a finding: ``mild and moderate``."""
    found: list[Severity] = []
    for start, end, value in reversed(parts.severities):
        if found and not all(w in _JOINERS for w in parts.words[end : found[0].start]):
            break
        if found or (start, end) == m.severity_at:
            found.insert(0, Severity(start, end, value))
    return found


def _grades(parts: Parts, m: Mention) -> list[int]:
    """Give the grades joined around a finding: ``grade 1 and grade 2``, ``types 1, 2 and 2``."""
    if m.kind not in ("listhesis", "endplate_change"):
        return []
    near = range(max(0, m.start - 4), min(m.end + 4, len(parts.words)))
    for at in near:
        chain = _numbers_from(parts.words, at + 1) if parts.words[at] in _CUES else []
        if len(chain) > 1:
            return chain
    found: list[int] = []
    for at in range(max(0, m.start - 4), min(m.end + 4, len(parts.words))):
        if parts.words[at] in _CUES:
            found += values_at(parts.words[: at + 2], at + 1)[0]  # each behind its own word
    return found


def _numbers_from(words: Sequence[str], at: int) -> list[int]:
    """Give the grades that stand in a row behind their word, only joiners between them."""
    found: list[int] = []
    while at < len(words):
        value = number(words[at])
        if value is not None:
            found.append(value)
        elif words[at] not in _JOINERS:
            break
        at += 1
    return found


def compared(parts: Parts, groups: Sequence[Group]) -> list[Group]:
    """List the levels that another is only compared with (``larger than at L3-4``): nothing is said of them."""
    ends = [p.end for p in parts.places if p.entry.kind == "compared"] if parts.places else []
    found: list[Group] = []
    for g in groups if ends else ():
        joined = found and all(w in _OR for w in parts.words[found[-1].end : g.start])
        if joined or any(
            e <= g.start <= e + 3 and _CLAUSE_ENDS.isdisjoint(parts.words[e : g.start]) for e in ends
        ):
            found.append(g)
    return found


_VERBS = frozenset(("is", "are", "was", "were"))
_DENIES = frozenset(("not", "sparing"))


def set_apart(parts: Parts, groups: list[Group]) -> tuple[list[Group], frozenset[str]]:
    """Take out the discs that a statement leaves out (``all levels except L5-S1``), if others remain."""
    out = _excepted(parts, groups)
    if not out or len(out) == len(groups):
        return groups, frozenset()
    return [g for g in groups if g not in out], frozenset(d for g in out for d in g.discs)


def _excepted(parts: Parts, groups: list[Group]) -> list[Group]:
    rows = [p for p in parts.places if p.entry.kind == "exception"] if parts.places else []
    if not rows:
        return []
    return [g for g in groups if g.discs != ALL and any(p.start <= g.start <= p.end + 1 for p in rows)]


def denied_there(parts: Parts, named: Sequence[Group], mentions: Sequence[Mention]) -> list[tuple[int, int]]:
    """``L4-5 bulges but not L5-S1``: give the words of a level of which something is denied that no finding holds."""
    rows = [p for p in parts.places if p.entry.kind == "exception"] if mentions else []
    said = {d for m in mentions for d in m.discs} if rows else set()
    return [
        (p.start, _clause_end(parts, g) if _goes_on(parts, g) else g.end)
        for p in rows
        for g in named
        if p.start <= g.start <= p.end + 1
        and said.isdisjoint(g.discs)
        and (_goes_on(parts, g) or not _DENIES.isdisjoint(parts.words[p.start : p.end]))
    ]


def _clause_end(parts: Parts, group: Group) -> int:
    """Give where what is said of a disc left out ends: ``except L4-5, which is normal``."""
    words = parts.words
    return next((i for i in range(group.end, len(words)) if words[i] in (";", ".")), len(words))


def turn_round(parts: Parts, groups: list[Group], mentions: list[Mention]) -> None:
    """``no bulge except at L4-5``: what is denied of all is said of the only disc named, if it is one finding."""
    starts = [p.start for p in parts.places if p.entry.kind == "exception"]
    if "otherwise" in parts.words or starts:
        mentions[:] = [m for m in mentions if m.kind != "normal_study"]
    out = _excepted(parts, groups)
    for m in mentions:
        if m.group not in out:
            continue
        if m.start > m.group.start:  # "with the exception of L5-S1, the discs are desiccated"
            behind = parts.words[m.group.end : m.group.end + 2]
            if min(starts) <= 1 and behind[:1] == [","] and behind != [",", "where"]:
                m.discs, m.placed = (), "left_out"
            continue
        if len(mentions) == 1 and m.status == "absent" and m.value not in ("none", "absent"):
            m.status, m.mods = "present", tuple(x for x in m.mods if x.entry.kind != "negation")
        else:
            m.discs, m.placed = (), "left_out"


def all_but(parts: Parts, named: Sequence[Group], mentions: list[Mention]) -> None:
    """``No bulge at any level but L4-5``: what is denied of all but one is said of that one, which the denial must not hide."""
    rows = [m for m in mentions if m.status == "absent" and m.value not in ("none", "absent")]
    for m in rows:
        if m.group is None or m.group.discs != ALL:
            continue
        for g in _excepted(parts, list(named)):
            twin = m.copy()
            twin.status, twin.mods = "present", tuple(x for x in m.mods if x.entry.kind != "negation")
            set_place(twin, g.discs, kind_of_group(g), g)
            mentions.append(twin)


def leave_out(parts: Parts, groups: list[Group], mentions: Sequence[Mention], discs: frozenset[str]) -> None:
    """Drop the discs left out from the discs of each finding; ``except L5-S1, where ...`` goes on about that disc.

    Of discs counted from one end it is not known yet whether those left out are among them.
    """
    apart = [g for g in _excepted(parts, groups) if _goes_on(parts, g)] if discs else []
    for m in mentions if discs else ():
        own = next((g for g in apart if g.end <= m.start and not _named_between(g, m, groups)), None)
        if own is not None:
            set_place(m, own.discs, kind_of_group(own), own)
            continue
        if not COUNTED_NAMES.isdisjoint(m.discs):
            set_place(m, (), "left_out")
            continue
        named = LUMBAR if m.discs == ALL else m.discs
        m.discs = tuple(d for d in named if d not in discs)


def _named_between(apart: Group, m: Mention, groups: Sequence[Group]) -> bool:
    """``apart from L5-S1, which bulges, all discs are normal``: behind "all" nothing is said of the one left out."""
    return any(apart.end <= g.start < m.start for g in groups if g is not apart)


def _goes_on(parts: Parts, group: Group) -> bool:
    at = group.end + (parts.words[group.end : group.end + 1] in (["level"], ["disc"]))
    at += parts.words[at : at + 1] == [","]
    rest = parts.words[at : at + 2]
    if rest[:1] == ["there"]:  # "sparing L4-5, there protrusion", but not "there is"
        return len(rest) > 1 and rest[1] not in _VERBS
    return not {"where", "which"}.isdisjoint(rest[:1])


def own_normal(
    parts: Parts, groups: Sequence[Group], named: Sequence[Group], mentions: list[Mention]
) -> None:
    """``L3-4 bulges, L4-5 is normal``: a level called normal on its own among findings of other levels.

    ``named`` are all levels as they are written, those among them that are left out.
    """
    if not mentions or not any(a.entry.kind == "normal" for a in parts.acts):
        return
    apart = {d for g in _excepted(parts, list(named)) for d in g.discs}
    first = min(groups, default=None, key=lambda g: g.start)
    if (
        first is not None
        and _has_subject(parts, first.start)
        and not _found_before(first, mentions)
        and any(a.entry.kind == "normal" and a.start == first.end for a in parts.acts)
    ):
        return  # "Canal L3-4 normal; L4-5 normal; L5-S1 narrowed"
    for g in groups:
        at = g.end
        while at < len(parts.words) and parts.words[at] in _TO_NORMAL:
            at += 1
        act = next((a for a in parts.acts if a.start == at and a.entry.kind == "normal"), None)
        if (
            act is None
            or parts.words[at] in _OF_OPENINGS
            or "".join(parts.words[act.end : act.end + 1]) not in _NORMAL_ENDS
            or any(m.start <= act.start < m.end for m in mentions)
            or _has_subject(parts, g.start)
        ):
            ends = act is not None and "".join(parts.words[act.end : act.end + 1]) in _NORMAL_ENDS
            if ends and len(g.discs) > 1:  # "bulge L3-4, L4-5 normal"
                for m in _found_before(g, mentions):
                    set_place(m, (), "left_out")
            continue
        m = _called_normal(act, g, apart)
        # "bulge at L3-4 and L4-5 is normal": what stands before the level is not shared with it
        mentions[:] = [x for x in mentions if x.group is not g or x.start >= g.start]
        mentions.append(m)

    for g in groups:  # "normal L3-4; bulge at L4-5", "normal discs above L4-5; bulge at L4-5"
        before = next((a for a in parts.acts if a.entry.kind == "normal" and opens_clause(parts, a)
                       and a.end <= g.start and _OF_LEVEL.issuperset(parts.words[a.end : g.start])), None)  # fmt: skip
        ends = "".join(parts.words[g.end : g.end + 1]) in _NORMAL_ENDS
        if before is None or not (ends and g.discs) or any(m.start <= before.start < m.end for m in mentions):
            continue
        mentions.append(_called_normal(before, g, apart))


def _called_normal(act: Match, g: Group, apart: Collection[str]) -> Mention:
    m = Mention("displacement", "none", act.start, act.end, "level_normal")
    set_place(m, g.discs, kind_of_group(g), g)
    if apart:
        m.discs = tuple(d for d in (LUMBAR if g.discs == ALL else g.discs) if d not in apart)
    return m


def opens_clause(parts: Parts, act: Match) -> bool:
    """Say whether a word for normal opens its clause, so that it is said of what stands behind it."""
    before = parts.words[act.start - 1] if act.start else ";"
    return before in _CLAUSE_ENDS and parts.words[act.start] not in _OF_OPENINGS


def called_beside(parts: Parts, mentions: Sequence[Mention]) -> list[tuple[int, int]]:
    """``Normal disc above; bulge at L4-5``: give the words that call normal what lies beside a level, where no finding holds them."""
    rows = [a for a in parts.acts if a.entry.kind == "normal" and mentions
            and (opens_clause(parts, a) or parts.words[a.start - 1] == "<disc>")]  # fmt: skip
    return [
        (a.start, p.end)
        for a in rows
        for p in parts.places
        if p.entry.kind in BESIDE and a.end <= p.start and _OF_LEVEL.issuperset(parts.words[a.end : p.start])
        and not any(m.start <= a.start < m.end for m in mentions)
    ]  # fmt: skip


def _found_before(g: Group, mentions: Sequence[Mention]) -> list[Mention]:
    return [
        m
        for m in mentions
        if m.group is g and m.start < g.start and m.status == PRESENT and m.value not in ("none", "absent")
    ]


def _has_subject(parts: Parts, at: int) -> bool:
    """``alignment at L4-5 is normal``: something else than the disc is called normal."""
    low = at
    while low > 0 and parts.words[low - 1] not in _CLAUSE_ENDS:
        low -= 1
    return any(
        low <= h.start < at
        for rows in (parts.heads, parts.acts, parts.known, parts.objs)
        for h in rows
        if h.entry.kind != "disc"
    )
