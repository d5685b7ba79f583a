"""Which level each finding of a statement belongs to, by the declared productions, and whether that was read so."""

import re
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.clause_data import clause_data
from candidacy.reading.grades import ROMAN, values_at
from candidacy.reading.lexer import Group
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT
from candidacy.reading.symbols import Row

_OPENINGS = frozenset(("canal", "recess", "foramen", "facet", "root", "sac"))
_SAID = frozenset("FfhH")
_KNOWN = frozenset("KU")
_VALUES = frozenset("Ss#")
_DENIALS = frozenset("Nn!")
_DOUBTS = frozenset("dDq?")
_KEPT = frozenset("LPQJoWXB;EYRIAgx>")
_IN_TURN = frozenset("RI")
_SHARED = ("shared", "worst")
_OWN = re.compile(r"[vnpg]")
_CONTENT = "adekr"


class Short(NamedTuple):
    """A shortened row, and for each of its letters the range of tokens it stands for."""

    letters: str
    spans: tuple[tuple[int, int], ...]


class Share(NamedTuple):
    """A level, what is said of it as ranges of tokens, and the value it has of its own, if any."""

    discs: tuple[str, ...]
    said: tuple[tuple[int, int], ...]
    value: tuple[int, int] | None
    optional: bool
    """Whether nothing need be said of it: the worst of the levels named before."""
    numbers: tuple[int, ...]
    """Grades or measurements among its own words."""
    denied: bool | None
    """Whether its own words deny what is shared with the level before; nothing if it shares nothing."""


@cache
def _productions() -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(row["row"]), row.get("kind", "")) for row in clause_data()["levels"])


def misplaced(parts: Parts, row: Row, levels: Sequence[Group], mentions: Sequence[Mention]) -> list[Mention]:
    """List the findings that do not stand at the level that the productions give them; all if a level is left over."""
    several = len(levels) > 1 and len({frozenset(g.discs) for g in levels}) > 1
    in_turn = not _IN_TURN.isdisjoint(row.letters) and any(len(g.discs) > 1 for g in levels)
    if not (several or in_turn):
        return []
    own = [m for m in mentions if m.scope != "report" and m.kind != "known"]
    if not own:
        return []
    short = _shorten(parts, row, mentions)
    found = _scan(parts.words, short, {g.start: g.discs for g in levels})
    if found is None:
        return own
    shares, placeless, one, each = found
    met: set[int] = set()
    lost: list[Mention] = []
    split = False
    for m in own:
        at = next((s for s in _spans_of(short) if s[0] <= _anchor(m, parts) < s[1]), None)
        if at in placeless:
            if m.discs:
                lost.append(m)
            continue
        mine = [i for i, s in enumerate(shares) if at in s.said]
        fits = [i for i in mine if set(shares[i].discs) == set(m.discs) and _has_value(m, shares[i])]
        if at in one:
            fits = []
        if (each or at in one) and len(m.discs) == 1:
            some = [i for i, s in enumerate(shares) if set(m.discs) <= set(s.discs)]
            fits, split = fits or some, split or any(len(shares[i].discs) > 1 for i in some)
        if fits:
            met.update(fits)
        else:
            lost.append(m)
    if each and not split:
        return own
    known = {s for s, letter in zip(short.spans, short.letters, strict=True) if letter == "k"}
    spare = (i in met or s.optional or known.intersection(s.said) for i, s in enumerate(shares))
    if not lost and not all(spare):
        return own
    return lost


def _has_value(m: Mention, share: Share) -> bool:
    """Say whether the grade, or the denial, is the one that stands beside the level, where it has one of its own."""
    if share.denied is not None and share.denied != (m.status == ABSENT):
        return False
    if share.numbers and not {m.value, m.obj} & {
        w for n in share.numbers for w in (str(n), *ROMAN[n : n + 1])
    }:
        return False
    if share.value is None or m.severity_at is None:
        return True
    return share.value[0] <= m.severity_at[0] < share.value[1]


def _anchor(m: Mention, parts: Parts) -> int:
    cores = [
        x.start for rows in (parts.heads, parts.acts, parts.objs) for x in rows if m.start <= x.start < m.end
    ]
    return min(cores, default=m.start)


def _spans_of(short: Short) -> list[tuple[int, int]]:
    return [s for s, letter in zip(short.spans, short.letters, strict=True) if letter in _CONTENT]


