"""What differs between two rule sets, of whatever origin: criteria, forces, numbers with reason and source, and the rest.

Both are compared as they are used, after everything they inherit and change has been worked out.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Literal, TypeVar

from candidacy.explain.build import rule_sentence
from candidacy.explain.cited import citation_info, parameter_info
from candidacy.explain.cited_document import CitationInfo
from candidacy.explain.flat import ChangedText, ContentDifference, Part, changed_texts, plain
from candidacy.rules.cited import Citation, Table
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.replacing import Replacement
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter, RuleSet
from candidacy.rules.vocabulary import GROUPS

_Item = TypeVar("_Item")


class RuleSetInfo(Part):
    """One of the two rule sets; ``extends`` names the one it starts from."""

    id: str
    version: str
    title: str
    status: str
    digest: str
    extends: str | None
    trial: list[str]


class ValueInUse(Part):
    """A value as one rule set uses it; without ``reason`` it is the default of the criterion or setting."""

    value: str
    reason: str
    cites: list[CitationInfo]


class ChangedValue(Part):
    """A parameter, setting or force that differs; ``None`` on the side that does not have it."""

    name: str
    meaning: str
    before: ValueInUse | None
    after: ValueInUse | None


class CriterionDifference(Part):
    """A criterion that only one of the two uses, or that both use differently.

    ``rule`` is its condition in words, with the values in use after, or before where only that one uses it. ``reason`` is
    that of the rule set which leaves it out. ``texts`` are differences of what the criterion itself says, where the
    two have different files of one id.
    """

    id: str
    title: str
    group: str
    change: Literal["added", "removed", "changed"]
    force: str
    rule: str
    reason: str
    forces: ChangedValue | None
    parameters: list[ChangedValue]
    texts: list[ChangedText]


class RuleSetDifference(Part):
    """Everything that differs from one rule set to another.

    Attributes
    ----------
    identical
        Whether both have the same digest: the same content in the same words.
    about
        What the rule sets say of themselves, and the order of their criteria.
    criteria
        In the order of the headings of every explanation; those of the group ``report`` are what a report must state.
    elements
        Data elements that are not shipped, or replace shipped ones.
    replaced
        What stands in the place of shipped content, with its reason.
    """

    schema_version: Literal["1"]
    before: RuleSetInfo
    after: RuleSetInfo
    identical: bool
    about: list[ChangedText]
    criteria: list[CriterionDifference]
    settings: list[ChangedValue]
    decisions: list[ContentDifference]
    companions: list[ContentDifference]
    tables: list[ContentDifference]
    relations: list[ContentDifference]
    elements: list[ContentDifference]
    sources: list[ContentDifference]
    replaced: list[ContentDifference]

    def to_json(self) -> str:
        """The difference as JSON text."""
        return self.model_dump_json(indent=2) + "\n"


def rule_set_difference(before: RuleSet, after: RuleSet) -> RuleSetDifference:
    """Tell what differs from one rule set to another.

    Raises
    ------
    RuleError
        If a table of either cannot be loaded.
    """
    return RuleSetDifference(
        schema_version="1",
        before=_info(before),
        after=_info(after),
        identical=before.digest == after.digest,
        about=_about(before, after),
        criteria=_criteria(before, after),
        settings=_values(before.settings, after.settings),
        decisions=_decisions(before.decisions, after.decisions),
        companions=_content(
            {each.id: each for each in before.companions},
            {each.id: each for each in after.companions},
            lambda companion: companion.says,
        ),
        tables=_tables(before, after),
        relations=_content(before.relations, after.relations, lambda relation: relation.because),
        elements=_content(
            {each.name: each for each in before.elements},
            {each.name: each for each in after.elements},
            lambda element: element.meaning,
        ),
        sources=_content(before.sources, after.sources, lambda source: source.title),
        replaced=_content(_replaced(before), _replaced(after), lambda each: each.reason),
    )


def _info(rule_set: RuleSet) -> RuleSetInfo:
    file = rule_set.file
    return RuleSetInfo(
        id=file.id,
        version=file.version,
        title=file.title,
        status=file.status,
        digest=rule_set.digest,
        extends=file.extends,
        trial=list(rule_set.trial),
    )


# What a rule set says in its file that is compared as it is used, in a part of its own.
_ELSEWHERE = ("id", "version", "criteria", "settings", "decisions", "companions", "leaves_out", "changes")


def _about(before: RuleSet, after: RuleSet) -> list[ChangedText]:
    def said(rule_set: RuleSet) -> dict[str, Any]:
        return {key: part for key, part in plain(rule_set.file).items() if key not in _ELSEWHERE}

    found = changed_texts(said(before), said(after)) + _history(before, after)
    orders = [[item.id for item in rule_set.criteria] for rule_set in (before, after)]
    common = set(orders[0]) & set(orders[1])
    one, other = ([name for name in order if name in common] for order in orders)
    return found + (changed_texts({"order of criteria": one}, {"order of criteria": other}))


def _history(before: RuleSet, after: RuleSet) -> list[ChangedText]:
    """What one version of a rule set tells of its history and the other does not; of two rule sets each has its own."""
    if before.id != after.id:
        return []
    ours, theirs = (
        [f"{c.version} ({c.date}): {c.change}" for c in each.file.changes] for each in (before, after)
    )
    gone = [ChangedText(place="history", before=line, after=None) for line in ours if line not in theirs]
    new = [ChangedText(place="history", before=None, after=line) for line in theirs if line not in ours]
    return gone + new


def _criteria(before: RuleSet, after: RuleSet) -> list[CriterionDifference]:
    ours, theirs = ({item.id: item for item in each.criteria} for each in (before, after))
    left_out = {left.id: left.reason for each in (before, after) for left in each.file.leaves_out}
    found: list[CriterionDifference] = []
    for name in dict.fromkeys((*ours, *theirs)):
        one, other = ours.get(name), theirs.get(name)
        if one is None or other is None:
            only = one or other
            assert only is not None
            change: Literal["added", "removed"] = "removed" if other is None else "added"
            found.append(_criterion(only, change, reason=left_out.get(name, "")))
            continue
        forces, texts = _forces(one, other), _of_criterion(one, other)
        parameters = _values(one.parameters, other.parameters)
        if forces is not None or parameters or texts:
            found.append(_criterion(other, "changed", forces=forces, parameters=parameters, texts=texts))
    groups = list(GROUPS)
    return sorted(found, key=lambda each: groups.index(each.group))


def _criterion(
    item: ResolvedCriterion,
    change: Literal["added", "removed", "changed"],
    *,
    reason: str = "",
    forces: ChangedValue | None = None,
    parameters: list[ChangedValue] | None = None,
    texts: list[ChangedText] | None = None,
) -> CriterionDifference:
    return CriterionDifference(
        id=item.id,
        title=item.criterion.title,
        group=item.criterion.group,
        change=change,
        force=item.force,
        rule=rule_sentence(item),
        reason=reason,
        forces=forces,
        parameters=parameters or [],
        texts=texts or [],
    )


def _of_criterion(before: ResolvedCriterion, after: ResolvedCriterion) -> list[ChangedText]:
    """What the criterion itself says differently; conditions as sentences, since nobody reads a tree."""
    one, other = plain(before.criterion), plain(after.criterion)
    conditions = ("when", "applies_when", "kind")
    found: list[ChangedText] = []
    if any(one.get(key) != other.get(key) for key in conditions):
        found = changed_texts({"rule": rule_sentence(before)}, {"rule": rule_sentence(after)})
        if found:
            one, other = ({key: part for key, part in each.items() if key not in conditions}
                          for each in (one, other))  # fmt: skip
    return found + changed_texts(one, other)


def _forces(before: ResolvedCriterion, after: ResolvedCriterion) -> ChangedValue | None:
    def used(item: ResolvedCriterion) -> ValueInUse:
        change = item.force_change
        return _in_use(item.force, change.reason if change else "", change.cites if change else ())

    one, other = used(before), used(after)
    if one == other:
        return None
    return ChangedValue(name="force", meaning="what a failure does", before=one, after=other)


def _in_use(value: str, reason: str, cites: Iterable[Citation]) -> ValueInUse:
    return ValueInUse(value=value, reason=reason, cites=[citation_info(cite) for cite in cites])


def _values(
    before: Mapping[str, ResolvedParameter], after: Mapping[str, ResolvedParameter]
) -> list[ChangedValue]:
    """Parameters or settings of which value, reason or sources differ."""

    def used(parameter: ResolvedParameter | None) -> ValueInUse | None:
        if parameter is None:
            return None
        info = parameter_info(parameter)
        return ValueInUse(value=info.value, reason=info.reason, cites=info.cites)

    found: list[ChangedValue] = []
    for name in dict.fromkeys((*before, *after)):
        one, other = used(before.get(name)), used(after.get(name))
        if one != other:
            meaning = (after.get(name) or before[name]).declared.meaning
            found.append(ChangedValue(name=name, meaning=meaning, before=one, after=other))
    return found


def _content(
    before: Mapping[str, _Item], after: Mapping[str, _Item], title: Callable[[_Item], str]
) -> list[ContentDifference]:
    """Named pieces of content that are there only on one side, or differ."""
    found: list[ContentDifference] = []
    for name in dict.fromkeys((*before, *after)):
        one, other = before.get(name), after.get(name)
        if one == other:
            continue
        item = other if other is not None else before[name]
        texts = [] if one is None or other is None else changed_texts(plain(one), plain(other))
        change: Literal["added", "removed", "changed"] = (
            "added" if one is None else "removed" if other is None else "changed"
        )
        found.append(ContentDifference(id=name, title=title(item), change=change, texts=texts))
    return found


def _decisions(before: DecisionOrder, after: DecisionOrder) -> list[ContentDifference]:
    """Decision rules, and what the orders themselves say: their names of standings, and which rule comes first."""
    found = _content(
        {rule.id: rule for rule in before.rules},
        {rule.id: rule for rule in after.rules},
        lambda rule: rule.means,
    )

    def said(order: DecisionOrder) -> dict[str, Any]:
        itself = {key: part for key, part in plain(order).items() if key != "rules"}
        return itself | {"order of rules": [rule.id for rule in order.rules]}

    texts = changed_texts(said(before), said(after))
    if texts:
        found.insert(0, ContentDifference(id=after.id, title=after.title, change="changed", texts=texts))
    return found


def _replaced(rule_set: RuleSet) -> dict[str, Replacement]:
    return {f"{each.kind} {each.id}".strip(): each for each in rule_set.replaced}


def _tables(before: RuleSet, after: RuleSet) -> list[ContentDifference]:
    if before.tables.digest == after.tables.digest:
        return []
    ours, theirs = (_by_name(each) for each in (before, after))
    return _content(ours, theirs, lambda table: table.title)


def _by_name(rule_set: RuleSet) -> dict[str, Table]:
    return {name: rule_set.tables.table(name) for name in rule_set.tables.names}
