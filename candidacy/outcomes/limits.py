"""What the practice's own data says about each limit of a rule set, to stand beside the published spread; always masked."""

from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.document import grouped
from candidacy.outcomes.text import group_words
from candidacy.rules.outcome_files import number_of

CAUTION = "no proof: no comparison, nothing adjusted, many limits looked at"


def said_of_limits(found: Outcomes, identifier: str) -> dict[str, list[str]]:
    """Lines by criterion: response below and above each limit, by the definition that was declared.

    Nothing where none was declared, where it cannot be counted, or where no injection rested on the rule set.
    """
    if not found.declared or found.countable(found.declared):
        return {}
    below = int(number_of(found.running.mask_below))
    told: dict[str, list[str]] = {}
    for split in found.values_under(identifier):
        groups = [
            f"{row['group']}: {group_words(row)}" for row in grouped(found, split, found.declared, below)
        ]
        head = f"{found.definitions[found.declared].title}, at {found.visit.title.lower()}, by {split.parameter.replace('_', ' ')}"
        told.setdefault(split.criterion, []).append(f"{head}. {'; '.join(groups)} ({CAUTION}).")
    return told
