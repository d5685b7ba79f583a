"""What stands against a proposed day, each with the first day that is free of it, where such a day is known."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import date, time, timedelta

from msgspec import Struct

from candidacy.assessment.hold_plan import MedicineHold
from candidacy.assessment.outlook import Mending
from candidacy.assessment.record_grounds import ground_name
from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.explain.cited import cites_words
from candidacy.explain.found import found_words
from candidacy.explain.hold_plan import hold_title, holds_info
from candidacy.explain.record import fact_info, fact_words
from candidacy.foundation import dates
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.plan.content import Rules
from candidacy.plan.dated import hours_earlier
from candidacy.plan.ground import Ground, decisive
from candidacy.plan.working_days import WorkingDays


class Obstacle(Struct, frozen=True):
    """One reason against a day.

    Attributes
    ----------
    words, reason
        The whole sentence, and the same as it reads after "because".
    earliest
        The first day on which it no longer stands against the injection; nothing where none is known.
    as_of
        The day for which it was judged.
    relative
        A decision in writing may set it aside.
    """

    id: str
    words: str
    reason: str
    earliest: date | None
    as_of: date
    owner: str = "physician"
    relative: bool = False


class Act(Struct, frozen=True):
    """Something that mends a failure and can be done before the day."""

    id: str
    subject: str
    what: str
    who: str
    earliest: date | None
    near: bool


@dataclass(slots=True)
class Against:
    """Everything against a day, and what can be done about it before the day."""

    obstacles: list[Obstacle] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)


def is_near(result: CriterionResult, rules: Rules) -> bool:
    """Whether a criterion can only be settled close to the day: by the age its facts may have, or because the plan says so."""
    if result.id in rules.file.after_order:
        return True
    recency = result.resolved.criterion.recency
    limit = result.resolved.parameters.get(recency.max_age.parameter) if recency is not None else None
    if limit is None or not isinstance(limit.value, int | float):
        return False
    days = {"day": 1, "week": 7, "month": 28, "year": 365}[limit.unit or "day"]
    return bool(limit.value * days <= rules.setting("near_age_days"))


def against(ground: Ground, rules: Rules, calendar: WorkingDays, hour: time | None = None) -> Against:
    """What stands against the proposed day, and its hour if known, by criteria, contradictions, medicines and the calendar."""
    found = Against()
    off = calendar.off(ground.on)
    if off:
        free = calendar.after(ground.on)
        words = rules.word("day_off", day=ground.on.isoformat(), why=off)
        found.obstacles.append(Obstacle("day_off", words, words.rstrip("."), free, ground.on))
    for then, today in ground.pairs:
        todays = {(result.id, result.subject): result for result in today.results}
        for result in decisive(then):
            key = (result.id, result.subject)
            now = todays.get(key)
            fails = now is not None and now.outcome == "fail"
            if now is not None and fails and result.outcome == "undetermined":
                # what fails today does not stop failing because its facts will be too old by then
                mending = today.outlook.mendings[key]
                _criterion(found, ground, rules, now, mending, mending, ground.as_of)
                continue
            todays_mending = today.outlook.mendings.get(key) if fails else None
            _criterion(found, ground, rules, result, then.outlook.mendings[key], todays_mending, ground.on)
    seen: set[str] = set()
    kept = []
    for each in found.obstacles:
        if each.words not in seen:
            seen.add(each.words)
            kept.append(each)
    found.obstacles = kept
    found.obstacles += _of_medicines(ground, rules, hour)
    found.obstacles += _of_record(ground, rules, {each.words for each in found.obstacles})
    found.acts = list({(act.subject, act.what): act for act in reversed(found.acts)}.values())[::-1]
    return found


def _criterion(
    found: Against,
    ground: Ground,
    rules: Rules,
    result: CriterionResult,
    mending: Mending,
    todays: Mending | None,
    as_of: date,
) -> None:
    level = "" if result.subject == "patient" else f"{result.subject}: "
    what, mendable = f"{level}{found_words(result)}", result.resolved.criterion.mendable
    name = f"{result.id}.{result.subject}"
    relative = result.resolved.force == "relative"

    def put(word: str, first: date | None, **fields: str) -> None:
        words = rules.word(word, what=what, **fields)
        owner = mendable.who if mendable is not None and mendable.who is not None else "physician"
        more = f" {rules.word('or_decision')}" if relative else ""
        found.obstacles.append(Obstacle(name, words + more, words.rstrip("."), first, as_of, owner, relative))

    if result.outcome == "undetermined":
        if mending.how == "settle":
            words = rules.word("conflict", what=f"{level}{mending.act}")
            found.obstacles.append(Obstacle(name, words, words.rstrip("."), None, as_of))
        return
    earliest = mendable.earliest if mendable is not None else None
    if mendable is None or mendable.how in ("no", "discs"):
        put("fails_always", None)
        return
    # what the calendar brings does not hang on the day of asking; anything else is counted from today
    by_calendar = earliest is not None and earliest.by_time
    source = mending if by_calendar or todays is None else todays
    day = source.earliest
    if day is not None and not by_calendar and todays is None:
        day = ground.as_of
    if day is not None and day > ground.on:
        put("fails_until", day, day=day.isoformat())
        return
    if day is not None and mendable.how == "time" and as_of < ground.on:
        return  # time mends it before the day, if the facts that are asked for again say so
    near = is_near(result, rules)
    if mendable.how == "act" and day is not None:
        found.acts.append(
            Act(
                name,
                result.subject,
                f"{level}{mendable.act}",
                mendable.who or "",
                max(day, ground.as_of),
                near,
            )
        )
        return
    put("fails_open", None, act=mendable.act, who=rules.file.owners[mendable.who or "physician"])
    found.acts.append(Act(name, result.subject, f"{level}{mendable.act}", mendable.who or "", None, near))


def _of_record(ground: Ground, rules: Rules, told: Collection[str]) -> Iterator[Obstacle]:
    """What the record itself says against the day, beside its criteria: signs of danger nobody weighs, what contradicts it."""
    then = ground.then
    # only what bears on the standing by its declared decision rules: some rule sets leave such a sign to others
    bears = {name for fired in then.decision.fired for name in fired.because}
    for fact, dangers, _ in then.unread:
        if dangers and ground_name(fact) in bears:
            words = rules.word("danger_not_weighed", what=fact_words(fact_info(fact)))
            more = f" {rules.word('or_decision')}"
            yield Obstacle(
                f"record.{fact.element}.{fact.subject}",
                words + more,
                words.rstrip("."),
                None,
                ground.on,
                relative=True,
            )
    for fact in (each for each in then.conflicts if ground_name(each) in bears):
        level = "" if fact.subject == "patient" else f"{fact.subject}: "
        what = fact.note or catalogue()[fact.element].label
        words = rules.word("conflict", what=f"{level}{what}".rstrip("."))
        # a criterion that is open for it may have said so already
        if not any(what in each for each in told):
            yield Obstacle(f"record.{fact.element}.{fact.subject}", words, words.rstrip("."), None, ground.on)


def waits(hold: MedicineHold) -> bool:
    """Whether an interval may have to pass, or somebody has to decide whether one has to."""
    return (
        bool(hold.intervals)
        or bool({"shared_decision", "written_agreement"} & set(hold.actions))
        or not hold.actions
    )


def _of_medicines(ground: Ground, rules: Rules, hour: time | None) -> Iterator[Obstacle]:
    plan = ground.holds
    for hold, info in zip(plan.medicines, holds_info(plan, ground.rule_set).medicines, strict=True):
        title = hold_title(info)
        name = hold.subject
        if info.alarm:
            words = rules.word("stopped_unagreed", medicine=title, alarm=info.alarm)
            yield Obstacle(f"{name}.stopped", words, words.rstrip("."), None, ground.as_of, "prescriber")
        if not waits(hold) or (hold.ready is Truth.MET and hold.agreement in ("given", "not_needed")):
            continue
        if hold.agreement in ("needed", "unknown", "refused"):
            words = rules.word("hold_no_date", medicine=title, why=info.goes_on or info.no_date_because)
            yield Obstacle(f"{name}.agreement", words, words.rstrip("."), None, ground.as_of, "prescriber")
            continue
        yield from _interval(ground, rules, hold, title, hour)


def _interval(
    ground: Ground, rules: Rules, hold: MedicineHold, title: str, hour: time | None
) -> Iterator[Obstacle]:
    """The interval of a medicine that may be held: counted from the recorded last dose, else as if a dose is taken today."""
    until = _last(hold.hold_until)
    if hold.last_dose is not None and until is not None:
        if until > ground.on:
            words = rules.word("hold_not_over", medicine=title, day=until.isoformat())
            yield Obstacle(f"{hold.subject}.interval", words, words.rstrip("."), until, ground.as_of)
        return
    last = None if hold.last_dose_by is None else date.fromordinal(int(hold.last_dose_by.low))
    if last is None:
        if hold.no_date_because and hold.ready is not Truth.MET:
            words = rules.word("hold_no_date", medicine=title, why=hold.no_date_because)
            yield Obstacle(f"{hold.subject}.date", words, words.rstrip("."), None, ground.as_of)
        return
    if hold.hours_before is not None and hour is not None:
        last = hours_earlier(ground.on, hour, hold.hours_before).date()
    days = (ground.on - last).days
    earliest = ground.as_of + timedelta(days)
    if earliest > ground.on:
        words = rules.word(
            "hold_too_late",
            medicine=title,
            last=last.isoformat(),
            days=dates_words(days),
            day=earliest.isoformat(),
        )
        yield Obstacle(f"{hold.subject}.interval", words, words.rstrip("."), earliest, ground.as_of)


def dates_words(days: int) -> str:
    """A number of days in words."""
    return f"{days} day{'' if days == 1 else 's'}"


def _last(span: Span | None) -> date | None:
    return None if span is None or not span.bounded else date.fromordinal(int(span.high))


def wait_after_discography(ground: Ground, rules: Rules) -> tuple[int, str]:
    """Days to wait between discography and injection of the same disc, and where the number comes from."""
    try:
        found = ground.rule_set.criterion("wait_after_discography").parameters["wait"]
    except KeyError:
        setting = rules.file.settings["wait_without_rule_days"]
        return int(rules.setting("wait_without_rule_days")), cites_words(setting.cites)
    days = dates.add(date(2001, 1, 1), int(float(str(found.value))), found.unit or "day") - date(2001, 1, 1)
    return days.days, cites_words(found.cites)
