"""Static checks of what a criterion and an order of decision rules say to readers: what was found, what mends it, names."""

from collections.abc import Mapping

from candidacy.case.catalogue import catalogue
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Source
from candidacy.rules.criterion import Earliest
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import Elapsed, elements_of, kind_of, walk

_FOUND = "found: {pass: what was found where it passes, fail: what was found where it fails}"
_MENDABLE = "mendable: {how: time, act, discs or no; act: ..., who: ..., earliest: ...}"
_UNITS = ("day", "week", "month", "year")


def check_outlook(item: ResolvedCriterion, sources: Mapping[str, Source], findings: Findings) -> None:
    """Say what is missing or cannot work in ``found``, ``supports`` and ``mendable``."""
    criterion = item.criterion
    if criterion.found is None:
        findings.add((), Code.MISSING_KEY, "the criterion does not say what was found", found=criterion.id,
                     expected=_FOUND)  # fmt: skip
    elif criterion.found.pass_ == criterion.found.fail:
        findings.add(("found",), Code.BAD_RULE, "the same is said to be found where it passes and where it fails",
                     found=criterion.found.fail)  # fmt: skip
    if criterion.supports and criterion.force != "advisory":
        findings.add(("supports",), Code.BAD_RULE, "a finding that decides is not only supporting",
                     found=criterion.force, expected="force: advisory")  # fmt: skip
    mendable = criterion.mendable
    if mendable is None:
        if criterion.force != "advisory":
            findings.add((), Code.MISSING_KEY, "a deciding criterion does not say whether a failure can be mended",
                         found=criterion.id, expected=_MENDABLE)  # fmt: skip
        return
    if mendable.how == "discs" and kind_of(item.when) not in ("count_discs", "every_disc"):
        findings.add(("mendable", "how"), Code.BAD_RULE, "only a criterion that counts discs is mended with them",
                     found=kind_of(item.when), expected="count_discs or every_disc")  # fmt: skip
    if mendable.earliest is not None:
        _check_earliest(item, mendable.earliest, sources, findings)


def _check_earliest(
    item: ResolvedCriterion, earliest: Earliest, sources: Mapping[str, Source], findings: Findings
) -> None:
    place = ("mendable", "earliest")
    read, shelf = set(elements_of(item.when)), catalogue()
    if earliest.elapsed and not any(isinstance(part, Elapsed) for part in walk(item.when)):
        findings.add((*place, "elapsed"), Code.BAD_RULE, "the condition has no test of elapsed time")
    for name in (*earliest.grows, *earliest.turns):
        if name not in read:
            findings.add(place, Code.BAD_RULE, "the condition does not read this element", found=name,
                         expected=", ".join(sorted(read)))  # fmt: skip
    for name in earliest.grows:
        element = shelf.get(name)
        if element is not None and (element.kind not in ("number", "integer") or element.unit not in _UNITS):
            findings.add((*place, "grows"), Code.BAD_RULE, "not a length of time, so it does not grow as time passes",
                         found=name, expected="a number in " + ", ".join(_UNITS))  # fmt: skip
    for name in (*earliest.turns.values(), *([earliest.day_of] if earliest.day_of else [])):
        element = shelf.get(name)
        if element is None or element.kind != "date":
            findings.add(place, Code.UNKNOWN_ELEMENT, "not a date element", found=name)
    if earliest.wait is not None:
        for number, cite in enumerate(earliest.wait.cites):
            if cite.source not in sources:
                at = (*place, "wait", "cites", number, "source")
                findings.add_misfit(no_such_source(at, cite.source, sources))


def check_names(order: DecisionOrder, place: tuple[str | int, ...], findings: Findings) -> None:
    """Every standing that the rules may come to bears a name that fits what the rule set is for.

    ``place`` is where the order stands, or is named, in the file of the findings.
    """
    for rule in order.rules:
        if rule.standing not in order.names:
            findings.add(place, Code.MISSING_KEY, f"{order.id} has no name for this standing",
                         found=rule.standing, expected="names: {" + rule.standing + ": ...}")  # fmt: skip
    called = [order.name_of(standing) for standing in dict.fromkeys(rule.standing for rule in order.rules)]
    called += [order.not_yet.name] if order.not_yet else []
    for name in dict.fromkeys(each for each in called if called.count(each) > 1):
        findings.add(place, Code.CONTRADICTORY_RULES, f"two standings of {order.id} bear one name", found=name,
                     expected="a name of its own for each")  # fmt: skip
    if order.not_yet is None and any(rule.standing == "not_candidate" for rule in order.rules):
        findings.add(place, Code.MISSING_KEY, f"{order.id} does not name what can still be mended",
                     expected="not_yet: {name: ..., next_step: ...}")  # fmt: skip


def check_forces(rule_set: RuleSet, findings: Findings) -> None:
    """A criterion that decides in this rule set says whether a failure can be mended."""
    for item in rule_set.criteria:
        if item.force != "advisory" and item.criterion.mendable is None:
            findings.add(("criteria",), Code.MISSING_KEY, "decides here, and does not say whether a failure can be mended",
                         found=item.id, expected=_MENDABLE)  # fmt: skip
