"""One case under several rule sets: where they agree, where they differ, and which parameter or force makes it."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.rules.vocabulary import GROUPS


class _Part(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)


class ComparedRow(_Part):
    """One criterion for one subject: its outcome under each rule set, ``None`` where it is not used.

    ``differs_by`` names what differs between the sets that use it: parameters, force, or its use. ``shown`` says how
    each outcome is marked.
    """

    id: str
    title: str
    group: str
    subject: str
    outcomes: list[str | None]
    shown: list[str | None]
    forces: list[str | None]
    differs: bool
    differs_by: list[str]


class Comparison(_Part):
    """Assessments of one case side by side, in the order asked for."""

    schema_version: Literal["1"]
    assessments: list[AssessmentDocument]
    rows: list[ComparedRow]

    def to_json(self) -> str:
        """The comparison as JSON text."""
        return self.model_dump_json(indent=2) + "\n"


def compare(documents: list[AssessmentDocument]) -> Comparison:
    """Put assessments of the same case side by side.

    Raises
    ------
    ValueError
        If they are not of the same case and day.
    """
    if len({(d.case.digest, d.as_of) for d in documents}) > 1:
        raise ValueError("only assessments of one case on one day can stand side by side")
    cells: dict[tuple[str, str], list[CriterionInfo | None]] = {}
    for place, document in enumerate(documents):
        for criterion in document.criteria:
            row = cells.setdefault((criterion.id, criterion.subject), [None] * len(documents))
            row[place] = criterion
    rows = [_row(key, found) for key, found in cells.items()]
    groups = list(GROUPS)
    rows.sort(key=lambda row: (not row.differs, groups.index(row.group)))
    return Comparison(schema_version="1", assessments=documents, rows=rows)


def _row(key: tuple[str, str], cells: list[CriterionInfo | None]) -> ComparedRow:
    used = [cell for cell in cells if cell is not None]
    outcomes: list[str | None] = [cell.outcome if cell else None for cell in cells]
    by: list[str] = []
    if len(used) < len(cells):
        by.append("not used by every rule set")
    names = dict.fromkeys(p.name for cell in used for p in cell.parameters)
    for name in names:
        values = [p.value for cell in used for p in cell.parameters if p.name == name]
        if len(set(values)) > 1:
            by.append(f"{name}: {' / '.join(values)}")
    if len({cell.force for cell in used}) > 1:
        by.append(f"force: {' / '.join(cell.force for cell in used)}")
    return ComparedRow(
        id=key[0],
        title=used[0].passing,
        group=used[0].group,
        subject=key[1],
        outcomes=outcomes,
        shown=[cell.shown if cell else None for cell in cells],
        forces=[cell.force if cell else None for cell in cells],
        differs=len(set(outcomes)) > 1,
        differs_by=by,
    )
