"""Small pieces of SQL that two engines read alike, and three-valued logic written in them.

A truth is a SQL boolean: true is met, false is not met, NULL is unknown. SQL's AND, OR and NOT are the
strong Kleene connectives, so a condition keeps its shape; only constants are folded here.

References
----------
ISO/IEC 9075-2 (SQL), truth tables of AND, OR and NOT with unknown.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from typing import Any

TRUE = "TRUE"
FALSE = "FALSE"
UNKNOWN = "CAST(NULL AS BOOLEAN)"


_BLANKS = "".join(chr(n) for n in range(0x3001) if chr(n).isspace())


@dataclass(frozen=True, slots=True)
class Dialect:
    """The few places in which the engines write SQL differently."""

    name: str
    quote: str
    text_type: str
    try_number: str
    matches: str
    days: str
    list_text: str
    hash: str
    backslashes: bool = False
    trim: str = "TRIM({}, {})"

    def trimmed(self, text: str) -> str:
        """Text without the blanks around it: all that `str.strip` takes for one, not the space alone."""
        # trimming a set of signs is slow, and most cells begin and end with a plain letter or digit
        plain = " AND ".join(f"{end}({text}, 1) BETWEEN '!' AND '~'" for end in ("LEFT", "RIGHT"))
        return f"CASE WHEN {plain} THEN {text} ELSE {self.trim.format(text, self.string(_BLANKS))} END"

    def identifier(self, name: str) -> str:
        """Quote a column or table name."""
        return self.quote + name.replace(self.quote, self.quote * 2) + self.quote

    def string(self, value: str) -> str:
        """A literal of foreign text."""
        if self.backslashes:
            value = value.replace("\\", "\\\\")
        return "'" + value.replace("'", "\\'" if self.backslashes else "''") + "'"


_EPOCH = 719163  # ordinal of 1970-01-01

EMBEDDED = Dialect(
    "embedded",
    '"',
    "VARCHAR",
    "TRY_CAST({} AS DOUBLE)",
    "regexp_matches({}, {})",
    f"(date_diff('day', DATE '1970-01-01', CAST({{}} AS DATE)) + {_EPOCH})",
    "CASE WHEN len({0}) = 0 THEN '[]' ELSE array_to_string({0}, ';') END",
    "HASH",
)
SPARK = Dialect(
    "spark",
    "`",
    "STRING",
    "TRY_CAST({} AS DOUBLE)",
    "({} RLIKE {})",
    f"(datediff(CAST({{}} AS DATE), DATE '1970-01-01') + {_EPOCH})",
    "CASE WHEN size({0}) = 0 THEN '[]' ELSE array_join({0}, ';') END",
    "XXHASH64",
    backslashes=True,
    trim="TRIM(BOTH {1} FROM {0})",
)


def number(value: float) -> str:
    """A double; the exponent makes both engines read it as one and not as a decimal."""
    if value in (inf, -inf):
        return f"CAST('{'-' if value < 0 else ''}Infinity' AS DOUBLE)"
    text = repr(float(value))
    return text if "e" in text else text + "e0"


def text(value: str) -> str:
    """A text literal. Only codes of the catalogue and numbers of ours come here, never free text."""
    if "\\" in value or "\n" in value:
        raise ValueError("not a plain literal")
    return "'" + value.replace("'", "''") + "'"


def literal(value: Any, kind: str, dialect: Dialect) -> str:
    """A value as SQL; ``kind`` is ``double``, ``long``, ``bool`` or ``text``."""
    types = {"double": "DOUBLE", "long": "BIGINT", "bool": "BOOLEAN", "text": dialect.text_type}
    if value is None:
        return f"CAST(NULL AS {types[kind]})"
    if kind == "bool":
        return TRUE if value else FALSE
    if kind == "text":
        return dialect.string(str(value))
    return number(value) if kind == "double" else f"CAST({int(value)} AS BIGINT)"


def equals(key: str, value: Any, dialect: Dialect) -> str:
    """Two-valued SQL: a column has a value, or none where that is ``None``."""
    if value is None:
        return f"{key} IS NULL"
    kind = "bool" if isinstance(value, bool) else "text" if isinstance(value, str) else "double"
    return f"{key} = {literal(value, kind, dialect)}"


def is_constant(truth: str) -> bool:
    return truth in (TRUE, FALSE, UNKNOWN)


def negate(part: str) -> str:
    """Met becomes not met; unknown stays unknown."""
    if is_constant(part):
        return {TRUE: FALSE, FALSE: TRUE, UNKNOWN: UNKNOWN}[part]
    return f"(NOT {part})"


def all_of(parts: Iterable[str]) -> str:
    """Strong Kleene AND; none at all is met."""
    return _join(parts, " AND ", TRUE, FALSE)


def any_of(parts: Iterable[str]) -> str:
    """Strong Kleene OR; none at all is not met."""
    return _join(parts, " OR ", FALSE, TRUE)


def _join(parts: Iterable[str], word: str, neutral: str, settling: str) -> str:
    kept = list(dict.fromkeys(part for part in parts if part != neutral))
    if settling in kept:
        return settling
    if not kept:
        return neutral
    return kept[0] if len(kept) == 1 else "(" + word.join(kept) + ")"


def is_met(truth: str) -> str:
    """Two-valued: known to be met."""
    if is_constant(truth):
        return TRUE if truth == TRUE else FALSE
    return f"({truth} IS TRUE)"


def is_not_met(truth: str) -> str:
    """Two-valued: known not to be met."""
    if is_constant(truth):
        return TRUE if truth == FALSE else FALSE
    return f"({truth} IS FALSE)"


def is_unknown(truth: str) -> str:
    """Two-valued: unknown."""
    if is_constant(truth):
        return TRUE if truth == UNKNOWN else FALSE
    return f"({truth} IS NULL)"


def count_true(parts: Iterable[str]) -> str:
    """How many two-valued conditions hold."""
    fixed, terms = 0, []
    for part in parts:
        if part == TRUE:
            fixed += 1
        elif part != FALSE:
            terms.append(f"CAST({part} AS INT)")
    if fixed or not terms:
        terms.append(str(fixed))
    return terms[0] if len(terms) == 1 else "(" + " + ".join(terms) + ")"


def settled(met: str, not_met: str) -> str:
    """Met where one two-valued condition holds, not met where the other does, else unknown."""
    if met == TRUE or not_met == TRUE:
        return TRUE if met == TRUE else FALSE
    if met == FALSE and not_met == FALSE:
        return UNKNOWN
    arms = [f"WHEN {cond} THEN {value}" for cond, value in ((met, TRUE), (not_met, FALSE)) if cond != FALSE]
    return f"CASE {' '.join(arms)} END"