def _shorten(parts: Parts, row: Row, mentions: Sequence[Mention]) -> Short:
    acts = {a.start for a in parts.acts if a.entry.kind == "compress"}
    whole = {i for m in mentions if m.scope == "report" for i in range(m.start, m.end)}
    levels = [at for at, letter in zip(row.at, row.letters, strict=True) if letter == "L"]
    tails = {
        i for m in mentions for at in levels if m.start < at < m.end for i in range(at, m.end)
    }  # "reduction in the L4-5 disc height": one finding around its level
    things = {
        o.start
        for o in parts.objs
        if o.entry.kind in _OPENINGS and not any(m.start <= o.start < m.end for m in mentions)
    }  # "stenosis of the canal at L4-5 and of the foramen at L5-S1": another thing at the second level
    out: list[str] = []
    spans: list[tuple[int, int]] = []
    ends = (*row.at[1:], len(parts.words))
    held: list[int] = []

    def close() -> None:
        if held:
            at = [row.at[i] for i in held]
            letter = _content([row.letters[i] for i in held], at, acts, whole)
            letter = letter or ("k" if things.intersection(at) else "")
            if letter:
                out.append(letter)
                spans.append((row.at[held[0]], ends[held[-1]]))
            held.clear()

    for i, letter in enumerate(row.letters):
        if row.at[i] in tails and letter in _SAID:
            continue
        if letter in _KEPT:
            close()
            if letter != "P" or row.letters[i + 1 : i + 2] in ("L", "E", "P", "Y"):
                out.append(letter)
                spans.append((row.at[i], ends[i]))
        else:
            held.append(i)
    close()
    return Short("".join(out), tuple(spans))


def _content(letters: list[str], at: list[int], acts: set[int], whole: set[int]) -> str:
    said = [a for c, a in zip(letters, at, strict=True) if c in _SAID]
    if said:
        if all(a in whole for a in said):
            return "r"
        if said[0] in acts:
            return "e"
        return "d" if all(c == "f" for c in letters if c in _SAID) else "a"
    if not _KNOWN.isdisjoint(letters):
        return "k"
    kinds = (("v", _VALUES), ("n", _DENIALS), ("p", _DOUBTS))
    return next((letter for letter, some in kinds if not some.isdisjoint(letters)), "")


def _numbers(words: list[str], span: tuple[int, int]) -> tuple[int, ...]:
    for i in range(*span):
        found = values_at(words, i)[0]
        if found:
            return tuple(found)
    return ()


def _scan(
    words: list[str], short: Short, discs: dict[int, tuple[str, ...]]
) -> tuple[list[Share], set[tuple[int, int]], set[tuple[int, int]], bool] | None:
    """Take a shortened row apart; nothing if some of it is left over."""
    at = 0
    shares: list[Share] = []
    placeless: set[tuple[int, int]] = set()
    one: set[tuple[int, int]] = set()
    each = False
    head: tuple[tuple[int, int], ...] = ()
    letters, spans = short

    def parts_of(m: re.Match[str], *names: str) -> tuple[tuple[int, int], ...]:
        ranges = [m.span(n) for n in names if n in m.re.groupindex and m[n] is not None]
        return tuple(spans[i] for low, high in ranges for i in range(low, high) if letters[i] in _CONTENT)

    def value_of(low: int, high: int) -> tuple[int, int] | None:
        return next((spans[i] for i in range(low, high) if letters[i] == "v"), None)

    while at < len(letters):
        for pattern, kind in _productions():
            m = pattern.match(letters, at)
            if m is None or m.end() == at:
                continue
            if kind == "before":
                head = parts_of(m, "s")
                for i in range(m.start(), m.end()):
                    if letters[i] == "L":
                        value = spans[i - 1] if letters[i - 1] == "v" else None
                        shares.append(Share(discs[spans[i][0]], head, value, False, (), None))
            elif "l" in m.re.groupindex:
                head = head if kind in _SHARED else parts_of(m, "s")
                said = (*head, *parts_of(m, "t"))
                low = m.start("l")
                value = value_of(m.start(), low) if kind in _SHARED else None
                own = letters[m.start() : low] if kind in _SHARED else ""
                denied = "n" in own if _OWN.search(own) else None
                of_own = _numbers(words, value) if value else ()
                shares.append(Share(discs[spans[low][0]], said, value, kind == "worst", of_own, denied))
            elif kind == "placeless":
                placeless.update(parts_of(m, "s"))
            elif kind == "each":
                each = True
                extra = parts_of(m, "t")
                shares = [s._replace(said=(*s.said, *extra)) for s in shares]
            elif kind == "one":
                one.update(parts_of(m, "t"))
            at = m.end()
            break
        else:
            return None
    return shares, placeless, one, each
