"""Checks of relations beyond what loading refuses, and whether each element of one's own is accounted for by them."""

from collections.abc import Iterator, Mapping

from candidacy.case.catalogue import Catalogue
from candidacy.case.element import Element
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Source
from candidacy.rules.findings import no_such_source
from candidacy.rules.fit import Misfit
from candidacy.rules.relations import Relation
from candidacy.rules.tree import bare_limits, elements_of


def accounted_for(shelf: Catalogue, relations: Mapping[str, Relation]) -> frozenset[str]:
    """Elements that a relation speaks of, or that the catalogue ties to others."""
    found = set(relations)
    for relation in relations.values():
        found |= relation.details
    for element in shelf.all:
        found |= {name for inputs in element.inputs for name in inputs}
        if element.covers:
            found |= {element.name, *element.covers}
        if element.inputs or not element.statable:
            found.add(element.name)
    return frozenset(found)


def relation_faults(relation: Relation, shelf: Catalogue, sources: Mapping[str, Source]) -> Iterator[Misfit]:
    """What is wrong with a relation that can be read, with paths inside it."""
    element = shelf[relation.element]
    for number, (each, when) in enumerate(zip(relation.implied, relation.conditions, strict=True)):
        place = ("implied", number)
        if each.says.endswith("."):
            yield Misfit(
                (*place, "says"), Code.BAD_RULE, "stands inside a sentence, so without a full stop", each.says
            )
        if each.value is not None and each.codes >= _answers(element):
            yield Misfit(
                (*place, "value"), Code.UNREACHABLE, "allows every value, so it says nothing", str(each.value)
            )
        if each.limits is not None and not all(
            _inside(element, end) for end in (each.limits.low, each.limits.high)
        ):
            yield Misfit((*place, "limits"), Code.UNREACHABLE, "lies outside the possible range of the element",
                         f"{each.limits.low} to {each.limits.high}")  # fmt: skip
        for name in sorted(set(element.covers) & set(elements_of(when))):
            yield Misfit(
                (*place, "when"),
                Code.CONTRADICTORY_RULES,
                "a covered sign speaks for its summary already",
                name,
            )
    if relation.acts and not {each.value for each in relation.implied} <= {True}:
        yield Misfit(
            ("acts",), Code.BAD_RULE, "what acts against a denial may only say that the sign is there"
        )
    if not relation.because.endswith("."):
        yield Misfit(("because",), Code.BAD_RULE, "does not end with a full stop", relation.because)
    for name, parameter in relation.parameters.items():
        where = ("parameters", name)
        if not any(cite.supports == "value" for cite in parameter.cites):
            yield Misfit(
                where,
                Code.UNCITED,
                "no citation supports the value of this parameter",
                expected="supports: value",
            )
        for cite in parameter.cites:
            if cite.source not in sources:
                yield no_such_source(where, cite.source, sources)
            if cite.tag == "memory, low":
                yield Misfit(where, Code.UNCITED, "a doubtful recollection may not be a default", cite.tag)


def bare_numbers(relation: Relation) -> Iterator[Misfit]:
    """Numbers in conditions, which have no source there."""
    for number, root in enumerate(relation.conditions):
        for _, bare in bare_limits(root):
            yield Misfit(("implied", number, "when"), Code.UNCITED, "a number in a condition has no source",
                         str(bare.value), "a parameter")  # fmt: skip


def _answers(element: Element) -> frozenset[object]:
    return frozenset((True, False) if element.kind == "boolean" else element.codes)


def _inside(element: Element, number: float | None) -> bool:
    low, high = (element.possible.low, element.possible.high) if element.possible else (None, None)
    return number is None or ((low is None or number >= low) and (high is None or number <= high))
