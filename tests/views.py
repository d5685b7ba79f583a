"""Small cases as a rule set sees them, for tests of derived elements and of single conditions."""

import json
from datetime import date
from functools import cache
from typing import Any

from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.assessment.view import View
from candidacy.case.facts import Fact
from candidacy.case.load import Case, parse_case
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, Words
from candidacy.rules.conditions import Condition
from candidacy.rules.criterion import Criterion
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import Tables, as_declared
from candidacy.rules.tree import THIS_DISC

AS_OF = date(2026, 11, 25)
Given = dict[str, Any]


def written_for_disc(condition: Condition, level: str) -> Condition:
    """A condition as it would be written for one disc, with the disc where ``this_disc`` stands."""

    def put(tree: Any) -> Any:
        if isinstance(tree, dict):
            return {key: put(part) for key, part in tree.items()}
        if isinstance(tree, list | tuple):
            return [put(part) for part in tree]
        return level if tree == THIS_DISC else tree

    return Condition.model_validate(put(condition.model_dump(by_alias=True, exclude_none=True)))


def case_of(
    patient: Given | None = None,
    disc: Given | None = None,
    level: str = "L4-L5",
    discs: dict[str, Given] | None = None,
    **lists: list[Given] | tuple[list[Given], bool],
) -> Case:
    """A case from plain data. A list is complete unless given as (entries, False)."""
    record: dict[str, Any] = {"schema_version": "1", "id": "check", "patient": patient or {}}
    record["discs"] = {**({level: disc} if disc else {}), **(discs or {})}
    for name, entries in lists.items():
        complete = True
        if isinstance(entries, tuple):
            entries, complete = entries
        record[name] = {"complete": complete, "entries": entries}
    return parse_case(json.dumps(record))


@cache
def _tables() -> Tables:
    return shipped().tables()


def view_of(case: Case, as_of: date = AS_OF, **settings: Any) -> View:
    """The case under the shipped settings, with some of them changed."""
    values = {name: setting.value for name, setting in shipped().settings().items()}
    unknown = set(settings) - set(values)
    assert not unknown, f"no such setting: {unknown}"
    return View(case.facts, as_of, {**values, **settings}, _tables())


def fact_of(element: str, case: Case, subject: str = "patient", as_of: date = AS_OF, **settings: Any) -> Fact:
    """A fact of a case under the shipped settings."""
    return view_of(case, as_of, **settings).fact(element, subject)


def told(fact: Fact) -> Any:
    """The value as plain data: a number, a (low, high) pair, a code, a set of codes, text, or nothing."""
    value = fact.value
    if isinstance(value, Span):
        return value.low if value.exact else (value.low, value.high)
    if isinstance(value, Options):
        return next(iter(value.codes)) if value.exact else set(value.codes)
    if isinstance(value, Members):
        return set(value.certain)
    return value.text if isinstance(value, Words) else None


def meets(condition: Given, view: View, subject: str = "patient", kind: str = "inclusion") -> Truth:
    """Truth of one condition written as in a rule file, on a view."""
    criterion = Criterion.model_validate(
        {
            "id": "check_of_print", "kind": kind, "title": "Check", "group": "who", "force": "advisory",
            "subject": "patient" if subject == "patient" else "disc", "status": "draft", "version": "0.1.0",
            "checked_on": "2026-11-25", "why": "A check.", "when": condition, "if_unknown": "ask", "ask_for": "It",
            "cites": [{"source": "common_practice", "supports": "use", "tag": "common practice"}],
            "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "Check."}],
        }
    )  # fmt: skip
    return CompiledCriterion(as_declared(criterion)).read(view, subject).truth
