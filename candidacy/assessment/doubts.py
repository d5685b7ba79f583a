"""Recorded values to check at their source before anything passes on them, and the same of one fact for columns.

Values by themselves: unusual ones, and numbers unlike the words of their source. Values beside others: dates that cannot be,
facts of a day that cannot be, what cannot lie below another, totals that their parts rule out, unusual results of formulas.
"""

from collections.abc import Iterator
from fnmatch import fnmatchcase
from functools import lru_cache
from math import inf

from candidacy.assessment.view import View
from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.doubtful import by_itself, checked, doubt, unusual
from candidacy.case.element import LISTS, STANDARD_LEVELS, Element, Parts, Range, Unlike
from candidacy.case.facts import Fact
from candidacy.derive.base import Inputs
from candidacy.derive.opioids import listed_dose
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import FALSE, Members, Options, Span, Value, Why, Words, number_words

BIRTH = "birth_date"
VERTEBRAE = "lumbar_vertebra_count"
# Discs that are there only where a sixth lumbar vertebra is, and the usual number of vertebrae, which leaves no room for them.
OF_A_SIXTH = ("L5-L6", "L6-S1")
FIVE = len(STANDARD_LEVELS)
# An opioid dose that is stated beside its list, and how many times one may be the other: what editions of the factors differ by.
DOSE, DOSED_BY, EDITIONS_APART = "opioid_mme_per_day", "medicines", 3


def doubts(view: View, read: frozenset[str]) -> Iterator[Fact]:
    """The doubtful facts of a case, as they are written, each with the reason as its note.

    What cannot be counts whatever is read; what is only unlikely counts among elements that are ``read``.
    """
    shelf = catalogue()
    may_be, told = that_may_be_impossible(shelf), set[tuple[str, str]]()
    first: dict[tuple[str, Span, str], Fact] = {}
    birth, today = _written(view, BIRTH, "patient"), view.today.high
    born = birth.low if birth is not None else -inf
    for fact in view.facts.stated():
        words, grave = by_itself(view.facts, fact)
        if not grave and fact.element not in read:
            words = ""
        if not words and fact.element in may_be:
            words = impossible(view, fact)
        if fact.value is None and danger_left_unknown(fact):
            why = fact.why.words if fact.why else ""
            words = f"{shelf[fact.element].label} of {fact.subject} is unknown ({why}), and may be a sign of danger"
        if words:
            told.add((fact.element, fact.subject))
            yield replace(fact, note=words)
        day = fact.provenance.day
        # entries of lists come from documents that tell of the patient too
        if day is None or born <= day.low <= today or fact.value is None or "[" in fact.subject:
            continue
        key = fact.provenance.document, day, fact.subject
        if key not in first or shelf.place(fact.element) < shelf.place(first[key].element):
            first[key] = fact
    for fact in first.values():
        # the day of a document is wrong once, for all that it tells of a subject
        if (fact.element, fact.subject) not in told and (words := day_doubt(view, fact)):
            told.add((fact.element, fact.subject))
            yield replace(fact, note=words)
    if (count := five_at_most(view)) is not None:
        for level in OF_A_SIXTH:
            found = next((f for f in view.facts.stated() if f.subject == level and f.value is not None), None)
            if found is not None and (found.element, level) not in told:
                told.add((found.element, level))
                yield replace(found, note=_no_such_disc(found, count))
    if words := dose_doubt(view):
        yield replace(view.fact(DOSE, "patient"), note=words)
    for element in dangers_of_entries(shelf):
        for entry in view.entries_of_scope(element.scope):
            if words := danger_left_open(view, element, entry):
                yield replace(view.fact(element.name, entry), note=words)
    for element in worked_out_elements(shelf):
        if element.name in read:
            for subject in ("patient",) if element.scope == "patient" else view.named_levels():
                # where an input of it is asked about already, the answer to that comes first
                asked = told and any((name, subject) in told for name in inputs_of(element.name, shelf))
                if not asked and (words := worked_out_doubt(view, element, subject)):
                    yield replace(view.fact(element.name, subject), note=words)


def doubt_in(view: View, fact: Fact) -> str:
    """Why a value of a case is to be checked first; empty where it need not be."""
    return doubt(fact) or impossible(view, fact)


def lies_after_its_source(element: Element, fact: Fact) -> bool:
    """Whether the day of something past lies after the day of the document that tells it."""
    told, value = fact.provenance.day, fact.value
    return element.past and told is not None and isinstance(value, Span) and value.low > told.high


# Why what was recorded is not known. A finding of a disc that a report leaves open is asked for by the criteria of discs.
DISPUTED = (Why.CONFLICTING,)
LEFT_UNKNOWN = (Why.CONFLICTING, Why.NOT_READABLE, Why.UNCERTAIN_IN_SOURCE)


