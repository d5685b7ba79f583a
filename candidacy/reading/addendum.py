"""Addenda: where they stand, and what holds where one says something else than the body of the report.

An addendum that says so ("should read") replaces what the report said of the same thing; any other difference is a
conflict, which nobody resolves here.
"""

import itertools
import re
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import discs_in
from candidacy.reading.model import (
    ABSENT,
    NOT_READ,
    POSSIBLE,
    PRESENT,
    Account,
    Contradiction,
    Finding,
    Mark,
    Span,
    Statement,
)
from candidacy.reading.turns import turn_in

_HEADED = re.compile(r"(?:^|[.;!?\n])[ \t]*(?P<head>[A-Za-z][A-Za-z ]*?)[ \t]*:\s*$")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}/\d{1,2}/(?:\d{4}|\d{2})")
_ADDS = re.compile(r"late|add", re.IGNORECASE)
"""So begins what names an addendum; what names a correction may be of anything: ``correction of scoliosis``."""
_LONGEST = 100
_MOST = 50
"""Addenda of one report; what follows a further heading belongs to the last one."""
_BODY = ("findings", "impression")
_SAID = (PRESENT, ABSENT, POSSIBLE)
_OF_STUDY = ""
DIFFER = "body and addendum differ"
CORRECTION = "correction"
"""The region of the words that correct."""
REPLACED = "an addendum replaces it"
LEVELS_WRONG = "an addendum says that levels were taken for others"
LEVELS_MOVED = "the report says that levels were numbered wrongly"
_OF_BEFORE = re.compile(r"\b(?:prior|previous|previously|earlier|outside|old|last)\b", re.IGNORECASE)
UNREAD = "an addendum corrects something here in words that were not read"


class Settled(NamedTuple):
    """What holds after the addenda were heard."""

    findings: list[Finding]
    replaced: tuple[Finding, ...]
    contradictions: tuple[Contradiction, ...]
    marks: tuple[Mark, ...]


def addenda(text: str, rows: Sequence[Statement]) -> tuple[Span, ...]:
    """Find the addenda of a report: each from its heading to the next one, to where the report begins, or to the end."""
    words = gate_words()
    if text.isascii():
        low = text.lower()
        if not any(p in low for p in words.addendum_pieces):
            return ()
    if words.any_addendum.search(text) is None:
        return ()
    starts = [m.start() for m in words.addendum.finditer(text)][:_MOST]
    out: list[Span] = []
    for start, after in itertools.zip_longest(starts, starts[1:], fillvalue=len(text)):
        end = after
        behind = sum(r.section in _BODY and r.end <= start for r in rows) > 1
        for m in words.addendum_over.finditer(text, start + 1, after):
            if not behind or words.any_addendum.search(m[0]):
                end = m.start()
                break
        out.append(Span(start, end))
    return tuple(out)


def apart(text: str, rows: Sequence[Statement], spans: Sequence[Span]) -> list[Statement]:
    """Cut a correction in three: what was said, the words that correct it, and what holds; each is read by itself."""
    if not spans:
        return list(rows)
    out: list[Statement] = []
    for row in rows:
        said = (
            [*gate_words().corrects.finditer(text, row.start, row.end)]
            if any(s.start <= row.start < s.end for s in spans)
            else []
        )
        if not said or row.region in NOT_READ:
            out.append(row)
            continue
        turn = said[-1]  # "Correction: L4-5 should read L5-S1": what holds stands behind the last of them
        pieces = ((row.start, turn.start()), (turn.start(), turn.end()), (turn.end(), row.end))
        for order, (start, end) in enumerate(pieces):
            while start < end and not text[start].isalnum():
                start += 1
            if start < end:
                region = CORRECTION if order == 1 else row.region
                piece = row._replace(start=start, end=end, region=region, order=row.order + order)
                out.append(piece._replace(fresh=row.fresh and not order))
    return out


