"""Hold dates of every medicine of a case for a planned procedure, with the rule behind each.

Pure data for lists and printed pages. It proposes nothing beyond the chosen tables, and it never replaces the
prescriber's agreement, which stands beside every date.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any, Literal

from msgspec import Struct

from candidacy.assessment.relate import view_of
from candidacy.assessment.view import View
from candidacy.case.facts import CaseFacts, Fact, Provenance
from candidacy.case.load import Case
from candidacy.derive.base import Inputs, Underivable
from candidacy.derive.hold_agreement import no_dose_to_come, prescriber_agrees
from candidacy.derive.hold_risk import OLD_AGE, class_raised, raised, reason_holds
from candidacy.derive.hold_rules import GOES_ON as GOES_ON
from candidacy.derive.hold_rules import STOPPING, agreement_needed, rules_for
from candidacy.derive.hold_table import Rule, group_of, read_wait
from candidacy.derive.hold_times import DAY, LastDose, counted_in_hours, last_dose, last_dose_by
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth, all_of
from candidacy.foundation.values import Options, Span, Why, Words, truth_of
from candidacy.rules.cited import Citation
from candidacy.rules.resolved import RuleSet

# Facts that are published reasons to raise the risk class by one. Those that the setting names raise it; the others are
# shown for the physician.
_RAISE = {
    OLD_AGE: "old age",
    "bleeding_disorder": "a bleeding disorder",
    "platelet_dysfunction": "a platelet disorder",
    "severe_liver_disease": "severe liver disease",
    "renal_disease": "kidney disease",
    "prior_radiation_or_surgery_at_entry_site": "earlier surgery or radiation at the entry site",
}
# Settings on which every plan rests, whatever medicines are listed.
_OF_EVERY_PLAN = frozenset(("antithrombotic_guideline", "bleeding_risk_class", "hold_days_mean"))
# Where the prescriber's written agreement stands.
Agreement = Literal["not_needed", "needed", "given", "refused", "unknown"]
GENERAL_CAUTIONS = (
    "Intervals are guideline defaults reached by consensus; local rules and the prescriber come first.",
    "A stent, valve, recent clot or stroke medicine is never stopped without the prescriber's agreement in writing.",
    "An antidepressant is never stopped for this procedure.",
    "Dates count from the recorded last dose; a later dose starts them again.",
)


class MedicineHold(Struct, frozen=True):
    """One medicine of the list, and what the chosen table says about it.

    Attributes
    ----------
    subject
        Its place in the record, such as ``medicines[1]``.
    name, agent, medicine_class, indication
        As recorded; empty where not recorded.
    group
        ``antithrombotic``, ``nsaid``, ``antidepressant``, ``herbal``, ``none``, or empty where not known.
    actions
        Codes of ``medicine_hold_action`` that remain possible; one when settled.
    intervals
        The intervals that may apply, in words.
    rows
        Table and row of every rule used, with its citations in ``cites``.
    last_dose, last_dose_hours_ago
        Day of the last dose, and hours from it to the record where so recorded.
    last_dose_by, last_dose_by_hours
        Last day on which a dose at any hour is early enough for the planned date; and the hours before the procedure
        where these decide, so that a dose of the next day may be early enough too. None while an agreement that is
        needed is not given, and none after a refusal.
    proposed_last_dose_by, proposed_last_dose_by_hours
        The same for the question to the prescriber: as it would be with the agreement; none after a refusal.
    hold_until
        First day on which the interval is over, or ``None`` with the reason in ``no_date_because``.
    hours_before
        The same hours as a number, so that a clock time can be told; None where days decide, or no day may be told.
    restart
        When it may restart, in the words of the table; empty where none applies.
    restart_hours
        The same in hours after the procedure, the least and the most of the rows that may apply; None where one of them
        prints none.
    agreement_needed, agreement_given
        The prescriber's written agreement; given is not met only where the prescriber refused.
    stopped
        Whether it is stopped now, as stated or because a dose was left out.
    held
        Whether the recorded last dose is the last before the procedure.
    inr_normal
        Whether the INR is normal on the day, where the row asks for it; met where it does not.
    inr_asked
        Whether a row that may apply asks for a normal INR.
    renal
        Whether a row that may apply changes with kidney function.
    ready
        Whether the interval is over and the INR normal on the planned date; agreement stands apart. Unknown where an
        interval would have to pass and the prescriber refused, for then it is not waited for.
    """

    subject: str
    name: str
    agent: str
    medicine_class: str
    indication: str
    group: str
    actions: tuple[str, ...]
    intervals: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]
    last_dose: Span | None
    last_dose_hours_ago: Span | None
    last_dose_by: Span | None
    last_dose_by_hours: tuple[str, ...]
    proposed_last_dose_by: Span | None
    proposed_last_dose_by_hours: tuple[str, ...]
    hours_before: float | None
    hold_until: Span | None
    no_date_because: str
    restart: str
    restart_hours: tuple[float, float] | None
    agreement_needed: Truth
    agreement_given: Truth
    held: Truth
    stopped: Truth
    inr_normal: Truth
    inr_asked: bool
    renal: bool
    ready: Truth
    cautions: tuple[str, ...]
    cites: tuple[Citation, ...]

    @property
    def agreement(self) -> Agreement:
        """Where the prescriber's written agreement stands; a refusal comes before everything else."""
        if self.agreement_given is Truth.NOT_MET:
            return "refused"
        if self.agreement_needed is Truth.NOT_MET:
            return "not_needed"
        if self.agreement_given is Truth.MET:
            return "given"
        return "needed" if self.agreement_needed is Truth.MET else "unknown"

    @property
    def stopped_unagreed(self) -> bool:
        """Whether it is stopped without the agreement that is known to be needed, or against a refusal."""
        return self.stopped is Truth.MET and self.agreement in ("refused", "needed")


