"""What a passage of a letter that was not read may hold of danger: signs and medicines that nobody may overlook."""

from collections.abc import Collection
from functools import cache

from candidacy.case.catalogue import catalogue
from candidacy.reading.dangers import MATTERS, named
from candidacy.reading.letters.parts import Part, parts_of
from candidacy.reading.model import Account, Span

OF_OTHERS = ("of another person", "of the family", "perhaps of", "stands under the history of the family")
"""A passage unread for such a reason speaks of somebody else, or may."""
_CERTAINLY = tuple(why for why in OF_OTHERS if why != "perhaps of")


_UNKNOWN = "a medicine whose name is not known"
_TAKES = 3
"""So many words has a sentence at most that only says what is taken."""
_NAME = 4
"""Letters of the shortest word that may be a medicine's name."""


@cache
def dangerous_agents() -> frozenset[str]:
    """Agents that nobody may overlook, by the catalogue."""
    return frozenset(str(v) for d in catalogue()["medicine_agent"].danger for v in d.limits)


def with_danger(text: str, account: Account, section: str, denied: Collection[Span] = ()) -> Account:
    """Name the danger that a word in the part of a sentence that was not used would be a sign of, if there is one.

    A medicine whose name is not known may be any: that is told, too. What is certainly denied, and has no place in a record, is none.
    """
    if account.why.startswith(_CERTAINLY):
        return account
    missed = [span for span in account.missed if span not in denied]
    for span in missed:
        for part in parts_of(text, *span):
            danger = _danger(part)
            if danger:
                return account._replace(danger=danger)
    told = next((d for span in missed if (d := named(text[span.start : span.end], MATTERS))), "")
    if not told and any(unknown_medicine(parts_of(text, *span), section) for span in missed):
        told = _UNKNOWN
    return account._replace(danger=told) if told else account


def unknown_medicine(parts: list[Part], section: str) -> bool:
    """Say whether words tell of a medicine by its dose and how it is taken, or by their list, and its name is not known."""
    if any(p.role("medicines") for p in parts):
        return False
    names = [
        p for p in parts if p.kind == "phrase" and not p.roles and len(p.text) >= _NAME and p.text.isalpha()
    ]
    dosed = any(p.kind == "number" and p.unit in ("mg", "mcg") for p in parts)
    taken = any(p.role(n) for p in parts for n in ("frequency", "route", "as_needed", "taking"))
    alone = (
        len(names) == 1 and names[0].text.istitle() and len([p for p in parts if p.text.isalpha()]) <= _TAKES
    )
    return bool(names) and (
        (dosed and taken) or (section == "medicines" and (dosed or taken)) or (alone and _is_taken(parts))
    )


def _is_taken(parts: list[Part]) -> bool:
    """``On Xyz``, ``takes Xyz``: what a name in capitals behind such a word is, is open."""
    return bool(parts) and parts[0].text.lower() in ("on", "takes", "taking", "uses")


def _danger(part: Part) -> str:
    finding, drug = part.role("findings"), part.role("medicines")
    if drug is not None and drug.value in dangerous_agents():
        return str(drug.value).replace("_", " ")
    if finding is None:
        return ""
    named = [*finding.value.get("stated", ()), *finding.value.get("denied", ())]
    return next((catalogue()[name].label for name in named if catalogue()[name].danger), "")
