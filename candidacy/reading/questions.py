"""What a person has to settle before a reading can be used."""

from collections.abc import Sequence

from candidacy.reading.elements import mapping
from candidacy.reading.model import (
    ABSENT,
    BODY,
    HISTORICAL,
    POSSIBLE,
    PRESENT,
    Contradiction,
    Finding,
    Question,
    Span,
)

WHICH_DISC = "which disc?"
ELSEWHERE = "more than half of what was read stands under {section}: is it of this study?"


def questions(findings: Sequence[Finding], disagreeing: Sequence[Contradiction]) -> tuple[Question, ...]:
    """List what a person has to settle: findings outside the body of the report, or without a disc, or at odds."""
    out: list[Question] = []
    told = [f for f in findings if f.statement >= 0 and f.status in (PRESENT, ABSENT, POSSIBLE, HISTORICAL)]
    elsewhere = [f for f in told if f.section not in BODY]
    if 2 * len(elsewhere) > len(told):
        sections = " and ".join(dict.fromkeys(f.section for f in elsewhere))
        out.append(Question(ELSEWHERE.format(section=sections), "", "", tuple(elsewhere)))
    kinds = mapping()["disc"]
    homeless: dict[tuple[str, Span], Finding] = {}
    for f in findings:
        said = f.section in BODY and f.status in (PRESENT, POSSIBLE) and f.value not in ("none", "absent")
        if said and not f.disc and f.placed != "report" and f.kind in kinds:
            homeless.setdefault((f.kind, f.evidence), f)
    out += [Question(WHICH_DISC, "", f.kind, (f,)) for f in homeless.values()]
    return (*out, *(Question(c.about, c.disc, c.kind, c.findings) for c in disagreeing))
