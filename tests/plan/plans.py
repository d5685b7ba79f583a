"""Plans of demonstration cases, made once for all tests that look at them."""

from datetime import date
from functools import cache
from typing import Any

from candidacy.case.load import Case, load_case
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.plan.content import Rules, load_plan
from candidacy.plan.document import PlanDocument, StepInfo
from candidacy.plan.entries import Entries, entries_of
from candidacy.plan.make import plan
from candidacy.plan.working_days import WorkingDays, working_days
from candidacy.rules.libraries import library_in_use, load_rule_set
from tests.plan import trees

TODAY = date(2026, 11, 25)


@cache
def rules() -> Rules:
    return load_plan(library_in_use())


@cache
def case(name: str) -> Case:
    return load_case(demo_cases_folder() / f"{name}.yaml")


def weekend() -> WorkingDays:
    return working_days(rules().setting("weekend_days"))


def entered(reference: str, **said: Any) -> Entries:
    return entries_of(
        trees.tree({"schema_version": "1", "case": reference, **said}), "entries.yaml", reference
    )


def made(
    record: Case | str, on: date, *, as_of: date = TODAY, rule_set: str = "practice_baseline", **more: Any
) -> PlanDocument:
    found = case(record) if isinstance(record, str) else record
    return plan(found, load_rule_set(rule_set), rules(), on, as_of, engine="direct", **more)


def step(document: PlanDocument, name: str) -> StepInfo:
    return next(each for each in document.steps if each.id == name)
