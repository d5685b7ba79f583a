"""Whether a decision has to be looked at again: what it rests on was changed, or its day has come."""

from dataclasses import dataclass
from datetime import date

from candidacy.foundation.dates import day
from candidacy.records.decisions import Decision, rule_set_changed
from candidacy.records.referral import Referral

_RULES = "The rule set "


@dataclass(frozen=True, slots=True)
class Again:
    """Why a decision is to be looked at again, a sentence each: ``changed`` since it was signed, ``due`` by its review day."""

    changed: tuple[str, ...]
    due: str

    @property
    def reasons(self) -> tuple[str, ...]:
        """All of them; empty where the decision rests on what is there now."""
        return (*self.changed, self.due) if self.due else self.changed


def look_again(referral: Referral, decision: Decision, today: date | None = None) -> Again:
    """What makes a decision to be looked at again.

    Its record, the assessment it was made on and that assessment's rule set are compared by digest with what is kept
    and in use now. A decision that was corrected is not looked at any more.
    """
    if decision.corrected_by:
        return Again((), "")
    changed = list(decision.changed)
    said, answer = decision.said, referral.answer
    library = rule_set_changed(said)
    if library:
        changed = [each for each in changed if not each.startswith(_RULES)] + [library]
    newer = answer is not None and said.assessment and answer.seq != said.assessment
    if newer and answer is not None and answer.said.document_digest and answer.said.rules == said.rules:
        changed.append(f"It was assessed again as entry {answer.seq}, as of {answer.said.as_of}: {answer.said.standing_name}.")
    due = bool(said.review_on) and day(said.review_on) <= (today or date.today())
    return Again(tuple(changed), f"Its review day, {said.review_on}, has come." if due else "")
