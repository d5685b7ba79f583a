"""Whether what was read from a statement is what its clauses say: each level, finding, value and modifier used once.

The productions are data (``clauses.yaml``). What they do not cover is withdrawn, never repaired.
"""

import itertools
import re
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import NamedTuple

from candidacy.reading.beside import beside
from candidacy.reading.clause_data import clause_data
from candidacy.reading.directions import ALL
from candidacy.reading.lexer import Group
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import ABSENT, PRESENT
from candidacy.reading.shares import misplaced
from candidacy.reading.symbols import row_of
from candidacy.reading.times import other_times

_STOP = re.compile(r";|X(?!P*L)")
_REFUSED = "never"
_PURPOSE = "u"
_REFERS = grammar("refers")
_TODAY = grammar("today")
_ENDS = frozenset(("negation", "resolved", "hypothetical"))
_PARTLY = frozenset("Ff")
_OR = frozenset(("or",))
_NONE, _SOME, _BEHIND = frozenset(("none", "nil")), grammar("some_of_them"), 3
_TO_A_LEVEL = frozenset(("at", "in", "of", "the", "and", "or", "level", "disc"))
_AUXILIARIES = frozenset(("has", "have", "had", "is", "are", "was", "were", "does", "do", "did"))
_OF_ONE_NAMED = frozenset(("the", "this", "that", "these", "those", "its", "their"))
_THAT = frozenset(("this", "that"))
_CAUSES = frozenset(("bony", "osseous", "developmental", "ligamentous", "discogenic"))
_PARTLY_THERE = frozenset(
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
_GRADED = frozenset(
    ("pfirrmann_grade", "modified_pfirrmann_grade", "endplate_change", "schizas_grade", "meyerding_grade")
)
_EVERYWHERE = frozenset(("throughout", "everywhere", "elsewhere", "otherwise", "generally"))
_DASHES = frozenset(("-", "–", "—", "--"))
_GOES_ON = re.compile(r"CQ?W")
_RELATIVE = frozenset(("where", "which"))
_QUIET = 2
"""So many steps in a row may change the standing without using a letter."""
_CHANGES = frozenset("NnDd!?TtMCso>xquby")
"""Letters without which the status of every finding is plain."""


class Unread(NamedTuple):
    """A clause of which nothing is asserted: its findings, the tokens it spans, and why."""

    mentions: tuple[Mention, ...]
    start: int
    end: int
    reason: str
    level_only: bool


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


class Production(NamedTuple):
    """One step of reading a row of letters, from one standing to another."""

    id: str
    row: re.Pattern[str]
    to: str


@cache
def _productions() -> dict[str, tuple[Production, ...]]:
    data = clause_data()
    found: dict[str, list[Production]] = {}
    for row in data["status"]:
        pattern = row["row"]
        for name, letters in data["parts"].items():
            pattern = pattern.replace(f"{{{name}}}", letters)
        found.setdefault(row["from"], []).append(Production(row["id"], re.compile(pattern), row["to"]))
    return {name: tuple(rows) for name, rows in found.items()}


def unread(
    parts: Parts, levels: Sequence[Group], named: Sequence[Group], mentions: Sequence[Mention]
) -> list[Unread]:
    """List the clauses of a statement whose findings must not be asserted."""
    if not mentions or _is_plain(parts, levels, mentions):
        return []
    row = row_of(parts, levels, named, mentions)
    whole = (0, len(parts.words))
    lost = misplaced(parts, row, levels, mentions)
    some = _span_of(lost, parts) if 0 < len(lost) < len(mentions) else whole
    found = [_unread(lost, some, "levels", level_only=True)] if lost else []
    if "C" in row.letters and not levels:
        astray = [m for m in mentions if m.discs and m.placed != "heading"]
        found += [_unread(astray, whole, "beside", level_only=True)] if astray else []
    for beyond in _GOES_ON.finditer(row.letters):
        at = row.at[beyond.end() - 1]
        if parts.words[at] in _RELATIVE:  # "identical to L5-S1, where there is a protrusion"
            theirs = [m for m in mentions if m.start > at and m not in lost]
            found += [_unread(theirs, whole, "beside")] if theirs else []
            lost = [*lost, *theirs]
    if any(
        p.entry.kind == "beyond" and not _THAT.isdisjoint(parts.words[p.start : p.end]) for p in parts.places
    ):
        every = [m for m in mentions if m.discs == ALL]  # "below this, bulges at all levels"
        found += [_unread(every, whole, ">")] if every else []
        lost = [*lost, *every]
    today = [m for m in mentions if _is_of_today(m, parts)] if parts.mods else []
    found += [_unread(today, whole, "t")] if today else []
    either = [m for m in mentions if m.status == PRESENT and m.group is not None and m not in lost
              and not _OR.isdisjoint(parts.words[m.group.start : m.group.end])]  # fmt: skip
    found += [_unread(either, whole, "o")] if either else []
    today = [*today, *either]
    torn = _normal_and_not([m for m in mentions if m not in lost] if lost else mentions)
    found += [_unread(torn, whole, "both")] if torn else []
    gone = [m for m in _turned(parts.words, mentions) if m not in (*lost, *torn)]
    found += [_unread(gone, (gone[0].start, gone[-1].end), "t")] if gone else []
    torn = [*torn, *gone]
    split = [m for m in mentions if m not in (*lost, *torn) and _graded_and_denied(m)]
    found += [_unread(split, (split[0].start, split[-1].end), "F")] if split else []
    torn = [*torn, *split]
    dashed = [m for m in _denied_behind_a_dash(parts, mentions) if m not in (*lost, *torn)]
    found += [_unread(dashed, (dashed[0].start, dashed[-1].end), "f")] if dashed else []
    torn = [*torn, *dashed]
    besides = [
        m
        for m in mentions
        if m not in (*lost, *torn)
        and (
            _denied_but(m, mentions, parts)
            or _nor_has(m, parts)
            or _of_one_cause(m, parts)
            or _in_part(m, parts)
        )
    ]
    found += [_unread(besides, (besides[0].start, len(parts.words)), "f")] if besides else []
    torn = [*torn, *besides]
    throughout = [m for m in mentions if m not in (*lost, *torn) and _throughout(m, parts)]
    found += [_unread(throughout, whole, "levels")] if throughout else []
    torn = [*torn, *throughout]
    some_of = [m for m in mentions if m not in (*lost, *torn) and _some_denied(m, parts)]
    found += [_unread(some_of, (some_of[0].start, some_of[-1].end), "f")] if some_of else []
    torn = [*torn, *some_of]
    spare = [m for m in mentions if m not in (*lost, *torn) and _holds_another_grade(m, mentions, parts)]
    found += [_unread(spare, (spare[0].start, spare[-1].end), "s")] if spare else []
    torn = [*torn, *spare]
    beside_it = False
    for low, high in _clauses(row.letters):
        letters = row.letters[low:high]
        beside_it = "L" not in letters and (beside_it or ">" in letters)
        if beside_it and ">" not in letters:  # "the one above it is dark, but of normal height"
            ends = (row.at[low], row.at[high] if high < len(row.at) else len(parts.words))
            mine = [m for m in mentions if ends[0] <= m.start < ends[1] and m not in (*lost, *torn, *today)]
            found += [_unread(mine, ends, ">")] if mine else []
        elif not _CHANGES.isdisjoint(letters) and ("F" in letters or "f" in letters):
            stuck = _stuck(letters)
            if stuck is not None:
                at, since = stuck
                low += since
                ends = (row.at[low] if low else 0, row.at[high] if high < len(row.at) else len(parts.words))
                mine = [m for m in mentions if ends[0] <= m.start < ends[1] and m.kind != "known"]
                mine = [m for m in mine if m not in (*lost, *torn, *today)]
                found += [_unread(mine, ends, letters[at])] if mine else []
    return found


def _denied_but(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``No protrusion except a left foraminal one at L3-4``, ``no HIZ; possible one at L5-S1``: there it is not denied."""
    if m.status != ABSENT or m.group is None or m.group.start < m.end:
        return False
    if any(p.entry.kind == "exception" and m.end <= p.start for p in parts.places if p.start < m.group.start):
        return True
    between = parts.words[m.end : m.group.start]
    if ";" not in between or any(m.end <= k.start < m.group.start for k in mentions):
        return False
    return any(w[0].isalpha() and w not in _TO_A_LEVEL for w in between[between.index(";") :])


def _of_one_cause(m: Mention, parts: Parts) -> bool:
    """``No bony canal stenosis``: soft parts may narrow it all the same."""
    if m.status != ABSENT or not m.kind.endswith("_stenosis"):
        return False
    low = max((x.end for x in m.mods if x.entry.kind == "negation" and x.end <= m.start), default=m.start)
    return not _CAUSES.isdisjoint(parts.words[low : m.end])


def _in_part(m: Mention, parts: Parts) -> bool:
    """``Height preserved anteriorly``, ``slip not seen on flexion``: elsewhere, or in another view, it may be otherwise."""
    words = parts.words
    if m.status != ABSENT and m.value not in ("none", "absent"):
        return False
    ends = [m.end, *(x.end for x in m.mods if x.entry.kind == "negation" and x.start >= m.end)]
    if m.value in ("none", "absent") and any(
        w in _PARTLY_THERE for end in ends for w in words[end : end + 1]
    ):
        return True
    return any(
        words[end : end + 1] in (["on"], ["in"]) and not _VIEWS.isdisjoint(words[end + 1 : end + 2])
        for end in ends[1:]
    )


def _throughout(m: Mention, parts: Parts) -> bool:
    """``Pfirrmann 2 throughout, 4 at L5-S1``: a grade of all is not the one of the level behind it."""
    if m.group is None or m.group.start < m.end or m.kind not in _GRADED:
        return False
    return not _EVERYWHERE.isdisjoint(parts.words[m.end : m.group.start])


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


def _some_denied(m: Mention, parts: Parts) -> bool:
    """``Metastases: none new``, ``herniation: none large``: others may be there. Of fractures `fractures` knows it."""
    words = parts.words
    return m.kind != "fracture" and any(
        words[i] in _NONE and words[i + 1] in _SOME
        for i in range(m.start, min(m.end + _BEHIND, len(words) - 1))
    )


def _denied_behind_a_dash(parts: Parts, mentions: Sequence[Mention]) -> list[Mention]:
    """``No protrusion - large extrusion``, ``no bulge-extrusion``: what stands behind a dash may be asserted, unless it is denied there again."""
    found = []
    for a, b in itertools.pairwise(sorted(mentions, key=lambda m: m.start)):
        dash = next((i for i in range(a.end, b.start) if parts.words[i] in _DASHES), None)
        if dash is None and b.start in parts.hyphened and a.kind == b.kind and a.end == b.start:
            dash = b.start
        denials = [x for x in b.mods if x.entry.kind.startswith("negation")]
        if dash is not None and denials and all(x.end <= dash for x in denials):
            found.append(b)
    return found


@cache
def _watched() -> frozenset[str]:
    """List the words that may change what is said although no entry of the lexicon holds them."""
    words = clause_data()["words"]
    return frozenset(w for letter in words if letter in "ouRI;X" for w in words[letter].split())


def _is_plain(parts: Parts, levels: Sequence[Group], mentions: Sequence[Mention]) -> bool:
    """Say whether a statement has nothing to verify: one level at most, and no word that changes what is said."""
    if parts.mods or len(levels) > 1 or not _watched().isdisjoint(parts.words):
        return False
    if not (_PARTLY_THERE | _EVERYWHERE).isdisjoint(parts.words):
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
    return not _normal_and_not(mentions) and not _turned(parts.words, mentions)


@cache
def _taken_back() -> frozenset[str]:
    return frozenset(lexicon().spell(w) for w in clause_data()["taken_back"].split())


@cache
def _revokes() -> frozenset[str]:
    return frozenset(lexicon().spell(w) for w in clause_data()["revokes"].split())


def takes_back(parts: Parts) -> bool:
    """Say whether a statement only denies or ends what the one before it says: ``This has resolved.``"""
    told = _taken_back()
    if told.intersection(parts.words) and (told | _REFERS).issuperset(parts.words):
        return True
    if any((parts.heads, parts.acts, parts.objs, parts.known)):
        return False
    if not _revokes().isdisjoint(parts.words):  # "Dictation error, please ignore the preceding sentence."
        return True
    return any(
        x.entry.kind in _ENDS
        and x.entry.reach == "backward"
        and _REFERS.issuperset(parts.words[: x.start])
        and (parts.words[x.start] != "no" or x.end == len(parts.words))  # "No haematoma."
        for x in parts.mods
    )


def _is_of_today(m: Mention, parts: Parts) -> bool:
    """``Previously mild stenosis at L3-4, now severe at L4-5``: the later grade is none of an earlier time."""
    if m.severity_at is None:
        return False
    grade = m.severity_at[0]
    return any(
        x.entry.kind == "historical" and not _TODAY.isdisjoint(parts.words[x.end : grade]) for x in m.mods
    )


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


def _normal_and_not(mentions: Sequence[Mention]) -> list[Mention]:
    """List what calls a disc normal and what says in the same statement that it is displaced."""
    if len(mentions) < 2:
        return []
    rows = [m for m in mentions if m.kind == "displacement" and m.status == PRESENT]
    normal = [m for m in rows if m.value == "none"]
    if not normal:
        return []
    other = [m for m in rows if m.value != "none"]
    hit = [(n, x) for n in normal for x in other if set(n.discs) & set(x.discs)]
    return list(dict.fromkeys(m for pair in hit for m in pair))


def _graded_and_denied(m: Mention) -> bool:
    """``Foramina: mild left, no right narrowing``: a grade of one side and a denial of the other in one finding."""
    at = m.severity_at
    if at is None or not m.mods:
        return False
    inner = [x.start for x in m.mods if x.entry.kind == "negation" and m.start < x.start < m.end]
    return any(m.start < at[0] < start for start in inner)


def _holds_another_grade(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Foramina: mild right, moderate left stenosis``: a second grade within the words of one that no finding took."""
    if m.severity_at is None or not m.severity_graded:
        return False
    used = {x.severity_at for x in mentions}
    return any(
        m.start <= s and e <= m.end and v != m.severity and (s, e) not in used for s, e, v in parts.severities
    )


_ALSO_ELSE = frozenset(("change", "now"))


@cache
def _turns() -> frozenset[str]:
    return frozenset(map(lexicon().spell, clause_data()["turned"].split()))


def _turned(words: Sequence[str], mentions: Sequence[Mention]) -> list[Mention]:
    """List what has become another degree of itself: ``decrease of the extrusion, now a protrusion``, ``Modic 2, converted to 1``.

    Of anything but a displacement only the words that mean nothing else count ("Modic 1 changes and Modic 2").
    """
    if len(mentions) < 2:
        return []
    rows = [m for m in mentions if m.status == PRESENT and m.value != "none" and m.kind not in LASTING]
    return [
        a
        for a, b in itertools.pairwise(rows)
        if a.kind == b.kind
        and a.value != b.value
        and set(a.discs) & set(b.discs)
        and _tells_of_turning(words[a.end : b.start], a.kind)
    ]


def _tells_of_turning(words: Sequence[str], kind: str) -> bool:
    turns = _turns() if kind == "displacement" else _turns() - _ALSO_ELSE
    return not turns.isdisjoint(words) or ("change", "to") in itertools.pairwise(words)


def _clauses(letters: str) -> list[tuple[int, int]]:
    """Cut a row at stops and at words that turn against what was said."""
    cuts = [-1, *(m.start() for m in _STOP.finditer(letters)), len(letters)]
    return [(a + 1, b) for a, b in itertools.pairwise(cuts) if b > a + 1]


@lru_cache(maxsize=4096)
def _stuck(letters: str) -> tuple[int, int] | None:
    """Read a clause by the productions; nothing if all letters are used.

    Otherwise the letter at which none goes on, and from where on the clause is not understood: where a denial or a
    doubt does not end as it should, what was said before it stands; what something was done for says nothing of what
    was done; else all of the clause.
    """
    at, standing, left = 0, "open", 0
    productions = _productions()
    quiet = 0
    while at < len(letters):
        step = next(
            (
                (p, m.end())
                for p in productions[standing]
                for m in [p.row.match(letters, at)]
                if m is not None and (m.end() > at or p.to != standing)
            ),
            None,
        )
        if step is None or step[0].to == _REFUSED or quiet > _QUIET:
            if letters[at] in _PARTLY and standing != "open":
                return at, left
            return at, at if letters[at] == _PURPOSE else 0
        production, end = step
        quiet = quiet + 1 if end == at else 0
        if standing == "open" and production.to != "open":
            left = at
        at, standing = end, production.to
    return None
