"""Small pieces of SQL, and three-valued logic written in them.

A truth is a SQL boolean: true is met, false is not met, NULL is unknown. SQL's AND, OR and NOT are the
strong Kleene connectives, so a condition keeps its shape; only constants are folded here.

References
----------
ISO/IEC 9075-2 (SQL), truth tables of AND, OR and NOT with unknown.
"""

import re
from collections.abc import Callable, Iterable
from functools import lru_cache
from math import inf
from typing import Any

TRUE = "TRUE"
FALSE = "FALSE"
UNKNOWN = "CAST(NULL AS BOOLEAN)"
_NOTHING = ("NULL", UNKNOWN)


_QUOTED = re.compile(r"""'(?:[^']|'')*'|"(?:[^"]|"")*"|`[^`]*`""")
_BLANKS = "".join(chr(n) for n in range(0x3001) if chr(n).isspace())


# A column compared with another or with a number; no number is NaN, and where one side is unknown so is the opposite.
_NAME = re.compile(r'"[^"]+"|[A-Za-z_]\w*')
_OPERAND = rf"{_NAME.pattern}|-?[0-9][0-9.e+-]*"
_COMPARED = re.compile(rf"\(({_OPERAND}) (>=|<=|<|>|=|<>|IS NULL|IS NOT NULL)(?: ({_OPERAND}))?\)")
_OPPOSITE = {">=": "<", "<": ">=", "<=": ">", ">": "<=", "=": "<>", "<>": "=", "IS NULL": "IS NOT NULL", "IS NOT NULL": "IS NULL"}  # fmt: skip

_EPOCH = 719163  # ordinal of 1970-01-01


def identifier(name: str) -> str:
    """Quote a column or table name."""
    return '"' + name.replace('"', '""') + '"'


def string(value: str) -> str:
    """A literal of foreign text."""
    return "'" + value.replace("'", "''") + "'"


def trimmed(text: str) -> str:
    """Text without the blanks around it: all that `str.strip` takes for one, not the space alone."""
    # trimming a set of signs is slow, and most cells begin and end with a plain letter or digit
    plain = " AND ".join(f"{end}({text}, 1) BETWEEN '!' AND '~'" for end in ("LEFT", "RIGHT"))
    return f"CASE WHEN {plain} THEN {text} ELSE TRIM({text}, {string(_BLANKS)}) END"


def as_number(text: str) -> str:
    """The number that a text says, NULL where it says none."""
    return f"TRY_CAST({text} AS DOUBLE)"


def matches(text: str, pattern: str) -> str:
    """Whether a text holds what a regular expression, itself SQL, looks for."""
    return f"regexp_matches({text}, {pattern})"


def place_among(codes: Iterable[str], text: str) -> str:
    """The place of a text among some codes, from 1; NULL where it is none of them, or there is no text.

    An engine asks it of each different text of a column, where it would ask of every row whether it is among them.
    """
    return f"list_position([{', '.join(map(string, codes))}], {text})"


def rows_with(condition: str) -> str:
    """How many rows meet a condition; of no rows, none."""
    # COUNT(*) FILTER takes four times as long a row, and planning it grows with the square of how many there are
    return f"COALESCE(COUNT_IF({condition}), 0)"


def days(day: str) -> str:
    """A date as the ordinal of its day."""
    return f"(date_diff('day', DATE '1970-01-01', CAST({day} AS DATE)) + {_EPOCH})"


def truth_in(table: str, place: str) -> str:
    """The truth at a place of a table of signs T, F and U, counted from 0; unknown where there is no place."""
    # to find a sign in a long text costs more than everything else that is asked of a case
    met, not_met = ("".join("01"[sign == wanted] for sign in table) for wanted in "TF")
    bit = f"GET_BIT('{{}}'::BIT, CAST({place} AS INT)) = 1"
    return f"CASE WHEN {bit.format(met)} THEN TRUE WHEN {bit.format(not_met)} THEN FALSE END"


