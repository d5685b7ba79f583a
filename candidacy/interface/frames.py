"""Parts of a document as DataFrames; pandas is asked for only when one is made."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Literal, get_args

from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.errors import Code, InputError, Problem, shorten

if TYPE_CHECKING:
    import pandas as pd

Part = Literal["criteria", "missing", "discs", "facts"]
_Row = tuple[str | bool | None, ...]


def document_frame(document: AssessmentDocument, part: Part) -> "pd.DataFrame":
    """One part of an assessment as a table of text; what is not there is missing, never an empty guess.

    Raises
    ------
    InputError
        E208 for a part that there is not, E601 without pandas.
    """
    if part not in get_args(Part):
        raise InputError([Problem(Code.BAD_CHOICE, "no such part of an assessment", field="part",
                                  found=shorten(part), expected=", ".join(get_args(Part)))])  # fmt: skip
    columns, rows = _PARTS[part]
    return text_frame(rows(document), columns)


def text_frame(rows: Sequence[_Row], columns: Sequence[str]) -> "pd.DataFrame":
    """Rows of text as a DataFrame of nullable texts; see `document_frame`."""
    try:
        import pandas as pd
    except ImportError as error:
        raise InputError([Problem(Code.USAGE, "a DataFrame needs pandas", found=shorten(error),
                                  next_step="pip install 'candidacy[cohort]'")]) from error  # fmt: skip
    return pd.DataFrame(list(rows), columns=list(columns)).astype("string")


def _criteria(document: AssessmentDocument) -> list[_Row]:
    return [
        (c.id, c.subject, c.group, c.kind, c.force, c.outcome, c.shown, c.found, "; ".join(c.because))
        for c in document.criteria
    ]


def _missing(document: AssessmentDocument) -> list[_Row]:
    return [
        (
            m.element,
            m.subject,
            m.ask,
            m.why,
            m.weight,
            m.burden,
            m.supplied_by,
            m.force,
            ", ".join(m.criteria),
        )
        for m in document.missing
    ]


def _discs(document: AssessmentDocument) -> list[_Row]:
    return [(d.level, d.considered, d.standing, d.standing_name, d.decided_by) for d in document.discs]


def _facts(document: AssessmentDocument) -> list[_Row]:
    return [
        (
            f.element,
            f.subject,
            f.label,
            f.value if f.known else None,
            f.why,
            f.unit,
            f.document,
            f.date or None,
        )
        for f in document.facts
    ]


_PARTS: dict[Part, tuple[tuple[str, ...], Callable[[AssessmentDocument], list[_Row]]]] = {
    "criteria": (
        ("criterion", "subject", "group", "kind", "force", "outcome", "shown", "found", "because"),
        _criteria,
    ),
    "missing": (
        ("element", "subject", "ask", "why", "weight", "burden", "supplied_by", "force", "criteria"),
        _missing,
    ),
    "discs": (("disc", "considered", "standing", "standing_name", "decided_by"), _discs),
    "facts": (("element", "subject", "label", "value", "why", "unit", "source", "date"), _facts),
}
