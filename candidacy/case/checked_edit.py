"""Changes to a record given in Python, checked as a file is: every refusal names the field."""

from collections.abc import Mapping
from typing import TypeVar

from candidacy.case import edit
from candidacy.case.element import LEVELS, LISTS
from candidacy.case.facts import normal_level
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.foundation.files import nearest
from candidacy.foundation.plain_data import tree_of
from candidacy.foundation.shape import validate

_Part = TypeVar("_Part", FactEntry, Document)


class Change:
    """One change of a record; ``name`` is what messages call the record."""

    def __init__(self, record: CaseRecord, name: str) -> None:
        self._record, self._name = record, name

    def fact(
        self, element: str, given: Mapping[str, object], disc: str | None, entry: str | None
    ) -> CaseRecord:
        """The record with one fact written; the catalogue has not been asked yet."""
        subject, record = self._subject(disc, entry, adding=True)
        fact = self._checked(FactEntry, given, _label(subject, element))
        return edit.with_fact(record, subject, element, fact)

    def no_fact(self, element: str, disc: str | None, entry: str | None) -> CaseRecord:
        """The record with one fact taken out.

        Raises
        ------
        CaseError
            E202 if it is not there.
        """
        subject, record = self._subject(disc, entry)
        there = edit.facts_of(record, subject)
        if element not in there:
            close = nearest(element, list(there))
            raise self._refused(Code.MISSING_KEY, "nothing is written of it", _label(subject, element),
                                shorten(element), f"closest is {close}" if close else "a fact that is written")  # fmt: skip
        return edit.with_fact(record, subject, element, None)

    def document(self, key: str, given: Mapping[str, object]) -> CaseRecord:
        """The record with one more document.

        Raises
        ------
        CaseError
            E105 if the key stands for another document, and what is wrong with this one.
        """
        document = self._checked(Document, given, f"documents.{key}")
        if self._record.documents.get(key, document) != document:
            raise self._refused(Code.DUPLICATE_KEY, "the record has another document of this key",
                                f"documents.{key}", shorten(key), "a key of its own")  # fmt: skip
        return edit.with_document(self._record, key, document)

    def _subject(
        self, disc: str | None, entry: str | None, *, adding: bool = False
    ) -> tuple[str, CaseRecord]:
        """The subject that is meant, and the record in which it can be changed."""
        if disc is not None and entry is not None:
            raise self._refused(Code.CONTRADICTION, "a fact belongs to a disc or to an entry of a list",
                                "disc", f"{shorten(disc)} and {shorten(entry)}", "one of the two")  # fmt: skip
        if entry is not None:
            return entry, self._with_place_for(entry, adding)
        if disc is None:
            return "patient", self._record
        level = normal_level(disc)
        if level is None:
            raise self._refused(
                Code.BAD_LEVEL, "not a lumbar disc level", "disc", shorten(disc), ", ".join(LEVELS)
            )
        return level, self._record

    def _with_place_for(self, entry: str, adding: bool) -> CaseRecord:
        name, number = edit.entry_named(entry)
        if name is None:
            expected = ", ".join(f"{each}[number]" for each in LISTS)
            raise self._refused(Code.BAD_CHOICE, "not an entry of a list", "entry", shorten(entry), expected)
        listed = getattr(self._record, name)
        there = listed.numbers if listed is not None else ()
        longer = edit.with_entry(self._record, name) if adding else self._record
        allowed = getattr(longer, name).numbers if adding else there
        if number not in allowed:
            expected = ", ".join(f"{name}[{each}]" for each in allowed) or f"{name} has no entry"
            raise self._refused(
                Code.BAD_CHOICE, "no such entry of the list", "entry", shorten(entry), expected
            )
        return self._record if number in there else longer

    def _checked(self, model: type[_Part], given: Mapping[str, object], field: str) -> _Part:
        try:
            return validate(
                model, tree_of(given, self._name), self._name, lambda path: list(model.model_fields)
            )
        except InputError as error:
            raise CaseError(
                [replace(p, field=f"{field}.{p.field}" if p.field else field) for p in error.problems]
            ) from None

    def _refused(self, code: Code, message: str, field: str, found: str, expected: str) -> CaseError:
        return CaseError([Problem(code, message, self._name, field=field, found=found, expected=expected)])


def _label(subject: str, element: str) -> str:
    return f"{subject}.{element}" if subject == "patient" or "[" in subject else f"discs.{subject}.{element}"
