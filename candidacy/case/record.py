"""The shape of a case record as written in a file: documents, patient facts, discs and lists.

This module knows the shape only; what a value means is checked against the catalogue in `facts`.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from candidacy.case.catalogue import Rows

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


class Strict(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False)


class FactEntry(Strict):
    """One fact as written: a value, an imprecise value or a reason for not knowing, and where it comes from.

    Attributes
    ----------
    value
        Exact value; a list for elements that hold several codes.
    between, at_least, at_most, more_than, less_than
        Imprecise number ("protrusion 4 to 6 mm", "more than 6 months").
    not_before, not_after, between
        Imprecise date; a date may also be a year or a year and month.
    one_of
        Imprecise code or grade ("grade 3 or 4").
    includes
        An open list: at least these codes, perhaps others.
    unknown
        Why it is not known.
    unit
        Required for every number that has one.
    source
        Key of a document of this record.
    date
        Day the fact was true, where it differs from the document's date.
    words
        The exact words of the source.
    by
        Role of who or what recorded it; never a name.
    """

    value: Scalar | Rows[Scalar] | None = None
    between: Annotated[Rows[Number | str] | None, Field(min_length=2, max_length=2)] = None
    at_least: Number | None = None
    at_most: Number | None = None
    more_than: Number | None = None
    less_than: Number | None = None
    not_before: str | None = None
    not_after: str | None = None
    one_of: Annotated[Rows[Scalar] | None, Field(min_length=1)] = None
    includes: Annotated[Rows[str] | None, Field(min_length=1)] = None
    unknown: Reason | None = None
    unit: str | None = None
    source: str | None = None
    date: str | None = None
    words: str | None = None
    by: str | None = None
    note: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, data: Any) -> Any:
        return data if isinstance(data, dict | FactEntry) else {"value": data}

    @property
    def forms(self) -> list[str]:
        """Which of `FORMS` are present."""
        return [form for form in FORMS if getattr(self, form) is not None]


FactTable = dict[str, FactEntry]


class Document(Strict):
    """Where facts come from. ``date`` is its day, month or year; no names of persons."""

    kind: DocumentKind
    date: str | None = None
    title: str = ""
    author: str = ""
    note: str = ""


class EntryList(Strict):
    """A list of like entries; ``complete`` says that there are no others."""

    complete: bool | None = None
    entries: Rows[FactTable] = ()


class CaseRecord(Strict):
    """Everything known about one referral.

    Attributes
    ----------
    id
        Local case reference; never a name or a record number.
    invented
        True for demonstration data.
    as_of
        Day for which the case is assessed unless another is asked for.
    discs
        One entry per disc, by level ("L4-L5").
    """

    schema_version: Literal["1"]
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
    title: str = ""
    invented: bool = False
    as_of: str | None = None
    note: str = ""
    documents: dict[str, Document] = Field(default_factory=dict)
    patient: FactTable = Field(default_factory=dict)
    discs: dict[str, FactTable] = Field(default_factory=dict)
    medicines: EntryList | None = None
    treatments: EntryList | None = None
    injections: EntryList | None = None
    surgeries: EntryList | None = None
    intradiscal_procedures: EntryList | None = None

    def plain(self) -> dict[str, Any]:
        """The record as plain data, without defaults, ready for YAML or JSON."""
        return self.model_dump(mode="json", exclude_defaults=True) | {"schema_version": self.schema_version}