def settle(
    text: str, rows: Sequence[Statement], findings: Sequence[Finding], spans: Sequence[Span]
) -> Settled:
    """Let each addendum replace what it says it replaces, and raise where it only differs."""
    marks: list[Mark] = []
    contradictions: list[Contradiction] = []
    replaced: list[Finding] = []
    kept = list(findings)
    for span in spans:
        heading = text[span.start : span.end].strip().splitlines()[0].strip()[:_LONGEST]
        day = _DAY.search(heading) or _DAY.search(text, span.start, min(span.end, span.start + 2 * _LONGEST))
        dated = f" of {day[0]}" if day is not None else ", undated"
        marks.append(Mark("addendum", f"it has an addendum{dated}: what it says is kept apart from the report's body",
                          span=Span(span.start, min(span.end, span.start + len(heading)))))  # fmt: skip
        inside = [n for n, r in enumerate(rows) if span.start <= r.start < span.end]
        corrected: set[int] = set()
        for n in inside:
            if rows[n].region != CORRECTION or n in corrected:
                continue
            turn = rows[n].start
            scope = _scope(rows, inside, n, kept)
            corrected |= scope
            after = [f for f in kept if f.statement in scope and f.evidence.start >= turn]
            before = [f for f in kept if f.statement in scope and f.evidence.start < turn]
            if any(f.section != _OF_STUDY for f in after):
                targets, named = {(f.disc, family(f.kind)) for f in (*after, *before)}, set[str]()
                if not before:  # "L4-5 was dictated in error; the protrusion is at L5-S1"
                    named = _named(text, rows, {k for k in scope if rows[k].start < turn})
                    targets |= {(d, family(f.kind)) for d in named for f in after}
                if not any(d for d, _ in targets) if before else not named:
                    # "Item 1 should read ...", "the fissure should read bulge": which of them, is not told
                    contradictions += _one_of(kept, span, targets)
                old = [f for f in kept if f in before or (
                    not _within(f, span) and f.section != _OF_STUDY and (f.disc, family(f.kind)) in targets)]  # fmt: skip
                replaced += old
                kept = [f for f in kept if f not in old]
            else:
                found, mark = _not_read(text, rows, scope, kept, span)
                contradictions += found
                marks += mark
                wrong = [f for f in before if f.disc or f.statement == n - 1]
                replaced += wrong  # what it calls wrong is not said by the report
                kept = [f for f in kept if f not in wrong]
        contradictions += _differences(kept, span, corrected)
        if gate_words().levels_wrong.search(text, span.start, span.end):
            body = [f for f in kept if f.disc and f.section != _OF_STUDY and not _within(f, span)]
            replaced += body
            kept = [f for f in kept if f not in body]
            contradictions += _no_level([*body, *kept])
    return Settled(kept, tuple(replaced), tuple(contradictions), tuple(marks))


def unread(
    text: str, accounts: Sequence[Account], known: Sequence[Span], findings: Sequence[Finding]
) -> tuple[Contradiction, ...]:
    """Make doubtful what is said of every disc where a sentence outside the addenda opens like one and was not read.

    The same where a sentence says that the levels were numbered wrongly, and not those of an earlier report.
    """
    words = gate_words().any_addendum
    wrong = gate_words().levels_wrong.search(text)
    for a in accounts if wrong is not None else ():
        sentence = text[a.span.start : a.span.end]
        told = a.statement >= 0 and not any(s.start <= a.span.start < s.end for s in known)
        if told and gate_words().levels_wrong.search(sentence) and not _OF_BEFORE.search(sentence):
            return tuple(c._replace(about=LEVELS_MOVED) for c in _no_level(findings))
    for a in accounts:
        outside = a.missed and a.statement >= 0 and not any(s.start <= a.span.start < s.end for s in known)
        turn = turn_in(text, a.span.start, a.span.end) if outside and a.findings else None
        if turn is not None and all(turn.start <= s.start and s.end <= turn.end for s in a.missed):
            continue  # all but the words that correct was read: `corrected` tells what they may replace
        headed = _HEADED.search(text, max(0, a.span.start - _LONGEST), a.span.start) if outside else None
        opens = (
            words.match(text, headed.start("head") if headed else a.span.start, a.span.end)
            if outside
            else None
        )
        if opens is not None and (_ADDS.match(opens[0]) or turn_in(text, opens.start(), a.span.end)):
            return tuple(c._replace(about=UNREAD) for c in _no_level(findings))
    return ()


def told(ledger: Sequence[Account], kept: int) -> tuple[Account, ...]:
    """Say of sentences that were used for findings beyond the first ``kept`` ones that these were replaced."""
    out: list[Account] = []
    for account in ledger:
        left = tuple(n for n in account.findings if n < kept)
        if len(left) < len(account.findings):
            account = account._replace(findings=left, why=account.why or REPLACED)
        out.append(account)
    return tuple(out)


def _within(f: Finding, span: Span) -> bool:
    return span.start <= f.evidence.start < span.end


def family(kind: str) -> str:
    """Give the thing that a kind of finding is of: the size or place of a displaced disc is of its displacement."""
    return "displacement" if kind.startswith("displacement") else kind


