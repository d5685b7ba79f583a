"""What to ask for first, among the facts that are missing."""

from candidacy.case.catalogue import catalogue
from candidacy.explain.document import AssessmentDocument, MissingInfo


def asked_first(document: AssessmentDocument) -> list[MissingInfo]:
    """Missing facts that could decide, without the signs of a summary that is asked for as well.

    One answer to a summary tells all its signs.
    """
    rows = [m for m in document.missing if m.weight != "no"]
    asked = {(m.element, m.subject) for m in rows}
    covered_by = catalogue().covered_by
    return [m for m in rows if (covered_by.get(m.element), m.subject) not in asked]
