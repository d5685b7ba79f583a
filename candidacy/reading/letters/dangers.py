"""What a passage of a letter that was not read may hold of danger: signs and medicines that nobody may overlook."""

from functools import cache

from candidacy.case.catalogue import catalogue
from candidacy.reading.dangers import MATTERS, named
from candidacy.reading.letters.parts import Part, parts_of
from candidacy.reading.model import Account

OF_OTHERS = ("of another person", "of the family", "perhaps of", "stands under the history of the family")
"""A passage unread for such a reason speaks of somebody else, or may."""
_CERTAINLY = tuple(why for why in OF_OTHERS if why != "perhaps of")


@cache
def dangerous_agents() -> frozenset[str]:
    """Agents that nobody may overlook, by the catalogue."""
    return frozenset(str(v) for d in catalogue()["medicine_agent"].danger for v in d.limits)


def with_danger(text: str, account: Account) -> Account:
    """Name the danger that a word in the part of a sentence that was not used would be a sign of, if there is one."""
    if account.why.startswith(_CERTAINLY):
        return account
    for span in account.missed:
        for part in parts_of(text, *span):
            danger = _danger(part)
            if danger:
                return account._replace(danger=danger)
    told = next((d for span in account.missed if (d := named(text[span.start : span.end], MATTERS))), "")
    return account._replace(danger=told) if told else account


def _danger(part: Part) -> str:
    finding, drug = part.role("findings"), part.role("medicines")
    if drug is not None and drug.value in dangerous_agents():
        return str(drug.value).replace("_", " ")
    if finding is None:
        return ""
    named = [*finding.value.get("stated", ()), *finding.value.get("denied", ())]
    return next((catalogue()[name].label for name in named if catalogue()[name].danger), "")
