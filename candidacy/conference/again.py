"""Whether a decision has to be looked at again: what it rests on was changed, or its day has come."""

from dataclasses import dataclass
from datetime import date

from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError
from candidacy.records.decisions import Decision, InForce, rule_set_changed
from candidacy.records.referral import Referral
from candidacy.records.store import Store
from candidacy.rules.libraries import load_rule_set

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
        changed.append(
            f"It was assessed again as entry {answer.seq}, as of {answer.said.as_of}: {answer.said.standing_name}."
        )
    return Again(tuple(changed), _due(said.review_on, today or date.today()))


def all_to_look_at(store: Store, today: date | None = None) -> tuple[tuple[InForce, Again], ...]:
    """Decisions of conferences that are to be looked at again, the last first; nothing is read of what they say."""
    found = []
    rules: dict[str, str] = {}
    for each in store.in_force():
        changed = []
        if not each.same_record:
            changed.append(f"The record was version {each.version} and is version {each.now}.")
        if each.rules and each.rules not in rules:
            rules[each.rules] = _digest(each.rules)
        if each.rules and rules[each.rules] != each.rules_digest:
            changed.append(f"{_RULES}{each.rules} was changed.")
        again = Again(tuple(changed), _due(each.review_on, today or date.today()))
        if again.reasons:
            found.append((each, again))
    return tuple(found)


def _digest(rules: str) -> str:
    try:
        return load_rule_set(rules).digest
    except InputError:
        return ""


def _due(review_on: str, today: date) -> str:
    return f"Its review day, {review_on}, has come." if review_on and day(review_on) <= today else ""
