"""The gate before scarce material is ordered: what must be settled first. What is not known, or contradicts, never passes it."""

from collections.abc import Iterator
from datetime import date

from candidacy.assessment.assess import Assessment
from candidacy.assessment.results import CriterionResult
from candidacy.explain.found import found_words
from candidacy.explain.hold_plan import hold_title, holds_info
from candidacy.explain.wording import listed
from candidacy.foundation.dates import day
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, truth_of
from candidacy.plan.content import Rules
from candidacy.plan.dated import DISCOGRAPHY, Dated
from candidacy.plan.document import GateInfo, GateItem
from candidacy.plan.entries import Decision, Entries, booked, order_lead
from candidacy.plan.ground import Ground, decisive
from candidacy.plan.material import missing_limits
from candidacy.plan.obstacles import Against, is_near, waits


def gate_info(
    ground: Ground, rules: Rules, entries: Entries, found: Against, steps: list[Dated], order: date | None
) -> GateInfo:
    """Every item of the gate, settled ones too, and whether it is open.

    It is open where every item is settled, and only then.
    """
    items = [*_standing(ground, rules, entries), *_obstacles(_decision(entries, ground.as_of) is not None, found), *_criteria(ground, rules, steps),
             *_medicines(ground, rules), *_steps(rules, steps), *_entered(ground, rules, entries),
             *_discography(ground, rules, entries)]  # fmt: skip
    items = list({item.id: item for item in reversed(items)}.values())[::-1]  # the first of an id tells most
    shut = [item for item in items if not item.settled]
    says = rules.word("gate_shut", number=len(shut)) if shut else rules.word("gate_open")
    return GateInfo(
        open=not shut,
        order_by=order.isoformat() if order else "",
        items=[*shut, *(i for i in items if i.settled)],
        says=says,
    )


def _item(name: str, words: str, settled: bool, why: str, owner: str, as_of: date) -> GateItem:
    return GateItem(id=name, words=words, settled=settled, why=why, owner=owner, as_of=as_of.isoformat())


def _decision(entries: Entries, as_of: date) -> Decision | None:
    """The decision that was entered; one of a later day is none yet."""
    decided = entries.said.decision
    return decided if decided is not None and day(decided.on) <= as_of else None


def _standing(ground: Ground, rules: Rules, entries: Entries) -> Iterator[GateItem]:
    then = ground.then
    words = rules.word("gate_standing", standing=then.outlook.name)
    decided = _decision(entries, ground.as_of)
    for name in ground.not_judged:
        yield _item(
            f"judged.{name}", rules.word("gate_judged", rule_set=name), False, "", "physician", ground.on
        )
    # questions that are asked again close to the day leave a case incomplete until then; the criteria below tell which
    weighed = [r for r in decisive(then) if r.resolved.force == "relative" and r.outcome == "fail"]
    waiting = (
        then.standing == "incomplete"
        and not then.conflicts
        and all(_asked_again(r, ground.today, rules) for r in decisive(then) if r not in weighed)
    )
    to_decide = bool(weighed) or any(unread.dangers for unread in then.unread)
    if then.standing == "candidate" or (waiting and not to_decide):
        yield _item("standing", words, True, rules.word("gate_settled"), "physician", ground.on)
    elif decided is not None and (waiting or then.standing == "borderline"):
        yield _item(
            "standing",
            words,
            True,
            rules.word("gate_decided", on=decided.on, by=decided.by),
            "physician",
            ground.on,
        )
    else:
        yield _item("standing", words, False, rules.word("gate_decide"), "physician", ground.on)


