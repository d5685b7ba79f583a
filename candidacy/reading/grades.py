"""Grades with their scale: a number is kept only where its scale is named or implied by the finding itself."""

from candidacy.reading.lexicon import Grade, Lexicon, grammar
from candidacy.reading.mention import Mention, Parts

ROMAN = ("", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX")
_ARABIC = {r.lower(): n for n, r in enumerate(ROMAN) if r}
_SPOKEN = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5}
"""Grades spelled out; read only behind ``grade`` or ``type``, since ``at one level`` is no grade."""
_SKIP = grammar("grade_filler")
_CUES = grammar("grade_cue")
_JOINS = frozenset(("and", ",", ";", "&"))
_OF_A_SIZE = frozenset((",", "/", "-", "–", "x", "to", "and", "&"))
_UNITS = frozenset(("mm", "cm", "%"))
_AT_A_LEVEL = (["at", "<disc>"], ["in", "<disc>"])
_PLACE_WORDS = (
    grammar("over") | {"<disc>", "<vert>", "of", "at", "level", "the", "with", "to", "(", ",", ":"}
) - {"versus"}


def number(word: str) -> int | None:
    """Read one Arabic or Roman grade; anything else is no grade."""
    if word.isdecimal() and len(word) == 1:
        return int(word)
    return _ARABIC.get(word)


def values_at(words: list[str], at: int) -> tuple[list[int], int]:
    """Read one or two grades at a token (``II``, ``1-2``, ``I / II``, ``2 to 3``) and where they end."""
    if at >= len(words):
        return [], at
    word = words[at]
    if len(word) == 3 and word[1] in "-/–" and word[0].isdecimal() and word[2].isdecimal():
        return [int(word[0]), int(word[2])], at + 1
    first = number(word)
    if first is None and at and words[at - 1] in _CUES:
        first = _SPOKEN.get(word)
    if first is None:
        return [], at
    if (
        words[at + 1 : at + 2]
        and words[at + 1] in ("and", "/")
        and words[at + 2 : at + 3] == words[at - 1 : at]
    ):
        second = number(words[at + 3]) if at and words[at - 1] in _CUES and at + 3 < len(words) else None
        if second is not None:  # "type 1 and type 2"
            return [first, second], at + 4
    for skip in (1, 2):
        gap = words[at + 1 : at + skip]
        if all(w in ("/", "to", "-", "–", "and", "or", "+") for w in gap) and at + skip < len(words):
            second = number(words[at + skip])
            if second is not None and (skip == 2 or len(words[at]) + len(words[at + skip]) > 2):
                return [first, second], at + skip + 1
    return [first], at + 1


def after(words: list[str], at: int, reach: int = 4) -> tuple[list[int], int]:
    """Read the grade that follows a scale's name."""
    for k in range(at, min(at + reach, len(words))):
        values, end = values_at(words, k)
        if values:
            kept = _without_a_size(words, k, values, end)
            if kept and len(kept) < len(values):
                end = k + 1
            return (kept, end) if kept else ([], k)
        if words[k] not in _SKIP:
            break
    return [], at


def _without_a_size(words: list[str], at: int, values: list[int], end: int) -> list[int]:
    """``grade I - 4 mm``: the number before a unit is a size. Of ``grade 1 - 2 mm`` nobody can tell whether it has a grade."""
    behind = words[end : end + 2]
    if behind and behind[0] in _UNITS:
        return values[:1] if len(values) > 1 and words[at] in _ARABIC and words[end - 1].isdecimal() else []
    if len(behind) > 1 and behind[1] in _UNITS and behind[0].isdecimal() and words[end - 1].isdecimal():
        return []  # "grade 1-2 mm", of which the dash is no word
    return values


def _of_a_measure(words: list[str], start: int, end: int) -> bool:
    """``anterolisthesis 3-5 mm``: a bare number before another one with a unit is a size as well."""
    if not words[end - 1][0].isdecimal() or not _CUES.isdisjoint(words[start:end]):
        return False
    while words[end : end + 1] and (words[end][0].isdecimal() or words[end] in _OF_A_SIZE):
        end += 1
    return words[end : end + 1] != [] and words[end] in _UNITS


