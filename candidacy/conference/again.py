"""Whether a decision has to be looked at again: what it rests on was changed, or its day has come."""

from datetime import date

from msgspec import Struct

from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError
from candidacy.records.decisions import Decision, InForce, rule_set_changed
from candidacy.records.referral import Referral
from candidacy.records.store import Store
from candidacy.rules.libraries import load_rule_set

_RULES = "The rule set "
_ANSWER = "It was assessed again since, with another answer"


class Again(Struct, frozen=True):
    """Why a decision is to be looked at again, a sentence each: ``changed`` since it was signed, ``due`` by its review day."""

    changed: tuple[str, ...]
    due: str

    @property
    def reasons(self) -> tuple[str, ...]:
        """All of them; empty where the decision rests on what is there now."""
        return (*self.changed, self.due) if self.due else self.changed


def look_again(
    referral: Referral, decision: Decision, in_force: InForce | None, today: date | None = None
) -> Again:
    """What makes a decision to be looked at again.

    Its record, the answer it was made on and that answer's rule set are compared by digest with what is kept and in use
    now. A decision that was corrected is not looked at any more.

    Parameters
    ----------
    in_force
        The same decision among those that none corrects; ``None`` where one does.
    """
    if decision.corrected_by or in_force is None:
        return Again((), "")
    changed = list(decision.changed)
    said, answer = decision.said, referral.answer
    library = rule_set_changed(said)
    if library:
        changed = [each for each in changed if not each.startswith(_RULES)] + [library]
    if not in_force.same_answer:
        last = (
            f": {answer.said.standing_name}" if answer is not None and answer.said.rules == said.rules else ""
        )
        changed.append(f"{_ANSWER}{last}.")
    return Again(tuple(changed), _due(said.review_on, today or date.today()))


def all_to_look_at(store: Store, today: date | None = None) -> tuple[tuple[InForce, Again], ...]:
    """Decisions that are to be looked at again, the last first; nothing is read of what they say."""
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
        if not each.same_answer:
            changed.append(f"{_ANSWER}.")
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