class HoldPlan(Struct, frozen=True):
    """All medicines of a case for one planned date under one rule set.

    ``raised_class`` is the class above where a reason of the rule set raises it, or may raise it (``raised``).
    ``raise_reasons`` are facts of the case that are published reasons to raise the risk class by one;
    ``settings`` names the settings that were read.
    """

    as_of: date
    planned: Span | None
    guideline: str
    risk_class: str
    raised_class: str
    raised: Truth
    days_mean: str
    list_complete: bool
    medicines: tuple[MedicineHold, ...]
    raise_reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    settings: tuple[str, ...]


def hold_plan(case: Case, rule_set: RuleSet, as_of: date, planned: date | None = None) -> HoldPlan:
    """Hold dates of every medicine of a case.

    Parameters
    ----------
    case
        A loaded case.
    rule_set
        Supplies the tables and the settings: guideline, risk class, meaning of days, renal bands.
    as_of
        The day on which the plan is made.
    planned
        Proposed date of the procedure; without it the date in the record is used, if there is one.

    Returns
    -------
    HoldPlan
        Medicines in the order of the record.
    """
    facts = case.facts if planned is None else _with_date(case.facts, planned)
    return plan_of(view_of(facts, as_of, rule_set), rule_set)


def plan_of(view: View, rule_set: RuleSet) -> HoldPlan:
    """Hold dates of every medicine of a case as it is seen under a rule set; each is looked up once for a view."""
    patient = Inputs(view, "patient")
    complete, subjects = view.entries("medicines")
    medicines = tuple(_medicine(patient.at(subject), view, rule_set) for subject in subjects)
    settings = view.settings
    return HoldPlan(
        as_of=view.as_of,
        planned=patient.span("planned_procedure_date"),
        guideline=settings["antithrombotic_guideline"],
        risk_class=settings["bleeding_risk_class"],
        raised_class=raised(settings["bleeding_risk_class"]),
        raised=class_raised(patient),
        days_mean=settings["hold_days_mean"],
        list_complete=complete,
        medicines=medicines,
        raise_reasons=_raise_reasons(patient, medicines),
        cautions=(*GENERAL_CAUTIONS, *_plan_cautions(settings, complete, medicines)),
        settings=tuple(sorted(patient.chosen | _OF_EVERY_PLAN)),
    )


