"""One case seen on one day under one rule set's settings: stated facts, derived facts, ages of facts."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from functools import lru_cache
from typing import Any

from candidacy.case.catalogue import LEVELS, STANDARD_LEVELS, Element, catalogue
from candidacy.case.facts import CaseFacts, Fact
from candidacy.case.gather import present
from candidacy.dates import days_between, oldest_within
from candidacy.derive import work_out
from candidacy.errors import EngineError
from candidacy.truth import Truth
from candidacy.values import FALSE, TRUE, Members, Options, Span, Why


class View:
    """Looks facts up, works derived ones out once, and answers ``NOT_RECORDED`` for what is not there.

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
    """

    def __init__(
        self,
        facts: CaseFacts,
        as_of: date,
        settings: Mapping[str, Any],
        tables: Callable[[str], Mapping[str, Mapping[str, Any]]],
    ) -> None:
        self.facts = facts
        self.as_of = as_of
        self.settings = settings
        self.tables = tables
        self._today = Span(as_of.toordinal(), as_of.toordinal())
        self._shelf = catalogue()
        self._only_stated = self._shelf.only_stated
        self._known: dict[tuple[str, str], Fact] = {}
        self._tables: dict[str, dict[str, Fact]] = {"patient": facts.patient, **facts.discs}
        for name, group in facts.lists.items():
            for number, table in enumerate(group.entries):
                self._tables[f"{name}[{number + 1}]"] = table
        self._standings: dict[str, Options] | None = None
        self._most_days: dict[tuple[float, str], int] = {}

    def fact(self, element: str, subject: str) -> Fact:
        """The fact of an element for a subject; a disc or list entry also sees the patient's elements."""
        found = self._known.get((element, subject))
        if found is None:
            found = self._find(element, subject)
            self._known[element, subject] = found
        return found

    def _find(self, element: str, subject: str) -> Fact:
        scope = self._only_stated.get(element)
        if scope is not None and (subject == "patient" or scope != "patient"):
            table = self._tables.get(subject)
            return (table.get(element) if table is not None else None) or _not_recorded(element, subject)
        known = self._shelf[element]
        if known.scope == "patient" and subject != "patient":
            return self.fact(element, "patient")
        if element == "disc_standing":
            return self._standing(subject)
        stated = self._stated(element, subject)
        summarised = self._summarised(known, subject)
        if summarised is not None:
            if stated is None or stated.value is None:
                return summarised
            if stated.value == summarised.value:
                return replace(stated, told_again=summarised)
        if not known.derived or (stated is not None and stated.value is not None):
            return stated or _not_recorded(element, subject)
        derived = work_out(element, self, subject)
        if derived.value is None and stated is not None:
            return stated
        if derived.value is None and derived.why is Why.INPUT_MISSING and known.statable:
            return Fact(element, subject, None, Why.NOT_RECORDED, derived_from=derived.read)
        return Fact(
            element,
            subject,
            derived.value,
            derived.why,
            derived_from=derived.read,
            note=derived.note,
            settings=derived.settings,
        )

    def _summarised(self, known: Element, subject: str) -> Fact | None:
        """What a summary says about a sign it covers, and a sign about its summary."""
        summary = self._shelf.covered_by.get(known.name)
        told = self._stated(summary, subject) if summary else None
        if told is not None and told.value == FALSE:
            return Fact(known.name, subject, known.absent, derived_from=(told,))
        for name in known.covers:
            sign = self._stated(name, subject)
            if sign is not None and present(self._shelf[name], sign):
                return Fact(known.name, subject, TRUE, derived_from=(sign,))
        return None

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
        if group is None:
            return False, []
        return group.complete, [f"{name}[{number + 1}]" for number in range(len(group.entries))]

    def levels(self) -> tuple[str, ...]:
        """All lumbar discs a count may range over: the five usual ones and any other that is named."""
        return _in_order({*STANDARD_LEVELS, *self.named_levels()})

    def named_levels(self) -> tuple[str, ...]:
        """Discs the record says anything about or considers for treatment."""
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
            tellings = (replace(fact, told_again=None), fact.told_again)
            ages = [
                age for age in (self.age_of(telling, dated_by) for telling in tellings) if age is not None
            ]
            return min(ages, key=lambda age: age.high, default=None)
        day = fact.provenance.day
        if day is None and fact.derived_from:
            parts = [self.age_of(part, dated_by) for part in fact.derived_from if part.value is not None]
            known = [age for age in parts if age is not None]
            if not known or len(known) < len(parts):
                return None
            return Span(max(a.low for a in known), max(a.high for a in known))
        if day is None and dated_by is not None:
            value = self.fact(dated_by, "patient").value
            day = value if isinstance(value, Span) else None
        return None if day is None else days_between(day, self._today)

    def recent(self, fact: Fact, amount: float, unit: str, dated_by: str | None) -> tuple[Truth, Span | None]:
        """Whether a fact is at most ``amount`` days, weeks or months old, and its age in days."""
        age = self.age_of(fact, dated_by)
        if age is None:
            return Truth.UNKNOWN, None
        most = self._most_days.get((amount, unit))
        if most is None:
            oldest = oldest_within(int(amount), unit, self.as_of)
            most = self._most_days[amount, unit] = self.as_of.toordinal() - oldest.toordinal()
        return age.at_most(most), age

    @property
    def today(self) -> Span:
        return self._today


@lru_cache(maxsize=1 << 14)
def _not_recorded(element: str, subject: str) -> Fact:
    return Fact(element, subject, None, Why.NOT_RECORDED)


def _in_order(levels: set[str]) -> tuple[str, ...]:
    return tuple(level for level in LEVELS if level in levels)
