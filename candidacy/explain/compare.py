"""One case under several rule sets: what decides, where they agree, where they differ, and what makes it."""

from collections.abc import Sequence
from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.deciding import Compared, deciding_lines, limit_words
from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.rules.vocabulary import GROUPS


class _Part(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)


class ComparedRow(_Part):
    """One question for one subject: its outcome under each rule set, ``None`` where it is not asked.

    ``ids`` are the criteria that ask it: one question may bear several ids (`candidacy.rules.sameness`), and ``id`` is the
    first of them. ``differs_by`` names what differs between the sets that ask it: limits, parameters, force, or its use.
    ``shown`` says how each outcome is marked.
    """

    id: str
    ids: list[str | None]
    title: str
    group: str
    subject: str
    outcomes: list[str | None]
    shown: list[str | None]
    forces: list[str | None]
    differs: bool
    differs_by: list[str]


class Comparison(_Part):
    """Assessments of one case side by side, in the order asked for.

    ``deciding`` says first what makes the standings differ, one sentence a line, or that they do not.
    """

    schema_version: Literal["1"]
    deciding: list[str]
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
    rows = sorted(_aligned(documents), key=lambda row: list(GROUPS).index(_used(row)[0].group))
    compared = [_row(row) for row in rows]
    compared.sort(key=lambda row: not row.differs)
    return Comparison(
        schema_version="1", deciding=deciding_lines(documents, rows), assessments=documents, rows=compared
    )


def _aligned(documents: Sequence[AssessmentDocument]) -> list[Compared]:
    """Criteria in rows: those of one id, then those of other ids that ask the same thing and are never used together."""
    cells: dict[tuple[str, str, str], list[CriterionInfo | None]] = {}
    for place, document in enumerate(documents):
        for criterion in document.criteria:
            key = (criterion.sameness, criterion.subject, criterion.id)
            cells.setdefault(key, [None] * len(documents))[place] = criterion
    rows: dict[tuple[str, str], list[list[CriterionInfo | None]]] = {}
    for (asked, subject, _), row in cells.items():
        found = rows.setdefault((asked, subject), [])
        free = [
            other for other in found if all(a is None or b is None for a, b in zip(other, row, strict=True))
        ]
        # of several that it may stand beside, the one of its own force
        free.sort(key=lambda other: _force(other) != _force(row))
        if not free:
            found.append(row)
            continue
        for place, cell in enumerate(row):
            free[0][place] = free[0][place] or cell
    return [Compared(subject, tuple(row)) for (_, subject), several in rows.items() for row in several]


def _force(row: Sequence[CriterionInfo | None]) -> str:
    return next(cell.force for cell in row if cell is not None)


def _used(row: Compared) -> list[CriterionInfo]:
    return [cell for cell in row.cells if cell is not None]


def _row(row: Compared) -> ComparedRow:
    cells, used = row.cells, _used(row)
    outcomes: list[str | None] = [cell.outcome if cell else None for cell in cells]
    return ComparedRow(
        id=used[0].id,
        ids=[cell.id if cell else None for cell in cells],
        title=used[0].passing,
        group=used[0].group,
        subject=row.subject,
        outcomes=outcomes,
        shown=[cell.shown if cell else None for cell in cells],
        forces=[cell.force if cell else None for cell in cells],
        differs=len(set(outcomes)) > 1,
        differs_by=_differs_by(row, used),
    )


def _differs_by(row: Compared, used: Sequence[CriterionInfo]) -> list[str]:
    by: list[str] = []
    if len(used) < len(row.cells):
        by.append("not used by every rule set")
    limits = [limit_words(cell) for cell in used]
    several_ids = len({cell.id for cell in used}) > 1
    if several_ids and all(limits) and len(set(limits)) > 1:
        by.append(f"limit: {' / '.join(limits)}")
    names = dict.fromkeys(p.name for cell in used for p in cell.parameters)
    for name in names:
        values = [p.value for cell in used for p in cell.parameters if p.name == name]
        if len(set(values)) > 1 and not (several_ids and all(limits)):
            by.append(f"{name}: {' / '.join(values)}")
    if several_ids:
        by.append(f"asked as: {' / '.join(dict.fromkeys(cell.id for cell in used))}")
    if len({cell.force for cell in used}) > 1:
        by.append(f"force: {' / '.join(cell.force for cell in used)}")
    return by
