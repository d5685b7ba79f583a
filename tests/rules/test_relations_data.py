"""The shipped relations: each element of the catalogue is accounted for, and each relation says something that can be read.

Whether a relation is right is clinical and stands in its file; here is checked that none is left out, none reads
itself, and none names what the catalogue does not have.
"""

import inspect
import re
from collections.abc import Iterator

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.derive.base import FORMULAS
from candidacy.foundation.files import read_tree
from candidacy.foundation.shape import validate
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.criterion import Criterion
from candidacy.rules.fit import misfits
from candidacy.rules.libraries import shipped
from candidacy.rules.relations import (
    Implication,
    Relation,
    RelationFile,
)
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter
from candidacy.rules.tree import THIS_DISC, Compare, Node, names_this_disc, operands_of, parameters_of, walk
from tests.rows import each_row
from tests.views import written_for_disc

SHELF = catalogue()
FILES: dict[str, RelationFile] = {
    path.stem: validate(RelationFile, read_tree(path), str(path), lambda path: list(Relation.model_fields))
    for path in sorted((rulesets_folder() / "relations").glob("*.yaml"))
}
RELATIONS: dict[str, Relation] = {
    relation.element: relation for file in FILES.values() for relation in file.relations
}
UNRELATED = [name for file in FILES.values() for group in file.unrelated for name in group.elements]
# Grades are codes that happen to be digits; any other number of a condition is a parameter with a source.
GRADES = {
    "motor_power_lowest",
    "modified_pfirrmann_grade",
    "lee_central_grade",
    "lee_foraminal_grade",
    "weishaupt_grade",
    "fujiwara_grade",
    "discography_fissure_grade",
}


def implications() -> Iterator[tuple[Relation, Implication]]:
    for relation in RELATIONS.values():
        for implication in relation.implied:
            yield relation, implication


EACH = list(implications())
NAMES = [f"{relation.element}-{number}" for number, (relation, _) in enumerate(EACH)]


def told_otherwise() -> dict[str, str]:
    """Elements that a relation of another kind, or another element's relation, already accounts for."""
    found = dict.fromkeys(RELATIONS, "has a relation")
    for relation in RELATIONS.values():
        found.update(dict.fromkeys(relation.details, "is a detail"))
    for element in SHELF.all:
        if element.inputs:
            found[element.name] = "has inputs"
        if not element.statable:
            found[element.name] = "is only worked out"
        for inputs in element.inputs:
            found.update(dict.fromkeys(inputs, "is an input"))
        if element.covers:
            found.update(dict.fromkeys((element.name, *element.covers), "covers or is covered"))
    return found


# --- files


@pytest.mark.parametrize("name", list(FILES))
def test_a_file_is_named_as_its_topic_and_says_something(name: str) -> None:
    assert FILES[name].id == name
    assert FILES[name].relations or FILES[name].unrelated


def test_an_element_has_one_relation_at_most() -> None:
    names = [relation.element for file in FILES.values() for relation in file.relations]
    assert sorted(set(names)) == sorted(names)


# --- every element


@each_row("element", [element.name for element in SHELF.all])
def test_every_element_is_accounted_for(element: str) -> None:
    assert element in told_otherwise() or element in UNRELATED, "no relation, and no reason why there is none"


def test_an_element_said_to_be_unrelated_exists_and_is_accounted_for_in_no_other_way() -> None:
    assert sorted(set(UNRELATED)) == sorted(UNRELATED)
    assert [name for name in UNRELATED if name not in SHELF] == []
    assert [name for name in UNRELATED if name in told_otherwise()] == []


# --- each implication


def tree_of(relation: Relation, implication: Implication) -> Node:
    return relation.conditions[relation.implied.index(implication)]


@each_row(("relation", "implication"), EACH, ids=NAMES)
def test_a_condition_fits_the_catalogue(relation: Relation, implication: Implication) -> None:
    element = SHELF[relation.element]
    assert element.scope == "disc" or not names_this_disc(tree_of(relation, implication))
    criterion = Criterion.model_construct(
        subject=element.scope,
        when=written_for_disc(implication.when, "L4-L5"),
        applies_when=None,
        recency=None,
        parameters={},
    )
    parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in relation.parameters.items()}
    assert misfits(ResolvedCriterion(criterion, "advisory", parameters)) == []


