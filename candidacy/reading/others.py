"""Which discs are meant by ``all lumbar levels`` and ``the other discs``, once everything else is known."""

import re
from collections.abc import Sequence

from candidacy.reading.directions import ALL
from candidacy.reading.groups import LUMBOSACRAL, OTHERS
from candidacy.reading.levels import LUMBAR, LUMBAR_SIX
from candidacy.reading.model import POSSIBLE, PRESENT, Finding
from candidacy.reading.singled import COUNTED_NAMES, spelled

_SIX = re.compile(r"\bL\s?-?6\b|\b(?:six|6)\s+(?:non[\s-]?rib[\s-]?bearing\s+)?lumbar", re.IGNORECASE)


def spelled_out(findings: list[Finding], text: str, named: set[str], astray: bool) -> list[Finding]:
    """Spell out ``all lumbar levels`` and ``the other discs`` once everything else is known.

    Which discs are the others is open where something was said of one that cannot be told.
    """
    if not any(disc.startswith("*") for disc in {f.disc for f in findings}):
        return findings
    every = LUMBAR_SIX if _SIX.search(text) else LUMBAR
    lowest = every[-1]
    findings = [f._replace(disc=lowest) if f.disc == LUMBOSACRAL[0] else f for f in findings]
    if LUMBOSACRAL[0] in named:
        named = named | {lowest}
    named = {d for name in named for d in (spelled(name, every) if name in COUNTED_NAMES else (name,))}
    findings = _counted_out(findings, every)
    described = {f.disc for f in findings} | named
    out: list[Finding] = []
    for f in findings:
        if f.disc == ALL[0]:
            out += [f._replace(disc=d) for d in every]
        elif f.disc == OTHERS[0] and (astray or _homeless(findings, f)):
            out.append(f._replace(disc="", placed="left_out", place=None))
        elif f.disc == OTHERS[0]:
            out += [f._replace(disc=d) for d in every if d not in described]
        else:
            out.append(f)
    return out


def _counted_out(findings: list[Finding], every: Sequence[str]) -> list[Finding]:
    """Spell out discs counted from one end; where the lowest vertebra is of another sort, which they are is open."""
    unusual = any(f.kind == "transitional" and f.status in (PRESENT, POSSIBLE) for f in findings)
    out: list[Finding] = []
    for f in findings:
        if f.disc not in COUNTED_NAMES:
            out.append(f)
        elif unusual:
            out.append(f._replace(disc="", placed="left_out", place=None))
        else:
            out += [f._replace(disc=d) for d in spelled(f.disc, every)]
    return out


def _homeless(findings: Sequence[Finding], others: Finding) -> bool:
    """Say whether a finding of the same kind stands before without its disc: it may be of one of "the others"."""
    return any(
        f.statement < others.statement
        and f.section == others.section
        and f.kind == others.kind
        and f.status in (PRESENT, POSSIBLE)
        and not f.disc
        and f.placed in ("unplaced", "left_out")
        for f in findings
    )
