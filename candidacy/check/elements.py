"""Checks of data elements: their words, ranges and codes, what they name, and the dangers they declare."""

import re
from collections.abc import Iterator, Mapping

from candidacy.case.catalogue import Catalogue, shipped_catalogue
from candidacy.case.element import LISTS, Danger, Element, Unlike, Within
from candidacy.derive.base import FORMULAS
from candidacy.foundation import units
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Source
from candidacy.rules.findings import no_such_source
from candidacy.rules.fit import Misfit
from candidacy.rules.operators import possible_operators

# A phrase of the other polarity ("stable" for an instability) would be answered into the opposite fact.
_YES_MEANS_TRUE = ("Whether ", "Confirmation ", "Agreement ", "Written agreement ")
# Words that other readers of YAML take for something else than text.
_MISTAKEN = ("yes", "no", "on", "off", "y", "n", "true", "false", "null")
_NAME = re.compile(r"[a-z][a-z0-9_]{2,79}")
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
_UNIT_IN_NAME = ("_mm", "_cm", "_mg", "_kg", "_ml")
_ASK_LENGTH = 90


def element_misfits(element: Element, shelf: Catalogue, sources: Mapping[str, Source]) -> list[Misfit]:
    """Everything that is wrong with a data element among the others of its catalogue, with paths inside it."""
    return [
        *_name(element),
        *_words(element),
        *_range(element),
        *_codes(element),
        *_synonyms(element, shelf),
        *_named(element, shelf),
        *_beside(element, shelf),
        *_worked_out(element),
        *_dangers(element, shelf, sources),
    ]


def _name(element: Element) -> Iterator[Misfit]:
    if element.name in LISTS:
        yield Misfit(("name",), Code.BAD_RULE, "is the name of a list of the record", element.name)
    if not _NAME.fullmatch(element.name):
        yield Misfit(
            ("name",),
            Code.BAD_RULE,
            "not a name that rules can use",
            element.name,
            "3 to 80 letters, digits and _",
        )
    if element.name.endswith(_UNIT_IN_NAME):
        yield Misfit(("name",), Code.BAD_RULE, "a name does not hold its unit", element.name, "unit: ...")


def _words(element: Element) -> Iterator[Misfit]:
    for key in ("meaning", "found_in", "ask"):
        if not getattr(element, key).strip():
            yield Misfit((), Code.MISSING_KEY, f"says nothing in {key}", element.name, f"{key}: ...")
    if element.meaning.strip() and not element.meaning.endswith("."):
        yield Misfit(("meaning",), Code.BAD_RULE, "does not end with a full stop", element.meaning)
    if element.ask.endswith((".", "?")):
        yield Misfit(
            ("ask",), Code.BAD_RULE, "is a phrase that stands in a list, without an end mark", element.ask
        )
    if len(element.ask) > _ASK_LENGTH:
        yield Misfit(("ask",), Code.BAD_RULE, "is too long to stand in a list", str(len(element.ask)),
                     f"at most {_ASK_LENGTH} letters")  # fmt: skip
    if (
        element.kind == "boolean"
        and element.statable
        and element.ask
        and not element.ask.startswith(_YES_MEANS_TRUE)
    ):
        yield Misfit(("ask",), Code.BAD_RULE, "yes to what is asked must be the value true", element.ask,
                     "a phrase that begins with " + " or ".join(word.strip() for word in _YES_MEANS_TRUE))  # fmt: skip


def _range(element: Element) -> Iterator[Misfit]:
    for key in ("possible", "likely"):
        span = getattr(element, key)
        if span is None:
            continue
        if element.kind not in ("number", "integer"):
            yield Misfit((key,), Code.BAD_RULE, "a range is for a number", element.kind)
        if span.low is not None and span.high is not None and span.low >= span.high:
            yield Misfit(
                (key,),
                Code.UNREACHABLE,
                "the lower end is not below the upper one",
                f"{span.low} to {span.high}",
            )
    possible, likely = element.possible, element.likely
    if possible is None or likely is None:
        return
    if likely == possible or (likely.low is None and likely.high is None):
        yield Misfit(
            ("likely",), Code.UNREACHABLE, "questions nothing", expected="a range inside possible, or none"
        )
    for low, high in ((possible.low, likely.low), (likely.high, possible.high)):
        if low is not None and high is not None and low > high:
            yield Misfit(("likely",), Code.UNREACHABLE, "does not lie inside the possible range",
                         f"{likely.low} to {likely.high}", f"{possible.low} to {possible.high}")  # fmt: skip


