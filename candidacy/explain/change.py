"""What differs between two assessments of a case: told after an edit, so that its effect is seen."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import SHOWN, STANDING_SYMBOLS


class Change(BaseModel):
    """One difference: of the case's standing, a disc's standing, or a criterion's outcome.

    ``before`` or ``after`` is empty where it did not exist then ("disc added"). ``before_words`` and ``after_words``
    say them as the rule sets do, ``symbol`` is that of the later one, and ``tone`` names its colour.
    """

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)

    kind: Literal["standing", "disc", "criterion"]
    subject: str
    id: str
    title: str
    before: str
    after: str
    before_words: str
    after_words: str
    symbol: str
    tone: str


def changes(before: AssessmentDocument, after: AssessmentDocument) -> list[Change]:
    """The differences, the standing of the case first, then discs, then criteria in reading order."""
    found: list[Change] = []
    old = (before.standing, before.standing_name, before.shown)
    new = (after.standing, after.standing_name, after.shown)
    if old != new:
        found.append(_standing("standing", "case", "Standing of the case", old, new))
    old_discs = {disc.level: (disc.standing, disc.standing_name, disc.shown) for disc in before.discs}
    new_discs = {disc.level: (disc.standing, disc.standing_name, disc.shown) for disc in after.discs}
    for level in dict.fromkeys((*old_discs, *new_discs)):
        was, now = old_discs.get(level, _ABSENT), new_discs.get(level, _ABSENT)
        if (was[0], was[2]) != (now[0], now[2]):
            found.append(_standing("disc", level, "Standing of the disc", was, now))
    outcomes = {(c.id, c.subject): c for c in before.criteria}
    same_discs = {"patient", *(set(old_discs) & set(new_discs))}
    for criterion in after.criteria:
        earlier = outcomes.get((criterion.id, criterion.subject))
        outcome = earlier.outcome if earlier else ""
        if outcome != criterion.outcome and criterion.subject in same_discs:
            symbol, word = SHOWN[criterion.shown]
            found.append(Change(kind="criterion", subject=criterion.subject, id=criterion.id, title=criterion.passing,
                                before=outcome, after=criterion.outcome,
                                before_words=SHOWN[earlier.shown][1] if earlier else "new",
                                after_words=word, symbol=symbol, tone=criterion.shown))  # fmt: skip
    return found


_ABSENT = ("", "", "")


def _standing(
    kind: Literal["standing", "disc"],
    subject: str,
    title: str,
    before: tuple[str, str, str],
    after: tuple[str, str, str],
) -> Change:
    return Change(kind=kind, subject=subject, id="", title=title, before=before[0], after=after[0],
                  before_words=before[1] or "new", after_words=after[1] or "new",
                  symbol=STANDING_SYMBOLS.get(after[2], ""), tone=after[2])  # fmt: skip
