"""The plan of holds as a part of the document. It words what the plan says, and tells nobody to stop anything."""

from candidacy.assessment.hold_plan import GOES_ON, Agreement, HoldPlan, MedicineHold
from candidacy.case.catalogue import catalogue
from candidacy.explain.cited import citation_info
from candidacy.explain.holds_document import HoldInfo, HoldsInfo
from candidacy.explain.wording import code_words, listed, subject_words
from candidacy.foundation import dates
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.rules.resolved import RuleSet

NO_INTERVAL = "no interval has to pass"
_PRESCRIBER = "the prescriber, in writing"
_REFUSED = "Continued, as its prescriber decided"
_NOT_KNOWN = "Not known which medicine this is: ask"
_MAY_BE_HELD = ("not_needed", "given")


def holds_info(plan: HoldPlan, rule_set: RuleSet) -> HoldsInfo:
    """The plan in words."""
    return HoldsInfo(
        planned=_day(plan.planned),
        guideline=_choice(rule_set, "antithrombotic_guideline"),
        risk_class=_risk_class(plan, rule_set),
        days_mean=_choice(rule_set, "hold_days_mean"),
        list_complete=plan.list_complete,
        raise_reasons=list(plan.raise_reasons),
        medicines=[_medicine(medicine) for medicine in plan.medicines],
        cautions=list(plan.cautions),
    )


def _medicine(medicine: MedicineHold) -> HoldInfo:
    meanings = catalogue()["medicine_hold_action"].choices or {}
    agreement = medicine.agreement
    refused = agreement == "refused"
    nothing_to_wait_for = medicine.hold_until is not None and not medicine.intervals
    return HoldInfo(
        subject=medicine.subject,
        name=medicine.name,
        agent=code_words(medicine.agent),
        medicine_class=code_words(medicine.medicine_class),
        indication=code_words(medicine.indication),
        says=[_REFUSED] if refused else [meanings[code] for code in medicine.actions] or [_NOT_KNOWN],
        goes_on=_goes_on(agreement),
        alarm=_alarm(medicine),
        intervals=[] if refused else list(medicine.intervals),
        last_dose=_last_dose(medicine),
        last_dose_by=last_dose_by_words(medicine.last_dose_by, medicine.last_dose_by_hours),
        hold_until=_day(medicine.hold_until) if medicine.intervals else "",
        no_date_because=NO_INTERVAL if nothing_to_wait_for else medicine.no_date_because,
        restart=medicine.restart if agreement in _MAY_BE_HELD else "",
        agreement=agreement,
        who_must_agree=_who(medicine, agreement),
        inr_normal=medicine.inr_normal.value,
        ready=medicine.ready.value,
        cautions=list(medicine.cautions),
        cites=[citation_info(cite) for cite in medicine.cites],
    )


def holds_head(holds: HoldsInfo) -> list[tuple[str, str]]:
    """Label and text of what holds for every medicine of the plan."""
    lines = [
        ("Guideline", holds.guideline),
        ("Bleeding risk class used", holds.risk_class),
        ("Days in the table mean", holds.days_mean),
        ("Facts that may raise the class by one", listed(holds.raise_reasons)),
    ]
    return [(label, text) for label, text in lines if text]


def hold_title(medicine: HoldInfo) -> str:
    """A medicine as it is named in a list."""
    known = [
        "" if medicine.agent.startswith("other") else medicine.agent,
        medicine.medicine_class,
        f"for {medicine.indication}" if medicine.indication else "",
    ]
    more = "; ".join(dict.fromkeys(part for part in known if part and part != medicine.name))
    name = medicine.name or subject_words(medicine.subject)
    return f"{name} ({more})" if more else name