def _codes(element: Element) -> Iterator[Misfit]:
    for unit in element.also_accepts:
        if not units.known(unit):
            yield Misfit(("also_accepts",), Code.BAD_UNIT, "not a unit that is known", unit)
    if element.also_accepts and element.unit is None:
        yield Misfit(
            ("also_accepts",),
            Code.BAD_UNIT,
            "further units need a unit to be turned into",
            expected="unit: ...",
        )
    for code, meaning in (element.choices or {}).items():
        if code.lower() in _MISTAKEN or not _CODE.fullmatch(code):
            yield Misfit(("choices",), Code.BAD_CHOICE, "not a code that every reader of a file takes for text", code,
                         "letters, digits, _ and -, and no word for yes or no")  # fmt: skip
        if not meaning.strip():
            yield Misfit(("choices", code), Code.MISSING_KEY, "a code without its meaning", code)
    if element.code is not None and element.code.system == "LOINC" and not _check_digit(element.code.code):
        yield Misfit(
            ("code", "code"), Code.BAD_SCALAR, "not a LOINC code: its check digit differs", element.code.code
        )
    if element.reported_within is not None and element.kind != "date":
        yield Misfit(("reported_within",), Code.BAD_RULE, "is for the date of a study", element.kind)
    if element.agrees_within and element.kind not in ("number", "integer"):
        yield Misfit(("agrees_within",), Code.BAD_RULE, "is for a number", element.kind)


def _check_digit(code: str) -> bool:
    """The last digit of a LOINC code by its Mod 10 rule (LOINC Users' Guide, recalled)."""
    body, _, check = code.rpartition("-")
    if not body.isdecimal() or not check.isdecimal():
        return False
    total = 0
    for place, digit in enumerate(reversed(body)):
        total += int(digit) if place % 2 else sum(divmod(2 * int(digit), 10))
    return (10 - total % 10) % 10 == int(check)


def _synonyms(element: Element, shelf: Catalogue) -> Iterator[Misfit]:
    taken = {word: other.name for other in shelf.all if other.name != element.name for word in other.synonyms}
    for number, word in enumerate(element.synonyms):
        other = word if word in shelf else taken.get(word, "")
        if other or element.synonyms.index(word) != number:
            yield Misfit(("synonyms",), Code.DUPLICATE_KEY, "this word leads to another element already", word,
                         f"a word of its own; {other or element.name} has it")  # fmt: skip


def _named(element: Element, shelf: Catalogue) -> Iterator[Misfit]:
    """Other elements that it names."""
    named = {"covers": element.covers, "excludes": element.excludes, "reads": element.reads}
    named["inputs"] = tuple(name for inputs in element.inputs for name in inputs)
    for key, names in named.items():
        for name in names:
            other = shelf.get(name)
            if other is None or name == element.name:
                yield Misfit(
                    (key,), Code.UNKNOWN_ELEMENT, "not another data element", name, shelf.nearest(name)
                )
            elif key in ("covers", "inputs", "excludes") and other.scope != element.scope:
                yield Misfit((key,), Code.BAD_RULE, "is an element of another subject", name, element.scope)
            elif key == "covers" and other.kind != "boolean" and "normal" not in other.codes:
                yield Misfit((key,), Code.BAD_RULE, "no to the summary must be an answer of the sign", name,
                             "a sign with true and false, or with the code normal")  # fmt: skip
            elif key == "covers" and shelf.covered_by[name] != element.name:
                yield Misfit(
                    (key,),
                    Code.CONTRADICTORY_RULES,
                    "another summary covers this sign",
                    name,
                    shelf.covered_by[name],
                )


