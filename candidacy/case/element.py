"""The shape of a data element: what may be said of one in an element file, and the closed lists it is said in.

It holds no element; the files are served by `candidacy.case.catalogue`.
"""

from functools import cached_property
from typing import Annotated, Literal, TypeVar

from pydantic import ConfigDict, Field, model_validator

from candidacy.foundation import units
from candidacy.foundation.json_shape import absent, both, filled, is_one_of, one_of, present, where
from candidacy.foundation.kept_shapes import Shaped
from candidacy.foundation.values import FALSE, Options

Scope = Literal["patient", "disc", "medicine", "treatment", "injection", "surgery", "intradiscal_procedure"]
Kind = Literal["number", "integer", "boolean", "choice", "members", "date", "words"]
Burden = Literal["in_chart", "question", "questionnaire", "blood_test", "imaging", "invasive_test"]
Supplier = Literal[
    "patient", "referrer", "physician", "imaging", "procedure", "laboratory", "coordinator", "derived"
]
Tag = Literal["seen", "weak", "memory", "memory, low", "common practice", "local", "derived"]

# From the least to the most troublesome to obtain; the order in which missing facts are asked for.
BURDENS: tuple[Burden, ...] = (
    "in_chart",
    "question",
    "questionnaire",
    "blood_test",
    "imaging",
    "invasive_test",
)

# One list in a case record for each scope that repeats.
LISTS: dict[str, Scope] = {
    "medicines": "medicine",
    "treatments": "treatment",
    "injections": "injection",
    "surgeries": "surgery",
    "intradiscal_procedures": "intradiscal_procedure",
}

# The lumbar discs, cranial first. The outer ones occur only where the count of vertebrae differs or are named.
STANDARD_LEVELS = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1")
LEVELS = ("T11-T12", "T12-L1", *STANDARD_LEVELS[:4], "L5-S1", "L5-L6", "L6-S1", "S1-S2")


_Item = TypeVar("_Item")
# A list in a file becomes a tuple; its items are still checked strictly.
Rows = Annotated[tuple[_Item, ...], Field(strict=False)]


# Words for a reader, of which there are some.
Text = Annotated[str, Field(min_length=1)]


class Strict(Shaped):
    # folded YAML text ends with a line end, which nobody means
    model_config = ConfigDict(
        strict=True, frozen=True, extra="forbid", str_strip_whitespace=True, defer_build=True
    )


class Range(Strict):
    """Smallest and largest value; ``None`` means no limit on that side."""

    low: int | float | None = None
    """Smallest value, in the unit of the element; without it there is no lower limit."""
    high: int | float | None = None
    """Largest value, in the unit of the element; without it there is no upper limit."""


class TerminologyCode(Strict):
    """A code of a public terminology, given only where it was verified."""

    system: Literal["LOINC", "UCUM", "ICD-10-CM"]
    """The terminology."""
    code: str
    """The code in it."""
    name: str
    """What the terminology calls it."""
    tag: Tag
    """How far the code was verified."""


class Precision(Strict):
    """How far a value can be trusted, where published."""

    text: Text
    """How far a value can be trusted, in words and in the unit of the element."""
    source: str
    """Key in ``sources.yaml``."""
    tag: Tag
    """How far it was verified."""


class Replaces(Strict):
    """What content of one's own takes the place of, which bears the same id."""

    version: Annotated[str, Field(pattern=r"^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)$")] | None = None
    """The version that is replaced, where the replaced content bears one (criteria, tables, decision orders, rule
    sets): once the library has another, the replacement is refused until someone has looked at it."""
    reason: Annotated[str, Field(min_length=1)]
    """Why; shown in every answer that the replacement bears on."""


class Past(Strict):
    """When a danger of an entry of a list is history: so long after a date of the same entry."""

    date: str
    """The date element of the entry, such as that of the last dose."""
    days: Annotated[int, Field(ge=1)]
    """It is history where more days than these have certainly passed since then."""
    source: str
    """Key in ``sources.yaml``."""
    at: str = ""
    """Place in the source."""
    tag: Tag
    """How far it was verified."""


class Danger(Strict):
    """What of an element is a sign of danger or an abnormal result that nobody may overlook."""

    op: Literal["at_least", "at_most", "more_than", "less_than", "is", "one_of", "contains_any"]
    """The test, in the operators of the rule language."""
    value: bool | int | float | str | Rows[str]
    """What it compares with, in the unit of the element; a list for `one_of` and `contains_any`."""
    why: Text
    """Why it matters to someone about to put a needle and donated material into a disc."""
    source: str
    """Key in ``sources.yaml``."""
    at: str = ""
    """Place in the source."""
    tag: Tag
    """How far it was verified."""
    past: Past | None = None
    """When it is one no longer, of an element of an entry of a list; without it, it always is."""

    @property
    def limits(self) -> tuple[bool | int | float | str, ...]:
        """The operands of the test."""
        return self.value if isinstance(self.value, tuple) else (self.value,)


