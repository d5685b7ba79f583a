"""Demonstration cases as answered, each once for all tests of letters."""

from datetime import date
from functools import cache

from candidacy.case.load import load_case
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.letters.draft import Answered, answered, drafts
from candidacy.letters.letter import Letter
from candidacy.reading.addendum_letter import addendum_letter
from candidacy.rules.libraries import load_rule_set, shipped

DEMOS = sorted(p.stem for p in demo_cases_folder().glob("*.yaml") if p.stem != "mixed-scales")
TEMPLATES = ("referrer", "prescriber", "payer", "patient_before", "patient_after")
KINDS = (*TEMPLATES, "addendum")


@cache
def demo(name: str) -> Answered:
    case = load_case(demo_cases_folder() / f"{name}.yaml")
    as_of = date.fromisoformat(case.record.as_of) if case.record.as_of else date(2026, 11, 25)
    return answered(case, load_rule_set("practice_baseline"), as_of)


def letters_of(kind: str, answer: Answered, **more: object) -> list[Letter]:
    if kind == "addendum":
        return [addendum_letter(answer)]
    return drafts(kind, answer, shipped(), **more)  # type: ignore[arg-type]