def danger_left_unknown(fact: Fact) -> bool:
    """Whether a source tells what may be a sign of danger, and not whether it is: a criterion need not wait for that."""
    element = catalogue()[fact.element]
    return bool(element.danger) and fact.why in unknown_to_be_asked(element)


def unknown_to_be_asked(element: Element) -> tuple[Why, ...]:
    """The reasons for which an unknown sign of danger is asked about, whatever reads it."""
    return DISPUTED if element.scope == "disc" else LEFT_UNKNOWN


def impossible(view: View, fact: Fact) -> str:
    """Why a value cannot be, beside others of its record; empty where it can."""
    element = catalogue()[fact.element]
    if element.listed_in is not None and (words := _not_listed(view, element.listed_in, fact)):
        return words
    if isinstance(fact.value, Options):
        return _unlike(view, element, fact, fact.value)
    if isinstance(fact.value, Members):
        return _names_no_disc(view, fact, fact.value) or _beyond_list(view, element, fact, fact.value)
    if not isinstance(fact.value, Span):
        return ""
    value = fact.value
    return (
        (_bad_date(view, element, fact, value) if element.kind == "date" else "")
        or (_after(view, element, fact, value) if element.not_after else "")
        or (_below(view, element, fact, value) if element.not_below else "")
        or (_beside_parts(view, element, element.parts, fact, value) if element.parts else "")
        or (_unlike(view, element, fact, value) if element.unlike else "")
    )


def day_doubt(view: View, fact: Fact) -> str:
    """Why the day on which a fact is said to have been true cannot be; empty where it can, or is not recorded."""
    day = fact.provenance.day
    if day is None or fact.value is None:
        return ""
    said = f"{catalogue()[fact.element].label} of {fact.subject} is dated {fact.provenance.day_words}"
    if day.low > view.today.high:
        return f"{said}, which lies after the as-of date"
    birth = _written(view, BIRTH, "patient")
    if birth is not None and day.low < birth.low:
        return f"{said}, which lies before the patient was born"
    return ""


def dose_doubt(view: View) -> str:
    """Why an opioid dose as stated cannot be that of the list of medicines; empty where it may be, or there is no list."""
    fact = view.as_written(DOSE, "patient")
    if fact is None or not isinstance(fact.value, Span) or checked(fact):
        return ""
    # an answer of "none" is held against the list, and against this dose, by relations
    if not view.entries(DOSED_BY)[1] or view.fact("opioid_use", "patient").value == FALSE:
        return ""
    told_on = fact.provenance.day or view.today
    listed = listed_dose(Inputs(view, "patient"), lambda entry: _may_have_ended(entry, told_on))
    if listed.low <= fact.value.high * EDITIONS_APART and fact.value.low <= listed.high * EDITIONS_APART:
        return ""
    ends = dict.fromkeys(number_words(round(end, 1)) for end in (listed.low, listed.high))
    element = catalogue()[DOSE]
    return (
        f"{element.label} is recorded as {fact.provenance.as_written}, and the list of medicines gives "
        f"{' to '.join(ends)} {element.unit}: please check"
    )


def _may_have_ended(entry: Inputs, told_on: Span) -> bool:
    """Whether the last dose of an entry was, as far as is told, before the eve of a day, and of the day that tells it."""
    last = entry.fact("medicine_last_dose_date")
    if not isinstance(last.value, Span):
        return False
    # that of the day before was not the last one ever
    listed_on = last.provenance.day or told_on
    return last.value.low < min(told_on.low, listed_on.low) - 1


def five_at_most(view: View) -> Fact | None:
    """The number of lumbar vertebrae as written, where it leaves no room for the disc of a sixth."""
    count = view.as_written(VERTEBRAE, "patient")
    return count if count is not None and isinstance(count.value, Span) and count.value.high <= FIVE else None


def _no_such_disc(fact: Fact, count: Fact) -> str:
    shelf = catalogue()
    return (
        f"{shelf[fact.element].label} of {fact.subject} is recorded, but {shelf[VERTEBRAE].label} is "
        f"{count.provenance.as_written}: there is no such disc"
    )


def _names_no_disc(view: View, fact: Fact, value: Members) -> str:
    """Why a list names a disc that is not there; empty where it names none."""
    if value.certain.isdisjoint(OF_A_SIXTH) or (count := five_at_most(view)) is None:
        return ""
    shelf = catalogue()
    return (
        f"{shelf[fact.element].label} of {fact.subject} is recorded as {fact.provenance.as_written}, but "
        f"{shelf[VERTEBRAE].label} is {count.provenance.as_written}: there is no such disc"
    )


