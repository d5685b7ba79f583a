"""What a passage of a letter that was not read may hold of danger: signs and medicines that nobody may overlook."""

from functools import cache

from candidacy.case.catalogue import catalogue
from candidacy.reading.letters.parts import Part, parts_of
from candidacy.reading.model import Account

OF_OTHERS = ("of another person", "of the family", "perhaps of", "stands under the history of the family")
"""A passage unread for such a reason speaks of somebody else."""


@cache
def dangerous_agents() -> frozenset[str]:
    """Agents that nobody may overlook, by the catalogue."""
    return frozenset(str(v) for d in catalogue()["medicine_agent"].danger for v in d.limits)


def with_danger(text: str, account: Account) -> Account:
    """Name the danger that a word in the part of a sentence that was not used would be a sign of, if there is one."""
    if account.why.startswith(OF_OTHERS):
        return account
    for span in account.missed:
        for part in parts_of(text, *span):
            danger = _danger(part)
            if danger:
                return account._replace(danger=danger)
    return account


def _danger(part: Part) -> str:
    finding, drug = part.role("findings"), part.role("medicines")
    if drug is not None and drug.value in dangerous_agents():
        return str(drug.value).replace("_", " ")
    if finding is None:
        return ""
    named = [*finding.value.get("stated", ()), *finding.value.get("denied", ())]
    return next((catalogue()[name].label for name in named if catalogue()[name].danger), "")
