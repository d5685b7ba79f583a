"""One fact told twice: what a record states and what its details say, brought together or found to conflict.

Pure: it knows facts and what they imply, not where either comes from.
"""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import Fact, Provenance
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import TRUE, Members, Options, Span, Value, Why


class Telling(NamedTuple):
    """What some details say about a summary.

    Attributes
    ----------
    codes
        Values that the summary may have, or ``None`` where ``limits`` speak of a number.
    infer
        Whether the summary may be worked out from it.
    says
        The details in words.
    facts
        The details.
    day
        The day of what has no details: a complete list without entries.
    """

    codes: frozenset[Any] | None
    limits: Span | None
    infer: bool
    says: str
    facts: tuple[Fact, ...]
    day: Span | None = None


def reconcile(
    element: str, subject: str, first: Fact | None, tellings: Sequence[Telling], acts: bool = False
) -> Fact | None:
    """The fact that a first telling and the details give together.

    Parameters
    ----------
    first
        The fact as stated, or worked out by a formula; perhaps without a value.
    tellings
        What the details say, in the declared order.
    acts
        A yes outranks a no: the danger stands although it is disputed.

    Returns
    -------
    Fact
        The first telling where nothing is added; a narrower or inferred value; or no value with reason "sources conflict",
        the first telling and the details that contradict it in ``derived_from``.
    """
    if not tellings:
        return first
    if first is not None and isinstance(first.value, Span):
        against = [t for t in tellings if t.limits is not None and _apart(first.value, t.limits)]
        return conflict(element, subject, first, against) if against else first
    coded = [t for t in tellings if t.codes is not None]
    if not coded:
        return first
    if first is not None and isinstance(first.value, Members):
        against = [t for t in coded if t.codes is not None and first.value.certain - t.codes]
        return conflict(element, subject, first, against) if against else first
    allowed = frozenset.intersection(*(t.codes for t in coded if t.codes is not None))
    if first is not None and isinstance(first.value, Options):
        left = first.value.codes & allowed
        if not left:
            against = [t for t in coded if t.codes is not None and not t.codes & first.value.codes]
            return _dispute(element, subject, first, against or coded, acts)
        if left != first.value.codes:
            return Fact(element, subject, Options(left), derived_from=(first, *coded[0].facts))
        same = next((t for t in coded if t.infer and t.codes == left), None)
        if same is None or not (same.facts or same.day):
            return first
        return first.again(_of_details(element, subject, first.value, same))
    inferring = [t for t in coded if t.infer]
    if not inferring or (first is not None and first.why is Why.CONFLICTING and not acts):
        return first
    if not allowed:
        return _dispute(element, subject, None, coded, acts)
    if acts and first is not None and first.why is Why.CONFLICTING and allowed != TRUE.codes:
        return first
    return _of_details(element, subject, Options(allowed), inferring[0], inferring[0].says)


def _of_details(element: str, subject: str, value: Value, telling: Telling, note: str = "") -> Fact:
    """A fact as details tell it; one that rests on lists without entries bears their day."""
    told = Fact(element, subject, value, derived_from=telling.facts, note=note)
    return told if telling.day is None else replace(told, provenance=Provenance(day=telling.day))


def _dispute(element: str, subject: str, first: Fact | None, against: Sequence[Telling], acts: bool) -> Fact:
    found = conflict(element, subject, first, against)
    if not acts:
        return found
    yes = [f for t in against if t.codes == TRUE.codes for f in t.facts]
    no = [f for t in against if t.codes != TRUE.codes for f in t.facts]
    if first is not None:
        (yes if first.value == TRUE else no).insert(0, first)
    return replace(found, value=TRUE, why=None, derived_from=once(yes), disputed=once(no))


def conflict(element: str, subject: str, first: Fact | None, against: Sequence[Telling]) -> Fact:
    """A fact that cannot be known because its tellings contradict each other."""
    label = catalogue()[element].label
    says = list(dict.fromkeys(t.says for t in against))
    if first is None:
        note = f"{label}: {', but '.join(says)}"
    else:
        note = f"{label} is recorded as {_words(first)}, but {' and '.join(says)}"
    details = [fact for telling in against for fact in telling.facts]
    return Fact(
        element,
        subject,
        None,
        Why.CONFLICTING,
        derived_from=once(([first] if first is not None else []) + details),
        note=note,
    )


_YES_NO = {"true": "yes", "false": "no"}


def _words(fact: Fact) -> str:
    written = fact.provenance.as_written
    if written:
        return _YES_NO.get(written, written)
    if not isinstance(fact.value, Options):
        return "worked out"
    codes = (str(code).lower().replace("_", " ") for code in fact.value.codes)
    return " or ".join(sorted(_YES_NO.get(code, code) for code in codes))


def once(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """Each fact once, in order."""
    return tuple({(fact.subject, fact.element): fact for fact in facts}.values())


def _apart(one: Span, other: Span) -> bool:
    """Whether two ranges have no number in common."""
    return one.high < other.low or one.low > other.high


# Documents that report one study; a letter may tell of studies of any day.
REPORTS = ("imaging_report", "discography_record")


def reported_apart(known: Element, stated: Fact) -> Fact | None:
    """The conflict between the day of a study and the day of the report that states it, if there is one."""
    value, day = stated.value, stated.provenance.day
    if known.reported_within is None or stated.provenance.kind not in REPORTS:
        return None
    if not isinstance(value, Span) or day is None:
        return None
    if value.low <= day.high and day.low - value.high <= known.reported_within:
        return None
    said = f"its report is dated {stated.provenance.day_words}"
    return conflict(known.name, stated.subject, stated, [Telling(None, None, False, said, ())])
