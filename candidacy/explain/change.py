"""What differs between two assessments of a case: told after an edit, so that its effect is seen."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.document import AssessmentDocument


class Change(BaseModel):
    """One difference: of the case's standing, a disc's standing, or a criterion's outcome.

    ``before`` or ``after`` is empty where it did not exist then ("disc added").
    """

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    kind: Literal["standing", "disc", "criterion"]
    subject: str
    id: str
    title: str
    before: str
    after: str


def changes(before: AssessmentDocument, after: AssessmentDocument) -> list[Change]:
    """The differences, the standing of the case first, then discs, then criteria in reading order."""
    found: list[Change] = []
    if before.standing != after.standing:
        found.append(Change(kind="standing", subject="case", id="", title="Standing of the case",
                            before=before.standing, after=after.standing))  # fmt: skip
    old_discs = {disc.level: disc.standing for disc in before.discs}
    new_discs = {disc.level: disc.standing for disc in after.discs}
    for level in dict.fromkeys((*old_discs, *new_discs)):
        old, new = old_discs.get(level, ""), new_discs.get(level, "")
        if old != new:
            found.append(
                Change(kind="disc", subject=level, id="", title="Standing of the disc", before=old, after=new)
            )
    outcomes = {(c.id, c.subject): c.outcome for c in before.criteria}
    same_discs = {"patient", *(set(old_discs) & set(new_discs))}
    for criterion in after.criteria:
        was = outcomes.get((criterion.id, criterion.subject), "")
        if was != criterion.outcome and criterion.subject in same_discs:
            found.append(Change(kind="criterion", subject=criterion.subject, id=criterion.id, title=criterion.title,
                                before=was, after=criterion.outcome))  # fmt: skip
    return found