def _scope(rows: Sequence[Statement], inside: list[int], n: int, findings: Sequence[Finding]) -> set[int]:
    """The statements a correction reaches: those of its line, and of the next where its line only announces it."""
    line = {k for k in inside if rows[k].line == rows[n].line}
    if not any(f.statement in line for f in findings):
        line |= {k for k in inside if rows[k].line == rows[n].line + 1}
    return line


def _named(text: str, rows: Sequence[Statement], scope: set[int]) -> set[str]:
    """Give the discs that some statements name."""
    return {d for n in scope for d in discs_in(text, rows[n].start, rows[n].end)}


def _not_read(
    text: str, rows: Sequence[Statement], scope: set[int], kept: Sequence[Finding], span: Span
) -> tuple[list[Contradiction], list[Mark]]:
    """A correction that was not understood makes doubtful what the report says of the discs it names.

    Of all discs, where it names none or speaks of levels or sides: which one is meant then is what it corrects.
    """
    discs = _named(text, rows, scope)
    of_levels = gate_words().of_levels
    if not discs or any(of_levels.search(text, rows[k].start, rows[k].end) for k in scope):
        discs = {f.disc for f in kept if f.disc}
    first = rows[min(scope)]
    mark = Mark("addendum_unread", "an addendum corrects the report in words that were not read", span=first.span,
                next_step="read the addendum")  # fmt: skip
    found: list[Contradiction] = []
    for disc in sorted(discs):
        rows_of = [f for f in kept if f.disc == disc and not _within(f, span)]
        for kind in dict.fromkeys(f.kind for f in rows_of):
            found.append(Contradiction(UNREAD, disc, kind, tuple(f for f in rows_of if f.kind == kind)))
    return found, [mark]


def _one_of(kept: Sequence[Finding], span: Span, told: set[tuple[str, str]]) -> list[Contradiction]:
    """Make doubtful what the body says of the same things at other discs, where a correction does not tell what it replaces."""
    things = {family for _, family in told}
    by: dict[tuple[str, str], list[Finding]] = {}
    for f in kept:
        meant = f.disc and family(f.kind) in things and (f.disc, family(f.kind)) not in told
        if meant and f.section != _OF_STUDY and not _within(f, span):
            by.setdefault((f.disc, f.kind), []).append(f)
    return [Contradiction(UNREAD, disc, kind, tuple(rows)) for (disc, kind), rows in by.items()]


def _no_level(kept: Sequence[Finding]) -> list[Contradiction]:
    """Make doubtful what is said of every disc: levels were taken for others, and only a person can tell which."""
    by: dict[tuple[str, str], list[Finding]] = {}
    for f in kept:
        if f.disc and f.section != _OF_STUDY:
            by.setdefault((f.disc, f.kind), []).append(f)
    return [Contradiction(LEVELS_WRONG, disc, kind, tuple(rows)) for (disc, kind), rows in by.items()]


def _differences(kept: Sequence[Finding], span: Span, corrected: set[int]) -> list[Contradiction]:
    new = [f for f in kept if _within(f, span) and f.statement not in corrected and f.status in _SAID]
    old = [f for f in kept if not _within(f, span) and f.status in _SAID and f.section != _OF_STUDY]
    out: list[Contradiction] = []
    for disc, kind in dict.fromkeys((f.disc, f.kind) for f in new if f.section != _OF_STUDY):
        here = [f for f in new if (f.disc, f.kind) == (disc, kind)]
        there = [f for f in old if f.kind == kind and (f.disc == disc or (not f.disc and f.status == ABSENT))]
        if there and not all(any(_agree(f, g) for g in there) for f in here):
            out.append(Contradiction(DIFFER, disc, kind, (*there, *here)))
    return out + _other_sides(new, old)


def _other_sides(new: Sequence[Finding], old: Sequence[Finding]) -> list[Contradiction]:
    """``The extrusion is on the right``, of no disc: where the report tells of such ones on the other side alone."""
    out: list[Contradiction] = []
    for f in new:
        like = [g for g in old if g.disc and (g.kind, g.value) == (f.kind, f.value) and g.sides]
        if not f.disc and f.sides and not any(set(f.sides) & set(g.sides) for g in like):
            out += [Contradiction(DIFFER, g.disc, g.kind, (g, f)) for g in like]
    return out


def _agree(new: Finding, old: Finding) -> bool:
    """Whether one says the other again, as fully or less so."""
    same = (new.value, new.status) == (old.value, old.status)
    graded = not new.severity or not old.severity or new.severity == old.severity
    return same and graded and (not new.sides or not old.sides or new.sides == old.sides)
