"""Small cohorts that the tests of counts, pages and folders share, and their plain-Python evaluation."""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.case.element import LISTS
from candidacy.case.load import Case, case_from_record
from candidacy.cohort.columns.facts_table import NAMING
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Members
from candidacy.rules.resolved import RuleSet
from tests.cohort.agreement import Single
from tests.cohort.generated import cases, rule_sets
from tests.strategies import AS_OF, elements_read

# Of every force and both subjects, with ages, windows, codes and counts of discs; few, so that it is quick.
SOME = (
    "cauda_equina_signs_present", "able_to_consent", "age_lower_limit", "age_upper_limit",
    "body_mass_index_limit", "pain_duration_minimum", "odi_minimum", "odi_maximum",
    "degeneration_grade_window", "displacement_limit", "protrusion_size_limit", "high_intensity_zone",
    "number_of_discs_to_treat", "considered_disc_borderline_or_open", "pregnancy_present",
)  # fmt: skip

FEW = (
    "cauda_equina_signs_present", "age_lower_limit", "body_mass_index_limit", "displacement_limit",
    "number_of_discs_to_treat",
)  # fmt: skip


def shipped(name: str) -> RuleSet:
    """A shipped rule set."""
    return next(rule_set for rule_set in rule_sets() if rule_set.id == name)


def part_of(rule_set: RuleSet, ids: Iterable[str] = SOME) -> RuleSet:
    """A rule set with some of its criteria, in the declared order."""
    wanted = set(ids)
    kept = tuple(item for item in rule_set.criteria if item.id in wanted)
    assert {item.id for item in kept} == wanted
    return replace(rule_set, criteria=kept)


def write_cases(folder: Path, given: Iterable[Case]) -> Path:
    """Case records as files, the form in which a folder of them is screened."""
    folder.mkdir(exist_ok=True)
    for case in given:
        (folder / f"{case.record.id}.json").write_text(json.dumps(case.record.plain()), encoding="utf-8")
    return folder


def one_by_one(given: Sequence[Case], rule_set: RuleSet) -> dict[str, dict[str, Any]]:
    """The single-case evaluation of each case, by case reference."""
    single = Single(rule_set, AS_OF)
    return {case.record.id: single.outcomes(case) for case in given}


def each_assessed(
    given: Sequence[Case], rule_set: RuleSet, beside: Sequence[Assessment] = ()
) -> list[Assessment]:
    """Each case by itself; beside an assessment of it under another rule set what both see alike is read once."""
    assessor = Assessor(rule_set, "direct")
    before = beside or [None] * len(given)
    return [assessor.assess(case, AS_OF, other) for case, other in zip(given, before, strict=True)]


def of_usual_discs(given: Iterable[Case], levels: Sequence[str] = ("L3-L4", "L4-L5", "L5-S1")) -> list[Case]:
    """Cases that speak of three discs at most; every further one makes each query longer."""
    found = []
    for case in given:
        named = set(case.facts.discs)
        for element in NAMING:
            fact = case.facts.patient.get(element)
            named |= fact.value.certain if fact is not None and isinstance(fact.value, Members) else set()
        if named <= set(levels):
            found.append(case)
    return found


def plain_cases(count: int, ids: Iterable[str], level: str = "L4-L5") -> list[Case]:
    """Cases that state only what a few criteria read, about one disc: short expressions, for the slower engine."""
    wanted = {element.name for element in elements_read(part_of(shipped("practice_baseline"), ids))}
    found: list[Case] = []
    for case in cases(32, 4 * count, (level,)):
        record = case.record
        patient = {name: entry for name, entry in record.patient.items() if name in wanted}
        chosen = patient.get("discs_under_consideration")
        if chosen is not None and set(chosen.value or chosen.includes or ()) - {level}:  # type: ignore[arg-type]
            del patient["discs_under_consideration"]
        disc = {name: e for name, e in record.discs.get(level, {}).items() if name in wanted}
        discs = {level: disc} if level in record.discs else {}
        lists = dict.fromkeys(LISTS)
        found.append(
            case_from_record(record.model_copy(update={"patient": patient, "discs": discs, **lists}))
        )
        if len(found) == count:
            break
    return found


def records(frame: Any) -> list[dict[str, Any]]:
    """Rows of a DataFrame with None where it has no value."""
    found: list[dict[str, Any]] = frame.astype(object).where(lambda f: f.notna(), None).to_dict("records")
    return found