def _beside(element: Element, shelf: Catalogue) -> Iterator[Misfit]:
    """Elements beside which some of its values cannot be."""
    named = [("not_below", bound.element) for bound in element.not_below]
    named += [("not_after", bound.element) for bound in element.not_after]
    for bound in element.not_after:
        kind = shelf.get(bound.kind) if bound.kind is not None else None
        if bound.kind is not None and (
            kind is None or kind.scope != element.scope or bound.code not in kind.codes
        ):
            yield Misfit(
                ("not_after",),
                Code.BAD_CHOICE,
                "is no code of a choice of the entry",
                bound.kind,
                bound.code or "",
            )
    named += [("parts", name) for name in (element.parts.of if element.parts is not None else ())]
    named += [("unlike", each.element) for each in element.unlike]
    named += [("listed_in", element.listed_in)] if element.listed_in is not None else []
    if (within := element.within) is not None:
        yield from _within(element, within, shelf)
    for key, name in named:
        other = shelf.get(name)
        if other is None or not other.statable or name == element.name:
            yield Misfit(
                (key,),
                Code.UNKNOWN_ELEMENT,
                "not another element that a record states",
                name,
                shelf.nearest(name),
            )
        elif other.scope not in (element.scope, "patient") or (
            key == "parts" and other.scope != element.scope
        ):
            yield Misfit((key,), Code.BAD_RULE, "is an element of another subject", name, element.scope)
        elif key == "listed_in" and not other.levels:
            yield Misfit((key,), Code.BAD_RULE, "is no list of discs", name)
        elif key == "unlike":
            for each in element.unlike:
                if each.element == name:
                    yield from _unlike(element, each, other)
        elif key != "listed_in" and (
            (other.kind == "date") != (element.kind == "date")
            or (key == "not_below" and other.unit != element.unit)
        ):
            yield Misfit((key,), Code.BAD_UNIT, "is of another unit", name, element.unit or element.kind)
        elif key == "parts" and (other.possible is None or other.possible.high is None):
            yield Misfit((key,), Code.BAD_RULE, "has no highest value that bounds a total", name)


def _within(element: Element, within: Within, shelf: Catalogue) -> Iterator[Misfit]:
    """What the list of discs of an entry is compared with is there, and of its kind."""
    listed, kind, done, day = (
        shelf.get(name) for name in (within.element, within.kind, within.date, within.day)
    )
    fits = (
        (within.element, listed is not None and listed.levels and listed.scope == "patient"),
        (within.kind, kind is not None and kind.scope == element.scope and within.code in kind.codes),
        (within.date, done is not None and done.scope == element.scope and done.kind == "date"),
        (within.day, day is not None and day.scope == "patient" and day.kind == "date"),
    )
    for name, fit in fits:
        if not fit:
            yield Misfit(("within",), Code.BAD_RULE, "is not what a list of discs is compared with", name)


def _unlike(element: Element, each: Unlike, other: Element) -> Iterator[Misfit]:
    """Values of an element and of another that are named in the form of each."""
    for one, bounds, codes in ((element, each.values, each.codes), (other, each.other, each.other_codes)):
        allowed: tuple[bool | str, ...] = (True, False) if one.kind == "boolean" else one.codes
        if bounds is not None and one.kind not in ("number", "integer"):
            yield Misfit(("unlike",), Code.BAD_RULE, "a range is for a number", one.name, one.kind)
        if wrong := [code for code in codes or () if code not in allowed]:
            yield Misfit(("unlike",), Code.BAD_CHOICE, "is no code of it", str(wrong[0]), one.name)
    if (other.kind == "words") != bool(each.like) or other.kind in ("date", "members"):
        yield Misfit(("unlike",), Code.BAD_RULE,
                     "numbers have `other`, codes `other_codes`, words `like`", other.name, other.kind)  # fmt: skip