def before(words: list[str], at: int, reach: int = 5) -> tuple[list[int], int]:
    """Read the grade that stands before a name, behind its cue word (``grade 1 anterolisthesis``)."""
    for k in range(at - 1, max(at - reach - 1, -1), -1):
        if words[k] in _CUES:
            values, end = values_at(words, k + 1)
            values = _without_a_size(words, k + 1, values, end)
            return (values, k) if values and end <= at else ([], at)
        if words[k] in (",", ";", ".", "with", "<disc>"):
            break
    return [], at


def add_grades(parts: Parts, mentions: list[Mention], lex: Lexicon) -> list[tuple[int, int]]:
    """Add a mention for each scaled grade and give slips and endplate changes theirs.

    Returns the token ranges of grades written without a scale.
    """
    words = parts.words
    used: list[tuple[int, int]] = []
    for m in mentions:
        grade = lex.grade_of.get(m.kind)
        if grade is None:
            continue
        values, where = before(words, m.start)
        if any(where < e < m.start for _, e in used):
            values = []  # "Modic type 1 and Modic type 2"
        if values == [0] and grade.kind != "modic_type":
            continue  # "grade 0 listhesis": no slip at all, and a zero beside a finding is told elsewhere
        if values:
            used.append((where, m.start))
            m.start = where
        else:
            values, end = after(words, m.end, 5)
            if grade.kind == "meyerding_grade" and values and _of_a_measure(words, m.end, end):
                continue
            if not values:
                values, end = _behind_place(words, m.end, not lex.scales.isdisjoint(words[m.start : m.end]))
            if values == [0] and grade.kind != "modic_type":
                continue
            if values:
                used.append((m.end, end))
                m.end = end
        set_grade(m, grade, values)
        if grade.kind == "modic_type" and len(values) == 2 and "or" in words[m.start : m.end]:
            m.value = "present"  # "type 1 or 2" is not the mixed type
    for at in [] if lex.grade_first.isdisjoint(words) else range(len(words)):
        if words[at] in lex.grade_first:
            _scaled(words, at, lex, mentions, used)
    if used:
        _again_at_a_level(words, lex, mentions, used)
    if "grade" not in words:
        return []
    return [
        (at, at + 2)
        for at, word in enumerate(words[:-1])
        if word == "grade" and number(words[at + 1]) is not None and not any(s <= at < e for s, e in used)
    ]


def _again_at_a_level(
    words: list[str], lex: Lexicon, mentions: list[Mention], used: list[tuple[int, int]]
) -> None:
    """``Schizas grade C at L4-5 and grade A at L3-4``: the scale is named once, a further letter is of the same one."""
    scaled = {g for g in lex.grades.values() for m in mentions if (m.kind, m.rule) == (g.kind, g.id)}
    if len(scaled) != 1 or any(g.form != "letter" for g in scaled):
        return  # numbers are shared out elsewhere
    grade = scaled.pop()
    letters = {v.lower(): v for v in grade.values}
    first = next(m for m in mentions if (m.kind, m.rule) == (grade.kind, grade.id))
    for at in range(first.end, len(words) - 2):
        if words[at] not in letters or words[at + 1 : at + 3] not in _AT_A_LEVEL:
            continue
        cue = words[at - 1] in _CUES
        if cue or words[at - 1] in _JOINS:
            used.append((at - cue, at + 1))
            mentions.append(Mention(grade.kind, letters[words[at]], at - cue, at + 1, grade.id))
    mentions.sort(key=lambda x: (x.start, x.end))


