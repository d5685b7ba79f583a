"""Which columns of a table tell the case and the disc: by their names and by their cells."""

import re
from dataclasses import dataclass
from typing import Any

from candidacy.case.facts import normal_level
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.references import case_text

_ID_NAMES = ("case_id", "case", "case_no", "id", "referral", "referral_id", "referral_no", "patient", "patient_id",
             "record_id", "record", "reference", "ref", "ref_no", "no", "number", "mrn", "chart", "chart_no")  # fmt: skip
_MOST_TEXTS = 200
_MOSTLY = 0.9
_FOUND = 0.5


@dataclass
class Columns:
    """The columns of one table on an engine, by name with their types."""

    engine: EmbeddedEngine
    relation: str
    types: dict[str, str]
    names: list[str]

    def texts(self, column: str, most: int = _MOST_TEXTS) -> list[str]:
        """The different texts of a column, the most frequent ones first."""
        cell = self._text(column)
        rows = self.engine.rows(
            f"SELECT {cell} AS cell, COUNT(*) AS cells FROM {self.relation} WHERE COALESCE({cell}, '') <> '' "
            f"GROUP BY 1 ORDER BY cells DESC, cell LIMIT {int(most)}"
        )
        return [str(row[0]) for row in rows]

    def _text(self, column: str) -> str:
        return case_text(self.types, column)

    def one_for_each_row(self, column: str) -> bool:
        """Every row has a text in the column, and no two rows the same."""
        cell = self._text(column)
        found = self._one(f"COUNT(*), COUNT(NULLIF({cell}, '')), COUNT(DISTINCT {cell})")
        return bool(found[0] == found[1] == found[2])

    def _one(self, chosen: str, joined: str = "") -> tuple[Any, ...]:
        return self.engine.rows(f"SELECT {chosen} FROM {self.relation} {joined}")[0]

    def share_among(self, column: str, other: "Columns", reference: str) -> float:
        """The share of the rows whose text is a case reference of another table."""
        cell = self._text(column)
        own = f"(SELECT DISTINCT {other._text(reference)} AS patients_case FROM {other.relation}) AS known_cases"
        total, found = self._one(
            "COUNT(*), COUNT(patients_case)", f"LEFT JOIN {own} ON {cell} = patients_case"
        )
        return found / total if total else 0.0


def case_column(columns: Columns, elements: set[str]) -> tuple[str, str]:
    """The column with the case reference in a table of patients, and what to say; an empty name for a question.

    ``elements`` are columns whose headers are data elements.
    """
    free = [
        name for name in columns.names if name not in elements and columns.types[name] in ("text", "integer")
    ]
    unique = [name for name in free if columns.one_for_each_row(name)]
    named = _by_name(unique)
    if named:
        return named, "a different one in every row"
    if len(unique) == 1:
        return unique[0], "by its cells alone: a different one in every row"
    if unique:
        return "", f"several columns have a different text in every row: {', '.join(unique[:8])}"
    repeated = _by_name(free)
    if repeated:
        return "", f"{repeated} is empty or the same in several rows; every case needs a reference of its own"
    return "", "no column has a different text in every row"


def case_column_beside(columns: Columns, patients: Columns, reference: str) -> tuple[str, str]:
    """The same for a table of discs or entries: the column whose cells are references of the patients."""
    if not reference:
        named = _by_name(columns.names)
        return named, "by its name" if named else "the column with the reference of the case"
    shares = {name: columns.share_among(name, patients, reference) for name in columns.names}
    best = max(shares, key=lambda name: shares[name], default="")
    if not best or shares[best] < _FOUND:
        return "", "no column holds the references of the table of patients"
    return best, f"{shares[best]:.0%} of its rows are references of the table of patients"


def _by_name(names: list[str]) -> str:
    plain = {re.sub(r"[^a-z]+", "_", name.lower()).strip("_"): name for name in reversed(names)}
    return next((plain[name] for name in _ID_NAMES if name in plain), "")


def level_column(columns: Columns) -> str:
    """The column whose cells are disc levels, or an empty text."""
    for name in columns.names:
        if columns.types[name] == "text":
            texts = columns.texts(name)
            levels = sum(normal_level(text) is not None for text in texts)
            if texts and levels >= _MOSTLY * len(texts):
                return name
    return ""