def list_text(column: str) -> str:
    """A list as the text of a cell."""
    return f"CASE WHEN len({column}) = 0 THEN '[]' ELSE array_to_string({column}, ';') END"


def number(value: float) -> str:
    """A double; the exponent makes it one and not a decimal."""
    if value in (inf, -inf):
        return f"CAST('{'-' if value < 0 else ''}Infinity' AS DOUBLE)"
    text = repr(float(value))
    return text if "e" in text else text + "e0"


def text(value: str) -> str:
    """A text literal. Only codes of the catalogue and numbers of ours come here, never free text."""
    if "\\" in value or "\n" in value:
        raise ValueError("not a plain literal")
    return "'" + value.replace("'", "''") + "'"


def literal(value: Any, kind: str) -> str:
    """A value as SQL; ``kind`` is ``double``, ``long``, ``bool`` or ``text``."""
    types = {"double": "DOUBLE", "long": "BIGINT", "bool": "BOOLEAN", "text": "VARCHAR"}
    if value is None:
        return f"CAST(NULL AS {types[kind]})"
    if kind == "bool":
        return TRUE if value else FALSE
    if kind == "text":
        return string(str(value))
    return number(value) if kind == "double" else f"CAST({int(value)} AS BIGINT)"


def equals(key: str, value: Any) -> str:
    """Two-valued SQL: a column has a value, or none where that is ``None``."""
    if value is None:
        return f"{key} IS NULL"
    kind = "bool" if isinstance(value, bool) else "text" if isinstance(value, str) else "double"
    return f"{key} = {literal(value, kind)}"


def is_constant(truth: str) -> bool:
    return truth in (TRUE, FALSE, UNKNOWN)


def negate(part: str) -> str:
    """Met becomes not met; unknown stays unknown."""
    if is_constant(part):
        return {TRUE: FALSE, FALSE: TRUE, UNKNOWN: UNKNOWN}[part]
    for join, beside in ((all_of, _beside_or), (any_of, _beside_and)):
        core = beside(part)
        if core:
            return join((negate(core), UNKNOWN))
    compared = _COMPARED.fullmatch(part)
    if compared:
        return f"({' '.join((compared[1], _OPPOSITE[compared[2]], *filter(None, (compared[3],))))})"
    denied = part[len("(NOT ") : -1]
    if part.startswith("(NOT ") and (_is_one(denied) or _NAME.fullmatch(denied)):
        return denied
    return f"(NOT {part})"


def all_of(parts: Iterable[str]) -> str:
    """Strong Kleene AND; none at all is met."""
    return _join(parts, " AND ", TRUE, FALSE, any_of, _beside_or)


def any_of(parts: Iterable[str]) -> str:
    """Strong Kleene OR; none at all is not met."""
    return _join(parts, " OR ", FALSE, TRUE, all_of, _beside_and)


def _join(
    parts: Iterable[str],
    word: str,
    neutral: str,
    settling: str,
    other: Callable[[Iterable[str]], str],
    beside: Callable[[str], str],
) -> str:
    kept = list(dict.fromkeys(part for part in parts if part != neutral))
    if settling in kept:
        return settling
    met = [core for part in kept if (core := _beside(part, " IS TRUE)"))]
    if len(met) > 1:  # known to be met together is asked once
        together = is_met(_join(met, word, neutral, settling, other, beside))
        return _join(
            [together, *(part for part in kept if not _beside(part, " IS TRUE)"))],
            word, neutral, settling, other, beside,
        )  # fmt: skip
    if not kept:
        return neutral
    if len(kept) == 1:
        return kept[0]
    cores = [neutral if part == UNKNOWN else beside(part) for part in kept]
    if all(cores):  # what is unknown in each part is taken out of them all: both connectives distribute
        inner = [settling if part == UNKNOWN else core for part, core in zip(kept, cores, strict=True)]
        return other((_join(inner, word, neutral, settling, other, beside), UNKNOWN))
    if UNKNOWN in kept:
        kept.remove(UNKNOWN)
        kept.append(UNKNOWN)
    return "(" + word.join(kept) + ")"


