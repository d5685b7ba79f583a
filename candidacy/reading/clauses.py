"""Whether what was read from a statement is what its clauses say: each level, finding, value and modifier used once.

The productions are data (``clauses.yaml``, read by `clause_rows`); what no row of letters shows is told by rules about
denials (`half_denied`) and values (`two_values`). What they do not cover is withdrawn, never repaired.
"""

import re
from collections.abc import Callable, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.another_type import another_type
from candidacy.reading.beside import beside
from candidacy.reading.clause_data import clause_data
from candidacy.reading.clause_rows import clauses_of, stuck
from candidacy.reading.denied_degree import denied_degree
from candidacy.reading.directions import ALL
from candidacy.reading.half_denied import (
    NOT_QUITE,
    PARTLY_THERE,
    denied_behind_a_dash,
    denied_in_part,
    some_denied,
)
from candidacy.reading.lexer import Group
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import PRESENT
from candidacy.reading.not_normal import normal_no_more, words_for_it
from candidacy.reading.shares import misplaced
from candidacy.reading.symbols import Row, row_of
from candidacy.reading.times import other_times
from candidacy.reading.two_values import (
    EVERYWHERE,
    beside_a_sign,
    goes_on_today,
    graded_and_denied,
    graded_for_today,
    graded_throughout,
    has_become,
    has_the_side_of_another,
    holds_another_grade,
    lists_more_grades,
    normal_and_not,
    turned,
    turned_into_unread,
)

_GOES_ON = re.compile(r"CQ?W")
_RELATIVE = frozenset(("where", "which"))
_THAT = frozenset(("this", "that"))
_OR = frozenset(("or",))
_ONE = frozenset(("one", "1", "either", "any", "some"))
_OWN, _ONWARD, _WHOLE = "own words", "and what follows", "the statement"
_CHANGES = frozenset("NnDd!?TtMCso>xquby")
"""Letters without which the status of every finding is plain."""


class Unread(NamedTuple):
    """A clause of which nothing is asserted: its findings, the tokens it spans, and why."""

    mentions: tuple[Mention, ...]
    start: int
    end: int
    reason: str
    level_only: bool


class _Rule(NamedTuple):
    """A way in which a finding cannot be trusted, and how much of the statement is then not read."""

    holds: Callable[[Mention, Sequence[Mention], Parts], bool]
    reason: str
    reach: str


_RULES = (
    _Rule(graded_and_denied, "F", _OWN),
    _Rule(denied_behind_a_dash, "f", _OWN),
    _Rule(denied_in_part, "f", _ONWARD),
    _Rule(normal_no_more, "f", _OWN),
    _Rule(denied_degree, "f", _OWN),
    _Rule(another_type, "sign", _OWN),
    _Rule(graded_throughout, "levels", _WHOLE),
    _Rule(some_denied, "f", _OWN),
    _Rule(holds_another_grade, "s", _OWN),
    _Rule(lists_more_grades, "levels", _WHOLE),
    _Rule(has_the_side_of_another, "levels", _WHOLE),
    _Rule(turned_into_unread, "t", _WHOLE),
    _Rule(goes_on_today, "t", _WHOLE),
    _Rule(has_become, "t", _WHOLE),
    _Rule(beside_a_sign, "sign", _OWN),
)


_BEHIND_A_GRADE = (lists_more_grades, turned_into_unread, has_become, beside_a_sign, another_type)


def withdraw(
    parts: Parts, levels: Sequence[Group], named: Sequence[Group], mentions: list[Mention]
) -> list[Unread]:
    """Take the findings of clauses that cannot be trusted out of ``mentions``, and tell of each clause.

    Surgery and implants are kept without a level where only their level is in doubt: a report that names them must
    not be read as one that does not.
    """
    lost = unread(parts, levels, named, mentions)
    for u in lost:
        for m in u.mentions:
            if m.scope == "both" and u.level_only:
                m.discs, m.placed, m.group = (), "report", None
            elif m in mentions:
                mentions.remove(m)
    return lost


def unread(
    parts: Parts, levels: Sequence[Group], named: Sequence[Group], mentions: Sequence[Mention]
) -> list[Unread]:
    """List the clauses of a statement whose findings must not be asserted."""
    if not mentions or _is_plain(parts, levels, mentions):
        return []
    row = row_of(parts, levels, named, mentions)
    found: list[Unread] = []
    whole = (0, len(parts.words))

    def lose(rows: Sequence[Mention], why: str, ends: tuple[int, int] = whole) -> list[Mention]:
        if rows:
            found.append(_unread(rows, ends, why))
        return list(rows)

    lost = misplaced(parts, row, levels, mentions)
    if lost:
        some = _span_of(lost, parts) if len(lost) < len(mentions) else whole
        found.append(_unread(lost, some, "levels", level_only=True))
    if "C" in row.letters and not levels:
        astray = [m for m in mentions if m.discs and m.placed != "heading"]
        found += [_unread(astray, whole, "beside", level_only=True)] if astray else []
    for at in _relatives(row, parts):
        lost += lose([m for m in mentions if m.start > at and m not in lost], "beside")
    if _beyond_that(parts):
        lost += lose([m for m in mentions if m.discs == ALL], ">")
    unclear = lose([m for m in mentions if graded_for_today(m, parts)] if parts.mods else [], "t")
    unclear += lose([m for m in mentions if m not in lost and _of_one_of_two(m, parts)], "o")
    torn = lose(normal_and_not([m for m in mentions if m not in lost]), "both")
    gone = [m for m in turned(parts.words, mentions) if m not in (*lost, *torn)]
    torn += lose(gone, "t", _around(gone))
    for rule in _RULES:
        rows = [m for m in mentions if m not in (*lost, *torn) and rule.holds(m, mentions, parts)]
        start, end = _around(rows)
        ends = {_OWN: (start, end), _ONWARD: (start, whole[1]), _WHOLE: whole}
        torn += lose(rows, rule.reason, ends[rule.reach])
    return found + _stuck_clauses(row, parts, mentions, [*lost, *torn, *unclear])


