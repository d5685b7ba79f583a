"""What two rule sets see alike in one case on one day, so that what was read for one serves the other."""

from msgspec import Struct

from candidacy.assessment.relate import Relations, aged_elements, relations_of
from candidacy.case.catalogue import catalogue
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import elements_of


class Alike(Struct, frozen=True):
    """How one rule set sees a case beside another one that was asked about it before.

    Attributes
    ----------
    otherwise
        Elements of which the two may see different facts, be it only by how often a fact is told.
    criteria
        Ids of the criteria of the rule set that read none of these, nor what is worked out under one rule set only.
    """

    otherwise: frozenset[str]
    criteria: frozenset[str]


def alike(rule_set: RuleSet, other: RuleSet) -> Alike | None:
    """What a rule set sees as another does; ``None`` where their relations or tables differ.

    Facts that no age matters of are told once only (see `View`), so those may differ whose age matters to one of the two, and
    whatever rests on them. Where settings differ, any formula may read one. The standing of a disc is each rule set's own.
    """
    relations = relations_of(rule_set)
    if relations is not relations_of(other) or rule_set.tables.digest != other.tables.digest:
        return None
    apart = {"disc_standing", *aged_elements(rule_set).symmetric_difference(aged_elements(other))}
    if rule_set.setting_values() != other.setting_values():
        apart.update(element.name for element in catalogue().all if element.derived)
    otherwise = _resting_on(apart, relations)
    same = frozenset(item.id for item in rule_set.criteria if otherwise.isdisjoint(_read(item)))
    return Alike(otherwise, same)


def _read(item: ResolvedCriterion) -> list[str]:
    recency = item.criterion.recency
    dated_by = [recency.dated_by] if recency is not None and recency.dated_by is not None else []
    return [*elements_of(*item.conditions), *dated_by]


def _resting_on(names: set[str], relations: Relations) -> frozenset[str]:
    """Elements and everything that they tell, however deep."""
    found, open_ = set[str](), list(names)
    while open_:
        name = open_.pop()
        if name not in found:
            found.add(name)
            open_ += relations.told_by.get(name, ())
    return frozenset(found)
