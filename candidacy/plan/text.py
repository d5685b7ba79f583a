"""A plan as text: cautions first, what stands against the day, the gate, then the steps by day."""

import textwrap

from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.foundation.digest import short
from candidacy.foundation.visible import clean
from candidacy.plan.document import PlanDocument, StepInfo

_WIDTH = 100
_MOST = 12


def plan_text(plan: PlanDocument, *, full: bool = False) -> str:
    """The plan for a terminal; ``full`` adds what belongs to each step, every missing fact, the form and the sources."""
    p = plan
    lines = [f"{HEADS[p.kind]}: {p.case.id}, {p.weekday} {p.day}{f' {p.hour}' if p.hour else ''}"]
    rules = f"{p.rule_set.title} ({p.rule_set.id} {p.rule_set.version}, {p.rule_set.status}); {p.plan.title} ({p.plan.id} {p.plan.version})"
    lines += _wrapped(f"Made on {p.as_of} under {rules}.")
    for caution in p.cautions if full else p.cautions[:3]:
        lines += _wrapped(caution, "! ")
    for notice in p.notices:
        lines += _wrapped(notice, "! ")
    if p.kind == "urgent":
        for each in p.urgent:
            lines += ["", *_wrapped(each, "‼ ")]
        return _ended(lines, p)
    for standing in p.standings:
        lines += _wrapped(standing.reason, "· ")
    if p.changes is not None:
        lines += ["", f"What changed since the plan for {p.changes.moved_from}", *changes_lines(p)]
    lines += ["", "Against this day"]
    for each in p.earliest_says:
        lines += _wrapped(each)
    for conflict in p.conflicts:
        until = f" [free of it from {conflict.earliest}]" if conflict.earliest else ""
        lines += _wrapped(f"{conflict.words}{until} (judged as of {conflict.as_of})", "✗ ")
    if not p.conflicts:
        lines += ["- nothing with what is recorded now"]
    for each in p.why_none:
        lines += _wrapped(each, "✗ ")
    if p.kind == "plan":
        lines += ["", "Before the material is ordered" + (f" ({p.gate.order_by})" if p.gate.order_by else "")]
        lines += _wrapped(p.gate.says)
        shut = [item for item in p.gate.items if not item.settled]
        for item in shut if full else shut[:_MOST]:
            why = f": {item.why}" if item.why and item.why != item.words else ""
            lines += _wrapped(f"{item.words}{why} ({p.owners.get(item.owner, item.owner)})", "☐ ")
        if len(shut) > _MOST and not full:
            lines.append(f"  and {len(shut) - _MOST} more: --full")
    lines += ["", "Steps"]
    for step in p.steps:
        lines += _step(step, full)
    if full or p.kind == "no_plan":
        lines += _facts(p)
    if p.holds is not None:
        lines += ["", f"Medicines, as of {p.as_of}"]
        for medicine in p.holds.medicines:
            words = "; ".join(
                f"{label}: {text}" for label, text in hold_lines(medicine, p.holds.planned) if label != "Note"
            )
            lines += _wrapped(f"{hold_title(medicine)}. {words}", "- ")
    if p.discography is not None and (full or not p.discography.done):
        lines += ["", "Discography"]
        for each in p.discography.says:
            lines += _wrapped(each, "- ")
        if full and p.discography.form:
            lines += ["", *p.discography.form.splitlines()]
    if p.cost:
        lines += ["", "Cost and coverage"]
        for each in p.cost:
            lines += _wrapped(each, "- ")
    if p.material is not None:
        lines += ["", "Material"]
        for each in [
            *p.material.says,
            *(row.words for row in p.material.rows if full or row.verdict in ("kept", "broken")),
        ]:
            lines += _wrapped(each, "- ")
    if full:
        lines += ["", "Sources"]
        for source in p.sources:
            lines += _wrapped(f"{source.key}: {source.text}", "- ")
    return _ended(lines, p)


HEADS = {"plan": "PLAN", "no_plan": "NO INJECTION PLAN", "urgent": "URGENT, NO PLAN"}


def changes_lines(plan: PlanDocument) -> list[str]:
    """What changed against an earlier plan, one line each."""
    changes = plan.changes
    if changes is None:
        return []
    lines = [
        f"- moved: {move.facts}: {move.before or 'no date'} -> {move.now or 'no date'}"
        for move in changes.moved
    ]
    lines += [f"- added: {title}" for title in changes.added] + [f"- gone: {title}" for title in changes.gone]
    lines += [f"- now against the day: {words}" for words in changes.conflicts_new]
    lines += [f"- no longer against the day: {words}" for words in changes.conflicts_gone]
    return lines or ["- nothing"]


def _step(step: StepInfo, full: bool) -> list[str]:
    mark = {"done": "✓", "cancelled": "⨯", "planned": " "}[step.state]
    gate = " [before ordering]" if step.gate and step.state == "planned" else ""
    when = f"{step.due or 'no date   '} {step.clock or '     '}"
    note = step.moved_because or step.no_date_because
    lines = _wrapped(
        f"{mark} {when}  {step.facts} ({step.owner_words}){gate}{f'. {note}' if note else ''}", "", 21
    )
    if full:
        for each in [*step.lines, *step.says]:
            lines += _wrapped(each, " " * 21 + "- ", 23)
    return lines


def _facts(plan: PlanDocument) -> list[str]:
    lines = ["", "Missing facts, and what has to be mended"]
    for row in plan.facts:
        who = plan.owners.get(row.owner, row.owner)
        lines += _wrapped(f"{row.ask}: {who}, from {row.earliest or '(no date)'} to {row.due}", "- ")
    return lines if plan.facts else []


def _wrapped(text: str, first: str = "", rest: int | None = None) -> list[str]:
    indent = " " * (len(first) if rest is None else rest)
    return textwrap.wrap(
        clean(text), _WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
    ) or [first]


def _ended(lines: list[str], p: PlanDocument) -> str:
    digests = f"{p.program}; rules {short(p.rule_set.digest)}; plan {short(p.plan.digest)}; case {short(p.case.digest)}"
    return "\n".join([*lines, "", digests]) + "\n"
