"""One finding with a value for each level: ``mild at L3-4, none at L5-S1``, ``2, 3 and 5 mm ..., respectively``.

A statement is read here only if each of its words is the finding, a level, a value or joins them, and if values
and levels pair off; any other is left as the rest of the reader understood it.
"""

import itertools
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from candidacy.reading.grades import ROMAN, number, set_grade, values_at
from candidacy.reading.groups import OTHERS, kind_of_group, set_place
from candidacy.reading.levels import read_place
from candidacy.reading.lexer import Group, Tokens
from candidacy.reading.lexicon import Grade, Lexicon, grammar
from candidacy.reading.measures import KIND, UNITS, Measure, Written, about, written
from candidacy.reading.mention import Mention, Parts, Severity

_NO = grammar("form_no")
_YES = grammar("form_yes")
_CUES = grammar("grade_cue")
_FILLER = grammar("value_list")
_AT = grammar("value_at")
_OPEN = frozenset(("(", ":", "-", "–", "="))
_TURN = "respectively"
_MANY = 3
"""So many values without ``respectively`` are taken in turn; of two each disc may have both."""
_MODIC, _NAMES_MODIC = "modic_type", "modic"
_STROKE = frozenset("/")
_LEADS = ([":"], ["="])
_OF_IMAGES = frozenset(("image", "images", "img", "im", "series", "slice", "slices", "sequence", "sequences"))
"""Numbers behind these say where to look, and grade nothing."""
_IN_A_ROW = frozenset((",", "/", "&", "and"))
_BREAK = frozenset((",", ";", "and", "&", "but", "(", ")"))


class Said(NamedTuple):
    """One value: a severity, a size, a grade, a yes or a no, as a half-open range of token positions."""

    kind: str
    start: int
    end: int
    value: Any


def distribute(
    text: str, tokens: Tokens, parts: Parts, groups: Sequence[Group], mentions: list[Mention], lex: Lexicon
) -> bool:
    """Give each level the value said of it; says whether the statement was such a list."""
    turn = _TURN in parts.words
    many = sum(len(g.discs) for g in groups)
    if len(groups) < 2 and not (groups and (many > 1 if turn else many >= _MANY)):
        return False
    if any(not g.discs or (g.discs[0].startswith("*") and g.discs != OTHERS) for g in groups):
        return False
    if (turn or many >= _MANY) and any(_upwards(tokens, g) for g in groups):
        return False
    base, scale = _base(parts, mentions, lex)
    if base is None or base.placed == "vertebra":
        return False
    sizes = written(text, tokens)
    for yes in (
        (True, False) if turn or len(groups) > 1 else ()
    ):  # "present at L3-4, absent at L4-5"; "present at L3-4 (mild), L4-5 (severe)"
        values = _values(parts, base, scale, sizes, turn, yes)
        if values is None or not _all_consumed(parts, groups, base, values):
            continue
        pairs = _in_turn(parts, groups, values) if turn else _pairs(parts, groups, base, values)
        if pairs and _made(base, scale, pairs, parts, tokens, mentions):
            return True
    if turn or many < _MANY or scale is None or scale.kind not in (base.kind, _MODIC):
        return False
    # "Pfirrmann 2, 2, 3, 4, 5 from L1-2 to L5-S1": of a scale a disc has one grade, and there are as many
    values = _values(parts, base, scale, sizes, True, True) or []
    if any(v.kind != "grade" for v in values) or not _all_consumed(parts, groups, base, values, _STROKE):
        return False
    return _made(base, scale, _in_turn(parts, groups, values), parts, tokens, mentions)


def _upwards(tokens: Tokens, g: Group) -> bool:
    """``From L5-S1 to L1-2``: a range is held from above down, so its values would be taken the wrong way round."""
    first = read_place(tokens.found[g.start][0])
    return (
        len(g.discs) > 1
        and bool(first.discs or first.vertebra)
        and not (g.discs[0] in first.discs or g.discs[0].startswith(f"{first.vertebra or '?'}-"))
    )


def _made(
    base: Mention,
    scale: Grade | None,
    pairs: Sequence[tuple[Group, tuple[Said, ...]]],
    parts: Parts,
    tokens: Tokens,
    mentions: list[Mention],
) -> bool:
    """Put a finding for each pair in place of those of the statement, if every pair makes one."""
    made = [_mention(base, scale, g, v, parts, tokens) for g, v in pairs]
    if not made or any(m is None for m in made):
        return False
    mentions[:] = [m for m in mentions if m.scope == "report"]
    mentions += [m for m in made if m is not None]
    return True


