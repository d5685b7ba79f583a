"""What differs between two rule sets: nothing that changed is left out, each number comes with reason and source."""

import json
from functools import cache
from itertools import permutations
from typing import Any

import pytest
from pydantic import BaseModel

from candidacy.case.catalogue import catalogue
from candidacy.explain.rule_set_difference import RuleSetDifference, rule_set_difference
from candidacy.explain.rule_set_difference_text import as_markdown, as_text
from candidacy.foundation.changed_copy import replace
from candidacy.rules.cited import Table
from candidacy.rules.libraries import shipped
from candidacy.rules.replacing import Replacement
from candidacy.rules.resolved import RuleSet, Tables

BASE = "practice_baseline"
SETS = list(shipped().rule_set_files())
CITE = {"source": "common_practice", "supports": "value", "tag": "local"}


@cache
def shipped_set(name: str) -> RuleSet:
    return shipped().rule_set(name)


@cache
def between(one: str, other: str) -> RuleSetDifference:
    return rule_set_difference(shipped_set(one), shipped_set(other))


def changed(part: Any, **keys: Any) -> Any:
    """A copy of a model with keys changed, checked again."""
    assert isinstance(part, BaseModel)
    return type(part).model_validate({**part.model_dump(by_alias=True), **keys})


def with_criterion(rule_set: RuleSet, name: str, **fields: Any) -> RuleSet:
    """A copy in which one resolved criterion has other fields."""
    return replace(
        rule_set, criteria=tuple(replace(c, **fields) if c.id == name else c for c in rule_set.criteria)
    )


@pytest.mark.parametrize("name", SETS)
def test_a_rule_set_does_not_differ_from_itself_and_says_so(name: str) -> None:
    found = between(name, name)
    assert found.identical
    assert not any(
        (found.about, found.criteria, found.settings, found.decisions, found.companions, found.tables,
         found.relations, found.sources)
    )  # fmt: skip
    for text in (as_text(found), as_markdown(found)):
        assert "No difference" in text
        assert shipped_set(name).digest in text.replace("\\", "")


@pytest.mark.parametrize(("one", "other"), list(permutations(SETS, 2)))
def test_every_criterion_force_and_value_that_differs_is_told_and_no_other(one: str, other: str) -> None:
    ours, theirs = ({c.id: c for c in shipped_set(name).criteria} for name in (one, other))
    found = {each.id: each for each in between(one, other).criteria}
    assert {n for n, each in found.items() if each.change == "added"} == set(theirs) - set(ours)
    assert {n for n, each in found.items() if each.change == "removed"} == set(ours) - set(theirs)
    for name in set(ours) & set(theirs):
        forces = (ours[name].force, theirs[name].force)
        values = {
            p for p in ours[name].parameters if ours[name].parameters[p].value != theirs[name].parameters[p].value
        }  # fmt: skip
        if forces[0] != forces[1] or values:
            assert found[name].change == "changed"
        if name in found:
            told = found[name].forces
            assert forces[0] == forces[1] or (told and (told.before, told.after) and told.after.value == forces[1])  # fmt: skip
            assert values <= {each.name for each in found[name].parameters}
            assert (
                found[name].texts == []
            )  # both are of the shipped library, so the criterion itself is the same


@pytest.mark.parametrize(("one", "other"), [(BASE, "trial_style_strict"), (BASE, "report_completeness")])
def test_seen_from_the_other_side_it_is_the_same_turned_round(one: str, other: str) -> None:
    there, back = between(one, other), between(other, one)
    turned = {"added": "removed", "removed": "added", "changed": "changed"}
    assert {(c.id, turned[c.change]) for c in there.criteria} == {(c.id, c.change) for c in back.criteria}
    assert {(v.name, str(v.before), str(v.after)) for c in there.criteria for v in c.parameters} == {
        (v.name, str(v.after), str(v.before)) for c in back.criteria for v in c.parameters
    }
    assert (there.before, there.after) == (back.after, back.before)


def test_digest_and_version_of_both_stand_in_front() -> None:
    lines = as_text(between(BASE, "wide_screen")).splitlines()
    one, other = shipped_set(BASE), shipped_set("wide_screen")
    assert lines[0] == f"From {one.id} {one.file.version} to {other.id} {other.file.version}"
    assert [line.strip() for line in lines if "sha256:" in line] == [one.digest, other.digest]


