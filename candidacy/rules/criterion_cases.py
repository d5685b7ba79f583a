"""The shape of the cases beside a criterion, and the record that each of them stands for."""

from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Rows, Strict, Text
from candidacy.case.record import CaseRecord, EntryList, FactTable
from candidacy.foundation.errors import InputError, RuleError
from candidacy.foundation.files import Node, read_tree
from candidacy.foundation.shape import validate
from candidacy.rules.conditions import Scalar
from candidacy.rules.vocabulary import Day, Outcome, Standing

DEFAULT_DAY = "2026-11-25"


class CriterionCase(Strict):
    """One small case for one criterion, in a file a clinician can read."""

    name: Text
    """What the case shows, as a sentence."""
    expect: Outcome
    """The outcome that the criterion must come to."""
    given: FactTable = Field(default_factory=dict)
    """Facts of the subject; those of others stand under ``patient``, ``discs`` or the lists."""
    subject: str = ""
    """The disc ("L4-L5") that a criterion of the disc is read for; without it L4-L5."""
    as_of: Day = DEFAULT_DAY
    """Day of the assessment, YYYY-MM-DD; without it 2026-11-25."""
    document_date: Day | None = None
    """Day of facts without a date or source of their own; without it the day of the assessment."""
    why: str = ""
    """The reason for not knowing that the outcome must rest on, such as ``out_of_date``; one of those of an answer."""
    parameters: dict[str, Scalar | Rows[Scalar]] = Field(default_factory=dict)
    """Values of parameters that differ from the defaults."""
    settings: dict[str, Scalar | Rows[Scalar]] = Field(default_factory=dict)
    """Values of settings that differ from the defaults."""
    patient: FactTable = Field(default_factory=dict)
    """Facts of the patient."""
    discs: dict[str, FactTable] = Field(default_factory=dict)
    """Facts of discs, by level."""
    disc_standings: dict[str, Standing] = Field(default_factory=dict)
    """Standing of discs, by level, for a criterion that reads it."""
    medicines: EntryList | None = None
    """Medicines."""
    treatments: EntryList | None = None
    """Conservative treatments."""
    injections: EntryList | None = None
    """Injections other than into a disc."""
    surgeries: EntryList | None = None
    """Surgeries of the spine."""
    intradiscal_procedures: EntryList | None = None
    """Earlier procedures in a disc."""


class CaseFile(Strict):
    """The cases beside a criterion."""

    cases: Annotated[Rows[CriterionCase], Field(min_length=1)]
    """The cases; at least one."""


def cases_path(path: Path) -> Path:
    """Where the cases of a criterion file stand."""
    return path.with_name(path.stem + ".cases.yaml")


def load_cases(path: Path) -> tuple[tuple[CriterionCase, ...], Node]:
    """Load the cases beside a criterion.

    Raises
    ------
    RuleError
        If the file cannot be used.
    """
    try:
        tree = read_tree(path)
        if isinstance(tree.value, list):
            tree = Node({"cases": tree}, tree.line, tree.column)
        keys = list(CriterionCase.model_fields)
        return validate(CaseFile, tree, str(path), lambda _: keys).cases, tree
    except InputError as error:
        raise RuleError(error.problems) from None


def record_of(case: CriterionCase, subject: str) -> CaseRecord:
    """The record that a case stands for, read for a subject."""
    dated = {"source": "given"}
    shelf = catalogue()
    own = {name: entry for name, entry in case.given.items() if _scope(shelf.get(name)) != "patient"}
    patient = {name: entry for name, entry in case.given.items() if name not in own} | dict(case.patient)
    discs = dict(case.discs)
    if subject == "patient":
        patient |= own
    else:
        discs[subject] = {**discs.get(subject, {}), **own}

    def with_source(table: FactTable) -> FactTable:
        return {
            name: entry if entry.source or entry.date else entry.model_copy(update=dated)
            for name, entry in table.items()
        }

    lists = {}
    for name in LISTS:
        listed = getattr(case, name)
        if listed is not None:
            lists[name] = listed.model_copy(update={"entries": tuple(with_source(e) for e in listed.entries)})
    return CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": "criterion-case",
            "documents": {"given": {"kind": "other", "date": case.document_date or case.as_of}},
            "patient": with_source(patient),
            "discs": {level: with_source(table) for level, table in discs.items()},
            **lists,
        }
    )


def _scope(element: Any) -> str:
    return element.scope if element is not None else "unknown"