def in_a_row(
    parts: Parts, groups: Sequence[Group], mentions: Sequence[Mention], lex: Lexicon
) -> list[Mention]:
    """List the findings of several discs beside numbers of which each may be another disc's: ``Modic L4-S1: 0, 1``.

    Of a finding without grades only numbers right behind a colon or an equals sign are taken for such.
    """
    words = parts.words
    if sum(len(g.discs) for g in groups) < 2:
        return []
    scales = {g.kind for g in lex.grades.values()}
    rows = list(_rows(words))
    found: list[Mention] = []
    for m in mentions:
        graded = m.kind in scales or m.kind in lex.grade_of
        apart = [
            (s, e)
            for s, e in rows
            if not m.start <= s < e <= m.end and _OF_IMAGES.isdisjoint(words[s - 1 : s])
        ]
        if any(graded or words[s - 1 : s] in _LEADS for s, e in apart if e > m.start):
            found.append(m)
    return found


def _rows(words: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Give where two or more numbers stand joined, none of them with a unit: ``0, 1, 2``."""
    at = 0
    while at < len(words):
        end = at + 1
        while (
            number(words[end - 1]) is not None
            and words[end : end + 1]
            and words[end] in _IN_A_ROW
            and words[end + 1 : end + 2]
            and number(words[end + 1]) is not None
        ):
            end += 2
        if end - at > 1 and not (words[end : end + 1] and words[end] in UNITS):
            yield at, end
        at = end


def cut_short(parts: Parts, groups: Sequence[Group]) -> bool:
    """Say whether a list under a label ends on a level without its value: ``Stenosis: L1-2 severe, L2-3``.

    Its values stand behind their levels, so the last of them is nobody's, not the last level's.
    """
    if len(groups) < 2 or ":" not in parts.words[: groups[0].start]:
        return False
    behind = [start for start, _, _ in parts.severities if start >= groups[0].end]
    first = groups[0].end
    return bool(behind) and behind[0] - first <= 1 and not any(start >= groups[-1].end for start in behind)


def _base(parts: Parts, mentions: Sequence[Mention], lex: Lexicon) -> tuple[Mention | None, Grade | None]:
    """Give the one finding of the statement, and its scale if it is a grade."""
    found = {(m.kind, m.start): m for m in mentions if m.scope != "report"}
    if len(mentions) != len([m for m in mentions if m.scope != "report"]) or len(found) > 1:
        return None, None
    scales = [
        (at, k) for at, w in enumerate(parts.words) for k in lex.grade_names.get(w, ())
        if tuple(parts.words[at : at + len(k)]) == k
    ]  # fmt: skip
    if not found:
        if not scales:
            return None, None
        at, name = max(scales, key=lambda s: len(s[1]))
        grade = lex.grades[name]
        if grade.form == "letter" or any(not at <= s < at + len(name) for s, _ in scales):
            return None, None
        return Mention(grade.kind, None, at, at + len(name), grade.id), grade
    base = next(iter(found.values()))
    scale = next((g for g in lex.grades.values() if g.kind == base.kind and g.id == base.rule), None)
    if scale is not None and scales:  # the words of the scale alone, without the grade read beside them
        at, name = max(scales, key=lambda s: len(s[1]))
        base = base.copy()
        base.start, base.end = at, at + len(name)
    return base, scale if scale is not None else lex.grade_of.get(base.kind)


def _values(
    parts: Parts, base: Mention, scale: Grade | None, sizes: Sequence[Written], turn: bool, yes: bool
) -> list[Said] | None:
    words = parts.words
    found = [Said("severity", s, e, v) for s, e, v in parts.severities]
    for w in sizes:
        if w.other_way or w.bound or (base.kind, w.unit) not in KIND:
            return None
        found.append(Said("size", w.at, w.stop, w))
        if turn:
            found += _without_unit(words, w)
    taken = {i for v in found for i in range(v.start, v.end)}
    at = 0
    while at < len(words):
        word, here = words[at], at
        at += 1
        if here in taken or word == "<disc>":
            continue
        if word in _NO or (yes and word in _YES and word != "seen"):
            found.append(Said("no" if word in _NO else "yes", here, at, word))
        elif scale is not None and (
            word in _CUES
            or words[here - 1] in _CUES
            or words[here - (2 if words[here - 1] in _OPEN else 1)] == _NAMES_MODIC
            or scale.kind == base.kind
            or _next_grade(words, here, found)
            or (turn and scale.kind == _MODIC)
        ):
            start = at if word in _CUES else here
            numbers, end = values_at(words, start) if not turn else _single(words, start)
            if numbers:
                found.append(Said("grade", start, end, numbers))
                at = end
        elif scale is not None and turn and found and found[-1].kind == "grade":
            numbers, end = _single(words, here)
            if numbers:
                found.append(Said("grade", here, end, numbers))
    return sorted(found, key=lambda v: v.start)


def _next_grade(words: Sequence[str], here: int, found: Sequence[Said]) -> bool:
    """``Modic 1 at L3-4, 2 at L4-5``: a number between a break and its level, behind a grade that had its name."""
    graded = any(v.kind == "grade" for v in found)
    return graded and words[here - 1] in _BREAK and bool(_AT.intersection(words[here + 1 : here + 2]))


def _single(words: list[str], at: int) -> tuple[list[int], int]:
    return values_at(words[: at + 1], at)


def _without_unit(words: list[str], last: Written) -> list[Said]:
    """``2, 3 and 5 mm``: the numbers before share the unit of the last."""
    out: list[Said] = []
    at = last.at - 1
    while at > 0 and words[at] in ("and", ",", "&"):
        back = at - 1
        while back > 0 and words[back] in ("and", ",", "&"):
            back -= 1
        try:
            number = float(words[back].replace(",", "."))
        except ValueError:
            return out
        if words[back + 1] in ("mm", "cm"):
            return out
        factor = 10.0 if last.raw == "cm" else 1.0
        same = last._replace(values=(number * factor,), at=back, stop=back + 1, start=-1, end=-1)
        out.append(Said("size", back, back + 1, same))
        at = back - 1
    return out


def _all_consumed(
    parts: Parts,
    groups: Sequence[Group],
    base: Mention,
    values: Sequence[Said],
    also: frozenset[str] = frozenset(),
) -> bool:
    taken = set(range(base.start, base.end))
    for start, end in [*((g.start, g.end) for g in groups), *((v.start, v.end) for v in values)]:
        taken.update(range(start, end))
    first_level = min(g.start for g in groups)
    for a in parts.attributes:
        if a.end > base.start and a.start < base.end:
            continue
        if a.start > first_level or any(v.start < base.start for v in values):
            return False  # of one level or of all, the words do not say
        taken.update(range(a.start, a.end))
    return all(i in taken or w in _FILLER or w in _CUES or w in also for i, w in enumerate(parts.words))


def _in_turn(
    parts: Parts, groups: Sequence[Group], values: Sequence[Said]
) -> list[tuple[Group, tuple[Said, ...]]]:
    """As many values as discs, all of one kind: the first to the first, and so on."""
    discs = [(g, d) for g in groups for d in g.discs]
    kinds = {"severity" if v.kind == "no" else v.kind for v in values}
    if len(discs) != len(values) or len(kinds) != 1 or len({d for _, d in discs}) != len(discs):
        return []
    if len(groups) > 1 and any(
        g.end <= v.start < h.start for g, h in itertools.pairwise(groups) for v in values
    ):
        return []
    return [(Group(g.start, g.end, (d,), ""), (v,)) for (g, d), v in zip(discs, values, strict=True)]


def _pairs(
    parts: Parts, groups: Sequence[Group], base: Mention, values: Sequence[Said]
) -> list[tuple[Group, tuple[Said, ...]]]:
    """Pair levels with values: each value before its level, or each behind it, never mixed."""
    rows: list[Group | tuple[Said, ...]] = []
    items: list[Group | Said] = [*groups, *values]
    for item in sorted(items, key=lambda x: x.start):
        if isinstance(item, Said) and rows and not isinstance(rows[-1], Group):
            last = rows[-1]
            assert isinstance(last, tuple)
            gap = parts.words[last[-1].end : item.start]
            if item.kind in {v.kind for v in last} or {",", ";"}.intersection(gap):
                return []
            rows[-1] = (*last, item)
        else:
            rows.append(item if isinstance(item, Group) else (item,))
    kinds = ["L" if isinstance(r, Group) else "V" for r in rows]
    bare: list[tuple[Group, tuple[Said, ...]]] = []
    if kinds[0] == "L" == kinds[-1]:
        first = rows[0]
        assert isinstance(first, Group)
        if base.start >= first.start or kinds[1] != "V":
            return []
        value = rows[1]
        assert not isinstance(value, Group)
        if not _BREAK.intersection(parts.words[first.end : value[0].start]):
            return []
        bare, rows, kinds = [(first, ())], rows[1:], kinds[1:]
    if len(rows) % 2 or any(a == b for a, b in itertools.pairwise(kinds)):
        return []
    if not bare and len(rows) < 4:
        return []
    out: list[tuple[Group, tuple[Said, ...]]] = []
    for a, b in zip(rows[::2], rows[1::2], strict=True):
        g, said = (a, b) if isinstance(a, Group) else (b, a)
        if not isinstance(g, Group) or isinstance(said, Group):
            return []
        out.append((g, said))
    if not _bound(parts, out, bool(bare), base):
        return []
    seen: set[str] = set()
    for g, _said in out:
        if seen.intersection(g.discs):
            return []
        seen.update(g.discs)
    named = {d for g, _ in out for d in g.discs}
    for g, _ in bare:  # "bulges at L3-4, L4-5 and L5-S1, 5 mm at L5-S1"
        rest = tuple(d for d in g.discs if d not in named)
        if rest:
            out.insert(0, (Group(g.start, g.end, rest, ""), ()))
    return out


def _bound(parts: Parts, pairs: Sequence[tuple[Group, tuple[Said, ...]]], tight: bool, base: Mention) -> bool:
    """Say whether nothing between the words binds a value to the other neighbour."""
    words = parts.words
    before = pairs[0][1][0].start < pairs[0][0].start
    for at, (g, said) in enumerate(pairs):
        following = pairs[at + 1] if at + 1 < len(pairs) else None
        if before:
            gap = [w for i, w in enumerate(words[said[-1].end : g.start], said[-1].end)
                   if not base.start <= i < base.end]  # fmt: skip
            if tight and not _AT.intersection(gap):
                return False
            if {",", ";"}.intersection(gap) and said[-1].end < base.start:
                return False
            if following and words[g.end : g.end + 1] and words[g.end] in ("(", ":", "is", "are", "="):
                return False
        elif (
            following
            and _AT.intersection(words[said[-1].end : following[0].start])
            and not _BREAK.intersection(words[said[-1].end : following[0].start])
        ):
            return False
    return True


def _mention(
    base: Mention, scale: Grade | None, g: Group, said: Sequence[Said], parts: Parts, tokens: Tokens
) -> Mention | None:
    m = base.copy()
    m.status, m.mods, m.severity, m.severity_at = "present", (), (), None
    if base.kind in ("listhesis", "endplate_change"):
        m.obj = ""
        m.value = "present" if base.kind == "endplate_change" else base.value
    if m.severity_graded:
        m.value = "present"
    set_place(m, g.discs, kind_of_group(g), g)
    if not said and scale is not None and scale.kind == m.kind:
        return None
    for v in said:
        if v.kind == "severity":
            if scale is not None and scale.kind == m.kind:
                return None
            m.set_severity(Severity(v.start, v.end, v.value))
        elif v.kind == "no":
            if len(said) > 1 or (scale is not None and scale.kind == m.kind):
                return None
            m.status = "absent"
            m.mods = tuple(x for x in parts.mods if x.start == v.start and x.entry.kind == "negation")
        elif v.kind == "grade":
            if scale is None or any(str(n) not in scale.values for n in v.value):
                return None
            if m.kind == "listhesis" and v.value == [0]:
                return None  # no slip at all, and so no grade of one
            if scale.kind != m.kind:
                set_grade(m, scale, v.value)
                if scale.kind == _MODIC and not base.start <= v.start < base.end:
                    m.start, m.end = v.start, v.end
            else:
                names = [ROMAN[n] if scale.form == "roman" else str(n) for n in v.value]
                m.value = names[0] if len(set(names)) == 1 else tuple(names)
                m.start, m.end = v.start, v.end
        elif v.kind == "size":
            w = v.value
            span = tokens.span(w.at, w.stop)
            near = about(parts.words, w.at)
            m.size = Measure(KIND[m.kind, w.unit], w.values, span.start, span.end, m, w.range, about=near)
    return m