def _criteria(ground: Ground, rules: Rules, steps: list[Dated]) -> Iterator[GateItem]:
    """Criteria that do not pass. A relative one that fails is weighed by people: it is the standing that asks for their decision."""
    # a step that is not done stands in the gate itself; one that is done does not vouch for the criteria it names
    covered = {name for step in steps if _shown(step) and not step.done for name in step.covers}
    for then, today in ground.pairs:
        for result in decisive(then):
            if result.id in covered:
                continue
            relative = (
                result.resolved.force == "relative" and result.outcome == "fail" and then is ground.then
            )
            if relative or _asked_again(result, today, rules):
                continue
            level = "" if result.subject == "patient" else f"{result.subject}: "
            mending = then.outlook.mendings[result.id, result.subject]
            why = f"{level}{found_words(result)}"
            words = f"{level}{result.resolved.criterion.title}"
            yield _item(
                f"{result.id}.{result.subject}",
                words,
                False,
                mending.act or why,
                mending.who or "physician",
                ground.on,
            )


def _asked_again(result: CriterionResult, today: Assessment, rules: Rules) -> bool:
    """Whether what is open on the day is only to be asked again: it passes today, or can be settled only after the order."""
    if result.outcome != "undetermined" or not is_near(result, rules):
        return False
    if result.id in rules.file.after_order:
        return True
    return any(r.outcome == "pass" for r in today.results if (r.id, r.subject) == (result.id, result.subject))


def _obstacles(decided: bool, found: Against) -> Iterator[GateItem]:
    for each in found.obstacles:
        if not (each.relative and decided):
            yield _item(each.id, each.words, False, "", each.owner, each.as_of)


def _medicines(ground: Ground, rules: Rules) -> Iterator[GateItem]:
    plan = ground.holds
    infos = holds_info(plan, ground.rule_set).medicines
    for hold, info in zip(plan.medicines, infos, strict=True):
        words = rules.word("gate_medicine", medicine=hold_title(info))
        agreed = hold.agreement in ("given", "not_needed")
        dated = hold.ready is Truth.MET or hold.last_dose_by is not None
        settled = not waits(hold) or (agreed and dated)
        why = (
            rules.word("gate_settled")
            if settled
            else info.goes_on or info.no_date_because or info.who_must_agree
        )
        yield _item(f"{hold.subject}.plan", words, settled, why, "prescriber", ground.as_of)


def _shown(step: Dated) -> bool:
    """Whether a step is an item of the gate; medicines and missing facts are items of their own."""
    return step.gate and step.part not in ("medicines", "facts")


def _steps(rules: Rules, steps: list[Dated]) -> Iterator[GateItem]:
    for step in steps:
        if _shown(step):
            why = (
                rules.word("gate_settled")
                if step.done
                else rules.word("may_not_apply")
                if step.applies is Truth.UNKNOWN
                else ""
            )
            yield _item(step.id, step.facts or step.title, step.done, why, step.owner, step.as_of or date.min)


def _discography(ground: Ground, rules: Rules, entries: Entries) -> Iterator[GateItem]:
    """One that is wanted may change which discs are treated; an older one in the record does not stand for it."""
    said = entries.said.discography
    if said is None or not said.wanted:
        return
    view, first = ground.today.view, booked(entries)
    when = view.fact("discography_date", "patient").value
    settled = (
        truth_of(view.fact("discography_done", "patient").value) is Truth.MET
        and isinstance(when, Span)
        and first is not None
        and first.toordinal() <= when.low
        and when.high <= ground.as_of.toordinal()
    )
    why = rules.word("gate_settled" if settled else "gate_discography")
    yield _item(DISCOGRAPHY, rules.word("discography_title"), settled, why, "physician", ground.as_of)


def _entered(ground: Ground, rules: Rules, entries: Entries) -> Iterator[GateItem]:
    lead = order_lead(entries, rules.file.order_lead.days)
    if lead is None:
        ask = rules.file.order_lead.ask
        yield _item("order_lead", rules.word("gate_lead", ask=ask), False, "", "coordinator", ground.as_of)
    missing = missing_limits(entries.said.material)
    if missing:
        yield _item(
            "limits",
            rules.word("gate_limits", limits=listed(missing)),
            False,
            "",
            "coordinator",
            ground.as_of,
        )
