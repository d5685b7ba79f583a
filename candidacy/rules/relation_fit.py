"""Whether relations fit the catalogue and each other: what does not could not be read on a case."""

from collections.abc import Iterator, Mapping

from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS
from candidacy.foundation.errors import Code, shown
from candidacy.rules.fit import STANDING, Misfit, condition_misfits
from candidacy.rules.relations import Implication, Relation
from candidacy.rules.tree import Node, Path, elements_of, for_disc, names_this_disc, parameters_of


def relation_misfits(relation: Relation) -> list[Misfit]:
    """Everything about a relation that does not fit, with paths inside it."""
    element = catalogue().get(relation.element)
    if element is None or (not element.statable and not element.derived):
        close = catalogue().nearest(relation.element)
        return [Misfit(("element",), Code.UNKNOWN_ELEMENT, "not a data element", relation.element, close)]
    found: list[Misfit] = []
    if relation.acts and element.kind != "boolean":
        found.append(
            Misfit(("acts",), Code.BAD_RULE, "only a sign answered with yes or no can act", element.kind)
        )
    if not relation.implied and not element.covers:
        found.append(
            Misfit(
                ("acts",),
                Code.BAD_RULE,
                "nothing is implied and no sign is covered that could act",
                element.name,
            )
        )
    used: set[str] = set()
    for number, (each, when) in enumerate(zip(relation.implied, relation.conditions, strict=True)):
        found += _implication(relation, each, when, ("implied", number))
        used |= set(parameters_of(when))
        used |= {each.present_for.parameter} if each.present_for else set()
    for name in relation.parameters:
        if name not in used:
            found.append(
                Misfit(("parameters", name), Code.UNUSED_PARAMETER, "is declared, and never used", name)
            )
    return list(dict.fromkeys(found))


def _implication(relation: Relation, each: Implication, when: Node, place: Path) -> Iterator[Misfit]:
    element, parameters = catalogue()[relation.element], relation.parameters
    if names_this_disc(when) and element.scope != "disc":
        yield Misfit(
            place, Code.BAD_RULE, "this_disc stands in a relation that is not about a disc", relation.element
        )
    yield from condition_misfits(for_disc(when, STANDARD_LEVELS[0]), element.scope, parameters)
    if relation.element in elements_of(when):
        yield Misfit(
            (*place, "when"), Code.CYCLE, "a relation reads the element it is about", relation.element
        )
    if STANDING in elements_of(when):
        yield Misfit(
            (*place, "when"),
            Code.CYCLE,
            "a relation reads the standing of a disc, which rests on what relations say",
            STANDING,
            "facts of the record; a criterion of the patient may read it",
        )
    if each.limits is not None and element.kind not in ("number", "integer"):
        yield Misfit((*place, "limits"), Code.BAD_RULE, "limits are for a number", element.kind)
    if each.value is not None:
        allowed = (
            (True, False)
            if element.kind == "boolean"
            else element.codes
            if element.kind in ("choice", "members")
            else ()
        )
        if element.kind == "members" and each.infer:
            yield Misfit(
                (*place, "infer"),
                Code.BAD_RULE,
                "what a list may hold does not tell what it holds",
                "true",
                "false",
            )
        for code in each.codes:
            if code not in allowed:
                yield Misfit((*place, "value"), Code.BAD_CHOICE, "not a value of the element", shown(code),
                             ", ".join(map(str, allowed)) or "limits, for a number")  # fmt: skip
    if each.present_for is not None:
        if each.present_for.parameter not in parameters:
            yield Misfit(
                (*place, "present_for"),
                Code.UNKNOWN_PARAMETER,
                "no such parameter",
                each.present_for.parameter,
            )
        elif parameters[each.present_for.parameter].unit != "day":
            yield Misfit((*place, "present_for"), Code.UNIT_CONFUSED, "is counted in days",
                         str(parameters[each.present_for.parameter].unit), "day")  # fmt: skip


def circle_of(relations: Mapping[str, Relation]) -> list[str]:
    """Elements that lead back to the first through their details, or nothing."""
    shelf, settled = catalogue(), set()

    def details(name: str) -> list[str]:
        element = shelf.get(name)
        if element is None:
            return []
        found = [*element.covers, *(part for inputs in element.inputs for part in inputs)]
        return [*found, *(relations[name].details if name in relations else ())]

    def follow(name: str, above: tuple[str, ...]) -> list[str]:
        if name in above:
            return [*above[above.index(name) :], name]
        if name in settled:
            return []
        for each in sorted(details(name)):
            circle = follow(each, (*above, name))
            if circle:
                return circle
        settled.add(name)
        return []

    for name in relations:
        circle = follow(name, ())
        if circle:
            return circle
    return []
