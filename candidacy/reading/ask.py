"""The request for an addendum: only facts the chosen rule set needs and the report lacks."""

from datetime import date
from typing import NamedTuple

from candidacy.assess import assess
from candidacy.case.catalogue import STANDARD_LEVELS, catalogue
from candidacy.case.edit import empty_record, facts_of, with_document, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, Document
from candidacy.reading.elements import facts
from candidacy.reading.model import Reading
from candidacy.rules.resolved import RuleSet
from candidacy.values import Why

_DATED = (Why.OUT_OF_DATE, Why.UNDATED)
_OPEN = (Why.UNCERTAIN_IN_SOURCE, Why.CONFLICTING, Why.TOO_IMPRECISE)


class Wanted(NamedTuple):
    """One thing to ask the radiologist, for one or several discs or for the study."""

    element: str
    ask: str
    subjects: tuple[str, ...]
    why: str
    words: str


def record_of(reading: Reading, record: CaseRecord | None = None, day: str = "") -> CaseRecord:
    """Give a record holding the reading's facts and an entry for every lumbar disc, for assessment only."""
    base = record or empty_record("report")
    base = with_document(base, "report_read", Document(kind="imaging_report", date=day or None))
    for level in STANDARD_LEVELS:
        if not facts_of(base, level):
            base = base.model_copy(update={"discs": {**base.discs, level: {}}})
    for fact in facts(reading, "report_read"):
        old = facts_of(base, fact.subject).get(fact.element)
        if old is None or old.unknown is not None:
            base = with_fact(base, fact.subject, fact.element, fact.entry)
    return base


def wanted(
    reading: Reading, rule_set: RuleSet, as_of: date, record: CaseRecord | None = None, day: str = ""
) -> tuple[Wanted, ...]:
    """List what a rule set still needs from the imaging report, easiest to settle the case first."""
    shelf = catalogue()
    full = record_of(reading, record, day)
    assessment = assess(case_from_record(full, "report"), rule_set, as_of, "direct")
    rows: dict[tuple[str, str], list[str]] = {}
    words: dict[tuple[str, str], str] = {}
    for missing in assessment.missing:
        element = shelf.get(missing.element)
        if element is None or element.supplied_by != "imaging" or "report" not in element.found_in:
            continue
        if missing.subject not in ("patient", *STANDARD_LEVELS, *full.discs):
            continue
        old = facts_of(full, missing.subject).get(missing.element)
        if old is not None and old.unknown is None and missing.why in _DATED:
            continue  # stated; only the day of the study is missing, and it is asked for by itself
        why = "left open" if old is not None or missing.why in _OPEN else "not stated"
        key = (missing.element, why)
        rows.setdefault(key, []).append(missing.subject)
        if old is not None and old.words:
            words.setdefault(key, old.words)
    return tuple(
        Wanted(e, shelf[e].ask or shelf[e].label, tuple(subjects), why, words.get((e, why), ""))
        for (e, why), subjects in rows.items()
    )


def letter(items: tuple[Wanted, ...], rule_set_title: str, day: str = "") -> str:
    """Write the request in plain, courteous clinical English; it is a draft to be checked and signed."""
    study = f"the lumbar spine study of {day}" if day else "the lumbar spine study named above"
    if not items:
        return f"Nothing to ask: the report of {study} states every imaging fact that “{rule_set_title}” needs.\n"
    out = [
        "Subject: request for an addendum to a lumbar imaging report",
        "Patient reference: ____________________   Study: ____________________",
        "",
        "Dear colleague,",
        "",
        f"Thank you for your report of {study}. We are considering the patient for an intradiscal procedure and",
        "need the following points, which the report does not state or leaves open. Could you kindly add them in",
        "an addendum?",
        "",
    ]
    for number, item in enumerate(items, 1):
        out.append(f"{number}. {item.ask}{_places(item)}{_because(item)}")
    out += [
        "",
        "If a point cannot be judged on these images, please say so; that answers it as well.",
        "",
        "With thanks and kind regards,",
        "",
        "____________________ (name, role)   ____________________ (date)",
        "",
        f"Drafted by program from the wording of the report, for the facts that “{rule_set_title}” needs.",
        "Check it against the report before sending.",
    ]
    return "\n".join(out) + "\n"


def _places(item: Wanted) -> str:
    discs = [s for s in item.subjects if s != "patient"]
    if not discs:
        return ""
    shown = discs[0] if len(discs) == 1 else ", ".join(discs[:-1]) + " and " + discs[-1]
    return f" at {shown}"


def _because(item: Wanted) -> str:
    if item.why == "not stated":
        return ""
    return f" (the report says: “{item.words}”)" if item.words else " (the report leaves it open)"