def _worked_out(element: Element) -> Iterator[Misfit]:
    if element.name in shipped_catalogue():  # a replacement keeps how it is worked out
        return
    if element.derived and element.name not in FORMULAS:
        yield Misfit(("derived",), Code.BAD_RULE, "there is no formula for it", element.name,
                     "an element that is stated; formulas of one's own need the Python interface")  # fmt: skip
    if element.supplied_by == "derived" and not element.derived:
        yield Misfit(("supplied_by",), Code.BAD_RULE, "nobody would be asked for an element that is stated",
                     "derived", "who states it")  # fmt: skip
    if (element.inputs or element.reads) and not element.derived:
        yield Misfit(
            ("inputs",),
            Code.BAD_RULE,
            "only an element that is worked out has inputs",
            element.name,
            "derived: true",
        )


def _dangers(element: Element, shelf: Catalogue, sources: Mapping[str, Source]) -> Iterator[Misfit]:
    guarded = shelf.group_of(element.name) in shelf.guarded
    if guarded and not element.danger and not element.no_danger.strip():
        yield Misfit((), Code.MISSING_KEY, "an element of this group says what of it is a danger, or why nothing is",
                     shelf.group_of(element.name), "danger: [{op: ..., value: ..., why: ..., source: ..., tag: ...}], or no_danger: ...")  # fmt: skip
    if element.danger and element.no_danger:
        yield Misfit(
            ("no_danger",),
            Code.CONTRADICTORY_RULES,
            "declares a danger, and says that it is none",
            element.name,
        )
    for number, danger in enumerate(element.danger):
        for wrong in _danger(element, danger, sources):
            yield wrong._replace(path=("danger", number, *wrong.path))
        for wrong in _past(element, danger, shelf, sources):
            yield wrong._replace(path=("danger", number, "past", *wrong.path))
    if element.danger and element.codes and element.kind != "members":
        named = {limit for danger in element.danger for limit in danger.limits}
        if not set(element.codes) - named:
            yield Misfit(
                ("danger",), Code.UNREACHABLE, "every answer would be a danger", ", ".join(element.codes)
            )
    if element.danger:
        for name in element.covers:
            if name in shelf and not shelf[name].danger:
                yield Misfit(
                    ("covers",),
                    Code.BAD_RULE,
                    "a sign of a dangerous summary is dangerous too",
                    name,
                    "danger: ...",
                )


def _danger(element: Element, danger: Danger, sources: Mapping[str, Source]) -> Iterator[Misfit]:
    if danger.op not in possible_operators(element):
        yield Misfit(
            ("op",),
            Code.BAD_RULE,
            "does not fit the element",
            danger.op,
            ", ".join(sorted(possible_operators(element))),
        )
    if danger.source not in sources:
        yield no_such_source(("source",), danger.source, sources)
    if not danger.why.endswith("."):
        yield Misfit(("why",), Code.BAD_RULE, "does not end with a full stop", danger.why)
    if isinstance(danger.value, tuple) != (danger.op in ("one_of", "contains_any")):
        yield Misfit(
            ("value",),
            Code.WRONG_TYPE,
            "a list goes with one_of and contains_any, and with no other",
            str(danger.value),
        )
    for limit in danger.limits:
        if not _can_be(element, limit):
            yield Misfit(("value",), Code.UNREACHABLE, "not a value the element can have", str(limit))


def _past(
    element: Element, danger: Danger, shelf: Catalogue, sources: Mapping[str, Source]
) -> Iterator[Misfit]:
    """What is wrong with when a danger is history."""
    if danger.past is None:
        return
    dated = shelf.get(danger.past.date)
    if element.scope in ("patient", "disc"):
        yield Misfit((), Code.BAD_RULE, "only of an entry of a list a danger is past", element.scope)
    elif dated is None or dated.kind != "date" or dated.scope != element.scope:
        yield Misfit(("date",), Code.BAD_RULE, "is no date of the same entry", danger.past.date)
    if danger.past.source not in sources:
        yield no_such_source(("source",), danger.past.source, sources)


def _can_be(element: Element, limit: object) -> bool:
    if element.codes:
        return limit in element.codes
    if element.kind == "boolean":
        return isinstance(limit, bool)
    if isinstance(limit, bool) or not isinstance(limit, int | float) or element.possible is None:
        return False
    low, high = element.possible.low, element.possible.high
    return (low is None or low <= limit) and (high is None or limit <= high)