def _with_date(facts: CaseFacts, planned: date) -> CaseFacts:
    day = planned.toordinal()
    words = planned.isoformat()
    fact = Fact("planned_procedure_date", "patient", Span(day, day), None, Provenance(as_written=words))
    return replace(facts, patient={**facts.patient, "planned_procedure_date": fact})


def _medicine(entry: Inputs, view: View, rule_set: RuleSet) -> MedicineHold:
    subject = entry.subject
    group = group_of(entry)
    rules = rules_for(entry)
    dose = _dose(entry)
    action = view.fact("medicine_hold_action", subject).value
    until = view.fact("medicine_hold_until", subject)
    restart = view.fact("medicine_restart_after", subject).value
    planned = entry.span("planned_procedure_date")
    inr = _inr_normal(entry, rules, planned)
    rows, cites, notes = _sources(rule_set, rules)
    name = entry.words("medicine_name")
    stopping = any(rule.action in STOPPING for rule in rules)
    needed = agreement_needed(entry)
    agreed = prescriber_agrees(entry)
    may_be_dated = agreed is Truth.MET or (needed is Truth.NOT_MET and agreed is Truth.UNKNOWN)
    nothing: tuple[Span | None, tuple[str, ...], float | None] = (None, (), None)
    proposed = nothing if agreed is Truth.NOT_MET else _dose_by(entry, rules, planned)
    dose_by, dose_by_hours, hours = proposed if may_be_dated else nothing
    over = truth_of(view.fact("medicine_hold_over", subject).value)
    goes_on = stopping and agreed is Truth.NOT_MET
    return MedicineHold(
        subject=subject,
        name=name,
        agent=_code(entry, "medicine_agent"),
        medicine_class=_code(entry, "medicine_class"),
        indication=_code(entry, "medicine_indication"),
        group=group or "",
        actions=_codes(action),
        intervals=tuple(dict.fromkeys(wait.words for rule in rules for wait in rule.waits)),
        rows=rows,
        last_dose=None if dose is None else dose.day,
        last_dose_hours_ago=None if dose is None else dose.hours_ago,
        last_dose_by=dose_by,
        last_dose_by_hours=dose_by_hours,
        proposed_last_dose_by=proposed[0],
        proposed_last_dose_by_hours=proposed[1],
        hours_before=hours,
        hold_until=until.value if isinstance(until.value, Span) else None,
        no_date_because="" if until.value is not None else _reason(until),
        restart=restart.text if isinstance(restart, Words) else "",
        restart_hours=_restart_hours(rules) if isinstance(restart, Words) else None,
        agreement_needed=needed,
        agreement_given=agreed,
        held=Truth.UNKNOWN if planned is None else no_dose_to_come(entry, planned),
        stopped=truth_of(view.fact("medicine_stopped", subject).value),
        inr_normal=inr,
        inr_asked=any(rule.normal_inr and rule.action == "interval" for rule in rules),
        renal=any(rule.bands for rule in rules),
        ready=Truth.UNKNOWN if goes_on else all_of((over, inr)),
        cautions=tuple(dict.fromkeys((*(rule.remark for rule in rules if rule.remark), *notes))),
        cites=cites,
    )


def _code(entry: Inputs, element: str) -> str:
    return entry.code(element) or ""


def _codes(value: object) -> tuple[str, ...]:
    return tuple(sorted(str(code) for code in value.codes)) if isinstance(value, Options) else ()


def _reason(fact: Fact) -> str:
    return fact.note or (fact.why or Why.INPUT_MISSING).words


def _dose(entry: Inputs) -> LastDose | None:
    try:
        return last_dose(entry)
    except Underivable:
        return None


