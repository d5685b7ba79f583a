"""What a statement holds while it is being read: its matches by role, severity words, and mentions in the making."""

import copy
from typing import Any, NamedTuple

from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import grammar, lexicon

COPULA = grammar("copula")
_LINKS = COPULA | {","}
LASTING = frozenset(
    (
        "fracture",
        "prior_surgery",
        "implant",
        "tumour",
        "infection",
        "transitional",
        "cauda_equina_compression",
    )
)
"""Kinds of finding that stay true of the patient when they are told as past."""
_MOST = "severe"
_SEV_STOP = grammar("severity_stop")
_BEHIND = grammar("list") | {"<disc>", ":", "(", "of", "-", "–"}


class Severity(NamedTuple):
    """Severity words as a half-open range of tokens, with the lowest and highest grade they name."""

    start: int
    end: int
    value: tuple[str, ...]


class Mention:
    """One finding being put together; positions are token positions of its statement."""

    status = "present"
    severity: tuple[str, ...] = ()
    severity_at: tuple[int, int] | None = None
    severity_graded = False
    sides: tuple[str, ...] = ()
    scope = "disc"
    also: tuple[str, ...] = ()
    mods: tuple[Match, ...] = ()
    attributes: tuple[Match, ...] = ()
    beside: tuple[tuple[int, int], ...] = ()
    """Tokens of other things that the same word is said of: what stands there describes those."""
    discs: tuple[str, ...] = ()
    group: Group | None = None
    placed = ""
    obj = ""
    size: Any = None
    """Its own measurement, where the statement gives each level one."""

    def __init__(self, kind: str, value: Any, start: int, end: int, rule: str) -> None:
        self.kind, self.value, self.start, self.end, self.rule = kind, value, start, end, rule

    def set_severity(self, found: Severity | None) -> None:
        """Take over severity words; a graded finding takes its value from them."""
        if found is not None:
            self.severity, self.severity_at = found.value, (found.start, found.end)
        if self.severity_graded:
            self.value = self.severity or "present"

    def copy(self) -> "Mention":
        """Make a second mention of the same words, to be placed elsewhere."""
        return copy.copy(self)


class Parts:
    """The matches of one statement, sorted by what they do; ``matches`` are all, in the order of the text.

    ``bare`` are the positions of the words that none of them holds, once they were asked for; ``several`` says that the
    text, of which ``words`` keep the singular, speaks of discs or levels in the plural; ``hyphened`` are the words that a
    hyphen without blanks ties to the one before, ``predicates`` those of which the form says something of a thing before them.
    """

    __slots__ = (
        "acts",
        "attributes",
        "bare",
        "heads",
        "hyphened",
        "known",
        "matches",
        "mods",
        "objs",
        "places",
        "predicates",
        "several",
        "severities",
        "words",
    )

    def __init__(self, words: list[str], matches: list[Match]) -> None:
        self.words = words
        self.matches = matches
        self.bare: tuple[int, ...] | None = None
        self.several = False
        self.hyphened: frozenset[int] = frozenset()
        self.predicates: frozenset[int] = frozenset()
        self.heads: list[Match] = []
        self.acts: list[Match] = []
        self.objs: list[Match] = []
        self.mods: list[Match] = []
        self.places: list[Match] = []
        self.attributes: list[Match] = []
        self.known: list[Match] = []
        self.severities: list[tuple[int, int, tuple[str, ...]]] = []
        bins = {
            "findings": self.heads,
            "actions": self.acts,
            "objects": self.objs,
            "modifiers": self.mods,
            "places": self.places,
            "attributes": self.attributes,
            "known": self.known,
        }
        for m in matches:
            group = m.entry.group
            if group == "severity":
                self._severity(m)
            else:
                bins[group].append(m)

    def _severity(self, m: Match) -> None:
        """Join ``mild to moderate`` into one range; ``at least moderate`` is one too."""
        value = (str(m.entry.value),)
        if self.words[max(0, m.start - 2) : m.start] == ["at", "least"] and value[0] != _MOST:
            self.severities.append((m.start - 2, m.end, (value[0], _MOST)))
            return
        if self.severities:
            start, end, last = self.severities[-1]
            gap = self.words[end : m.start]
            if gap in ([], ["to"], ["-"], ["–"], ["/"], ["or"]) and len(last) == 1:
                low, high = sorted((last[0], value[0]), key=lexicon().severities.index)
                self.severities[-1] = (start, m.end, (low, high) if low != high else (low,))
                return
        self.severities.append((m.start, m.end, value))


def severity_before(parts: Parts, at: int, floor: int) -> Severity | None:
    """Find the severity word of the noun phrase that begins at a token, looking left no further than ``floor``."""
    if not parts.severities:
        return None
    words = parts.words
    for start, end, value in reversed(parts.severities):
        if end > at:
            continue
        if start < floor or at - end > 5:
            return None
        gap = words[end:at]
        if gap and gap[0] == ",":
            if _said_of_another(parts, start):
                return None
            gap = gap[1:]
        if not _SEV_STOP.isdisjoint(gap):
            return None
        if any(end <= h.start < at and not another(h, words) for h in parts.heads):
            return None
        return Severity(start, end, value)
    return None


def _said_of_another(parts: Parts, at: int) -> bool:
    """``the bulge is mild, canal stenosis severe``: a grade behind what it is said of is none of what follows."""
    for rows in (parts.heads, parts.acts):
        for row in rows:
            if row.end <= at and _LINKS.issuperset(parts.words[row.end : at]):
                return True
    return False


def another(head: Match, words: list[str]) -> bool:
    """Say whether a head names another thing here: ``degenerative disc`` in "degenerative disc space narrowing"."""
    return head.end < len(words) and words[head.end] in head.entry.not_before


def severity_after(parts: Parts, at: int) -> Severity | None:
    """Find a severity said after the words: ``stenosis is moderate``, ``stenosis (mild)``, ``stenosis, severe``."""
    if not parts.severities:
        return None
    words = parts.words
    for start, end, value in parts.severities:
        if start < at:
            continue
        gap = words[at:start]
        if "<disc>" in gap and _BEHIND.issuperset(gap) and words[end : end + 1] in ([], [";"], [")"], ["."]):
            return Severity(start, end, value)  # "disc space narrowing: L5-S1, severe"
        if not gap and words[end : end + 1] in ([], [","], [";"], [")"], ["."]):
            return Severity(start, end, value)  # "canal stenosis mild, foramina patent"
        if len(gap) > 3 or not gap:
            return None
        if COPULA.issuperset(gap) or gap == [","] or gap == [",", "now"]:
            following = words[end : end + 1]
            if (
                gap == [","]
                and following
                and following[0] not in (",", ".", ";", "at", "on", "and", "<disc>")
            ):
                return None
            nxt = next((m.start for m in (*parts.objs, *parts.heads, *parts.acts) if m.start >= end), None)
            if (
                nxt is not None
                and nxt - end <= 2
                and ("is" not in gap and "are" not in gap and "(" not in gap)
            ):
                return None
            return Severity(start, end, value)
        return None
    return None