def test_a_value_comes_with_the_reason_and_the_sources_of_both_sides() -> None:
    found = between(BASE, "trial_style_strict")
    row = next(c for c in found.criteria if c.id == "body_mass_index_limit")
    (value,) = row.parameters
    assert value.before is not None
    assert value.after is not None
    assert (value.before.value, value.after.value) == ("35 kg/m2", "30 kg/m2")
    change = shipped_set("trial_style_strict").criterion(row.id).parameters[value.name].change
    assert change is not None
    assert value.before.reason == ""
    assert value.after.reason == change.reason
    assert [c.source for c in value.after.cites] == [c.source for c in change.cites]
    assert all(cite.tag for side in (value.before, value.after) for cite in side.cites)
    text = as_text(found)
    assert "bmi_upper_limit: 35 kg/m2 → 30 kg/m2" in text
    assert change.reason in text


def test_the_same_value_on_other_grounds_is_told() -> None:
    base = shipped_set(BASE)
    item = base.criterion("body_mass_index_limit")
    parameter = item.parameters["bmi_upper_limit"]
    trial = base.with_trial({(item.id, "bmi_upper_limit"): parameter.value})
    found = rule_set_difference(base, replace(trial, trial=()))
    assert not found.identical
    assert [c.id for c in found.criteria] == [item.id]
    assert "35 kg/m2 in both, on other grounds" in as_text(found)


def test_a_criterion_of_the_same_id_that_says_something_else_is_told_in_words() -> None:
    base = shipped_set(BASE)
    item = base.criterion("body_mass_index_limit")
    own = changed(item.criterion, why="Another reason.", when={"element": "body_mass_index", "op": "known"})
    found = rule_set_difference(base, with_criterion(base, item.id, criterion=own))
    (row,) = found.criteria
    told = {text.place: text for text in row.texts}
    assert set(told) == {"rule", "why"}
    assert told["why"].after == "Another reason."
    assert told["rule"].before != told["rule"].after
    assert "when" not in told


def test_a_place_in_a_mendable_or_a_citation_is_named() -> None:
    base = shipped_set(BASE)
    item = base.criterion("body_mass_index_limit")
    own = changed(item.criterion, cites=[CITE], mendable={"how": "no"})
    (row,) = rule_set_difference(base, with_criterion(base, item.id, criterion=own)).criteria
    places = {text.place for text in row.texts}
    assert "mendable.how" in places
    assert any(place.startswith("cites[common_practice]") for place in places)


def test_settings_decisions_companions_relations_and_sources_are_told() -> None:
    base = shipped_set(BASE)
    name, setting = next(iter(base.settings.items()))
    rule = base.decisions.rules[0]
    relation = next(iter(base.relations.values()))
    source = base.sources["common_practice"]
    other = replace(
        base,
        settings={n: s for n, s in base.settings.items() if n != name},
        decisions=changed(
            base.decisions,
            names={"urgent": "Now"},
            rules=[changed(rule, next_step="Something else."), *base.decisions.rules[1:]],
        ),
        companions=base.companions[1:],
        relations={**base.relations, relation.element: changed(relation, because="For another reason.")},
        sources={**base.sources, "common_practice": changed(source, title="Something else")},
    )
    found = rule_set_difference(base, other)
    assert [s.name for s in found.settings] == [name]
    assert found.settings[0].after is None
    assert found.settings[0].before is not None
    assert setting.declared.meaning == found.settings[0].meaning
    assert {(d.id, t.place) for d in found.decisions for t in d.texts} >= {
        (rule.id, "next_step"), (base.decisions.id, "names.urgent"),
    }  # fmt: skip
    assert [(c.id, c.change) for c in found.companions] == [(base.companions[0].id, "removed")]
    assert [(r.id, [t.place for t in r.texts]) for r in found.relations] == [(relation.element, ["because"])]
    assert [(s.id, s.texts[0].after) for s in found.sources] == [("common_practice", "Something else")]
    text = as_text(found)
    for heading in (
        "Settings",
        "Decision rules",
        "Companion rule sets",
        "Relations between facts",
        "Sources",
    ):
        assert f"\n{heading}\n" in text
    assert "criteria, tables" in text.split("The same in both")[1]


def test_the_order_in_which_decision_rules_and_criteria_stand_is_told() -> None:
    base = shipped_set(BASE)
    first, second, *rest = base.decisions.rules
    one, two, *others = base.criteria
    other = replace(
        base,
        decisions=changed(base.decisions, rules=[second, first, *rest]),
        criteria=(two, one, *others),
    )
    found = rule_set_difference(base, other)
    assert [t.place for d in found.decisions for t in d.texts] == ["order of rules"]
    assert [t.place for t in found.about] == ["order of criteria"]


