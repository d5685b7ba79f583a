"""The catalogue of data elements: every fact a case record may hold, or that is worked out from it.

The elements are data (``elements/*.yaml``); this module checks and serves them. It holds no case.
"""

from functools import cache
from importlib import resources
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

from candidacy.foundation import units
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.files import nearest, parse
from candidacy.foundation.shape import validate
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


class Strict(BaseModel):
    # folded YAML text ends with a line end, which nobody means
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", str_strip_whitespace=True)


class Range(Strict):
    """Smallest and largest value; ``None`` means no limit on that side."""

    low: int | float | None = None
    high: int | float | None = None


class TerminologyCode(Strict):
    """A code of a public terminology, given only where it was verified."""

    system: Literal["LOINC", "UCUM", "ICD-10-CM"]
    code: str
    name: str
    tag: Tag


class Precision(Strict):
    """How far a value can be trusted, where published."""

    text: str
    source: str
    tag: Tag


class Danger(Strict):
    """What of an element is a sign of danger or an abnormal result that nobody may overlook.

    Attributes
    ----------
    op, value
        The test, in the operators of the rule language (``one_of`` takes a list).
    why
        Why it matters to someone about to put a needle and donated material into a disc.
    source, at, tag
        Key in ``sources.yaml``, place in it, and how far it was verified.
    """

    op: Literal["at_least", "at_most", "more_than", "less_than", "is", "one_of", "contains_any"]
    value: bool | int | float | str | Rows[str]
    why: str
    source: str
    at: str = ""
    tag: Tag

    @property
    def limits(self) -> tuple[bool | int | float | str, ...]:
        """The operands of the test."""
        return self.value if isinstance(self.value, tuple) else (self.value,)


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
    """One data element.

    Attributes
    ----------
    name
        Stable snake_case name in the trade's words.
    unit
        Storage unit of a number; scores without a unit have ``None``.
    also_accepts
        Units that reach the storage unit only because the substance is known.
    possible, likely
        A value outside ``possible`` is refused, outside ``likely`` it is questioned.
    choices
        Allowed codes with their meaning; in ascending order where ``ordered``.
    derived
        Worked out from other elements by a function of ``candidacy.derive``.
    statable
        May also be written into a case record directly.
    inputs
        Of a statable element: sets of elements of the same subject, each of which is enough to work it out. Where a
        record states all of one set and the element too, both are read together; if they cannot both be true, sources conflict.
    reads
        Of a derived element without ``inputs``: the elements that its formula looks at.
    agrees_within
        How far such a stated number may lie from the one worked out: what rounding in the source explains (common
        practice). Between them everything counts as possible.
    covers
        Of a summary answered with true or false ("any sign of cauda equina syndrome"): the single signs it
        is about. No to the summary is no to each of them (``normal`` for a coded sign); yes to one of them, or
        any other code than ``normal``, is yes to the summary.
    excludes
        Elements that may not be stated beside this one, because they say the same on another scale.
    danger
        Values that no assessment may pass over in silence: see `Danger`.
    reported_within
        Of the date of a study: most days to the date of the report that states it (common practice). A report from before
        the study, or from later, may be about another study, and then sources conflict.
    """

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
    scope: Scope
    kind: Kind
    meaning: str
    unit: str | None = None
    also_accepts: Rows[str] = ()
    possible: Range | None = None
    likely: Range | None = None
    choices: dict[str, str] | None = None
    ordered: bool = False
    found_in: str = ""
    supplied_by: Supplier = "referrer"
    burden: Burden = "question"
    ask: str = ""
    code: TerminologyCode | None = None
    precision: Precision | None = None
    derived: bool = False
    statable: bool = True
    inputs: Rows[Rows[str]] = ()
    reads: Rows[str] = ()
    agrees_within: Annotated[float, Field(ge=0)] = 0
    covers: Rows[str] = ()
    excludes: Rows[str] = ()
    synonyms: Rows[str] = ()
    levels: bool = False
    danger: Rows[Danger] = ()
    reported_within: Annotated[int, Field(ge=0)] | None = None

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

    @property
    def label(self) -> str:
        """The name as a reader sees it, with the short forms of the trade in their usual spelling."""
        return _label(self.name)

    @property
    def accepted_units(self) -> list[str]:
        """Units that may be written for it, the storage unit first."""
        return [*units.accepted(self.unit), *self.also_accepts] if self.unit else []


@cache
def _label(name: str) -> str:
    return " ".join(_SHORT_FORMS.get(word, word) for word in name.split("_"))


class _ElementFile(Strict):
    group: str
    title: str
    elements: Rows[Element]


class Catalogue:
    """All elements by name, in the order of the files; names are unique across scopes."""

    def __init__(self, files: list[_ElementFile]) -> None:
        self.groups = {file.group: file.title for file in files}
        self._by_name: dict[str, Element] = {}
        self._group_of: dict[str, str] = {}
        for file in files:
            for element in file.elements:
                self._group_of[element.name] = file.group
                if element.name in self._by_name:
                    raise InputError(
                        [Problem(Code.DUPLICATE_KEY, "two elements have this name", found=element.name)]
                    )
                self._by_name[element.name] = element
        self.covered_by = {name: e.name for e in self._by_name.values() for name in e.covers}
        # elements that only a record can tell: neither worked out, nor told by a summary or a sign
        self.only_stated = {
            e.name: e.scope
            for e in self._by_name.values()
            if not (e.derived or e.covers or e.reported_within or e.name in self.covered_by)
        }
        self._place = {name: place for place, name in enumerate(self._by_name)}

    def __contains__(self, name: object) -> bool:
        return name in self._by_name

    def __getitem__(self, name: str) -> Element:
        return self._by_name[name]

    def get(self, name: str) -> Element | None:
        return self._by_name.get(name)

    def place(self, name: str) -> int:
        """The position of an element in the catalogue; what is no element comes last."""
        return self._place.get(name, len(self._place))

    @property
    def all(self) -> tuple[Element, ...]:
        return tuple(self._by_name.values())

    def group_of(self, name: str) -> str:
        """The group an element is listed under."""
        return self._group_of[name]

    def of_scope(self, scope: str) -> tuple[Element, ...]:
        return tuple(e for e in self._by_name.values() if e.scope == scope)

    def statable(self, scope: str) -> dict[str, Element]:
        """Elements that may be written into a record, by name."""
        return {e.name: e for e in self._by_name.values() if e.scope == scope and e.statable}

    def nearest(self, word: str, scope: str | None = None) -> str:
        """The closest element name or synonym's element, or an empty text."""
        names: dict[str, str] = {}
        for element in self._by_name.values():
            if scope is None or element.scope == scope:
                names[element.name] = element.name
                names.update(dict.fromkeys(element.synonyms, element.name))
        return names.get(word) or names.get(nearest(word, list(names)), "")


@cache
def catalogue() -> Catalogue:
    """Load the shipped catalogue, once per process.

    Raises
    ------
    InputError
        If a shipped element file is damaged.
    """
    folder = resources.files("candidacy.case") / "elements"
    files: list[_ElementFile] = []
    for entry in sorted((e for e in folder.iterdir() if e.name.endswith(".yaml")), key=lambda e: e.name):
        tree = parse(entry.read_text(encoding="utf-8"), entry.name)
        files.append(validate(_ElementFile, tree, entry.name, lambda path: list(Element.model_fields)))
    return Catalogue(files)
