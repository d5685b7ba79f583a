"""What the record itself says, in columns: facts that contradict each other, and dangers that no criterion reads.

The single-case counterparts are `candidacy.assessment.relate.conflicts` and `candidacy.assessment.record_grounds`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from candidacy.assessment.record_grounds import Dangers, Weigher, dangers_of, subject_of, tells, told_by_any
from candidacy.assessment.relate import relations_of, told_apart
from candidacy.case.catalogue import LISTS, STANDARD_LEVELS, catalogue
from candidacy.cohort.columns.element_columns import Shelf
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.tellings import first_known, tellings_at
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.conditions import Condition, elements_of, lists_of
from candidacy.rules.relations import for_disc, names_this_disc
from candidacy.rules.resolved import ResolvedParameter


@dataclass(frozen=True, slots=True)
class RecordSays:
    """Two-valued SQL about one subject: a conflict among its facts, and a danger nobody read."""

    conflict: str = sql.FALSE
    danger: str = sql.FALSE


def record_says(shelf: Shelf) -> dict[str, RecordSays]:
    """What the record says of the patient and lists (under an empty key) and of each disc."""
    dangers = Dangers(shelf.rule_set)
    found = {}
    for level in ("", *shelf.frame.levels):
        subject = level or "patient"
        conflict, danger = list(_conflicts(shelf, subject)), list(_dangers(shelf, dangers, subject))
        if not level:
            for name in shelf.frame.lists:
                conflict.append(
                    _of_entries(shelf, name, _conflicting_names(shelf, LISTS[name]), _conflicts_of)
                )
                danger.append(
                    _of_entries(shelf, name, _dangerous(LISTS[name]), partial(_dangers_of, dangers))
                )
        found[level] = RecordSays(sql.any_of(conflict), sql.any_of(danger))
    return found


def _conflicting_names(shelf: Shelf, scope: str) -> list[str]:
    watch = relations_of(shelf.rule_set).watched.get(scope)
    return sorted(watch.stated, key=catalogue().place) if watch is not None else []


def _dangerous(scope: str) -> list[str]:
    return [element.name for element in catalogue().of_scope(scope) if element.danger]


def _conflicts(shelf: Shelf, subject: str) -> Iterator[str]:
    for name in _conflicting_names(shelf, "patient" if subject == "patient" else "disc"):
        yield shelf.own(name, subject).conflict


def _dangers(shelf: Shelf, dangers: Dangers, subject: str) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    for name in _dangerous("patient" if subject == "patient" else "disc"):
        column = shelf.frame.facts.get((name, subject))
        if column is None:
            continue
        weighed = sql.negate(Weighing(shelf, dangers).sql(name, subject))
        for danger in catalogue()[name].danger:
            test = column_test(column, danger.op, danger.limits)
            yield sql.all_of((weighed, column.known, sql.negate(sql.is_not_met(test))))


def _of_entries(
    shelf: Shelf, list_name: str, names: list[str], of: Callable[[RowView, str, str], bool]
) -> str:
    """Two-valued SQL: some entry of a list has it of some element, answered by the single-case code."""
    if not names:
        return sql.FALSE

    def answer(view: RowView) -> bool:
        return any(of(view, name, entry) for entry in view.entries(list_name)[1] for name in names)

    found = look_up(shelf.frame, shelf.rule_set, shelf.as_of, answer)
    if not any(found.answers):
        return sql.FALSE
    (column,) = shelf.join(found, [(each,) for each in found.answers], ["bool"])
    return f"COALESCE({column}, FALSE)"


def _conflicts_of(view: RowView, name: str, subject: str) -> bool:
    fact = view.fact(name, subject)
    return bool(fact.disputed) or told_apart(fact)


def _dangers_of(dangers: Dangers, view: RowView, name: str, subject: str) -> bool:
    fact = view.as_written(name, subject)
    if fact is None or fact.value is None or not dangers_of(catalogue()[name], fact):
        return False
    return not dangers.weighed(view, name, subject)


class Weighing:
    """`Dangers.weighed` as two-valued SQL."""

    def __init__(self, shelf: Shelf, dangers: Dangers) -> None:
        self._shelf, self._dangers = shelf, dangers

    def sql(self, element: str, subject: str) -> str:
        """Some deciding criterion weighs what an element says of a subject."""
        parts = [self._applies(weigher, subject) for weigher in self._dangers.weighers.get(element, ())]
        for summary, place in self._dangers.summaries.get(element, ()) if sql.TRUE not in parts else ():
            of = subject_of(summary, subject)
            if of and (weighed := self.sql(summary, of)) != sql.FALSE:
                parts.append(sql.all_of((weighed, self._told(summary, place, of, element, subject))))
        return sql.any_of(parts)

    def _applies(self, weigher: Weigher, subject: str) -> str:
        when = weigher.item.criterion.applies_when
        if not weigher.gated or when is None:
            return sql.TRUE
        frame, parameters = self._shelf.frame, weigher.item.parameters

        def applies(of: str) -> str:
            return sql.negate(sql.is_not_met(self._shelf.truth(when, parameters, of)))

        if weigher.item.criterion.subject == "patient":
            return applies("patient")
        if subject != "patient":
            return applies(subject)
        return sql.any_of(sql.all_of((frame.named(level), applies(level))) for level in frame.levels)

    def _told(self, summary: str, place: int, of: str, element: str, subject: str) -> str:
        """An implication of a summary is met, and this element is among what makes it so."""
        relation = self._shelf.rule_set.relations[summary]
        each = relation.implied[place]
        when = for_disc(each.when, of) if names_this_disc(each.when) else each.when
        told = tellings_at(self._shelf, summary, place, of)
        if told.met == sql.FALSE:
            return sql.FALSE
        if not lists_of(when):
            parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in relation.parameters.items()}
            return sql.all_of((told.met, self._involves(when, parameters, of, element, subject)))
        relations = relations_of(self._shelf.rule_set)

        def answer(view: RowView) -> bool:
            telling = relations.tell(view, summary, place, of)
            return telling is not None and any(tells(fact, element, subject) for fact in telling.facts)

        found = look_up(self._shelf.frame, self._shelf.rule_set, self._shelf.as_of, answer)
        (column,) = self._shelf.join(found, [(said,) for said in found.answers], ["bool"])
        return f"COALESCE({column}, FALSE)"

    def _involves(
        self, c: Condition, parameters: dict[str, ResolvedParameter], of: str, element: str, subject: str
    ) -> str:
        """An element is among the details of a met condition (`relate.details` in columns)."""

        def inside(part: Condition, at: str = of) -> str:
            return self._involves(part, parameters, at, element, subject)

        def where_met(part: Condition, at: str = of) -> str:
            met = sql.is_met(self._shelf.truth(part, parameters, at))
            return sql.all_of((met, inside(part, at)))

        if c.element is not None or c.elapsed is not None:
            names = elements_of(c)
            here = [n for n in names if element in told_by_any((n,))]
            at = [n for n in here if catalogue()[n].scope == "patient" or of == subject]
            known = (first_known(self._shelf.fact(n, of), lambda _: sql.TRUE, sql.FALSE) for n in at)
            return sql.any_of(known)
        if c.not_ is not None:
            return inside(c.not_)
        if c.all is not None or c.none is not None:
            return sql.any_of(inside(part) for part in (*(c.all or ()), *(c.none or ())))
        if c.any is not None or c.at_least_of is not None:
            several = c.any if c.any is not None else c.at_least_of.conditions if c.at_least_of else ()
            return sql.any_of(where_met(part) for part in several)
        over = c.any_disc or c.every_disc or c.count_discs
        if over is None:
            return sql.FALSE
        found = []
        for level in self._shelf.frame.counted_levels:
            that = where_met(over.that, level) if c.any_disc is not None else inside(over.that, level)
            named = sql.TRUE if level in STANDARD_LEVELS else self._shelf.frame.named(level)
            found.append(sql.all_of((named, that)))
        return sql.any_of(found)
