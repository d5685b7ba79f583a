"""What the record itself says, in columns: facts that contradict each other, and dangers that no criterion reads.

The single-case counterparts are `candidacy.assessment.relate.conflicts` and `candidacy.assessment.record_grounds`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from candidacy.assessment.doubts import BIRTH, doubt_in
from candidacy.assessment.record_grounds import Dangers, Weigher, dangers_of, subject_of, tells, told_by_any
from candidacy.assessment.relate import relations_of, told_apart
from candidacy.case.catalogue import LISTS, catalogue
from candidacy.cohort.columns.element_columns import ElementColumns
from candidacy.cohort.columns.fact_columns import FactColumn, Numbers
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.tellings import first_known, tellings_at, told_parts
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.tree import Compare, Elapsed, Node, elements_of, for_disc, lists_of


@dataclass(frozen=True, slots=True)
class RecordSays:
    """Two-valued SQL about one subject: a conflict among its facts, and a danger nobody read."""

    conflict: str = sql.FALSE
    danger: str = sql.FALSE


def record_says(shelf: ElementColumns) -> dict[str, RecordSays]:
    """What the record says of the patient and lists (under an empty key) and of each disc."""
    dangers = Dangers(shelf.rule_set)
    found = {}
    for level in ("", *shelf.frame.levels):
        subject = level or "patient"
        conflict = [*_conflicts(shelf, subject), *_doubts(shelf, dangers, subject)]
        danger = list(_dangers(shelf, dangers, subject))
        if not level:
            for name in shelf.frame.lists:
                conflict.append(
                    _of_entries(shelf, name, _conflicting_names(shelf, LISTS[name]), _conflicts_of)
                )
                conflict.append(
                    _of_entries(shelf, name, _that_may_be_doubtful(dangers, LISTS[name]), _doubts_of)
                )
                danger.append(
                    _of_entries(shelf, name, _dangerous(LISTS[name]), partial(_dangers_of, dangers))
                )
        found[level] = RecordSays(sql.any_of(conflict), sql.any_of(danger))
    return found


def _conflicting_names(shelf: ElementColumns, scope: str) -> list[str]:
    watch = relations_of(shelf.rule_set).watched.get(scope)
    return sorted(watch.stated, key=catalogue().place) if watch is not None else []


def _dangerous(scope: str) -> list[str]:
    return [element.name for element in catalogue().of_scope(scope) if element.danger]


def _conflicts(shelf: ElementColumns, subject: str) -> Iterator[str]:
    for name in _conflicting_names(shelf, "patient" if subject == "patient" else "disc"):
        yield shelf.own(name, subject).conflict


def _that_may_be_doubtful(dangers: Dangers, scope: str) -> list[str]:
    """Elements of a scope that a deciding criterion reads and whose values can be doubtful by themselves."""
    read = dangers.decides_by
    return [
        e.name for e in catalogue().of_scope(scope) if e.name in read and (e.possible or e.kind == "date")
    ]


def _doubts(shelf: ElementColumns, dangers: Dangers, subject: str) -> Iterator[str]:
    """`doubt_in` in columns, of each element that a deciding criterion reads."""
    for name in _that_may_be_doubtful(dangers, "patient" if subject == "patient" else "disc"):
        column = shelf.frame.facts.get((name, subject))
        if column is not None:
            yield from _of_a_date(shelf, column) if column.element.kind == "date" else _of_a_number(column)


def _of_a_number(column: FactColumn) -> Iterator[str]:
    if column.doubtful:
        yield column.doubtful
    elif likely := column.element.likely:
        yield from _certainly(column, "less_than", likely.low)
        yield from _certainly(column, "more_than", likely.high)


def _of_a_date(shelf: ElementColumns, column: FactColumn) -> Iterator[str]:
    if column.element.past:
        yield from _certainly(column, "more_than", shelf.as_of.toordinal())
    birth = shelf.frame.facts.get((BIRTH, "patient"))
    if birth is not None and isinstance(column.cells, Numbers) and isinstance(birth.cells, Numbers):
        yield sql.all_of(
            (column.known, birth.known, f"({column.cells.high or column.cells.low} < {birth.cells.low})")
        )


def _certainly(column: FactColumn, op: str, limit: float | None) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    if limit is not None:
        yield sql.is_met(column_test(column, op, (limit,)))


def _dangers(shelf: ElementColumns, dangers: Dangers, subject: str) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    for name in _dangerous("patient" if subject == "patient" else "disc"):
        stated = shelf.frame.facts.get((name, subject))
        told = () if stated is not None or catalogue()[name].statable else shelf.own(name, subject).columns
        weighed = sql.FALSE
        for column in (stated,) if stated is not None else told:
            weighed = (
                weighed if weighed != sql.FALSE else sql.negate(Weighing(shelf, dangers).sql(name, subject))
            )
            for danger in catalogue()[name].danger:
                test = column_test(column, danger.op, danger.limits)
                # what only a formula tells is a danger where it certainly is one
                is_danger = sql.is_met(test) if stated is None else sql.negate(sql.is_not_met(test))
                yield sql.all_of((weighed, column.known, is_danger))


def _of_entries(
    shelf: ElementColumns, list_name: str, names: list[str], of: Callable[[RowView, str, str], bool]
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


def _doubts_of(view: RowView, name: str, subject: str) -> bool:
    fact = view.as_written(name, subject)
    return fact is not None and bool(doubt_in(view, fact))


def _dangers_of(dangers: Dangers, view: RowView, name: str, subject: str) -> bool:
    element = catalogue()[name]
    fact = view.as_written(name, subject) if element.statable else view.fact(name, subject)
    if fact is None or fact.value is None or not dangers_of(element, fact, element.statable):
        return False
    return not dangers.weighed(view, name, subject)


class Weighing:
    """`Dangers.weighed` as two-valued SQL."""

    def __init__(self, shelf: ElementColumns, dangers: Dangers) -> None:
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
        when, frame = weigher.item.applies_at_any_age, self._shelf.frame
        if not weigher.gated or when is None:
            return sql.TRUE

        def applies(of: str) -> str:
            return sql.negate(sql.is_not_met(self._shelf.truth(when, of)))

        if weigher.item.criterion.subject == "patient":
            return applies("patient")
        if subject != "patient":
            return applies(subject)
        return sql.any_of(sql.all_of((frame.named(level), applies(level))) for level in frame.levels)

    def _told(self, summary: str, place: int, of: str, element: str, subject: str) -> str:
        """An implication of a summary is met, and this element is among what makes it so."""
        when = for_disc(self._shelf.rule_set.relations[summary].conditions[place], of)
        told = tellings_at(self._shelf, summary, place, of)
        if told.met == sql.FALSE:
            return sql.FALSE
        if not lists_of(when):
            return sql.all_of((told.met, self._involves(when, of, element, subject)))
        relations = relations_of(self._shelf.rule_set)

        def answer(view: RowView) -> bool:
            telling = relations.tell(view, summary, place, of)
            return telling is not None and any(tells(fact, element, subject) for fact in telling.facts)

        found = look_up(self._shelf.frame, self._shelf.rule_set, self._shelf.as_of, answer)
        (column,) = self._shelf.join(found, [(said,) for said in found.answers], ["bool"])
        return f"COALESCE({column}, FALSE)"

    def _involves(self, node: Node, of: str, element: str, subject: str) -> str:
        """An element is among the details of a met condition (`certain.details` in columns)."""
        match node:
            case Compare() | Elapsed():
                here = [name for name in elements_of(node) if element in told_by_any((name,))]
                at = [n for n in here if catalogue()[n].scope == "patient" or of == subject]
                known = (first_known(self._shelf.fact(n, of), lambda _: sql.TRUE, sql.FALSE) for n in at)
                return sql.any_of(known)
            case _:
                return sql.any_of(
                    sql.all_of((where, self._involves(part, at, element, subject)))
                    for where, part, at in told_parts(self._shelf, node, of)
                )
