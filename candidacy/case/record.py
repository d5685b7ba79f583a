"""The shape of a case record as written in a file: documents, patient facts, discs and lists.

This module knows the shape only; what a value means is checked against the catalogue in `facts`.
"""

from collections.abc import Collection
from itertools import count, islice
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Rows
from candidacy.foundation.kept_shapes import Shaped

Scalar = bool | int | float | str
Number = int | float
Reason = Literal[
    "not_stated", "not_asked", "not_applicable", "uncertain_in_source", "not_readable", "conflicting"
]
DocumentKind = Literal[
    "referral_letter",
    "clinic_note",
    "imaging_report",
    "discography_record",
    "laboratory_report",
    "medication_list",
    "questionnaire",
    "procedure_note",
    "message",
    "other",
]
# Keys of which a fact has exactly one: they say how exactly the value is known.
FORMS = (
    "value",
    "between",
    "at_least",
    "at_most",
    "more_than",
    "less_than",
    "not_before",
    "not_after",
    "one_of",
    "includes",
    "unknown",
)


class Strict(Shaped):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


class FactEntry(Strict):
    """One fact as written: a value, an imprecise value or a reason for not knowing, and where it comes from."""

    value: Scalar | Rows[Scalar] | None = None
    """Exact value; a list for elements that hold several codes."""
    between: Annotated[Rows[Number | str] | None, Field(min_length=2, max_length=2)] = None
    """Imprecise number or date, both ends included ("protrusion 4 to 6 mm")."""
    at_least: Number | None = None
    """Imprecise number: this or more."""
    at_most: Number | None = None
    """Imprecise number: this or less."""
    more_than: Number | None = None
    """Imprecise number: more than this ("more than 6 months")."""
    less_than: Number | None = None
    """Imprecise number: less than this."""
    not_before: str | None = None
    """Imprecise date: on this day, or in this month or year, or later."""
    not_after: str | None = None
    """Imprecise date: on this day, or in this month or year, or earlier."""
    one_of: Annotated[Rows[Scalar] | None, Field(min_length=1)] = None
    """Imprecise code or grade ("grade 3 or 4")."""
    includes: Annotated[Rows[str] | None, Field(min_length=1)] = None
    """An open list: at least these codes, perhaps others."""
    unknown: Reason | None = None
    """Why it is not known."""
    unit: str | None = None
    """Required for every number that has one."""
    source: str | None = None
    """Key of a document of this record."""
    date: str | None = None
    """Day the fact was true, where it differs from the document's date; YYYY-MM-DD, YYYY-MM or YYYY."""
    words: str | None = None
    """The exact words of the source."""
    by: str | None = None
    """Role of who or what recorded it; never a name."""
    note: str | None = None
    """What a reader should know about this fact."""

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, data: Any) -> Any:
        return data if isinstance(data, dict | FactEntry) else {"value": data}

    @property
    def forms(self) -> list[str]:
        """Which of `FORMS` are present."""
        written = self.__dict__  # read for every fact of every case, so not by one attribute after another
        return [form for form in FORMS if written[form] is not None]


FactTable = dict[str, FactEntry]


class Document(Strict):
    """Where facts come from; no names of persons."""

    kind: DocumentKind
    """What kind of document it is."""
    date: str | None = None
    """Its day, month or year: YYYY-MM-DD, YYYY-MM or YYYY."""
    title: str = ""
    """What it is called; no names of persons."""
    author: str = ""
    """Role of who wrote it; never a name."""
    note: str = ""
    """What a reader should know about it."""


def entry_numbers(length: int, taken_out: Collection[int]) -> tuple[int, ...]:
    """The numbers of so many entries: counted from 1, without those taken out."""
    gone = frozenset(taken_out)  # a list may have lost as many entries as it has
    return tuple(islice((number for number in count(1) if number not in gone), length))


class EntryList(Strict):
    """A list of like entries."""

    complete: bool | None = None
    """True where there are no other entries."""
    source: str | None = None
    """Key of the document of this record that tells the list; its day is that of a complete list without entries."""
    date: str | None = None
    """Day on which the list was complete, where it differs from the document's date; YYYY-MM-DD, YYYY-MM or YYYY."""
    entries: Rows[FactTable] = ()
    """The entries, each with its facts."""
    taken_out: Rows[Annotated[int, Field(ge=1)]] = ()
    """Numbers, from 1, of entries that were taken out: no other entry bears them, so each keeps the number it had."""

    @property
    def numbers(self) -> tuple[int, ...]:
        """The number of each entry, in the order of the entries."""
        return entry_numbers(len(self.entries), self.taken_out)


class CaseRecord(Strict):
    """Everything known about one referral."""

    schema_version: Literal["1"]
    """Version of the form of this file."""
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
    """Local case reference, 1 to 64 letters, digits, ".", "_" and "-"; never a name or a record number."""
    title: str = ""
    """What the case is called; no names of persons."""
    invented: bool = False
    """True for demonstration data."""
    as_of: str | None = None
    """Day for which the case is assessed unless another is asked for, YYYY-MM-DD."""
    note: str = ""
    """What a reader should know about the record."""
    documents: dict[str, Document] = Field(default_factory=dict)
    """Where facts come from: key to document."""
    patient: FactTable = Field(default_factory=dict)
    """Facts of the patient: element to fact."""
    discs: dict[str, FactTable] = Field(default_factory=dict)
    """One entry per disc, by level ("L4-L5")."""
    medicines: EntryList | None = None
    """Medicines, present and recent."""
    treatments: EntryList | None = None
    """Conservative treatments."""
    injections: EntryList | None = None
    """Injections other than into a disc."""
    surgeries: EntryList | None = None
    """Surgeries of the spine."""
    intradiscal_procedures: EntryList | None = None
    """Earlier procedures in a disc."""

    def plain(self) -> dict[str, object]:
        """The record as plain data, without defaults, ready for YAML or JSON."""
        return self.model_dump(mode="json", exclude_defaults=True) | {"schema_version": self.schema_version}