class NotBelow(Strict):
    """Another element that the value of this one cannot lie below, or before, in a record that is right."""

    element: str
    """The other element: of the same subject or of the patient, and of the same unit; a date for a date."""
    slack: Annotated[float, Field(ge=0)] = 0
    """How far below it may lie all the same, in the storage unit, in days for a date, from 0 (common practice)."""
    same_day: bool = False
    """Said only of two facts of one day, as of one form that was filled in."""


class NotAfter(Strict):
    """A date of the patient than which this date of an entry of a list cannot be later, perhaps only of one kind of entry."""

    model_config = ConfigDict(
        json_schema_extra=one_of(both(present("kind"), present("code")), both(absent("kind"), absent("code")))
    )

    element: str
    """The date of the patient."""
    kind: str | None = None
    """The choice of the same entry that says of what kind it is; without it this holds of every entry."""
    code: str | None = None
    """The code of it for which this holds."""

    @model_validator(mode="after")
    def _both(self) -> "NotAfter":
        if (self.kind is None) != (self.code is None):
            raise ValueError("a kind of entry is given by `kind` and `code` together")
        return self


class Within(Strict):
    """The patient's list of discs beyond which that of an entry cannot go, where both tell of one thing done on one day."""

    element: str
    """The list of the patient."""
    kind: str
    """The choice of the same entry that says of what kind it is."""
    code: str
    """The code of it for which this holds."""
    date: str
    """The date of the same entry."""
    day: str
    """The date of the patient; this holds where both are known to the day and are the same."""


class Unlike(Strict):
    """What another element cannot say on the same day as some values of this one (common practice).

    Two scales of one thing, of which only ends that lie far apart exclude each other; or a finding, and the study that
    cannot show it. Neither takes the other away: both are to be looked up.
    """

    model_config = ConfigDict(
        json_schema_extra=both(
            one_of(
                both(present("values"), absent("codes")),
                both(present("codes"), absent("values")),
                both(absent("values"), absent("codes")),
            ),
            one_of(
                both(present("other"), absent("other_codes"), absent("like")),
                both(present("other_codes"), absent("other"), absent("like")),
                both(present("like"), absent("other"), absent("other_codes")),
            ),
        )
    )

    values: Range | None = None
    """The values of this number, both ends included; without them and ``codes`` any value."""
    codes: Annotated[Rows[bool | str], Field(min_length=1)] | None = None
    """The codes of this element, instead of ``values``."""
    element: str
    """The other element, of the same subject or of the patient."""
    other: Range | None = None
    """The values of the other number that cannot stand beside them, both ends included."""
    other_codes: Annotated[Rows[bool | str], Field(min_length=1)] | None = None
    """Of an element with codes instead of ``other``: the codes that cannot."""
    like: str = ""
    """Of an element of words instead of ``other``: its form, with ``?`` for any one sign (``111??``)."""

    @model_validator(mode="after")
    def _one_kind(self) -> "Unlike":
        if self.values is not None and self.codes is not None:
            raise ValueError("values of this element are given either as `values` or as `codes`")
        if (self.other is not None) + (self.other_codes is not None) + bool(self.like) != 1:
            raise ValueError(
                "values of the other element are given as one of `other`, `other_codes` and `like`"
            )
        return self


class Near(Strict):
    """How far a date may lie from the as-of date before a slip, as of a year, explains it better (common practice)."""

    before: Annotated[int, Field(ge=0)] | None = None
    """Most days before the as-of date, from 0; without it there is no limit."""
    ahead: Annotated[int, Field(ge=0)] | None = None
    """Most days after the as-of date, from 0; without it there is no limit."""


class Parts(Strict):
    """Elements of the same subject that a total adds up; what is recorded of them bounds it, on forms of one day."""

    of: Annotated[Rows[str], Field(min_length=2)]
    """The elements that are added up."""
    times: Annotated[float, Field(gt=0)] = 1
    """What their sum is multiplied by where none was left blank; with blank ones the total is no lower."""


