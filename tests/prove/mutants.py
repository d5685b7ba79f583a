"""Rule sets with one criterion or the order of decisions changed as a slip of the pen would change it.

Each mutant is told as what it is: a ``fault`` by definition (a criterion that can never pass or fail, a decision rule that can never
decide), a ``change`` of meaning, or the ``same`` said otherwise.
"""

import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Any, Literal

from candidacy.case.catalogue import catalogue
from candidacy.foundation.changed_copy import replace
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.fit import misfits
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import Compare, elements_of
from tests.clinical.planting import dangers

Kind = Literal["fault", "change", "same"]
_FLIPPED = {"at_least": "less_than", "less_than": "at_least", "at_most": "more_than", "more_than": "at_most", "is": "is_not",
            "is_not": "is", "one_of": "none_of", "none_of": "one_of"}  # fmt: skip
_BESIDE = {"at_least": "more_than", "more_than": "at_least", "at_most": "less_than", "less_than": "at_most"}


@dataclass(frozen=True)
class Mutant:
    """A changed rule set; ``what`` names the slip, ``of`` the criterion or the order."""

    what: str
    of: str
    kind: Kind
    rule_set: RuleSet


def mutants(rule_set: RuleSet, count: int, seed: str) -> list[Mutant]:
    """So many mutants of a rule set, of every slip in turn, with the same seed always the same."""
    rng = Random(seed)
    by_slip = [list(_shuffled(rng, slip(rule_set))) for slip in _SLIPS]
    found: list[Mutant] = []
    while len(found) < count and any(by_slip):
        for made in by_slip:
            if made and len(found) < count:
                found.append(made.pop())
    return found


def _shuffled(rng: Random, made: Iterator[Mutant]) -> list[Mutant]:
    found = list(made)
    rng.shuffle(found)
    return found


def _written(item: ResolvedCriterion) -> dict[str, Any]:
    return item.criterion.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_unset=True)


def _with(
    rule_set: RuleSet, item: ResolvedCriterion, edit: Callable[[dict[str, Any]], object]
) -> RuleSet | None:
    data = copy.deepcopy(_written(item))
    edit(data)
    changed = replace(item, criterion=Criterion.model_validate(data, strict=False))
    if list(misfits(changed)):
        return None  # what the loader refuses is no mutant
    return replace(rule_set, criteria=tuple(changed if each is item else each for each in rule_set.criteria))


def _every(
    rule_set: RuleSet,
    what: str,
    kind: Kind,
    edit: Callable[[dict[str, Any]], object],
    wanted: Callable[[ResolvedCriterion], bool],
) -> Iterator[Mutant]:
    for item in rule_set.criteria:
        if wanted(item):
            made = _with(rule_set, item, edit)
            if made is not None:
                yield Mutant(what, item.id, kind, made)


def _one_test(item: ResolvedCriterion, ops: Any, kinds: tuple[str, ...] = ()) -> bool:
    when = item.when
    return (
        isinstance(when, Compare)
        and when.op in ops
        and (not kinds or catalogue()[when.element].kind in kinds)
    )


def _flip(data: dict[str, Any]) -> None:
    data["when"]["op"] = _FLIPPED[data["when"]["op"]]


def _strict(data: dict[str, Any]) -> None:
    data["when"]["op"] = _BESIDE[data["when"]["op"]]


def _no(data: dict[str, Any]) -> None:
    data["when"]["value"] = not data["when"]["value"]


def flipped(rule_set: RuleSet) -> Iterator[Mutant]:
    """The opposite operator."""
    yield from _every(
        rule_set,
        "operator flipped",
        "change",
        _flip,
        lambda item: _one_test(item, _FLIPPED, ("number", "integer", "choice")),
    )


def limit_beside(rule_set: RuleSet) -> Iterator[Mutant]:
    """The limit itself no longer belongs to it, or now does."""
    yield from _every(
        rule_set, "boundary", "change", _strict, lambda item: _one_test(item, _BESIDE, ("number", "integer"))
    )


def denied(rule_set: RuleSet) -> Iterator[Mutant]:
    """Yes for no."""
    yield from _every(
        rule_set, "yes for no", "change", _no, lambda item: _one_test(item, ("is",), ("boolean",))
    )


def other_kind(rule_set: RuleSet) -> Iterator[Mutant]:
    """An exclusion for an inclusion."""

    def swap(data: dict[str, Any]) -> None:
        data["kind"] = "exclusion" if data["kind"] == "inclusion" else "inclusion"

    yield from _every(rule_set, "kind swapped", "change", swap, lambda item: True)


def any_for_all(rule_set: RuleSet) -> Iterator[Mutant]:
    """``any`` for ``all``, and the reverse."""

    def swap(data: dict[str, Any]) -> None:
        when = data["when"]
        if "all" in when:
            when["any"] = when.pop("all")
        else:
            when["all"] = when.pop("any")

    yield from _every(
        rule_set, "any for all", "change", swap,
        lambda item: len(item.criterion.when.all or ()) > 1 or len(item.criterion.when.any or ()) > 1,
    )  # fmt: skip


def part_lost(rule_set: RuleSet) -> Iterator[Mutant]:
    """The last of several conditions is gone."""

    def lose(data: dict[str, Any]) -> None:
        when = data["when"]
        when["all" if "all" in when else "any"].pop()

    yield from _every(
        rule_set, "part lost", "change", lose,
        lambda item: len(item.criterion.when.all or ()) > 1 or len(item.criterion.when.any or ()) > 1,
    )  # fmt: skip