def _beyond_list(view: View, element: Element, fact: Fact, value: Members) -> str:
    """Why a list of an entry names a disc too many beside the patient's list of the same; empty where it need not be."""
    bound = element.within
    if bound is None:
        return ""
    kind = view.as_written(bound.kind, fact.subject)
    listed = view.as_written(bound.element, "patient")
    if kind is None or kind.value != Options(frozenset((bound.code,))) or listed is None:
        return ""
    done, day = _written(view, bound.date, fact.subject), _written(view, bound.day, "patient")
    if done is None or done != day or not done.exact:
        return ""
    if not isinstance(listed.value, Members) or listed.value.possible is None:
        return ""
    if value.certain <= listed.value.possible:
        return ""
    return (
        f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, and "
        f"{catalogue()[bound.element].label} of the same day as {listed.provenance.as_written}"
    )


def worked_out_doubt(view: View, element: Element, subject: str) -> str:
    """Why a number that no record states, but its inputs give, is to be checked first; empty where it need not be.

    It need not be where somebody checked one of the facts that it is worked out from.
    """
    if view.states(element.name, subject):
        return ""
    fact = view.fact(element.name, subject)
    if not isinstance(fact.value, Span) or not unusual(element, fact.value):
        return ""
    if any(_checked(view, name, subject) for name in inputs_of(element.name, catalogue())):
        return ""
    unit = f" {element.unit}" if element.unit else ""
    ends = dict.fromkeys(number_words(round(end, 1)) for end in (fact.value.low, fact.value.high))
    return (
        f"{element.label} of {subject} is worked out as {' to '.join(ends)}{unit}: unusual, please check the facts that "
        "it is worked out from"
    )


@lru_cache(maxsize=4)
def dangers_of_entries(shelf: Catalogue) -> tuple[Element, ...]:
    """Signs of danger that only a formula tells of an entry of a list."""
    return tuple(e for e in shelf.all if e.danger and not e.statable and e.scope in LISTS.values())


# Why a formula leaves a danger open though the record tells of what may be one: the day is what is missing.
_OPEN = (Why.UNDATED, Why.TOO_IMPRECISE)


def danger_left_open(view: View, element: Element, entry: str) -> str:
    """Why it is to be asked whether an entry of a list is a danger; empty where it need not be."""
    fact = view.fact(element.name, entry)
    return fact.note if fact.value is None and fact.why in _OPEN else ""


@lru_cache(maxsize=4)
def that_may_be_impossible(shelf: Catalogue) -> frozenset[str]:
    """Elements whose values may be such as cannot be beside others."""
    return frozenset(
        e.name
        for e in shelf.all
        if e.kind == "date" or e.not_below or e.parts or e.unlike or e.listed_in or e.levels
    )


@lru_cache(maxsize=512)
def ordered_with(name: str, shelf: Catalogue) -> frozenset[str]:
    """Elements of which the values of one may show that they cannot be: bound to it, or that it is bound to."""
    return frozenset(
        e.name
        for e in shelf.all
        if (e.name == name and e.name in that_may_be_impossible(shelf))
        or any(bound.element == name for bound in e.not_below)
        or (e.parts is not None and name in e.parts.of)
        or any(name in (bound.element, bound.kind) for bound in e.not_after)
        or any(other.element == name for other in e.unlike)
        or e.listed_in == name
        or (name == BIRTH and e.kind == "date")
        or (name == VERTEBRAE and e.levels)
        or (e.within is not None and name in (e.within.element, e.within.kind, e.within.date, e.within.day))
    )


@lru_cache(maxsize=512)
def inputs_of(name: str, shelf: Catalogue) -> frozenset[str]:
    """Everything that a formula may work an element out from, however deep."""
    found: set[str] = set()
    open_ = [name]
    while open_:
        element = shelf[open_.pop()]
        told = {*element.reads, *(part for some in element.inputs for part in some)} - found
        found |= told
        open_ += told
    return frozenset(found)


@lru_cache(maxsize=4)
def worked_out_elements(shelf: Catalogue) -> tuple[Element, ...]:
    """Elements that a formula may tell where no record does, and of which some values are unusual."""
    return tuple(
        e for e in shelf.all if e.derived and e.statable and e.likely and e.scope in ("patient", "disc")
    )


def _checked(view: View, name: str, subject: str) -> bool:
    scope = catalogue()[name].scope
    fact = view.as_written(name, "patient" if scope == "patient" else subject)
    return fact is not None and checked(fact)


