"""One thing named once, then level by level what is said of it: ``Disc height: L3-4 normal, L4-5 reduced``."""

from collections.abc import Sequence

from candidacy.reading.grades import ROMAN, values_at
from candidacy.reading.groups import kind_of_group, set_place
from candidacy.reading.lexer import Group
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.mention import Mention, Parts, Severity

_DENIED = grammar("form_no")
_SAID = grammar("form_yes")
_CUES = grammar("grade_cue")
_LONGEST_LABEL = 8


def spread(parts: Parts, groups: Sequence[Group], mentions: list[Mention], lex: Lexicon) -> None:
    """Give each level of such a line its own value, in place of the one finding made of the label."""
    words = parts.words
    at = words.index(":") if ":" in words[:_LONGEST_LABEL] else 0
    rows = [g for g in groups if g.start > at]
    if not at or len(rows) < 2 or len(rows) < len(groups) or rows[0].start != at + 1:
        return
    ends = [g.start for g in rows[1:]] + [len(words)]
    if not all(any(w.isalnum() for w in words[g.end : e]) for g, e in zip(rows, ends, strict=True)):
        return
    label = next((m for m in mentions if m.end <= at and m.scope == "disc"), None)
    made: list[Mention] = []
    for g, end in zip(rows, ends, strict=True):
        m = _by_action(parts, at, g.end, lex) or (_by_word(parts, label, g.end, end) if label else None)
        if m is not None:
            set_place(m, g.discs, kind_of_group(g), g)
            made.append(m)
    if not made:
        return
    mentions[:] = [m for m in mentions if m.start > at and not any(_same(m, x) for x in made)]
    mentions += made


def _same(m: Mention, made: Mention) -> bool:
    """Say whether a finding was read from the same words; one that reaches further is of something else."""
    return m.start < made.end and made.start < m.end and (m.kind == made.kind or m.end <= made.end)


def _by_action(parts: Parts, at: int, low: int, lex: Lexicon) -> Mention | None:
    """``Disc height: L4-5 mildly reduced``: the action behind the level is of the thing in the label."""
    grade = next((Severity(s, e, v) for s, e, v in parts.severities if s == low), None)
    start = grade.end if grade else low
    for act in parts.acts:
        for o in reversed([o for o in parts.objs if o.end <= at] if act.start == start else []):
            pair = lex.pairs.get((act.entry.kind, o.entry.kind))
            if pair is not None:
                m = Mention(pair.kind, pair.value_by(act.entry), low, act.end, pair.id)
                m.severity_graded, m.also, m.obj = pair.graded, pair.also, o.entry.kind
                m.set_severity(grade)
                return m
    return None


def _by_word(parts: Parts, label: Mention, low: int, high: int) -> Mention | None:
    """``Modic: L3-4 none, L4-5 type 2``; ``Canal stenosis: L3-4 mild``: a grade, a yes or a no."""
    word = parts.words[low]
    m = label.copy()
    m.start, m.end = low, low + 1
    m.status, m.mods = "present", ()
    if word in _DENIED:
        m.status = "absent"
        return m
    grade = next((Severity(s, e, v) for s, e, v in parts.severities if s == low), None)
    values, end = values_at(parts.words, low + 1 if word in _CUES else low)
    if values and end <= high and m.kind in ("endplate_change", "listhesis"):
        m.end = end
        if m.kind == "listhesis":
            m.obj = ROMAN[values[0]]
        else:
            m.value = str(values[0])
        return m
    if grade is not None and m.severity_graded:
        m.end = grade.end
        m.set_severity(grade)
        return m
    return m if word in _SAID else None
