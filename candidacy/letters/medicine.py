"""What a letter to a prescriber says of one medicine; the proposal is the table's, the decision is the prescriber's."""

from candidacy.assessment.assess import Assessment
from candidacy.assessment.hold_plan import HoldPlan, MedicineHold
from candidacy.assessment.view import View
from candidacy.explain.cited import cites_words, sources_of
from candidacy.explain.hold_plan import last_dose_by_words
from candidacy.explain.holds_document import HoldInfo, HoldsInfo
from candidacy.explain.record import fact_info
from candidacy.explain.wording import listed, subject_words
from candidacy.foundation.truth import Truth
from candidacy.letters.frame import frame, shown
from candidacy.letters.values import Values

ANTITHROMBOTIC = "antithrombotic"
_AGREEMENT = {
    "given": "agreed",
    "refused": "refused",
    "needed": "agreement_open",
    "unknown": "agreement_open",
    "not_needed": "agreement_open",
}
_NO_HOLD = frozenset(("no_stop", "no_rule", "continue"))
_TO_THE_PRESCRIBER = frozenset(("shared_decision", "consider", "written_agreement"))
# An interval is put to the prescriber also where nothing is held without an agreement: it is what is asked about.
_INTERVAL = frozenset(("interval", "written_agreement"))


def antithrombotics(plan: HoldPlan) -> tuple[str, ...]:
    """The medicines about which a prescriber is written to: antithrombotics, never an antidepressant or any other."""
    return tuple(m.subject for m in plan.medicines if m.group == ANTITHROMBOTIC)


def same_agent(plan: HoldPlan) -> dict[str, tuple[str, ...]]:
    """Agents, or names where the agent is not known, of antithrombotics that the list names more than once."""
    found: dict[str, tuple[str, ...]] = {}
    for medicine in plan.medicines:
        if medicine.group == ANTITHROMBOTIC and (agent := medicine.agent or medicine.name.casefold().strip()):
            found[agent] = (*found.get(agent, ()), medicine.subject)
    return {agent: places for agent, places in found.items() if len(places) > 1}


def medicine_values(
    values: Values, assessment: Assessment, plan: HoldPlan, holds: HoldsInfo, subject: str, view: View
) -> Values:
    """The names of a case with those of one of its medicines."""
    medicine = next(m for m in plan.medicines if m.subject == subject)
    info = next(m for m in holds.medicines if m.subject == subject)
    unknown = frame()["unknown"]["value"]
    proposed = last_dose_by_words(medicine.proposed_last_dose_by, medicine.proposed_last_dose_by_hours)
    last = medicine.proposed_last_dose_by
    if proposed and last is not None and last.high < plan.as_of.toordinal() and medicine.agreement != "given":
        proposed = f"{proposed} {frame()['dose_day_past'].format(plan.as_of.isoformat())}"
    texts = {
        "medicine": info.name or info.agent or subject_words(subject),
        "indication": info.indication or unknown,
        "dose": _dose(view, subject) or unknown,
        "last_dose": info.last_dose or unknown,
        "by_the_table": "; or ".join(info.says),
        "interval": listed(list(medicine.intervals), "or") or unknown,
        "proposed_last_dose": proposed or unknown,
        "restart": medicine.restart or unknown,
        "guideline": holds.guideline,
        "risk_class": holds.risk_class,
        "table_source": _sources(assessment, info) or unknown,
        "kidney": _value(view, "creatinine_clearance", "patient") or unknown,
        "clot_risk": _value(view, "high_thrombotic_risk", "patient") or unknown,
        "agreement": frame()["agreement"][medicine.agreement],
        "why_no_date": (info.no_date_because if holds.planned else frame()["unknown"]["date"]) or unknown,
        "days_mean": holds.days_mean,
    }
    holding = {_action(medicine), _AGREEMENT[medicine.agreement]}
    if any("day" in interval for interval in medicine.intervals):
        holding.add("counted_in_days")
    if proposed:
        holding.add("last_dose_computed")
    if medicine.stopped_unagreed:
        holding.add("taken_no_more")
    if medicine.stopped is Truth.MET:
        holding.add("not_taken_now")
    if medicine.inr_normal is not Truth.MET:
        holding.add("inr_asked")
    return values.of({name: shown(text, 1200) for name, text in texts.items()}, holding)


def _action(medicine: MedicineHold) -> str:
    said = frozenset(medicine.actions)
    if said and said <= _NO_HOLD:
        return "no_hold"
    if said and said <= _INTERVAL and medicine.intervals:
        return "interval_proposed"
    if said and said <= _TO_THE_PRESCRIBER and not medicine.intervals:
        return "shared_decision"
    return "not_settled"


def _dose(view: View, subject: str) -> str:
    dose, times = (
        fact_info(view.fact(name, subject)) for name in ("medicine_dose", "medicine_doses_per_day")
    )
    words = [
        f"{dose.value}" if dose.known else "",
        frame()["times_a_day"].format(times.value) if times.known else "",
    ]
    return ", ".join(filter(None, words))


def _value(view: View, element: str, subject: str) -> str:
    fact = fact_info(view.fact(element, subject))
    if not fact.known:
        return ""
    day = f" ({fact.date})" if fact.date else ""
    return f"{fact.value}{day}"


def _sources(assessment: Assessment, info: HoldInfo) -> str:
    found = {s.key: s.text for s in sources_of({c.source for c in info.cites}, assessment.rule_set)}
    named = [f"{found.get(c.source, c.source)}{', ' + c.at if c.at else ''} [{c.tag}]" for c in info.cites]
    return "; ".join(dict.fromkeys(named)) or cites_words(info.cites)
