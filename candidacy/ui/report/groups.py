"""Facts of a report in the order in which they need a person: what decides now, what differs, what is unclear, the rest."""

from typing import Literal

from candidacy.assessment.record_grounds import dangers_of
from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.edit import empty_record, entry_named, with_entry, with_fact
from candidacy.case.load import case_from_record
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.errors import CaseError
from candidacy.reading.elements import ReadFact
from candidacy.reading.ranges import is_conflict
from candidacy.ui.report.desk import Row

Group = Literal["decides", "differs", "unclear", "rest"]
GROUPS: dict[Group, str] = {
    "decides": "Decides now",
    "differs": "Differs from the referral",
    "unclear": "Unclear in the report",
    "rest": "The rest",
}
_DOUBTED = ("conflicting", "uncertain_in_source", "not_readable")


def grouped(rows: list[Row], document: AssessmentDocument) -> dict[Group, list[tuple[int, Row]]]:
    """Rows by group, each with its number among all, in the order of the report.

    A fact decides now if a criterion waits for it that can change the standing by itself, or if it is a sign of
    danger that the referral does not hold.
    """
    decisive = _decisive(document, catalogue())
    found: dict[Group, list[tuple[int, Row]]] = {group: [] for group in GROUPS}
    for number, row in enumerate(rows):
        found[_group(row, decisive)].append((number, row))
    return found


def _group(row: Row, decisive: set[tuple[str, str]]) -> Group:
    entry = row.fact.entry
    if row.state == "same":
        return "rest"
    if entry.unknown is not None or is_conflict(entry):
        return "unclear"
    if row.state == "differs":
        return "differs"
    name, _ = entry_named(row.fact.subject)
    place = ("patient", name) if name is not None else (row.fact.subject, row.fact.element)
    return "decides" if place in decisive or is_danger(row.fact) else "rest"


def _decisive(document: AssessmentDocument, shelf: Catalogue) -> set[tuple[str, str]]:
    """What can change the standing by itself, and what that is worked out from."""
    found = {(m.subject, m.element) for m in document.missing if m.weight == "alone"}
    waiting = list(found)
    while waiting:
        subject, name = waiting.pop()
        element = shelf.get(name)
        looked_at = [n for way in element.inputs for n in way] + list(element.reads) if element else []
        new = {(subject, n) for n in looked_at} - found
        found |= new
        waiting += new
    return found


def is_danger(fact: ReadFact) -> bool:
    """Whether a fact is, or may be, a sign of danger by the catalogue."""
    element = catalogue()[fact.element]
    if not element.danger:
        return False
    if fact.entry.unknown is not None:
        return fact.entry.unknown in _DOUBTED
    record, (name, _) = empty_record(), entry_named(fact.subject)
    subject = fact.subject
    if name is not None:
        record, subject = with_entry(record, name), f"{name}[1]"
    alone = with_fact(record, subject, fact.element, fact.entry.model_copy(update={"source": None}))
    try:
        facts = [f for f in case_from_record(alone).facts.stated() if f.value is not None]
    except CaseError:
        return True  # what no record can hold is looked at by a person
    return any(dangers_of(element, f) for f in facts)