@lru_cache(maxsize=50_000)
def _beside(truth: str, end: str) -> str:
    """What stands beside an unknown part of a joined truth; empty where it is not so joined."""
    if not (truth.startswith("(") and truth.endswith(end) and _is_one(truth)):
        return ""
    core = truth[: -len(end)]
    # what stands in parentheses of its own keeps these alone, so that the same truth is the same text
    return core[1:] if _is_one(core[1:]) else core + ")"


@lru_cache(maxsize=50_000)
def _is_one(text: str) -> bool:
    """Whether a text in parentheses is one expression: the first closes at the end."""
    if not text.startswith("("):
        return False
    depth = 0
    for sign in _QUOTED.sub("", text)[:-1]:
        depth += (sign == "(") - (sign == ")")
        if not depth:
            return False
    return text.endswith(")")


def _beside_and(truth: str) -> str:
    """Of a truth that is never met, because something unknown must be: what else must be."""
    return _beside(truth, f" AND {UNKNOWN})")


def _beside_or(truth: str) -> str:
    """Of a truth that is never known not to be met, because something unknown may be met: what else may be."""
    return _beside(truth, f" OR {UNKNOWN})")


def is_met(truth: str) -> str:
    """Two-valued: known to be met."""
    if is_constant(truth):
        return TRUE if truth == TRUE else FALSE
    return FALSE if _beside_and(truth) else f"({truth} IS TRUE)"


def is_not_met(truth: str) -> str:
    """Two-valued: known not to be met."""
    if is_constant(truth):
        return TRUE if truth == FALSE else FALSE
    return FALSE if _beside_or(truth) else f"({truth} IS FALSE)"


def is_unknown(truth: str) -> str:
    """Two-valued: unknown."""
    if is_constant(truth):
        return TRUE if truth == UNKNOWN else FALSE
    return f"({truth} IS NULL)"


def is_known(truth: str) -> str:
    """Two-valued: met or not met."""
    return negate(is_unknown(truth)) if is_constant(truth) else f"({truth} IS NOT NULL)"


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


def chosen(arms: Iterable[tuple[str, str]], otherwise: str = "NULL") -> str:
    """What stands beside the first of some two-valued conditions that holds, or what stands for no other.

    A choice between truths becomes AND and OR where it is one: engines take several times as long for a CASE. A condition
    that is unknown for some case would then say something else, so none may be.
    """
    kept: list[tuple[str, str]] = []
    for condition, value in arms:
        if condition == TRUE:
            otherwise = value
            break
        if condition != FALSE:
            kept.append((condition, value))
    while kept and kept[-1][1] == otherwise:
        kept.pop()
    if not kept:
        return otherwise
    condition, value = kept[0]
    if len(kept) == 1:
        if otherwise == FALSE:
            return all_of((condition, value))
        if otherwise == TRUE:
            return any_of((negate(condition), value))
        if value == TRUE and otherwise not in _NOTHING:
            return any_of((condition, otherwise))
        if value == FALSE and otherwise not in _NOTHING:
            return all_of((negate(condition), otherwise))
    shown = " ".join(f"WHEN {condition} THEN {value}" for condition, value in kept)
    return f"CASE {shown} END" if otherwise in _NOTHING else f"CASE {shown} ELSE {otherwise} END"


def settled(met: str, not_met: str) -> str:
    """Met where one two-valued condition holds, not met where the other does, else unknown."""
    if met == TRUE or not_met == TRUE:
        return TRUE if met == TRUE else FALSE
    if met == FALSE and not_met == FALSE:
        return UNKNOWN
    arms = [f"WHEN {cond} THEN {value}" for cond, value in ((met, TRUE), (not_met, FALSE)) if cond != FALSE]
    return f"CASE {' '.join(arms)} END"
