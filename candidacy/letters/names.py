"""The closed list of what a template may name: values, lists with their entries, blanks and conditions."""

from candidacy.letters.frame import frame

# State of the answer; exactly one holds.
STATES = {
    "urgent": "an emergency sign fails, under this rule set or a companion",
    "not_candidate": "an absolute criterion fails, and neither time nor an act mends all of it",
    "not_yet": "what keeps the case from passing can be mended by time or an act",
    "incomplete": "facts are missing",
    "borderline": "a relative criterion fails: for the case conference",
    "held": "every deciding criterion passes, and a companion rule set says stop or wait",
    "candidate": "every deciding criterion passes, and no companion says stop",
}
VALUES = {
    "reference": "local reference of the case",
    "day": "day as of which the case was assessed",
    "rule_set": "title of the rule set",
    "standing": "the standing as the rule set calls it, with the earliest day of a not yet and the remarks of a candidate that no rule read",
    "discs": "the considered discs, or that none is known to be considered",
    "planned_day": "the planned or proposed day of the procedure, or that none is planned",
    "earliest_day": "the earliest day on which what is waited for can be over, or that no day can be given",
    "next_step": "the next step by the decision rule",
    "criteria_passed": "number of deciding criteria that pass",
    "criteria_failed": "number of deciding criteria that fail",
    "criteria_open": "number of deciding criteria that are not settled",
    "missing_more": "number of missing facts that the list leaves out, those that weigh least",
    "not_applying": "number of criteria that do not apply",
}
OF_A_MEDICINE = {
    "medicine": "the medicine as listed",
    "indication": "why it is taken, or not recorded",
    "dose": "dose and times a day, or not recorded",
    "last_dose": "day of the last dose, or not recorded",
    "by_the_table": "what the table in use says",
    "interval": "the interval of the table",
    "proposed_last_dose": "the last day for a dose if the prescriber agrees",
    "restart": "when it may restart by the table",
    "guideline": "the guideline in use, with its edition",
    "risk_class": "bleeding-risk class used for the procedure",
    "table_source": "source of the row of the table, with its tag",
    "kidney": "creatinine clearance, or not recorded",
    "clot_risk": "whether a high risk of a clot is recorded",
    "agreement": "where the written agreement of the prescriber stands",
    "why_no_date": "why no day can be given",
    "days_mean": "how the days of the table are counted",
}
LISTS: dict[str, dict[str, str]] = {
    "urgent_acts": {"act": "what to do now"},
    "stops": {"sentence": "why a companion rule set says stop or wait"},
    "failing": {"finding": "what was found", "because": "on which values", "evidence": "documents and days of these values"},
    "grounds": {"ground": "one thing that the standing rests on"},
    "waiting": {"what": "what has to happen first, by whom, and when at the earliest"},
    "mending": {"finding": "what was found", "change": "what would change it"},
    "missing": {"ask": "what to ask for, and of which disc or entry", "why": "why it is missing"},
    "disc_standings": {"disc": "the disc", "disc_standing": "its standing"},
    "incidental": {"finding": "a recorded sign outside the question, with its document and day", "why": "why it matters"},
    "conflicts": {"conflict": "what contradicts what"},
    "remarks": {"place": "where a remark stands that no rule read", "remark": "its own words"},
    "medicines": {"medicine": "a medicine", "says": "what the table says, and who must agree"},
    "agreed_holds": {"medicine": "a medicine held with the written agreement of its prescriber", "proposed_last_dose":
                     "last day for a dose", "restart": "when it may restart"},
    "evidence": {"finding": "a deciding criterion as found", "answer": "its outcome", "evidence": "values, documents, days"},
    "documents": {"document": "a document of the record", "date": "its day"},
    "missing_pages": {"page": "a page or day that the packet lacks"},
    "codes": {"disc": "the disc", "code": "its code"},
}  # fmt: skip
CONDITIONS = {
    **STATES,
    "day_planned": "a day of the procedure is planned or proposed",
    "one_disc": "exactly one disc is considered",
    "more_discs": "more than one disc is considered",
    "more_missing": "more facts are missing than the list shows",
    "disc_known": "a disc is known to be considered",
    "medicines_complete": "the list of medicines is stated to be complete",
    "stopped_unagreed": "a medicine of the list is not taken any more, without the agreement that it needs",
    "interval_proposed": "the table gives an interval for this medicine",
    "shared_decision": "the table leaves it to the prescriber",
    "no_hold": "the table asks for no hold",
    "not_settled": "more than one answer of the table is possible, or none is known",
    "last_dose_computed": "a last day for a dose can be given",
    "agreed": "the prescriber agreed in writing",
    "refused": "the prescriber refused",
    "agreement_open": "the prescriber's answer is not on record",
    "taken_no_more": "it is not taken any more, without the agreement that it needs",
    "not_taken_now": "it is recorded as not taken at present, agreed or not",
    "counted_in_days": "the interval is printed in days",
    "inr_asked": "a normal INR of the day is asked for, and none of that day is on record",
    **{f"any_{name}": f"the list {name} has an entry" for name in LISTS},
}


def blanks() -> dict[str, str]:
    """What a practice fills in, by name; each with its label."""
    found: dict[str, str] = frame()["blanks"]
    return found


# Blanks that hold a name of a person or are about one: only by hand, on paper or in the finished file.
# Blanks that are the same in every letter of a practice.
OF_THE_PRACTICE = ("practice_phone", "emergency_phone", "practice_address", "fasting_rule")
BY_HAND = ("to", "patient_label", "copies_to", "told_to_patient")


def allowed(for_each: str, each: str) -> dict[str, str]:
    """What a paragraph may name: the values, the blanks, and what its letter or list adds."""
    found = VALUES | blanks()
    if for_each:
        found = found | OF_A_MEDICINE
    return found | LISTS.get(each, {})
