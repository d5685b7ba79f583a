"""What is missing by a proposed day, and the steps that ask for it: one for each owner and time."""

from datetime import date, timedelta

from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.explain.asked import asked_among
from candidacy.foundation import dates
from candidacy.plan.content import Rules
from candidacy.plan.dated import Dated
from candidacy.plan.document import FactRow
from candidacy.plan.ground import Ground
from candidacy.plan.obstacles import Against, is_near


def missing_facts(
    here: Ground, found: Against, rules: Rules, as_of: date, order: date | None
) -> list[FactRow]:
    """What is missing and what has to be done, each with who can give it, from which day on, and by which day.

    Parameters
    ----------
    as_of
        The day of the plan.
    order
        The day by which material is ordered; ``None`` where none is known.
    """
    rows: dict[tuple[str, str], FactRow] = {}
    usual = here.on - timedelta(rules.setting("near_day_days"))
    for then, _ in here.pairs:
        by_id = {result.id: result for result in then.results if result.outcome == "undetermined"}
        for missing in asked_among(then.missing):
            key = (missing.element, missing.subject)
            if key in rows:
                continue
            criteria = [by_id[name] for name in missing.criteria if name in by_id]
            near = bool(criteria) and all(is_near(result, rules) for result in criteria)
            first = max([as_of, *(_window(result, missing.element, here.on) for result in criteria)])
            element = catalogue().get(missing.element)
            owner = element.supplied_by if element is not None else "referrer"
            level = "" if missing.subject == "patient" else f"{missing.subject}: "
            rows[key] = FactRow(
                element=missing.element, subject=missing.subject, ask=f"{level}{missing.ask}",
                owner="physician" if owner == "derived" else owner, earliest=min(first, here.on).isoformat(),
                due=min(here.on, here.on if near else max(first, order or usual)).isoformat(), near=near, as_of=here.on.isoformat(),
            )  # fmt: skip
    for act in found.acts:
        due = here.on if act.near else min(order or usual, here.on)
        rows[act.id, act.subject] = FactRow(
            element="", subject=act.subject, ask=act.what, owner=act.who or "physician", earliest=_iso(act.earliest),
            due=max(due, act.earliest or due).isoformat(), near=act.near, as_of=here.on.isoformat(),
        )  # fmt: skip
    return list(rows.values())


def what_remains(facts: list[FactRow], rules: Rules) -> list[Dated]:
    """One step for each owner and time, with everything that is missing of them."""
    groups: dict[tuple[str, str, str], list[FactRow]] = {}
    for row in facts:
        kind = "acts" if not row.element else "facts_near" if row.near else "facts"
        near = "_near" if row.near and kind == "acts" else ""
        groups.setdefault((kind, near, row.owner), []).append(row)
    steps = []
    for (kind, near, owner), rows in groups.items():
        due = min(date.fromisoformat(row.due) for row in rows)
        word = "act" if kind == "acts" else "fact"
        name = "what" if kind == "acts" else "ask"
        says = [
            rules.word(word, **{name: row.ask}, earliest=row.earliest or rules.word("undated"))
            for row in rows
        ]
        title = rules.word(f"{kind}_title")
        step = Dated(f"{kind}{near}_{owner}", "facts", title, owner, due, says=[], facts=f"{title}: {len(rows)}",
                     earliest=min((date.fromisoformat(row.earliest) for row in rows if row.earliest), default=None), moves="never" if rows[0].near else "before",
                     as_of=date.fromisoformat(rows[0].as_of))  # fmt: skip
        step.lines = says
        steps.append(step)
    return steps


def _window(result: CriterionResult, element: str, on: date) -> date:
    """The first day on which a fact may be obtained so that it is still young enough on the proposed day."""
    recency = result.resolved.criterion.recency
    if recency is None or element not in recency.elements:
        return date.min
    limit = result.resolved.parameters.get(recency.max_age.parameter)
    if limit is None or not isinstance(limit.value, int | float):
        return date.min
    return dates.oldest_within(int(limit.value), limit.unit or "day", on)


def _iso(day: date | None) -> str:
    return "" if day is None else day.isoformat()
