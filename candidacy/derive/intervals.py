"""Time since the latest of several events, and between two dates, in days or completed months.

An event of unknown or partial date, an entry that may or may not be of the kind, and a list that may go
on all widen the result; none of them is guessed.
"""

from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.dates import days_between, months_between
from candidacy.foundation.truth import Truth, all_of, any_of
from candidacy.foundation.values import FALSE, TRUE, Options, Span, Why, truth_of


@derives("months_since_lumbar_surgery")
def months_since_lumbar_surgery(inputs: Inputs) -> Span | None:
    """Completed months from the latest lumbar operation to the as-of date.

    Not applicable where no operation is on record and none can be missing from it.

    Source: calendar; tests compare with python-dateutil.
    """
    never = inputs.options("prior_lumbar_surgery") == FALSE
    entries = [(entry.span("surgery_date"), Truth.MET) for entry in inputs.entries("surgeries")]
    if never and entries:
        raise Underivable(Why.CONFLICTING, "no operation is said to have been done, yet one is listed")
    complete = inputs.complete("surgeries") or never
    latest = _latest(inputs, entries, complete, "no lumbar operation", "surgeries")
    return None if latest is None else months_between(latest, inputs.as_of)


@derives("days_since_last_steroid_injection")
def days_since_last_steroid_injection(inputs: Inputs) -> Span | None:
    """Days from the latest injection of a corticosteroid, at any site, to the as-of date.

    Reads the injections and the earlier intradiscal procedures; the second list counts as complete where
    no therapeutic intradiscal injection was ever given.

    Source: calendar.
    """
    entries = [(entry.span("injection_date"), _steroid(entry)) for entry in inputs.entries("injections")]
    complete = inputs.complete("injections")
    into_discs = [
        (entry.span("intradiscal_procedure_date"), _is(entry, "intradiscal_procedure_kind", "steroid"))
        for entry in inputs.entries("intradiscal_procedures")
    ]
    if inputs.options("prior_intradiscal_injection") == FALSE:
        if any(counts is Truth.MET for _, counts in into_discs):
            raise Underivable(
                Why.CONFLICTING, "no intradiscal injection is said to have been given, yet one is listed"
            )
    else:
        complete = complete and inputs.complete("intradiscal_procedures")
        entries += into_discs
    latest = _latest(inputs, entries, complete, "no steroid injection", "injections")
    return None if latest is None else days_between(latest, inputs.as_of)


@derives("days_since_last_epidural_steroid")
def days_since_last_epidural_steroid(inputs: Inputs) -> Span | None:
    """Days from the latest epidural steroid injection to the as-of date.

    Source: calendar.
    """
    latest = _latest_epidural(inputs)
    return None if latest is None else days_between(latest, inputs.as_of)


@derives("months_since_last_epidural_steroid")
def months_since_last_epidural_steroid(inputs: Inputs) -> Span | None:
    """Completed months from the latest epidural steroid injection to the as-of date.

    Source: calendar; tests compare with python-dateutil.
    """
    latest = _latest_epidural(inputs)
    return None if latest is None else months_between(latest, inputs.as_of)


@derives("days_since_discography")
def days_since_discography(inputs: Inputs) -> Span | None:
    """Days from the discography to the as-of date. Not given for a date after it.

    Source: calendar.
    """
    done = inputs.span("discography_date")
    return None if done is None else days_between(_past(inputs, done), inputs.as_of)


@derives("days_from_discography_to_procedure")
def days_from_discography_to_procedure(inputs: Inputs) -> Span | None:
    """Days from the discography to the proposed procedure date; negative if the procedure comes first.

    Source: calendar.
    """
    done, planned = inputs.span("discography_date"), inputs.span("planned_procedure_date")
    return None if done is None or planned is None else days_between(done, planned)


def _latest_epidural(inputs: Inputs) -> Span | None:
    entries = [
        (entry.span("injection_date"), _is(entry, "injection_kind", "epidural_steroid"))
        for entry in inputs.entries("injections")
    ]
    complete = inputs.complete("injections")
    return _latest(inputs, entries, complete, "no epidural steroid injection", "injections")


def _is(entry: Inputs, element: str, *codes: str) -> Truth:
    value = entry.options(element)
    return Truth.UNKNOWN if value is None else value.one_of(frozenset(codes))


