"""A starter for a mapping: what each column probably is, for a person to check, correct and confirm.

It proposes by the spelling of headers and of cell texts only. It never confirms itself.
"""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

from candidacy.case.catalogue import LEVELS, Element, catalogue
from candidacy.case.facts import normal_level
from candidacy.cohort.cells import BadCell, fact_of
from candidacy.cohort.embedded import EmbeddedEngine
from candidacy.cohort.mapping import ColumnMap, canonical
from candidacy.cohort.sources import PLACE, Staged, stage
from candidacy.units import known, normal_spelling

if TYPE_CHECKING:
    import pandas as pd

_ENOUGH = 78  # of 100; lower scores are mostly wrong on the headers we tried (common practice)
_MOST_TEXTS = 40
_LEVEL = re.compile(r"\b([TLS]\d{1,2}\s*[-/_]\s*[TLS]?\d{1,2})\b", re.IGNORECASE)
_ID_NAMES = (
    "case_id",
    "case",
    "id",
    "referral",
    "referral_id",
    "patient",
    "patient_id",
    "record_id",
    "reference",
)
_YES, _NO = ("yes", "y", "true", "1", "present", "positive"), ("no", "n", "false", "0", "absent", "negative")


def suggest_mapping(table: "Path | str | pd.DataFrame", part: str = "", delimiter: str = "") -> str:
    """Propose a mapping of a table as YAML with ``confirmed: false`` and the doubts as comments.

    Raises
    ------
    TableError
        If the table cannot be read.
    """
    import tempfile

    with tempfile.TemporaryDirectory(prefix="candidacy-cohort-", ignore_cleanup_errors=True) as made:
        folder = Path(made)
        engine = EmbeddedEngine(folder)
        try:
            return _propose(engine, stage(table, folder, engine, part, delimiter))
        finally:
            engine.close()


def _propose(engine: EmbeddedEngine, staged: Staged) -> str:
    types = engine.open_parquet("suggested", staged.path, "" if staged.place else PLACE)
    columns = [column for column in types if column != PLACE]
    exact = canonical(columns).columns
    case_id = _case_column(columns)
    taken: set[tuple[str, str | None]] = {(item.element, item.disc) for item in exact.values()}
    mapped: dict[str, dict[str, Any]] = {}
    ignored: list[str] = []
    doubts: list[str] = []
    for column in columns:
        if column == case_id:
            continue
        texts = _texts(engine, column)
        item = exact.get(column)
        if item is None:
            item, doubt = _nearest(column, taken)
            if item is None:
                ignored.append(column)
                doubts.append(
                    f"{_one_line(column)}: no element is near; values such as {', '.join(texts[:3])}"
                )
                continue
            taken.add((item.element, item.disc))
            doubts.append(f"{_one_line(column)}: {doubt}")
        mapped[column] = _entry(item, texts, column, doubts)
    content = {
        "version": "1",
        "confirmed": False,
        "patients": {"case_id": case_id or "", "columns": mapped, "ignore": ignored},
    }
    head = [
        "# A proposal from headers and cell texts. Compare every line with the table, correct it, and only then",
        "# write confirmed: true. A wrong line gives wrong outcomes that look right.",
        *(f"# {doubt}" for doubt in doubts),
    ]
    if not case_id:
        head.append("# case_id: name the column with the case reference")
    return "\n".join(head) + "\n" + yaml.safe_dump(content, sort_keys=False, allow_unicode=True, width=100)


def _one_line(text: str) -> str:
    return "".join(ch if ch.isprintable() else " " for ch in text)[:80]


def _case_column(columns: list[str]) -> str:
    plain = {re.sub(r"[^a-z]+", "_", column.lower()).strip("_"): column for column in columns}
    return next((plain[name] for name in _ID_NAMES if name in plain), "")


def _texts(engine: EmbeddedEngine, column: str) -> list[str]:
    quoted = engine.dialect.identifier(column)
    rows = engine.rows(
        f"SELECT TRIM(CAST({quoted} AS VARCHAR)) AS cell, COUNT(*) AS cells FROM suggested "
        f"WHERE {quoted} IS NOT NULL GROUP BY 1 HAVING cell <> '' ORDER BY cells DESC, cell LIMIT {_MOST_TEXTS}"
    )
    return [_one_line(row[0]) for row in rows]


def _nearest(column: str, taken: set[tuple[str, str | None]]) -> tuple[ColumnMap | None, str]:
    """The nearest element by its name and synonyms, and what to check."""
    from rapidfuzz import fuzz, process

    found = _LEVEL.search(column.replace("_", "-") if not _LEVEL.search(column) else column)
    disc = normal_level(re.sub(r"[\s_/]+", "-", found.group(1))) if found else None
    bare = column.replace(found.group(1), " ") if found and found.group(1) in column else column
    if found and bare == column:
        bare = _LEVEL.sub(" ", column.replace("_", "-"))
    unit = next(
        (part for part in re.findall(r"[\[(]([^\])]+)[\])]", bare) if known(normal_spelling(part))), None
    )
    words = " ".join(re.findall(r"[a-z0-9]+", re.sub(r"[\[(][^\])]*[\])]", " ", bare).lower()))
    names: dict[str, Element] = {}
    for element in catalogue().all:
        if element.statable and element.scope == ("disc" if disc else "patient"):
            for name in (element.name, *element.synonyms):
                names[name.replace("_", " ")] = element
    best = process.extract(words, list(names), scorer=fuzz.token_sort_ratio, limit=3, score_cutoff=_ENOUGH)
    for name, score, _ in best:
        element = names[name]
        if (element.name, disc) not in taken:
            return ColumnMap(
                element=element.name, disc=disc, unit=unit
            ), f"{element.name}? ({score:.0f} of 100 alike)"
    return None, ""


def _entry(item: ColumnMap, texts: list[str], column: str, doubts: list[str]) -> dict[str, Any]:
    element = catalogue()[item.element]
    entry: dict[str, Any] = {"element": item.element}
    if item.disc:
        entry["disc"] = item.disc
    if element.unit is not None:
        entry["unit"] = item.unit or "?"
        if item.unit is None:
            doubts.append(f"{_one_line(column)}: state the unit, one of {', '.join(element.accepted_units)}")
    codes = {}
    for text in texts:
        try:
            fact_of(text, item.model_copy(update={"unit": item.unit or element.unit}))
        except BadCell:
            code = _code(element, text)
            if code:
                codes[text] = code
            else:
                doubts.append(
                    f"{_one_line(column)}: {text!r} is not understood; map it under codes or unknown"
                )
    if codes:
        entry["codes"] = codes
    return entry


def _code(element: Element, text: str) -> str:
    """A code for a foreign text where the spelling leaves little doubt."""
    lowered = text.lower()
    if element.kind == "boolean":
        return "true" if lowered in _YES else "false" if lowered in _NO else ""
    if element.kind == "choice":
        roman = {str(place): code for place, code in enumerate(("I", "II", "III", "IV", "V"), 1)}
        labels = {label.lower(): code for code, label in (element.choices or {}).items()}
        plain = {code.lower(): code for code in element.codes}
        # a digit is never taken for a Roman grade: the two scales must not be mixed
        return "" if lowered in roman else plain.get(lowered.replace(" ", "_"), labels.get(lowered, ""))
    if element.kind == "members" and element.levels:
        level = normal_level(text)
        return level if level in LEVELS else ""
    return ""
