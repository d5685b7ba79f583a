"""One case seen on one day under one rule set's settings: stated facts, derived facts, ages of facts."""

from collections.abc import Callable, Container, Mapping, Sequence
from datetime import date
from functools import cached_property, lru_cache
from typing import Any, Protocol

from candidacy.assessment.reconcile import Telling, conflict, reconcile, reported_apart
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, LISTS, STANDARD_LEVELS, Element, Scope
from candidacy.case.facts import CaseFacts, Fact
from candidacy.case.gather import present
from candidacy.derive import work_out
from candidacy.derive.base import Kept
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import days_between, oldest_within
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import FALSE, TRUE, Members, Options, Span, Value, Why, number_words


class Tells(Protocol):
    """What the relations of a rule set offer to a view.

    Attributes
    ----------
    only_stated
        Elements that only a record can tell, with their scope: neither worked out nor told by details.
    related
        Elements on which details bear.
    simple
        Those of them that nothing else tells: neither formula nor sign nor summary.
    """

    @property
    def only_stated(self) -> Mapping[str, Scope]: ...

    @property
    def related(self) -> Container[str]: ...

    @property
    def simple(self) -> Container[str]: ...

    def near(self, recorded: frozenset[str]) -> "Near":
        """What may be told where so much is recorded."""

    def acts(self, element: str) -> bool:
        """Whether a sign of danger outranks its denial."""

    def of(self, view: "View", element: str, subject: str, settled: object = None) -> list[Telling]:
        """What the details of a case say about an element, without what allows a code that is settled already."""


class Near(Protocol):
    """What may be told where certain things are recorded."""

    def told(self, element: str) -> Sequence[Any]:
        """The implications that may say something about an element; none where nothing recorded tells it."""


class _Everything:
    """Holds every element."""

    def __contains__(self, element: object) -> bool:
        return True


class _Nothing:
    """No relations beside those of the catalogue."""

    related: Container[str] = frozenset()
    simple: Container[str] = frozenset()

    @property
    def only_stated(self) -> Mapping[str, Scope]:
        return catalogue().only_stated

    def acts(self, element: str) -> bool:
        return False

    def near(self, recorded: frozenset[str]) -> "_Nothing":
        return self

    def told(self, element: str) -> Sequence[Any]:
        return ()

    def of(self, view: "View", element: str, subject: str, settled: object = None) -> list[Telling]:
        return []


NO_RELATIONS = _Nothing()
EVERYTHING = _Everything()


