"""The request for an addendum: only facts the chosen rule set needs and the report lacks."""

import textwrap
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from candidacy.assessment.assess import assess
from candidacy.assessment.evaluate import Trace
from candidacy.case.catalogue import STANDARD_LEVELS, catalogue
from candidacy.case.edit import empty_record, facts_of, with_document, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.reading.elements import facts
from candidacy.reading.model import POSSIBLE, PRESENT, Reading
from candidacy.rules.resolved import RuleSet

_KEY = "report_read"
_WIDTH = 96
_DATED = (Why.OUT_OF_DATE, Why.UNDATED)
_OPEN = (Why.UNCERTAIN_IN_SOURCE, Why.CONFLICTING, Why.TOO_IMPRECISE)


class Wanted(NamedTuple):
    """One thing to ask the radiologist, for one or several discs or for the study."""

    element: str
    ask: str
    subjects: tuple[str, ...]
    why: str
    words: str


def discs_to_ask(reading: Reading) -> tuple[str, ...]:
    """Give the discs of which the report says something abnormal; without any, all five."""
    denied = ("none", "absent")
    found = {f.disc for f in reading.findings if f.status in (PRESENT, POSSIBLE) and f.value not in denied}
    return tuple(d for d in STANDARD_LEVELS if d in found) or STANDARD_LEVELS


def record_of(reading: Reading, discs: tuple[str, ...], day: str = "", status: str = "") -> CaseRecord:
    """Give a record holding the reading's facts, with the discs considered, for assessment only."""
    record = with_document(empty_record("report"), _KEY, Document(kind="imaging_report", date=day or None))
    record = record.model_copy(update={"discs": {level: {} for level in STANDARD_LEVELS}})
    for fact in facts(reading, _KEY, day, status):
        record = with_fact(record, fact.subject, fact.element, fact.entry)
    return with_fact(record, "patient", "discs_under_consideration", FactEntry(value=discs))


def wanted(
    reading: Reading,
    rule_set: RuleSet,
    as_of: date,
    discs: tuple[str, ...] = (),
    day: str = "",
    status: str = "",
) -> tuple[Wanted, ...]:
    """List what a rule set still needs from the imaging report, in the order in which it could settle the case.

    Parameters
    ----------
    discs
        The discs considered; left out, those of which the report says something abnormal.
    """
    full = record_of(reading, discs or discs_to_ask(reading), day, status)
    assessment = assess(case_from_record(full, "report"), rule_set, as_of, "direct")
    gathered = _Gathered(full)
    covered: set[tuple[str, str]] = set()
    for result in assessment.results:
        if result.outcome != "fail":
            continue
        absent = [
            leaf
            for leaf in _leaves(result.evaluation.trace)
            if leaf.op == "known" and leaf.truth is Truth.NOT_MET
        ]
        if any(_from_report(leaf.element) for leaf in absent):
            criterion = result.resolved.criterion
            gathered.add(
                absent[0].element, criterion.ask_for or criterion.title, result.subject, absent[0].why
            )
            covered.update((leaf.element, result.subject) for leaf in absent)
    for missing in assessment.missing:
        if _from_report(missing.element) and (missing.element, missing.subject) not in covered:
            gathered.add(missing.element, missing.ask, missing.subject, missing.why)
    return gathered.items()


def _leaves(trace: Trace) -> Iterator[Trace]:
    if not trace.parts:
        yield trace
    for part in trace.parts:
        yield from _leaves(part)


def _from_report(name: str) -> bool:
    element = catalogue().get(name)
    return element is not None and element.supplied_by == "imaging" and "report" in element.found_in


class _Gathered:
    """Questions in the order they came up, discs with the same question together."""

    def __init__(self, record: CaseRecord) -> None:
        self._record = record
        self._rows: dict[tuple[str, str, str], list[str]] = {}
        self._words: dict[tuple[str, str, str], str] = {}

    def add(self, element: str, ask: str, subject: str, why: Why | None) -> None:
        """Note a question, unless the fact is stated and only the day of the study is missing."""
        old = facts_of(self._record, subject).get(element)
        if old is not None and old.unknown is None and why in _DATED:
            return
        key = (element, ask, "left open" if old is not None or why in _OPEN else "not stated")
        self._rows.setdefault(key, []).append(subject)
        if old is not None and old.words:
            self._words.setdefault(key, old.words)

    def items(self) -> tuple[Wanted, ...]:
        """Give the questions."""
        return tuple(
            Wanted(element, ask, tuple(subjects), why, self._words.get((element, ask, why), ""))
            for (element, ask, why), subjects in self._rows.items()
        )


def letter(items: tuple[Wanted, ...], rule_set_title: str, day: str = "") -> str:
    """Write the request in plain, courteous clinical English; it is a draft to be checked and signed."""
    study = f"the lumbar spine study of {day}" if day else "the lumbar spine study named above"
    if not items:
        return f"Nothing to ask: the report of {study} states every imaging fact that “{rule_set_title}” needs.\n"
    intro = (
        f"Thank you for your report of {study}. We are considering the patient for an intradiscal procedure and need "
        "the following points, which the report does not state or leaves open. Could you kindly add them in an addendum?"
    )
    out = [
        "Subject: request for an addendum to a lumbar imaging report",
        "Patient reference: ____________________   Study: ____________________",
        "",
        "Dear colleague,",
        "",
        *textwrap.wrap(intro, _WIDTH),
        "",
    ]
    for number, item in enumerate(items, 1):
        places = _places(item)
        ask = item.ask.replace(" at each level", "") if places else item.ask
        line = f"{number}. {ask}{places}{_because(item)}"
        out += textwrap.wrap(line, _WIDTH, subsequent_indent=" " * (len(str(number)) + 2))
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
    discs = sorted(s for s in item.subjects if s != "patient")
    if not discs:
        return ""
    shown = discs[0] if len(discs) == 1 else ", ".join(discs[:-1]) + " and " + discs[-1]
    return f", at {shown}"


def _because(item: Wanted) -> str:
    if item.why == "not stated":
        return ""
    return f" (the report says: “{item.words}”)" if item.words else " (the report leaves it open)"