def _stuck_clauses(
    row: Row, parts: Parts, mentions: Sequence[Mention], known: Sequence[Mention]
) -> list[Unread]:
    """List the clauses that the productions do not read to their end, and those of a place beside the level named."""
    found: list[Unread] = []
    beside_it = False
    for low, high in clauses_of(row.letters):
        letters = row.letters[low:high]
        end = row.at[high] if high < len(row.at) else len(parts.words)
        beside_it = "L" not in letters and (beside_it or ">" in letters)
        if beside_it and ">" not in letters:  # "the one above it is dark, but of normal height"
            start, why = row.at[low], ">"
            mine = [m for m in mentions if start <= m.start < end]
        elif not _CHANGES.isdisjoint(letters) and ("F" in letters or "f" in letters):
            hit = stuck(letters)
            if hit is None:
                continue
            at, since = hit
            start, why = (row.at[low + since] if low + since else 0), letters[at]
            mine = [m for m in mentions if start <= m.start < end and m.kind != "known"]
        else:
            continue
        mine = [m for m in mine if m not in known]
        found += [_unread(mine, (start, end), why)] if mine else []
    return found


def _around(mentions: Sequence[Mention]) -> tuple[int, int]:
    return (mentions[0].start, mentions[-1].end) if mentions else (0, 0)


def _relatives(row: Row, parts: Parts) -> list[int]:
    """``Identical to L5-S1, where there is a protrusion``: behind a level that is only compared with, it goes on about that."""
    behind = [row.at[m.end() - 1] for m in _GOES_ON.finditer(row.letters)]
    return [at for at in behind if parts.words[at] in _RELATIVE]


def _beyond_that(parts: Parts) -> bool:
    """``Below this, bulges at all levels``."""
    return any(
        p.entry.kind == "beyond" and not _THAT.isdisjoint(parts.words[p.start : p.end]) for p in parts.places
    )


def _of_one_of_two(m: Mention, parts: Parts) -> bool:
    """``A bulge at L3-4 or L4-5``, ``one of L3-4 and L4-5 bulges``."""
    if m.status != PRESENT or m.group is None:
        return False
    lead = parts.words[max(0, m.group.start - 2) : m.group.start]
    return not _OR.isdisjoint(parts.words[m.group.start : m.group.end]) or (
        len(m.discs) > 1 and lead[1:] == ["of"] and lead[0] in _ONE
    )


@cache
def _watched() -> frozenset[str]:
    """List the words that may change what is said although no entry of the lexicon holds them."""
    words = clause_data()["words"]
    return frozenset(w for letter in words if letter in "ouRI;X" for w in words[letter].split())


def _is_plain(parts: Parts, levels: Sequence[Group], mentions: Sequence[Mention]) -> bool:
    """Say whether a statement has nothing to verify: one level at most, and no word that changes what is said."""
    if parts.mods or len(levels) > 1 or not _watched().isdisjoint(parts.words):
        return False
    if not (PARTLY_THERE | EVERYWHERE | NOT_QUITE).isdisjoint(parts.words) or any(
        "/" in w for w in parts.words
    ):
        return False
    if words_for_it(parts) or not _ONE.isdisjoint(parts.words):
        return False
    if parts.places and any(p.entry.kind in clause_data()["places"] for p in parts.places):
        return False
    if other_times(parts, mentions):
        return False
    if beside(parts, mentions):
        return False
    if parts.severities:
        used = {m.severity_at for m in mentions}
        if any((s, e) not in used for s, e, _ in parts.severities):
            return False
    if any(holds(m, mentions, parts) for m in mentions for holds in _BEHIND_A_GRADE):
        return False
    return not normal_and_not(mentions) and not turned(parts.words, mentions)


def _span_of(lost: Sequence[Mention], parts: Parts) -> tuple[int, int]:
    """Give the tokens of findings without their level, with the level they were given and what follows it."""
    high = max(m.end for m in lost)
    at = max((m.group.end for m in lost if m.group is not None), default=high)
    if at > high:
        high = next((i for i in range(at, len(parts.words)) if parts.words[i] == ";"), len(parts.words))
    return min(m.start for m in lost), high


def _unread(
    mentions: Sequence[Mention], ends: tuple[int, int], why: str, *, level_only: bool = False
) -> Unread:
    reasons = clause_data()["reasons"]
    return Unread(tuple(mentions), *ends, reasons.get(why, reasons["other"]), level_only)