class View:
    """Looks facts up, works derived ones out once, and answers ``NOT_RECORDED`` for what is not there.

    A fact that the record tells twice, as a summary and in its details, is reconciled (`candidacy.assessment.reconcile`).

    Parameters
    ----------
    facts
        The stated facts of a case.
    as_of
        The day for which it is looked at.
    settings
        Settings for derivations, as resolved by the rule set.
    tables
        Tables of published values for derivations.
    relations
        What details say about summaries.
    aged
        Elements whose age matters. Of any other fact it need not be known whether its details tell it again.
    beside
        The same case on the same day as another rule set sees it, and the elements that it may see otherwise; all others are
        looked up there.

    Attributes
    ----------
    known
        Facts that were asked for already, by element and subject: what `fact` would answer.
    """

    def __init__(
        self,
        facts: CaseFacts,
        as_of: date,
        settings: Mapping[str, Any],
        tables: Callable[[str], Mapping[str, Mapping[str, Any]]],
        relations: Tells = NO_RELATIONS,
        aged: Container[str] = EVERYTHING,
        beside: "tuple[View, Container[str]] | None" = None,
    ) -> None:
        self.facts = facts
        self.as_of = as_of
        self.settings = settings
        self.tables = tables
        self._today = Span(as_of.toordinal(), as_of.toordinal())
        self._shelf = catalogue()
        self._only_stated = relations.only_stated
        self._relations = relations
        self._aged = aged
        self._beside: View | None = beside[0] if beside else None
        self._otherwise: Container[str] = beside[1] if beside else EVERYTHING
        self.kept: dict[tuple[str, str], Kept] = {}
        self.known: dict[tuple[str, str], Fact] = {}
        self._own_tellings: dict[tuple[str, str], Fact | None] = {}
        self._tables: dict[str, dict[str, Fact]] = {"patient": facts.patient, **facts.discs}
        self._entries: dict[str, list[str]] = {}
        for name, group in facts.lists.items():
            entries = {
                f"{name}[{number}]": table for number, table in zip(group.numbers, group.entries, strict=True)
            }
            self._entries[name] = list(entries)
            self._tables |= entries
        self._near: dict[str, Near] = {}
        self._standings: dict[str, Options] | None = None
        self._most_days: dict[tuple[float, str], int] = {}
        self._recent: dict[tuple[float, float, float, str], tuple[Truth, Span | None]] = {}

    def fact(self, element: str, subject: str) -> Fact:
        """The fact of an element for a subject; a disc or list entry also sees the patient's elements."""
        key = (element, subject)
        found = self.known.get(key)
        if found is None:
            if self._beside is not None and element not in self._otherwise:
                found = self._beside.fact(element, subject)
            else:
                scope = self._only_stated.get(element)
                if scope is not None and (subject == "patient" or scope != "patient"):
                    table = self._tables.get(subject)
                    found = table.get(element) if table is not None else None
                    if found is None:
                        found = _not_recorded(element, subject)
                else:
                    found = self._find(element, subject)
            self.known[key] = found
        return found

    def _find(self, element: str, subject: str) -> Fact:
        if subject != "patient" and element in self._shelf.of_patient:
            return self.fact(element, "patient")
        if element == "disc_standing":
            return self._standing(subject)
        if element in self._relations.simple:
            # no formula, sign or summary tells it, so a relation alone may stand beside what is stated
            stated = self._stated(element, subject)
            if self.near(subject).told(element):
                tellings = self._relations.of(self, element, subject, self._settled(element, stated))
                stated = reconcile(element, subject, stated, tellings, self._relations.acts(element))
            return stated or _not_recorded(element, subject)
        own = self._own(element, subject)
        summary = self._shelf.covered_by.get(element)
        told = self._stated(summary, subject) if summary else None
        if told is None or told.value != FALSE or (own is not None and own.why is Why.CONFLICTING):
            return own or _not_recorded(element, subject)
        denied = Fact(element, subject, self._shelf[element].absent, derived_from=(told,))
        if own is None or own.value is None:
            return denied
        if own.value == denied.value and own.told_again is None:
            return own.again(denied)
        return own

    def _own(self, element: str, subject: str) -> Fact | None:
        """A fact as the record and its details tell it, before a denied summary is looked at."""
        kept, key = self._own_tellings, (element, subject)
        if key in kept:
            return kept[key]
        found = kept[key] = self._told_by_itself(element, subject)
        return found

    def _told_by_itself(self, element: str, subject: str) -> Fact | None:
        shelf = self._shelf
        stated = self._stated(element, subject)
        first = self._first(element, subject, stated) if element in shelf.derived else stated
        if first is not None and first.why is Why.CONFLICTING and first.derived_from:
            return first
        settled = self._settled(element, first)
        tellings: list[Telling] = []
        if settled is not True:
            for name in shelf.signs.get(element, ()):
                sign = self._own(name, subject)
                if sign is not None and present(shelf[name], sign):
                    says = f"{shelf[name].label} is present"
                    tellings.append(Telling(TRUE.codes, None, True, says, (sign,)))
        if element in self._relations.related:
            tellings += self._relations.of(self, element, subject, settled)
        if tellings:
            return reconcile(element, subject, first, tellings, self._relations.acts(element))
        if first is not None and element in shelf.reported_within:
            return reported_apart(shelf[element], first) or first
        return first

    def _settled(self, element: str, first: Fact | None) -> object:
        """The one code of a first telling, where it is of no matter whether the details tell it again."""
        value = first.value if first is not None else None
        if isinstance(value, Options) and len(value.codes) == 1 and element not in self._aged:
            return next(iter(value.codes))
        return None

    def first_telling(self, element: str, subject: str) -> Fact:
        """A derived element as stated beside what its formula gives, before any relation is looked at."""
        found = self._first(element, subject, self._stated(element, subject))
        return found or _not_recorded(element, subject)

    def _first(self, element: str, subject: str, stated: Fact | None) -> Fact | None:
        """A derived fact: as stated, or worked out, or both brought together."""
        shelf = self._shelf
        if stated is not None and stated.value is not None:
            known = shelf[element]
            if not any(self._all_recorded(inputs, subject) for inputs in known.inputs):
                return stated
            return _together(known, stated, self._worked_out(element, subject))
        derived = self._worked_out(element, subject)
        if derived.value is None and stated is not None:
            return stated
        if derived.value is None and derived.why is Why.INPUT_MISSING and element not in shelf.never_stated:
            return Fact(element, subject, None, Why.NOT_RECORDED, derived_from=derived.derived_from)
        return derived

    def _worked_out(self, element: str, subject: str) -> Fact:
        derived = work_out(element, self, subject)
        return Fact(
            element,
            subject,
            derived.value,
            derived.why,
            derived_from=derived.read,
            note=derived.note,
            settings=derived.settings,
        )

    def _all_recorded(self, names: Sequence[str], subject: str) -> bool:
        for name in names:
            fact = self._stated(name, "patient" if name in self._shelf.of_patient else subject)
            if fact is None or fact.value is None:
                return False
        return True

    @cached_property
    def recorded(self) -> frozenset[str]:
        """Names of every element that has a value anywhere in the record, of every list, and a mark of its entries."""
        return frozenset().union(self._list_marks(), *(_known(table) for table in self._tables.values()))

    @cached_property
    def _recorded_beside_discs(self) -> frozenset[str]:
        others = (_known(table) for each, table in self._tables.items() if each not in self.facts.discs)
        return frozenset().union(self._list_marks(), *others)

    def _list_marks(self) -> list[str]:
        lists = self.facts.lists
        return [*lists, *(entry_mark(name) for name, group in lists.items() if group.entries)]

    def recorded_near(self, subject: str) -> frozenset[str]:
        """The same, without what is recorded of discs other than this one."""
        if subject not in self.facts.discs:
            return self.recorded
        return self._recorded_beside_discs.union(_known(self.facts.discs[subject]))

    def near(self, subject: str) -> Any:
        """What may be told of a subject beside all that is recorded near it."""
        found = self._near.get(subject)
        if found is None:
            found = self._near[subject] = self._relations.near(self.recorded_near(subject))
        return found

    def stated_among(self, names: Container[str], subject: str) -> list[str]:
        """Those of some elements that the record states of a subject."""
        table = self._tables.get(subject) or {}
        return [name for name, fact in table.items() if fact.value is not None and name in names]

    def states(self, element: str, subject: str) -> bool:
        """Whether the record states a value of an element."""
        fact = self._stated(element, subject)
        return fact is not None and fact.value is not None

    def as_written(self, element: str, subject: str) -> Fact | None:
        """A fact as the record states it, whatever its details say."""
        return self._stated(element, subject)

    def _stated(self, element: str, subject: str) -> Fact | None:
        table = self._tables.get(subject)
        return table.get(element) if table is not None else None

    def _standing(self, level: str) -> Fact:
        if self._standings is None:
            raise EngineError("a disc's standing was asked for before the discs were assessed")
        value = self._standings.get(level)
        return Fact("disc_standing", level, value, None if value is not None else Why.NOT_RECORDED)

    def settle_discs(self, standings: dict[str, Options]) -> None:
        """Take over the standings of the discs, before criteria about the patient are read."""
        self._standings = standings

    def entries(self, name: str) -> tuple[bool, list[str]]:
        """Whether a list of the record is complete, and the subjects of its entries."""
        group = self.facts.lists.get(name)
        return (False, []) if group is None else (group.complete, self._entries[name])

    def day_of_lists(self, names: Sequence[str]) -> Span | None:
        """The day on which some lists were complete; of several the earliest, and none where one bears none."""
        lists = self.facts.lists
        days = [lists[name].day for name in names if name in lists]
        known = [day for day in days if day is not None]
        if not known or len(known) < len(names):
            return None
        return Span(min(day.low for day in known), min(day.high for day in known))

    def entries_of_scope(self, scope: str) -> list[str]:
        """The subjects of the entries of the list whose entries have a scope."""
        return [entry for name, each in LISTS.items() if each == scope for entry in self.entries(name)[1]]

    def levels(self) -> tuple[str, ...]:
        """All lumbar discs a count may range over: the five usual ones and any other that is named."""
        return self._levels

    def named_levels(self) -> tuple[str, ...]:
        """Discs the record says anything about or considers for treatment."""
        return self._named_levels

    @cached_property
    def _levels(self) -> tuple[str, ...]:
        return _in_order({*STANDARD_LEVELS, *self.named_levels()})

    @cached_property
    def _named_levels(self) -> tuple[str, ...]:
        named = set(self.facts.discs)
        for element in ("discs_under_consideration", "discography_levels"):
            value = self.facts.patient[element].value if element in self.facts.patient else None
            if isinstance(value, Members):
                named |= value.certain
        return _in_order(named)

    def age_of(self, fact: Fact, dated_by: str | None) -> Span | None:
        """Days from when a fact was true to the as-of date; ``None`` if undated.

        A derived fact is as old as the oldest fact it was worked out from. A fact without a date of
        its own takes the patient's ``dated_by`` element. A fact that was told twice is as old as its fresher
        telling.
        """
        if fact.told_again is not None:
            tellings = (fact.again(None), fact.told_again)
            ages = [
                age for age in (self.age_of(telling, dated_by) for telling in tellings) if age is not None
            ]
            # a telling of a later day than the as-of date makes nothing fresher
            return min([age for age in ages if age.high >= 0] or ages, key=lambda age: age.high, default=None)
        day = fact.provenance.day
        if day is None and fact.derived_from:
            parts = [self.age_of(part, dated_by) for part in fact.derived_from if part.value is not None]
            known = [age for age in parts if age is not None]
            if not known or len(known) < len(parts):
                return None
            later = [age for age in known if age.high < 0]
            # what rests on something of a day after the as-of date lies after it, however old the rest is
            return (
                min(later, key=lambda age: age.high)
                if later
                else Span(max(a.low for a in known), max(a.high for a in known))
            )
        if day is None and dated_by is not None:
            value = self.fact(dated_by, "patient").value
            day = value if isinstance(value, Span) else None
        return None if day is None else days_between(day, self._today)

    def present(self, fact: Fact, days: float) -> bool:
        """Whether a fact may speak about the present: nothing that tells it is dated more than ``days`` days ago, or
        after the as-of date. What is undated is taken as present.
        """
        if fact.told_again is not None:
            return self.present(fact.again(None), days) or self.present(fact.told_again, days)
        if fact.provenance.day is None:
            return all(self.present(part, days) for part in fact.derived_from if part.value is not None)
        return self.recent(replace(fact, derived_from=()), days, "day", None)[0] is Truth.MET

    def of_these_days(self, day: Span, days: float) -> bool:
        """Whether a day lies at most so many days before the as-of date, and not after it."""
        return self._within(days_between(day, self._today), days, "day")[0] is Truth.MET

    def recent(self, fact: Fact, amount: float, unit: str, dated_by: str | None) -> tuple[Truth, Span | None]:
        """Whether a fact is at most ``amount`` days, weeks or months old, and its age in days.

        A fact of a day after the as-of date is never recent: its age, wholly below zero, is unknown to it.
        """
        day = fact.provenance.day
        if day is None or fact.told_again is not None:
            return self._within(self.age_of(fact, dated_by), amount, unit)
        # a case has few days of its own, and each is asked about again and again
        key = (day.low, day.high, amount, unit)
        found = self._recent.get(key)
        if found is None:
            found = self._recent[key] = self._within(days_between(day, self._today), amount, unit)
        return found

    def _within(self, age: Span | None, amount: float, unit: str) -> tuple[Truth, Span | None]:
        if age is None or age.high < 0:
            return Truth.UNKNOWN, age
        most = self._most_days.get((amount, unit))
        if most is None:
            oldest = oldest_within(int(amount), unit, self.as_of)
            most = self._most_days[amount, unit] = self.as_of.toordinal() - oldest.toordinal()
        return age.at_most(most), age

    @property
    def today(self) -> Span:
        return self._today