_SHORT_FORMS = {
    "bdi": "BDI", "bdi-ii": "BDI-II", "crp": "CRP", "ct": "CT", "dram": "DRAM", "egfr": "eGFR", "eq5d": "EQ-5D",
    "esr": "ESR", "fabq": "FABQ", "gad2": "GAD-2", "gad7": "GAD-7", "hba1c": "HbA1c", "hcg": "hCG", "inr": "INR",
    "mme": "MME", "mri": "MRI", "mrsa": "MRSA", "mspq": "MSPQ", "nrs": "NRS", "nsaid": "NSAID", "nsaids": "NSAIDs",
    "odi": "ODI", "pcs": "PCS", "phq2": "PHQ-2", "phq9": "PHQ-9", "promis": "PROMIS", "rmdq": "RMDQ", "sf36": "SF-36",
    "snri": "SNRI", "ssri": "SSRI", "vas": "VAS", "modic": "Modic", "schizas": "Schizas", "lee": "Lee",
    "weishaupt": "Weishaupt", "fujiwara": "Fujiwara", "pathria": "Pathria", "meyerding": "Meyerding",
    "castellvi": "Castellvi", "pfirrmann": "Pfirrmann", "waddell": "Waddell", "scheuermann": "Scheuermann",
    "item1": "item 1", "item2": "item 2", "item3": "item 3", "item4": "item 4", "item5": "item 5", "item6": "item 6",
    "item7": "item 7", "item8": "item 8", "item9": "item 9", "item10": "item 10", "medicare": "Medicare",
}  # fmt: skip


