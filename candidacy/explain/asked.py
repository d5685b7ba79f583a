"""What to ask for first, among the facts that are missing."""

from collections.abc import Iterable
from typing import Protocol, TypeVar

from candidacy.case.catalogue import catalogue
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.missing_document import MissingInfo


class _Row(Protocol):
    """A missing fact."""

    @property
    def element(self) -> str: ...

    @property
    def subject(self) -> str: ...

    @property
    def weight(self) -> str: ...


_Missing = TypeVar("_Missing", bound=_Row)


def asked_first(document: AssessmentDocument) -> list[MissingInfo]:
    """Missing facts of a document that could decide; see `asked_among`."""
    return asked_among(document.missing)


def asked_among(missing: Iterable[_Missing]) -> list[_Missing]:
    """Missing facts that could decide, without the signs of a summary that is asked for as well.

    One answer to a summary tells all its signs.
    """
    rows = [m for m in missing if m.weight != "no"]
    asked = {(m.element, m.subject) for m in rows}
    covered_by = catalogue().covered_by
    return [m for m in rows if (covered_by.get(m.element), m.subject) not in asked]