def entry_mark(name: str) -> str:
    """How a list that has entries is marked among what is recorded."""
    return f"{name}[]"


def _known(table: Mapping[str, Fact]) -> list[str]:
    return [name for name, fact in table.items() if fact.value is not None]


def _together(known: Element, stated: Fact, derived: Fact) -> Fact:
    """A stated value and what its own inputs give: everything between them, or a conflict if they cannot both be true.

    Numbers agree where they differ by no more than ``agrees_within`` of the element.
    """
    if derived.value is None:
        return (
            stated
            if derived.why is not Why.CONFLICTING
            else replace(derived, derived_from=(stated, *derived.derived_from))
        )
    agree: Value | None = None
    if isinstance(stated.value, Span) and isinstance(derived.value, Span):
        slack = known.agrees_within
        if stated.value.low <= derived.value.high + slack and derived.value.low <= stated.value.high + slack:
            agree = Span(min(stated.value.low, derived.value.low), max(stated.value.high, derived.value.high))
    elif isinstance(stated.value, Options) and isinstance(derived.value, Options):
        both = stated.value.codes & derived.value.codes
        agree = Options(both) if both else None
    elif stated.value == derived.value:
        agree = stated.value
    if agree is None:
        telling = Telling(
            None, None, False, f"what it is worked out from gives {_words(derived)}", derived.derived_from
        )
        return conflict(known.name, stated.subject, stated, [telling])
    if agree == stated.value:
        return stated
    return replace(
        stated, value=agree, derived_from=(stated, *derived.derived_from), settings=derived.settings
    )


def _words(fact: Fact) -> str:
    if isinstance(fact.value, Span):
        ends = dict.fromkeys(
            (number_words(round(fact.value.low, 2)), number_words(round(fact.value.high, 2)))
        )
        return " to ".join(ends)
    if isinstance(fact.value, Options):
        return " or ".join(sorted(str(code) for code in fact.value.codes))
    return "another value"


@lru_cache(maxsize=1 << 14)
def _not_recorded(element: str, subject: str) -> Fact:
    return Fact(element, subject, None, Why.NOT_RECORDED)


def _in_order(levels: set[str]) -> tuple[str, ...]:
    return tuple(level for level in LEVELS if level in levels)