def test_a_table_is_told_by_row_and_column() -> None:
    base = shipped_set(BASE)
    name = base.tables.names[0]
    table = base.tables.table(name)
    row = table.rows[0]
    column = next(iter(table.columns))

    def load(wanted: str) -> Table:
        if wanted != name:
            return base.tables.table(wanted)
        first = changed(row, values={**row.values, column: 12345})
        return changed(table, rows=[first, *table.rows[1:]])

    found = rule_set_difference(base, replace(base, tables=Tables(load, "another", base.tables.names)))
    assert [t.id for t in found.tables] == [name]
    assert [(t.place, t.after) for t in found.tables[0].texts] == [
        (f"rows[{row.key}].values.{column}", "12345")
    ]


def test_what_is_left_out_says_why() -> None:
    base = shipped_set(BASE)
    gone = base.criteria[0].id
    file = changed(base.file, leaves_out=[{"id": gone, "reason": "Done by another clinic."}])
    other = replace(base, file=file, criteria=base.criteria[1:])
    for found, change in (
        (rule_set_difference(base, other), "removed"),
        (rule_set_difference(other, base), "added"),
    ):
        (row,) = found.criteria
        assert (row.id, row.change, row.reason) == (gone, change, "Done by another clinic.")
        assert row.rule
        assert "left out because: Done by another clinic." in as_text(found)


def test_a_digest_that_differs_by_nothing_that_is_used_is_no_silence() -> None:
    base = shipped_set(BASE)
    found = rule_set_difference(base, replace(base, tables=Tables(base.tables.table, "x", base.tables.names)))
    assert not found.identical
    assert "Nothing that is used differs" in as_text(found)


def test_the_history_is_told_between_versions_of_one_rule_set_only() -> None:
    base = shipped_set(BASE)
    line = {"version": "9.9.9", "date": "2026-11-28", "change": "Something new."}
    file = changed(base.file, version="9.9.9", changes=[*base.file.model_dump()["changes"], line])
    told = [(t.place, t.before, t.after) for t in rule_set_difference(base, replace(base, file=file)).about]
    assert told == [("history", None, "9.9.9 (2026-11-28): Something new.")]
    assert not [t for t in between(BASE, "wide_screen").about if t.place in ("history", "changes")]


def test_own_elements_and_what_is_replaced_are_told() -> None:
    base = shipped_set(BASE)
    element = catalogue()["body_weight"]
    one = Replacement("criterion", "body_mass_index_limit", "1.0.0", "0.2.0", "Ours is wider.")
    before = replace(base, elements=(), replaced=(one,))
    after = replace(base, elements=(element,), replaced=(replace(one, reason="Ours is narrower."),))
    found = rule_set_difference(before, after)
    assert [(e.id, e.change) for e in found.elements] == [("body_weight", "added")]
    (row,) = found.replaced
    assert (row.id, row.change) == ("criterion body_mass_index_limit", "changed")
    assert [(t.place, t.before, t.after) for t in row.texts] == [
        ("reason", "Ours is wider.", "Ours is narrower.")
    ]


def test_a_local_trial_is_named() -> None:
    base = shipped_set(BASE)
    trial = base.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
    text = as_text(rule_set_difference(base, trial))
    assert "local trial: body_mass_index_limit.bmi_upper_limit = 40" in text
    assert "35 kg/m2 → 40 kg/m2" in text


def test_the_json_form_reads_back_equal_and_is_the_same_each_time() -> None:
    found = between(BASE, "wide_screen")
    text = found.to_json()
    assert RuleSetDifference.model_validate_json(text) == found
    assert text == rule_set_difference(shipped_set(BASE), shipped_set("wide_screen")).to_json()
    assert json.loads(text)["schema_version"] == "1"


def test_foreign_text_can_neither_steer_a_terminal_nor_make_a_heading() -> None:
    base = shipped_set(BASE)
    item = base.criterion("body_mass_index_limit")
    own = changed(item.criterion, why="a\n# heading\x1b[31m <b>*bold*</b>")
    found = rule_set_difference(base, with_criterion(base, item.id, criterion=own))
    for text in (as_text(found), as_markdown(found)):
        assert "\x1b" not in text
    markdown = as_markdown(found)
    assert r"\# heading" in markdown
    assert r"\<b\>\*bold\*" in markdown
    headings = [line for line in markdown.splitlines() if line.startswith("#")]
    assert len(headings) == 3


def test_markdown_holds_every_line_of_the_text() -> None:
    found = between(BASE, "trial_style_strict")
    text = [line.strip() for line in as_text(found).splitlines() if line.strip()]
    markdown = [
        line.strip().removeprefix("- ").lstrip("# ").replace("\\", "")
        for line in as_markdown(found).splitlines()
        if line.strip()
    ]
    assert [line.replace("\\", "") for line in text] == markdown