@each_row(("relation", "implication"), EACH, ids=NAMES)
def test_a_value_is_one_of_the_element_and_leaves_one_out(
    relation: Relation, implication: Implication
) -> None:
    element = SHELF[relation.element]
    if implication.limits is not None:
        assert element.kind in ("number", "integer")
        assert _inside(element, implication.limits.low)
        assert _inside(element, implication.limits.high)
        return
    allowed = {True, False} if element.kind == "boolean" else set(element.codes)
    assert element.kind in ("boolean", "choice", "members")
    # what a list may hold does not tell what it holds
    assert element.kind != "members" or not implication.infer
    assert implication.codes < allowed, "what allows every value says nothing"


def _inside(element: Element, number: float | None) -> bool:
    assert element.possible is not None
    low, high = element.possible.low, element.possible.high
    return number is None or ((low is None or number >= low) and (high is None or number <= high))


@each_row(("relation", "implication"), EACH, ids=NAMES)
def test_a_number_of_a_condition_is_a_parameter_unless_it_is_a_grade(
    relation: Relation, implication: Implication
) -> None:
    for node in walk(tree_of(relation, implication)):
        values = [operand.value for operand in operands_of(node) if not operand.parameter]
        bare = [x for x in values if isinstance(x, int | float) and not isinstance(x, bool)]
        assert not bare or (isinstance(node, Compare) and node.element in GRADES)


@each_row(("relation", "implication"), EACH, ids=NAMES)
def test_the_age_of_a_passing_detail_is_in_days(relation: Relation, implication: Implication) -> None:
    if implication.present_for is not None:
        parameter = relation.parameters[implication.present_for.parameter]
        assert parameter.unit == "day"
        assert isinstance(parameter.value, int)
        assert parameter.value > 0


# --- each relation


@each_row("relation", list(RELATIONS.values()), ids=list(RELATIONS))
def test_parameters_are_used_and_cite_known_sources_that_are_no_doubtful_recollection(
    relation: Relation,
) -> None:
    used = set(parameters_of(*relation.conditions))
    used |= {each.present_for.parameter for each in relation.implied if each.present_for is not None}
    assert used == set(relation.parameters)
    for parameter in relation.parameters.values():
        assert any(cite.supports == "value" for cite in parameter.cites)
        for cite in parameter.cites:
            assert cite.source in shipped().sources()
            assert cite.tag != "memory, low"


@pytest.mark.parametrize(
    "relation", [r for r in RELATIONS.values() if r.acts], ids=[n for n, r in RELATIONS.items() if r.acts]
)
def test_what_acts_against_a_denial_only_ever_says_that_the_sign_is_there(relation: Relation) -> None:
    # the value that the details imply stands over the stated one, which must never take a sign of danger away
    # a covered sign says nothing else
    signs = {True} if SHELF[relation.element].covers else set()
    assert {each.value for each in relation.implied} | signs == {True}


@each_row("relation", list(RELATIONS.values()), ids=list(RELATIONS))
def test_the_words_stand_without_a_full_stop_and_the_reason_ends_with_one(relation: Relation) -> None:
    assert relation.because.endswith(".")
    assert [each.says for each in relation.implied if each.says.endswith(".")] == []


def test_no_summary_repeats_what_its_covered_signs_say() -> None:
    assert [
        (relation.element, sign)
        for relation in RELATIONS.values()
        for sign in SHELF[relation.element].covers
        if sign in relation.details
    ] == []


# --- no circle


def _reads() -> dict[str, set[str]]:
    """What may be read to know an element: its details, its signs, and any name in the module that works it out."""
    reads = {element.name: set(element.covers) for element in SHELF.all}
    for element in SHELF.all:
        for inputs in element.inputs:
            reads[element.name] |= set(inputs)
    for name, function in FORMULAS.items():
        words = set(re.findall(r'"([a-z0-9_]+)"', inspect.getsource(function)))
        reads[name] |= {word for word in words if word in SHELF and word != name}
    # read by helpers of its function
    reads["opioid_mme_per_day"] |= {"opioid_use", "medicine_agent", "medicine_class", "medicine_route"}
    for relation in RELATIONS.values():
        reads[relation.element] |= relation.details
    return reads


def test_nothing_is_worked_out_from_itself() -> None:
    reads, done, open_ = _reads(), set[str](), list[str]()

    def visit(name: str) -> None:
        if name in done:
            return
        assert name not in open_, " -> ".join((*open_[open_.index(name) :], name))
        open_.append(name)
        for other in sorted(reads[name]):
            visit(other)
        open_.pop()
        done.add(name)

    for name in sorted(reads):
        visit(name)


def test_the_placeholder_of_a_disc_is_no_level() -> None:
    assert THIS_DISC not in SHELF["surgery_levels"].codes


def test_a_parameter_that_is_named_is_there() -> None:
    for relation, implication in EACH:
        assert set(parameters_of(tree_of(relation, implication))) <= set(relation.parameters)