def hold_lines(medicine: HoldInfo, planned: str) -> list[tuple[str, str]]:
    """Label and text of everything that is said about one medicine; what is not known says so."""
    interval = listed(medicine.intervals, "or")
    agreed = medicine.agreement in _MAY_BE_HELD
    lines = [
        ("Today", medicine.alarm),
        ("Now", medicine.goes_on),
        ("By the table", "; or ".join(medicine.says)),
        ("Interval" if agreed else "Interval, if the prescriber agrees", interval),
        ("Last dose", medicine.last_dose or ("not recorded" if interval else "")),
        ("Last dose no later than", medicine.last_dose_by),
        ("Interval is over on", medicine.hold_until),
        ("No date, because", "" if medicine.hold_until else medicine.no_date_because),
        ("Restart, if it was stopped", medicine.restart),
        ("Who must agree", medicine.who_must_agree),
        (f"Ready on {planned}", _ready(medicine)),
        ("Note", "; ".join(medicine.cautions)),
    ]
    return [(label, text) for label, text in lines if text]


def _ready(medicine: HoldInfo) -> str:
    if medicine.agreement == "refused" and medicine.ready != "met":
        return "not judged by an interval; the prescriber's written plan says whether to go ahead"
    if medicine.ready == "met" and medicine.agreement in ("needed", "unknown"):
        return "the interval is over; the agreement is still open"
    inr = "; a normal INR of the day is still asked for" if medicine.inr_normal != "met" else ""
    return {"met": "yes", "not_met": "no", "unknown": "not known yet"}[medicine.ready] + inr


def _goes_on(agreement: Agreement) -> str:
    reasons = {
        "refused": "its prescriber refused",
        "needed": "its prescriber has not agreed in writing",
        "unknown": "whether its prescriber must agree is not known yet",
    }
    return f"{GOES_ON}: {reasons[agreement]}" if agreement in reasons else ""


def _alarm(medicine: MedicineHold) -> str:
    """What to do where it is stopped without the agreement that is known to be needed, or against a refusal."""
    if not medicine.stopped_unagreed:
        return ""
    refused = medicine.agreement == "refused"
    how = "although its prescriber refused" if refused else "without a recorded agreement"
    clot = medicine.group == "antithrombotic"
    danger = "a clot, not bleeding" if clot else "the illness for which it is taken"
    return f"no longer taken, {how}: contact the prescriber today; the danger is {danger}"


def _who(medicine: MedicineHold, agreement: Agreement) -> str:
    if agreement == "refused":
        return f"{_PRESCRIBER}; refused, ask again before any change"
    if agreement == "given":
        return f"{_PRESCRIBER}; given"
    if agreement in ("needed", "unknown"):
        return _PRESCRIBER + ("" if agreement == "needed" else ", unless what is missing shows otherwise")
    decides = {"shared_decision", "consider"} & set(medicine.actions)
    return "the prescriber decides together with the physician" if decides else ""


def _last_dose(medicine: MedicineHold) -> str:
    """Day of the last dose, and the hours where the record or the table speaks of hours."""
    day = _day(medicine.last_dose)
    if medicine.last_dose_hours_ago is not None:
        return f"{day}, {_hours(medicine.last_dose_hours_ago)} before the record"
    by_the_hour = any("hour" in interval for interval in medicine.intervals)
    return f"{day}, its hour not recorded" if day and by_the_hour else day


def _hours(hours: Span) -> str:
    return f"{hours.low:g} hours" if hours.exact else f"{hours.low:g} to {hours.high:g} hours"


def last_dose_by_words(last: Span | None, hours_before: tuple[str, ...]) -> str:
    """The last day for a dose, with the hours before the procedure where these decide; empty where there is none."""
    day = _day(last)
    if not day or not hours_before:
        return day
    hours = listed(list(hours_before))
    return f"{hours} before the procedure; at any hour of {day}, later by its hour"


def _risk_class(plan: HoldPlan, rule_set: RuleSet) -> str:
    """The class in use, and the class above where a reason that the rule set names raises it or may raise it."""
    words = _choice(rule_set, "bleeding_risk_class")
    if plan.raised is Truth.NOT_MET or plan.raised_class == plan.risk_class:
        return words
    how = "raised" if plan.raised is Truth.MET else "perhaps raised, a fact is missing,"
    return f"{words}; {how} by one to {plan.raised_class} for this patient"


def _choice(rule_set: RuleSet, name: str) -> str:
    setting = rule_set.settings[name]
    choices = getattr(setting.declared, "choices", None) or {}
    return str(choices.get(setting.value, setting.value))


def _day(day: Span | None) -> str:
    return "" if day is None else dates.words(day)