class Element(Strict):
    """One data element: a named, typed fact that a record may hold, or that is worked out from it."""

    model_config = ConfigDict(
        json_schema_extra=both(
            where(
                is_one_of("kind", "number", "integer"),
                present("possible"),
                absent("unit"),
            ),
            where(is_one_of("kind", "choice", "members"), {}, absent("choices")),
            where(
                is_one_of("kind", "choice", "members"),
                {
                    "anyOf": [
                        both(present("choices"), {"properties": {"choices": {"minProperties": 1}}}),
                        is_one_of("levels", True),
                    ]
                },
            ),
            where(is_one_of("ordered", True), is_one_of("kind", "choice")),
            where(filled("covers"), is_one_of("kind", "boolean")),
            where(filled("inputs"), {"not": is_one_of("statable", False)}),
            where(is_one_of("statable", False), is_one_of("derived", True)),
        )
    )

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
    """Stable name in the trade's words: small letters, digits and ``_``."""
    scope: Scope
    """What it is a fact of: the patient, a disc, or an entry of a list."""
    kind: Kind
    """``number``, ``integer``, ``boolean`` (true or false), ``choice`` (one code), ``members`` (a list of codes), ``date`` or ``words``."""
    meaning: Text
    """What the fact is, for the person who fills in a record."""
    unit: str | None = None
    """Storage unit of a number; scores without a unit have none."""
    also_accepts: Rows[str] = ()
    """Units that reach the storage unit only because the substance is known."""
    possible: Range | None = None
    """A value outside is refused, in the storage unit; needed for numbers."""
    likely: Range | None = None
    """A value outside is used, and must be checked at its source before a case passes on it; in the storage unit."""
    choices: dict[str, str] | None = None
    """Allowed codes with their meaning; in ascending order where ``ordered``."""
    ordered: bool = False
    """The codes of a choice ascend, so that they may be compared."""
    found_in: str = ""
    """Where the fact is normally found."""
    supplied_by: Supplier = "referrer"
    """Who can tell it."""
    burden: Burden = "question"
    """How troublesome it is to obtain, from ``in_chart`` to ``invasive_test``; the least is asked for first."""
    ask: str = ""
    """How it is asked for, as a sentence; without it the meaning serves."""
    code: TerminologyCode | None = None
    """A code of a public terminology, given only where it was verified."""
    precision: Precision | None = None
    """How far a value can be trusted, where published."""
    past: bool = False
    """A date that tells of something that has happened, so that it cannot lie after the as-of date."""
    derived: bool = False
    """Worked out from other elements by a formula of the program."""
    statable: bool = True
    """May be written into a case record directly."""
    inputs: Rows[Rows[str]] = ()
    """Of a statable element: sets of elements of the same subject, each of which is enough to work it out. Where a
    record states all of one set and the element too, both are read together; if they cannot both be true, sources conflict."""
    reads: Rows[str] = ()
    """Of a derived element without ``inputs``: the elements that its formula looks at."""
    agrees_within: Annotated[float, Field(ge=0)] = 0
    """How far such a stated number may lie from the one worked out, in the storage unit, from 0: what rounding in the
    source explains (common practice). Between them everything counts as possible."""
    covers: Rows[str] = ()
    """Of a summary answered with true or false ("any sign of cauda equina syndrome"): the single signs it
    is about. No to the summary is no to each of them (``normal`` for a coded sign); yes to one of them, or
    any other code than ``normal``, is yes to the summary."""
    excludes: Rows[str] = ()
    """Elements that may not be stated beside this one, because they say the same on another scale."""
    synonyms: Rows[str] = ()
    """Other words for it, by which it is found."""
    levels: bool = False
    """The list holds disc levels instead of codes."""
    danger: Rows[Danger] = ()
    """Values that no assessment may pass over in silence."""
    not_below: Rows[NotBelow] = ()
    """Elements whose value this one cannot lie below: where it does, both are to be looked up before a case may pass."""
    not_after: Rows[NotAfter] = ()
    """Of a date of an entry: dates of the patient that it cannot lie after: where it does, both are to be looked up."""
    unlike: Rows[Unlike] = ()
    """What of one day cannot stand beside some of its values, as by another scale; both are then to be looked up."""
    near: Near | None = None
    """Of a date: how near to the as-of date it lies, unless somebody says that it was checked at its source."""
    parts: Parts | None = None
    """Of a total: what it adds up. A total that they rule out is to be looked up before a case may pass."""
    within: Within | None = None
    """Of discs of an entry: the patient's list of the same discs. One that it lacks is to be looked up in both."""
    listed_in: str | None = None
    """Of a fact of a disc: the patient's list of discs of which alone it can be told, where that list is recorded and complete."""
    reported_within: Annotated[int, Field(ge=0)] | None = None
    """Of the date of a study: most days, from 0, to the date of the report that states it (common practice). A report
    from before the study, or from later, may be about another study, and then sources conflict."""
    no_danger: str = ""
    """Of an element without ``danger`` in a guarded group: why none of its values is one."""
    replaces: Replaces | None = None
    """Of an element of one's own with a shipped name: why. Only what is said about it and its limits may differ."""

    @model_validator(mode="after")
    def _coherent(self) -> "Element":
        if self.unit is not None and (self.kind not in ("number", "integer") or not units.known(self.unit)):
            raise ValueError(f"unit {self.unit} is not one of ours, or {self.kind} has no unit")
        if self.choices is not None and self.kind not in ("choice", "members"):
            raise ValueError("only choice and members elements have choices")
        if self.kind in ("choice", "members") and not self.choices and not self.levels:
            raise ValueError("choices are needed")
        if self.ordered and self.kind != "choice":
            raise ValueError("only a choice is ordered")
        if self.kind in ("number", "integer") and self.possible is None:
            raise ValueError("a number needs a possible range")
        if self.covers and self.kind != "boolean":
            raise ValueError("only a summary answered with true or false covers others")
        if self.not_below and self.kind not in ("number", "integer", "date"):
            raise ValueError("only a number or a date cannot lie below another")
        if self.not_after and (self.kind != "date" or self.scope not in LISTS.values()):
            raise ValueError("only a date of an entry lies after one of the patient")
        if self.unlike and self.kind not in ("number", "integer", "boolean", "choice"):
            raise ValueError("only a number or a code is unlike another")
        if self.within is not None and (not self.levels or self.scope not in LISTS.values()):
            raise ValueError("only a list of discs of an entry lies within one of the patient")
        if self.listed_in is not None and self.scope != "disc":
            raise ValueError("only a fact of a disc is told of the discs of a list")
        if self.parts is not None and self.kind not in ("number", "integer"):
            raise ValueError("only a number adds up others")
        if self.near is not None and self.kind != "date":
            raise ValueError("only a date lies near to the as-of date")
        if self.past and self.kind != "date":
            raise ValueError("past belongs to dates")
        if self.inputs and not self.statable:
            raise ValueError("only an element that may be stated lists inputs")
        if not self.derived and not self.statable:
            raise ValueError("an element must be statable, derived, or both")
        return self

    @property
    def absent(self) -> Options:
        """The value that a covered sign has when its summary is denied."""
        return Options(frozenset(("normal",))) if self.kind == "choice" else FALSE

    @property
    def codes(self) -> tuple[str, ...]:
        """Allowed codes in order; the level names for a list of levels."""
        return LEVELS if self.levels else tuple(self.choices or ())

    @cached_property
    def label(self) -> str:
        """The name as a reader sees it, with the short forms of the trade in their usual spelling."""
        return " ".join(_SHORT_FORMS.get(word, word) for word in self.name.split("_"))

    @property
    def accepted_units(self) -> list[str]:
        """Units that may be written for it, the storage unit first."""
        return [*units.accepted(self.unit), *self.also_accepts] if self.unit else []


class ElementFile(Strict):
    """Data elements of one group."""

    group: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{2,79}$")]
    """Id of the group, a shipped one or a new one: small letters, digits and ``_``."""
    title: str = ""
    """Heading of the group in lists; may be left out where the group is there already."""
    guarded: bool = False
    """Each element of the group declares its ``danger``, or says in ``no_danger`` why it has none."""
    elements: Annotated[Rows[Element], Field(min_length=1)]
    """The elements, in the order in which lists show them; at least one."""