@derives("planned_date_passed")
def planned_date_passed(inputs: Inputs) -> Options | None:
    """Whether the proposed date of the procedure lies before the as-of date.

    Source: calendar.
    """
    planned = inputs.span("planned_procedure_date")
    if planned is None:
        return None
    passed = planned.less_than(inputs.as_of.low)
    return None if passed is Truth.UNKNOWN else TRUE if passed is Truth.MET else FALSE


@derives("product_expired_by_planned_day")
def product_expired_by_planned_day(inputs: Inputs) -> Options | None:
    """Whether the last day on the product's label lies before the proposed date of the procedure, or before the as-of date.

    Without a proposed date only a product that has expired already is told.

    Source: calendar.
    """
    last, planned = inputs.span("product_expiry_date"), inputs.span("planned_procedure_date")
    if last is None:
        return None
    expired = last.less_than(inputs.as_of.low)
    if expired is Truth.NOT_MET:
        expired = Truth.UNKNOWN if planned is None else _before(last, planned)
    elif expired is Truth.UNKNOWN and planned is not None and _before(last, planned) is Truth.MET:
        expired = Truth.MET
    return None if expired is Truth.UNKNOWN else TRUE if expired is Truth.MET else FALSE


def _before(one: Span, other: Span) -> Truth:
    if one.high < other.low:
        return Truth.MET
    return Truth.NOT_MET if one.low >= other.high else Truth.UNKNOWN


@derives("injection_steroid_just_given")
def injection_steroid_just_given(inputs: Inputs) -> Options | None:
    """Whether an injection of a corticosteroid lies within the days of the setting ``steroid_injection_just_given``.

    Of one that certainly was a corticosteroid, a day that is missing or too imprecise is to be asked for.

    Source: calendar; the days are common practice.
    """
    steroid, given = _steroid(inputs), inputs.span("injection_date")
    if steroid is Truth.NOT_MET:
        return FALSE
    if given is None:
        if steroid is Truth.MET:
            raise Underivable(
                Why.UNDATED, f"{inputs.subject} was a corticosteroid, and its day is not recorded"
            )
        return None
    recent = days_between(given, inputs.as_of).at_most(inputs.setting("steroid_injection_just_given"))
    if steroid is Truth.MET and recent is Truth.UNKNOWN:
        raise Underivable(
            Why.TOO_IMPRECISE,
            f"{inputs.subject} was a corticosteroid, perhaps of the past days that count as just given",
        )
    just = all_of((steroid, recent))
    return None if just is Truth.UNKNOWN else TRUE if just is Truth.MET else FALSE


def _steroid(entry: Inputs) -> Truth:
    by_kind = _is(entry, "injection_kind", "epidural_steroid", "intramuscular_steroid")
    return any_of((by_kind, truth_of(entry.value("injection_contained_steroid"))))


def _past(inputs: Inputs, day: Span) -> Span:
    """The part of a date that is not after the as-of date."""
    today = inputs.as_of.high
    if day.low > today:
        raise Underivable(Why.AFTER_AS_OF, "the date lies after the as-of date")
    return Span(day.low, min(day.high, today))


def _latest(
    inputs: Inputs, entries: list[tuple[Span | None, Truth]], complete: bool, none: str, list_name: str
) -> Span | None:
    """The day of the latest event that counts, as a range; ``None`` where it has no earliest bound.

    Raises
    ------
    Underivable
        Not applicable where there certainly was no event; incomplete list where there may have been.
    """
    today = inputs.as_of.high
    counted = [
        (None if day is None else _past(inputs, day), counts)
        for day, counts in entries
        if counts is not Truth.NOT_MET
    ]
    if not counted:
        if complete:
            raise Underivable(Why.DOES_NOT_APPLY, none)
        raise Underivable(Why.LIST_INCOMPLETE, f"the list of {list_name} is not stated to be complete")
    earliest = [day.low for day, counts in counted if counts is Truth.MET and day is not None]
    if not earliest:
        return None
    ends = [today if day is None else day.high for day, _ in counted]
    latest = max(ends) if complete else today
    if not complete:
        inputs.say(f"the list of {list_name} is not stated to be complete, so a later one is possible")
    return Span(max(earliest), latest)