def _dose_by(
    entry: Inputs, rules: tuple[Rule, ...], planned: Span | None
) -> tuple[Span | None, tuple[str, ...], float | None]:
    """The earliest of the days that the possible rules allow, so that each of them is kept; hours where they decide."""
    if planned is None or not rules or any(rule.action != "interval" or not rule.waits for rule in rules):
        return None, (), None
    mean, end = entry.setting("hold_days_mean"), entry.setting("hold_range_end")
    days = {wait: last_dose_by(wait, planned, mean, end) for rule in rules for wait in rule.waits}
    first = min(days.values(), key=lambda day: day.low)
    deciding = [wait.to_its(end) for wait, day in days.items() if day == first]
    if not all(counted_in_hours(wait, mean) for wait in deciding):
        return first, (), None
    hours = max(wait.most * (DAY if wait.unit == "d" else 1) for wait in deciding)
    return first, tuple(dict.fromkeys(wait.words for wait in deciding)), hours


def _restart_hours(rules: tuple[Rule, ...]) -> tuple[float, float] | None:
    """Least and most hours from the procedure to the restart; none where a row that may apply prints no time."""
    try:
        found = [read_wait(rule.restart) for rule in rules]
    except ValueError:
        return None
    hours = [(w.least * (DAY if w.unit == "d" else 1), w.most * (DAY if w.unit == "d" else 1)) for w in found]
    return (max(low for low, _ in hours), max(high for _, high in hours)) if hours else None


def _inr_normal(entry: Inputs, rules: tuple[Rule, ...], planned: Span | None) -> Truth:
    """Whether an INR of the day, or of the few days the setting allows, is normal."""
    needed = {rule.normal_inr for rule in rules if rule.action == "interval"}
    if True not in needed:
        return Truth.MET
    fact = entry.fact("inr")
    day = fact.provenance.day
    if not isinstance(fact.value, Span) or day is None or planned is None:
        return Truth.UNKNOWN
    age = Span(planned.low - day.high, planned.high - day.low)
    if age.between(0, entry.setting("inr_days_before_procedure")) is not Truth.MET:
        return Truth.UNKNOWN
    return fact.value.at_most(entry.setting("normal_inr_limit"))


def _sources(
    rule_set: RuleSet, rules: tuple[Rule, ...]
) -> tuple[tuple[tuple[str, str], ...], tuple[Citation, ...], tuple[str, ...]]:
    keys: dict[tuple[str, str], None] = {}
    for rule in rules:
        if rule.row:
            keys[rule.table, rule.row] = None
        for band in rule.bands:
            keys["renal_holds", band] = None
    found = [rule_set.tables.row(table, key) for table, key in keys]
    cites = tuple(dict.fromkeys(cite for row in found for cite in row.cites))
    return tuple(keys), cites, tuple(row.note for row in found if row.note)


def _raise_reasons(patient: Inputs, medicines: tuple[MedicineHold, ...]) -> tuple[str, ...]:
    found = [words for reason, words in _RAISE.items() if reason_holds(patient, reason) is Truth.MET]
    if sum(medicine.group == "antithrombotic" for medicine in medicines) > 1:
        found.append("several antithrombotics together")
    return tuple(found)


def _plan_cautions(
    settings: Mapping[str, Any], complete: bool, medicines: tuple[MedicineHold, ...]
) -> tuple[str, ...]:
    found = [
        f"Risk class used: {settings['bleeding_risk_class']}. Bodies disagree on the class of lumbar disc access, "
        "and the class decides most intervals.",
    ]
    if settings["hold_days_mean"] == "dose_free_days":
        found.append("Days are counted as whole days without a dose between the last dose and the procedure.")
    else:
        found.append("Days are counted as 24 hours each from the last dose.")
    if any("hour" in interval for medicine in medicines for interval in medicine.intervals):
        found.append(
            "Hours are counted from the last dose. A date alone leaves the hour open: an interval is then over only "
            "where it is over from the last hour of that day."
        )
    if not complete:
        found.append(
            "The list of medicines is not stated to be complete; what is missing is not judged here."
        )
    if any(cite.tag not in ("seen", "derived") for medicine in medicines for cite in medicine.cites):
        found.append("Some rows were recalled, or are common practice; a clinician checks them before use.")
    return tuple(found)