def _bad_date(view: View, element: Element, fact: Fact, value: Span) -> str:
    said = f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}"
    if element.past and value.low > view.today.high:
        return f"{said}, which lies after the as-of date"
    if lies_after_its_source(element, fact):
        return f"{said}, which lies after what tells it, of {fact.provenance.day_words}"
    near = element.near
    if near is not None and not checked(fact):
        if near.ahead is not None and value.low > view.today.high + near.ahead:
            return f"{said}, very long after the as-of date: please check the year"
        if near.before is not None and value.high < view.today.low - near.before:
            return f"{said}, very long before the as-of date: please check the year"
    birth = _written(view, BIRTH, "patient")
    if birth is not None and value.high < birth.low:
        return f"{said}, which lies before the patient was born"
    return ""


def _not_listed(view: View, name: str, fact: Fact) -> str:
    listed = view.as_written(name, "patient")
    if fact.value is None or listed is None or not isinstance(listed.value, Members):
        return ""
    if listed.value.possible is None or fact.subject in listed.value.possible:
        return ""
    label = catalogue()[fact.element].label
    return f"{label} of {fact.subject} is recorded, but {catalogue()[name].label} are {listed.provenance.as_written}"


def _below(view: View, element: Element, fact: Fact, value: Span) -> str:
    for bound in element.not_below:
        other = _beside(view, bound.element, fact, bound.same_day)
        if other is not None and isinstance(other.value, Span) and value.high + bound.slack < other.value.low:
            where = "before" if element.kind == "date" else "below"
            return (
                f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, {where} "
                f"{catalogue()[bound.element].label}, which is {other.provenance.as_written}"
            )
    return ""


def _after(view: View, element: Element, fact: Fact, value: Span) -> str:
    for bound in element.not_after:
        kind = view.as_written(bound.kind, fact.subject) if bound.kind is not None else None
        if bound.code is not None and (kind is None or kind.value != Options(frozenset((bound.code,)))):
            continue
        other = view.as_written(bound.element, "patient")
        if other is not None and isinstance(other.value, Span) and value.low > other.value.high:
            of_kind = f", {bound.code.replace('_', ' ')}," if bound.code else ""
            return (
                f"{element.label} of {fact.subject}{of_kind} is recorded as "
                f"{fact.provenance.as_written}, after {catalogue()[bound.element].label}, which is {other.provenance.as_written}"
            )
    return ""


def _beside_parts(view: View, element: Element, parts: Parts, fact: Fact, value: Span) -> str:
    low = high = 0.0
    for name in parts.of:
        part = _beside(view, name, fact, same_day=True)
        low += part.value.low if part is not None and isinstance(part.value, Span) else 0
        high += part.value.high if part is not None and isinstance(part.value, Span) else highest(name)
    times, slack = parts.times, element.agrees_within
    if value.high + slack < low * times:
        return f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, less than its items add up to"
    if value.low - slack > high * times:
        return f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, more than its items allow"
    return ""


def _unlike(view: View, element: Element, fact: Fact, value: Span | Options) -> str:
    for each in element.unlike:
        if not _among(value, each.values, each.codes):
            continue
        other = _beside(view, each.element, fact, same_day=True)
        if other is not None and _unlike_too(other.value, each):
            return (
                f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, and "
                f"{catalogue()[each.element].label} of the same day as {other.provenance.as_written}: one of them cannot be"
            )
    return ""


def _unlike_too(value: Value | None, each: Unlike) -> bool:
    if isinstance(value, Words):
        return bool(each.like) and fnmatchcase(value.text, each.like)
    return isinstance(value, Span | Options) and _among(value, each.other, each.other_codes)


def _among(value: Span | Options, bounds: Range | None, codes: tuple[bool | str, ...] | None) -> bool:
    """Whether a value certainly is one of those that are named; where none are, any is."""
    if isinstance(value, Options):
        return bounds is None and (codes is None or value.codes.issubset(codes))
    return codes is None and (bounds is None or _within(value, bounds))


def _within(value: Span, bounds: Range) -> bool:
    """Whether a number certainly lies within bounds that both count."""
    return (bounds.low is None or value.at_least(bounds.low) is Truth.MET) and (
        bounds.high is None or value.at_most(bounds.high) is Truth.MET
    )


def highest(name: str) -> float:
    """The highest possible value of an element that is a part of a total."""
    possible = catalogue()[name].possible
    assert possible is not None
    assert possible.high is not None
    return possible.high


def _beside(view: View, name: str, fact: Fact, same_day: bool) -> Fact | None:
    """Another fact as written, of the same subject or of the patient, and of the same day where that is asked for."""
    scope = catalogue()[name].scope
    other = view.as_written(name, "patient" if scope == "patient" else fact.subject)
    if other is None or other.value is None:
        return None
    if not same_day:
        return other
    one, two = fact.provenance.day, other.provenance.day
    return other if (one and one.low) == (two and two.low) else None


def _written(view: View, name: str, subject: str) -> Span | None:
    fact = view.as_written(name, subject)
    value: Value | None = fact.value if fact is not None else None
    return value if isinstance(value, Span) else None