def _behind_place(words: list[str], at: int, named: bool) -> tuple[list[int], int]:
    """Read the grade behind the level: ``retrolisthesis of L5 on S1, grade 1``; without its cue only where the scale is ``named``."""
    for k in range(at, min(at + 9, len(words))):
        if words[k] in _CUES:
            values, end = values_at(words, k + 1)
            return (values, end) if words[end : end + 1] in ([], [","], [")"], [";"]) else ([], at)
        if words[k] == ":" and k > at:
            values, end = values_at(words, k + 1)  # "Modic L4-5: 0"
            if values and words[end : end + 1] in ([], [";"]):
                return values, end
        if words[k] == "<disc>" and named:
            values, end = values_at(words, k + 1)  # "Modic L4-5 1"
            if values and words[end : end + 1] in ([], [";"], [")"]):
                return values, end
        if words[k] not in _PLACE_WORDS:
            break
    return [], at


def set_grade(m: Mention, grade: Grade, values: list[int]) -> None:
    """Give a slip or an endplate change its grade; values that the scale does not have give none."""
    names = [str(v) for v in values]
    ok = [v for v, n in zip(values, names, strict=True) if (n in grade.values)]
    if grade.kind == "modic_type":
        if not names and m.value == "absent":
            return  # "endplates are normal"
        m.kind = "endplate_change"
        if ok == [0]:
            m.value = "absent"
        elif len(ok) == 2 and 0 not in ok and sorted(ok) == [1, 2]:
            m.value = f"{ok[0]}-{ok[1]}"
        elif len(ok) == 2 and sorted(ok) == [2, 3]:
            m.value = "2-3"  # which of the two leads has no code
        elif ok and ok[0] and len(set(ok)) == 1:
            m.value = str(ok[0])
        else:
            m.value = "present"  # "type 1 and type 3" has no code
    elif ok and ok[0]:
        m.obj = "/".join(ROMAN[v] for v in dict.fromkeys(ok))


def _scaled(
    words: list[str], at: int, lex: Lexicon, mentions: list[Mention], used: list[tuple[int, int]]
) -> None:
    best = max(
        (k for k in lex.grade_names[words[at]] if tuple(words[at : at + len(k)]) == k), key=len, default=None
    )
    if best is None or any(s <= at < e for s, e in used):
        return
    grade = lex.grades[best]
    if grade.kind == "meyerding_grade":
        m = next((m for m in mentions if m.kind == "listhesis"), None)
        if m is not None and not m.obj:
            values, end = after(words, at + len(best))
            if values:
                used.append((at, end))
                set_grade(m, grade, values)
        return
    value, start, end = _value(words, at, at + len(best), grade)
    if value is None:
        return
    used.append((min(start, at), end))
    m = Mention(grade.kind, value, min(start, at), end, grade.id)
    if grade.kind == "castellvi_type":
        m.scope = "report"
    mentions.append(m)
    mentions.sort(key=lambda x: (x.start, x.end))


def _value(
    words: list[str], at: int, end: int, grade: Grade
) -> tuple[str | tuple[str, ...] | None, int, int]:
    if grade.form == "letter":
        allowed = {v.lower(): v for v in grade.values}
        for k in range(end, min(end + 4, len(words))):
            if words[k] in allowed and not (words[k] == "a" and k == end):
                return allowed[words[k]], at, k + 1
            if words[k] not in _SKIP:
                break
        if at >= 2 and words[at - 2] in _CUES and words[at - 1] in allowed:
            return allowed[words[at - 1]], at - 2, end
        return None, at, end
    values, stop = after(words, end)
    start = at
    if at > 1 and words[at - 2] in _CUES and number(words[at - 1]) is not None:
        values = []  # "grade 4 Pfirrmann, 3"
    if not values:
        values, start = before(words, at)
        stop = end
    names = [str(v) for v in values]
    if not names or any(n not in grade.values for n in names):
        return None, at, end
    stroke = any("/" in w for w in words[end:stop])
    if grade.form == "roman" and len(values) == 2 and abs(values[0] - values[1]) > 1 and stroke:
        return None, at, end  # "3/5" may be 3 of 5
    if grade.form == "roman":
        names = [ROMAN[v] for v in values]
    if len(names) == 2 and grade.kind == "modified_pfirrmann_grade" and "/" in words[end:stop]:
        return "/".join(names), start, stop
    return (names[0] if len(set(names)) == 1 else tuple(names)), start, stop
