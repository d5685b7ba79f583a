"""Values, conditions and readings in plain words. It rephrases; it never evaluates."""

from collections.abc import Iterable
from functools import lru_cache
from math import inf
from typing import Any

from candidacy.assessment.evaluate import Trace
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import SOURCES_CONFLICT
from candidacy.foundation import dates
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, Value, as_shown, number_words
from candidacy.rules.operators import OPERATORS
from candidacy.rules.tree import (
    DISCS,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Limit,
    Node,
    NoneOf,
    children,
)

MAX_NAMED = 3


def listed(items: list[str], word: str = "and") -> str:
    """Join items as a person does: "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"


def capped(items: list[str], limit: int = MAX_NAMED) -> str:
    """Join the first few items and count the rest."""
    if len(items) <= limit:
        return listed(items)
    return f"{', '.join(items[:limit])} and {len(items) - limit} more"


# Codes of UCUM that a reader would not take for a unit.
_PRINTED = {
    "Cel": "°C",
    "10*9/L": "× 10⁹/L",
    "mL/min/{1.73_m2}": "mL/min/1.73 m²",
    "m[IU]/mL": "mIU/mL",
    "[IU]/mL": "IU/mL",
    "[IU]": "IU",
}


def unit_words(unit: str) -> str:
    """A unit as it is printed; the codes of a record and of the JSON form stay as they are."""
    return _PRINTED.get(unit, unit)


def with_unit(number: str, unit: str) -> str:
    """A number with its unit; months and the like in the plural where needed."""
    unit = unit_words(unit)
    if not unit or unit == "1":
        return number
    if unit in ("month", "year", "day", "week", "hour"):
        unit = unit if number == "1" else unit + "s"
    return f"{number}{unit}" if unit == "%" else f"{number} {unit}"


def span_words(span: Span, unit: str = "") -> str:
    """A number or range with its unit."""
    if span.exact:
        return with_unit(number_words(span.low), unit)
    if span.low == -inf:
        return f"{'less than' if span.high_open else 'at most'} {with_unit(number_words(span.high), unit)}"
    if span.high == inf:
        return f"{'more than' if span.low_open else 'at least'} {with_unit(number_words(span.low), unit)}"
    low = ("more than " if span.low_open else "") + number_words(span.low)
    high = ("less than " if span.high_open else "") + number_words(span.high)
    return f"{low} to {with_unit(high, unit)}"


def value_words(
    value: Value | None, element: Element, limits: tuple[Any, ...] = (), written: str | None = None
) -> str:
    """A value as a person writes it.

    A number that was worked out or converted is shown to a few digits, unless that would put it on one of ``limits``. It was
    converted where it stands otherwise in ``written``, the words of the record.
    """
    if value is None:
        return "unknown"
    if isinstance(value, Span):
        return (
            dates.words(value)
            if element.kind == "date"
            else _number_words(_shown(value, "" if element.derived else written, limits), element)
        )
    if isinstance(value, Options):
        if len(value.codes) == 1:
            return code_words(next(iter(value.codes)))
        return _one_of(value.codes, element.codes)
    if isinstance(value, Members):
        names = [code_words(code) for code in element.codes if code in value.certain]
        if value.exact:
            return listed(names) if names else "none"
        return f"at least {listed(names)}" if names else "not known which"
    return value.text


def _shown(value: Span, written: str | None, limits: tuple[Any, ...]) -> Span:
    if written is None:
        return value
    low, high = as_shown(value.low, written), as_shown(value.high, written)
    hides = any((low == limit != value.low) or (high == limit != value.high) for limit in limits)
    if hides or (low == high and not value.exact):
        return value
    return Span(low, high, value.low_open and low < high, value.high_open and low < high)


def _number_words(value: Span, element: Element) -> str:
    possible = element.possible
    if not value.exact and possible is not None:
        # An open side ends where the possible range ends; a reader wants "more than 6 months".
        if possible.high is not None and value.high == possible.high and value.low != possible.low:
            value = Span(value.low, inf, value.low_open)
        elif possible.low is not None and value.low == possible.low and value.high != possible.high:
            value = Span(-inf, value.high, False, value.high_open)
    return span_words(value, element.unit or "")


@lru_cache(maxsize=4096)
def _one_of(codes: frozenset[str | bool], order: tuple[str, ...]) -> str:
    """Codes in the order of their element, or yes before no."""
    yes_no = codes <= {True, False}
    in_order = sorted(codes, reverse=True) if yes_no else [code for code in order if code in codes]
    return listed([code_words(code) for code in in_order], "or")


def code_words(code: object) -> str:
    """A code as text; true and false as yes and no."""
    if isinstance(code, bool):
        return "yes" if code else "no"
    if isinstance(code, int | float):
        return number_words(code)
    return str(code).replace("_", " ")


def remarks_first(number: int) -> str:
    """What is to be done about so many remarks before anything else."""
    said = "the remark" if number == 1 else f"the {number} remarks"
    return f"Read {said} in the record, which no rule read."


def subject_words(subject: str) -> str:
    """The subject as a reader sees it."""
    if subject == "patient":
        return "patient"
    if "[" in subject:
        name, number = subject[:-1].split("[")
        singular = {"surgeries": "surgery"}.get(name, name.removesuffix("s"))
        return f"{singular.replace('_', ' ')} {number}"
    return subject


def limits_words(trace: Trace) -> str:
    """The operands of a test, with unit."""
    yes_no = bool(trace.limits) and isinstance(trace.limits[0], bool)
    return _limits_words(trace.op, trace.limits, trace.unit, yes_no)


@lru_cache(maxsize=4096)
def _limits_words(op: str, limits: tuple[Any, ...], unit: str, yes_no: bool) -> str:
    # yes or no is among what is told apart, because 1 and yes are equal to Python
    if op == "between":
        return f"{code_words(limits[0])} and {with_unit(code_words(limits[1]), unit)}"
    words = [code_words(limit) for limit in limits]
    # "is not not valid" would be read twice
    words = [f"“{word}”" if word.startswith("not ") else word for word in words]
    return with_unit(listed(words, "or"), unit)


def test_words(trace: Trace) -> str:
    """One test as read: the value, and how it compares."""
    element = catalogue()[trace.element]
    label = _label_of(element.label, trace.subject)
    fact = trace.fact
    if trace.op == "known":
        return f"{label} is {'known' if trace.truth is Truth.MET else 'not known'}"
    if fact is None or fact.value is None:
        why = trace.why or (fact.why if fact else None)
        note = f" ({fact.note})" if fact and fact.note else ""
        return f"{label}: {why.words if why else 'not recorded'}{note}{_compared_with(trace)}"
    value = value_words(fact.value, element, trace.limits, fact.provenance.as_written)
    if fact.provenance.disputed:
        value += f" ({SOURCES_CONFLICT})"
    if trace.truth is Truth.UNKNOWN:
        why_words = trace.why.words if trace.why else "cannot be settled"
        age = f", {number_words(trace.age.low)} days old" if trace.age is not None and trace.age.exact else ""
        return f"{label} is {value}{age}: {why_words}{_compared_with(trace)}"
    equal = trace.truth is (Truth.MET if trace.op == "is" else Truth.NOT_MET)
    if trace.op in ("is", "is_not") and (equal or isinstance(trace.limits[0], bool)):
        return f"{label}: {value}"
    return f"{label} is {value}, which {verb_words(trace.op, trace.truth)} {limits_words(trace)}".strip()


@lru_cache(maxsize=1 << 14)
def _label_of(label: str, subject: str) -> str:
    """A fact at the beginning of a sentence."""
    return _capital(label) + ("" if subject == "patient" else f" of {subject_words(subject)}")


def _compared_with(trace: Trace) -> str:
    """What an open test is compared with; of a question answered yes or no it needs no words."""
    if trace.op == "is" and isinstance(trace.limits[0], bool):
        return ""
    return f"; compared with: {_bare(trace.op)} {limits_words(trace)}".rstrip()


test_words.__test__ = False  # type: ignore[attr-defined]


def verb_words(op: str, truth: Truth) -> str:
    """How a settled test says that it is met, or that it is not."""
    return OPERATORS[op].words if truth is Truth.MET else OPERATORS[op].denied


def _bare(op: str) -> str:
    return OPERATORS[op].words.removeprefix("is ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def deciding(trace: Trace) -> list[Trace]:
    """The leaves that made a condition what it is, in the order of the rule."""
    if not trace.parts or trace.kind in ("test", "elapsed", "count_discs", "count_entries", "complete_list"):
        return [trace]
    wanted = _wanted(trace)
    found: list[Trace] = []
    for part in trace.parts:
        if part.truth in wanted:
            found += deciding(part)
    return found or [trace]


def _wanted(trace: Trace) -> tuple[Truth, ...]:
    if trace.truth is Truth.UNKNOWN:
        return (Truth.UNKNOWN,)
    if trace.kind in ("not", "none"):
        return (Truth.NOT_MET,) if trace.truth is Truth.MET else (Truth.MET,)
    if trace.kind == "at_least_of":
        return (trace.truth,)
    return (trace.truth,)


def trace_words(trace: Trace) -> str:
    """One leaf in words."""
    if trace.kind == "test":
        return test_words(trace)
    if trace.kind == "elapsed":
        return _elapsed_words(trace)
    if trace.kind in ("count_discs", "count_entries"):
        what = (
            "discs that qualify"
            if trace.kind == "count_discs"
            else f"entries of {trace.element} that qualify"
        )
        count = span_words(trace.tally) if trace.tally else "unknown"
        return f"Number of {what}: {count}; {_ending(trace)} {limits_words(trace)}"
    if trace.kind == "complete_list":
        return f"List of {trace.element} is {'' if trace.truth is Truth.MET else 'not '}stated to be complete"
    if trace.kind in ("any_entry", "every_entry"):
        return f"List of {trace.element}: {'not stated to be complete' if trace.why else _over_words(trace)}"
    if trace.kind in ("any_disc", "every_disc"):
        return f"Discs: {_over_words(trace)}"
    return "not met" if trace.truth is Truth.NOT_MET else "met" if trace.truth is Truth.MET else "unknown"


def _over_words(trace: Trace) -> str:
    """The answer of a quantifier that no single disc or entry explains."""
    if trace.truth is Truth.UNKNOWN:
        return "cannot be settled"
    if trace.kind.startswith("any"):
        return "one qualifies" if trace.truth is Truth.MET else "none qualifies"
    return "each qualifies" if trace.truth is Truth.MET else "one does not qualify"


def _ending(trace: Trace) -> str:
    if trace.truth is Truth.UNKNOWN:
        return f"cannot yet be settled as {_bare(trace.op)}"
    return verb_words(trace.op, trace.truth)


def _between_words(trace: Trace) -> str:
    """Between which days time is counted: two conditions of a criterion may count from the same day to different ones."""
    start, *end = (catalogue()[part.element].label for part in trace.parts)
    return f"Time from {start} to {end[0]}" if end else f"Time since {start}"


def _elapsed_words(trace: Trace) -> str:
    label = _between_words(trace)
    wanted = f"{_bare(trace.op)} {limits_words(trace)}"
    if trace.tally is None:
        missing = [p for p in trace.parts if p.truth is Truth.UNKNOWN]
        names = listed(
            [
                f"{catalogue()[p.element].label} ({(p.why.words if p.why else 'not recorded')})"
                for p in missing
            ]
        )
        return f"{label}: cannot be counted, {names}; compared with: {wanted}"
    passed = span_words(trace.tally, trace.unit)
    return f"{label}: {passed}, which {_ending(trace)} {limits_words(trace)}"


def limit_words(limit: Limit, unit: str = "") -> str:
    """A limit of a rule in words, in the unit of its parameter or else of what it is compared with."""
    value = limit.value
    if isinstance(value, tuple):
        return listed([code_words(v) for v in value], "or")
    return with_unit(code_words(value), "" if isinstance(value, bool | str) else limit.unit or unit)


def condition_words(node: Node) -> str:
    """A condition as a plain sentence part, with the parameters in use."""
    match node:
        case Compare():
            return _compare_words(node)
        case Elapsed():
            start, *end = (catalogue()[name].label for name in node.dates)
            return f"time from {start} to {end[0] if end else 'the as-of date'} {_against(node)}"
        case Complete(of=name):
            return f"the list of {name} is stated to be complete"
        case NoneOf(of=several):
            if len(several) == 1:
                return f"not ({condition_words(several[0])})"
            return "none of: " + "; ".join(_parts(several))
        case AllOf(of=of):
            if isinstance(of, Each):
                return _each_words("every disc" if of.over == DISCS else f"each of the {of.over}", of)
            return " and ".join(_parts(of))
        case AnyOf(of=of):
            if isinstance(of, Each):
                return _each_words("any disc" if of.over == DISCS else f"any of the {of.over}", of)
            return " or ".join(_parts(of))
        case CountOf(of=of):
            if isinstance(of, Each):
                return f"the number of {of.over} with ({condition_words(of.that)}) {_against(node)}"
            return f"{_bare(node.op)} {_limits(node)} of: " + "; ".join(_parts(of))


def _compare_words(node: Compare) -> str:
    element = catalogue()[node.element]
    if node.op == "is" and isinstance(node.operands[0].value, bool) and not node.parameters:
        return f"{element.label}: {code_words(node.operands[0].value)}"
    return f"{element.label} {_against(node, element.unit or '')}".strip()


def _against(node: Compare | Elapsed | CountOf, unit: str = "") -> str:
    """An operator with its limits."""
    return f"{OPERATORS[node.op].words} {_limits(node, unit)}"


def _limits(node: Compare | Elapsed | CountOf, unit: str = "") -> str:
    return " and ".join(limit_words(limit, unit) for limit in node.operands)


def _each_words(phrase: str, each: Each) -> str:
    """What each disc or entry is asked, with the choice of discs named first: it is the first of two parts."""
    if each.among is None:
        return f"{phrase}: {condition_words(each.that)}"
    _, asked = children(each.that)
    return f"{phrase} where {condition_words(each.among)}: {condition_words(asked)}"


def _parts(several: Iterable[Node]) -> list[str]:
    words = [condition_words(part) for part in several]
    return [f"({w})" if (" and " in w or " or " in w) and len(words) > 1 else w for w in words]