def contradictory(rule_set: RuleSet) -> Iterator[Mutant]:
    """All of a condition and of its denial: never met."""

    def contradict(data: dict[str, Any]) -> None:
        when = data["when"]
        data["when"] = {"all": [when, {"not": copy.deepcopy(when)}]}

    yield from _every(rule_set, "contradictory all", "fault", contradict, lambda item: True)


def tautology(rule_set: RuleSet) -> Iterator[Mutant]:
    """Any of a condition and its denial: never not met."""

    def always(data: dict[str, Any]) -> None:
        when = data["when"]
        data["when"] = {"any": [when, {"not": copy.deepcopy(when)}]}

    yield from _every(rule_set, "always", "fault", always, lambda item: True)


def never_applies(rule_set: RuleSet) -> Iterator[Mutant]:
    """A criterion that applies only where nothing can be."""

    def nowhere(data: dict[str, Any]) -> None:
        when = data["when"]
        data["applies_when"] = {"all": [copy.deepcopy(when), {"none": [copy.deepcopy(when)]}]}

    yield from _every(rule_set, "applies nowhere", "fault", nowhere, lambda item: item.applies_when is None)


def edge_of_range(rule_set: RuleSet) -> Iterator[Mutant]:
    """A limit moved to the end of what is possible, so that no value lies beyond it."""
    for item in rule_set.criteria:
        when = item.when
        if (
            not isinstance(when, Compare)
            or when.op not in ("at_most", "at_least", "less_than", "more_than")
            or not when.parameters
        ):
            continue
        possible = catalogue()[when.element].possible
        upper = when.op in ("at_most", "more_than")
        end = None if possible is None else possible.high if upper else possible.low
        if end is not None:
            name = when.parameters[0]
            moved = replace(
                item, parameters={**item.parameters, name: replace(item.parameters[name], value=end)}
            )
            criteria = tuple(moved if each is item else each for each in rule_set.criteria)
            yield Mutant(
                "limit at the end of the range", item.id, "fault", replace(rule_set, criteria=criteria)
            )


def limit_moved(rule_set: RuleSet) -> Iterator[Mutant]:
    """A limit one higher."""
    for item in rule_set.criteria:
        when = item.when
        if (
            not isinstance(when, Compare)
            or not when.parameters
            or catalogue()[when.element].kind not in ("number", "integer")
        ):
            continue
        name = when.parameters[0]
        value = item.parameters[name].value
        possible = catalogue()[when.element].possible
        if isinstance(value, int | float) and (
            possible is None or possible.high is None or value + 2 < possible.high
        ):
            moved = replace(
                item, parameters={**item.parameters, name: replace(item.parameters[name], value=value + 1)}
            )
            criteria = tuple(moved if each is item else each for each in rule_set.criteria)
            yield Mutant("limit moved", item.id, "change", replace(rule_set, criteria=criteria))


def twice_denied(rule_set: RuleSet) -> Iterator[Mutant]:
    """Denied twice: the same."""

    def twice(data: dict[str, Any]) -> None:
        data["when"] = {"not": {"not": data["when"]}}

    yield from _every(rule_set, "denied twice", "same", twice, lambda item: True)


def repeated(rule_set: RuleSet) -> Iterator[Mutant]:
    """A condition written twice: the same."""

    def repeat(data: dict[str, Any]) -> None:
        data["when"] = {"all": [data["when"], copy.deepcopy(data["when"])]}

    yield from _every(rule_set, "condition repeated", "same", repeat, lambda item: True)


def turned(rule_set: RuleSet) -> Iterator[Mutant]:
    """The conditions in another order: the same."""

    def turn(data: dict[str, Any]) -> None:
        when = data["when"]
        when["all" if "all" in when else "any"].reverse()

    yield from _every(
        rule_set, "conditions turned", "same", turn,
        lambda item: len(item.criterion.when.all or ()) > 1 or len(item.criterion.when.any or ()) > 1,
    )  # fmt: skip


def force_lowered(rule_set: RuleSet) -> Iterator[Mutant]:
    """A criterion that decides less; not one of a declared danger, which the record itself then holds."""
    told = {element.name for element, _ in dangers()}
    for item in rule_set.criteria:
        read = set(elements_of(item.when)) | (
            set(elements_of(item.applies_when)) if item.applies_when else set()
        )
        if item.force in ("absolute", "relative") and not read & told:
            lower = replace(item, force="advisory")
            criteria = tuple(lower if each is item else each for each in rule_set.criteria)
            yield Mutant("force lowered", item.id, "change", replace(rule_set, criteria=criteria))


def hidden_rule(rule_set: RuleSet) -> Iterator[Mutant]:
    """A decision rule behind one that takes all its cases."""
    order = rule_set.decisions
    for place, rule in enumerate(order.rules[:-1]):
        for later in order.rules[place + 1 : -1]:
            data = order.model_dump(mode="json", by_alias=True, exclude_none=True)
            taken = next(each for each in data["rules"] if each["id"] == later.id)["when"]
            data["rules"][place]["when"] += taken
            changed = DecisionOrder.model_validate(data, strict=False)
            yield Mutant("decision rule hidden", later.id, "fault", replace(rule_set, decisions=changed))
        _ = rule


_SLIPS = (
    flipped, limit_beside, denied, other_kind, any_for_all, part_lost, contradictory, tautology, never_applies, edge_of_range,
    limit_moved, twice_denied, repeated, turned, force_lowered, hidden_rule,
)  # fmt: skip
