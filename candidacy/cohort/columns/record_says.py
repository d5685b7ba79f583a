"""What the record itself says, in columns: facts that contradict each other, and dangers that no criterion reads.

The single-case counterparts are `candidacy.assessment.relate.conflicts` and `candidacy.assessment.record_grounds`.
"""

from collections.abc import Callable, Iterator
from functools import partial

from msgspec import Struct

from candidacy.assessment.doubts import (
    BIRTH,
    DOSE,
    DOSED_BY,
    FIVE,
    OF_A_SIXTH,
    VERTEBRAE,
    danger_left_open,
    danger_left_unknown,
    dose_doubt,
    doubt_in,
    highest,
    impossible,
    inputs_of,
    that_may_be_impossible,
    unknown_to_be_asked,
    worked_out_elements,
)
from candidacy.assessment.record_grounds import Dangers, Weigher, dangers_of, subject_of, tells, told_by_any
from candidacy.assessment.relate import relations_of, told_apart
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import words_tell_gravely
from candidacy.case.element import LISTS, Danger, Element, Range
from candidacy.cohort.columns.element_columns import ElementColumns
from candidacy.cohort.columns.fact_columns import FactColumn, Numbers, Text
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.tellings import first_known, tellings_at, told_parts
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.tree import Compare, Elapsed, Node, elements_of, for_disc, lists_of


class RecordSays(Struct, frozen=True):
    """Two-valued SQL about one subject: a conflict among its facts, and a danger nobody read."""

    conflict: str = sql.FALSE
    danger: str = sql.FALSE


def record_says(shelf: ElementColumns) -> dict[str, RecordSays]:
    """What the record says of the patient and lists (under an empty key) and of each disc."""
    dangers = Dangers(shelf.rule_set)
    found = {}
    for level in ("", *shelf.frame.levels):
        subject = level or "patient"
        conflict = [
            *_conflicts(shelf, subject),
            *_doubts(shelf, dangers, subject),
            *_days(shelf, subject),
        ]
        danger = list(_dangers(shelf, dangers, subject))
        if not level:
            for name in shelf.frame.lists:
                conflict.append(
                    _of_entries(shelf, name, _conflicting_names(shelf, LISTS[name]), _conflicts_of)
                )
                if name == DOSED_BY and (DOSE, "patient") in shelf.frame.facts:
                    conflict.append(_of_list(shelf, dose_doubt))
                names = [e.name for e in catalogue().of_scope(LISTS[name]) if e.statable or e.danger]
                conflict.append(_of_entries(shelf, name, names, partial(_doubts_of, dangers.decides_by)))
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


def _doubts(shelf: ElementColumns, dangers: Dangers, subject: str) -> Iterator[str]:
    """`doubts` in columns: what cannot be, whatever is read, and what is unlikely of what a deciding criterion reads."""
    may_be = that_may_be_impossible(catalogue())
    for element in catalogue().of_scope("patient" if subject == "patient" else "disc"):
        column = shelf.frame.facts.get((element.name, subject))
        if column is None:
            continue
        if column.why and element.danger:
            reasons = ", ".join(sql.text(why.value) for why in unknown_to_be_asked(element))
            yield f"COALESCE({column.why} IN ({reasons}), FALSE)"
        if element.listed_in is not None and element.name in may_be:
            yield from _not_listed(shelf, column, element.listed_in)
        if column.grave:
            yield column.grave
        if element.name in dangers.decides_by:
            yield from _unlikely(column)
        if element.name in may_be and isinstance(column.cells, Numbers):
            if element.kind == "date":
                yield from _of_a_date(shelf, column, column.cells)
            yield from _below(shelf, column, column.cells)
            yield from _beside_parts(shelf, column, column.cells)
        if element.name in may_be:
            yield from _unlike(shelf, column)
        if element.levels:
            yield from _names_no_disc(shelf, column)
    if subject in OF_A_SIXTH:
        yield from _of_no_disc(shelf, subject)
    for element in worked_out_elements(catalogue()):
        if element.name in dangers.decides_by and (element.scope == "patient") == (subject == "patient"):
            yield _worked_out(shelf, element, subject)


def _days(shelf: ElementColumns, subject: str) -> Iterator[str]:
    """`day_doubt` in columns, of every fact that has a value."""
    columns = [
        column
        for (_, of), column in shelf.frame.facts.items()
        if of == subject and column.day and isinstance(column.day, str)
    ]
    known: dict[str, list[str]] = {}
    for column in columns:
        known.setdefault(column.day, []).append(column.known)
    days = [f"CASE WHEN {sql.any_of(some)} THEN {day} END" for day, some in known.items()]
    if days:
        yield f"COALESCE(GREATEST({', '.join(days)}) > {shelf.as_of.toordinal()}, FALSE)"
        birth = shelf.frame.facts.get((BIRTH, "patient"))
        if birth is not None and isinstance(birth.cells, Numbers):
            yield f"COALESCE(LEAST({', '.join(days)}) < {birth.cells.low}, FALSE)"


def _unlikely(column: FactColumn) -> Iterator[str]:
    if column.doubtful:
        yield column.doubtful
    elif likely := column.element.likely:
        yield from _certainly(column, "less_than", likely.low)
        yield from _certainly(column, "more_than", likely.high)


def _of_a_date(shelf: ElementColumns, column: FactColumn, cells: Numbers) -> Iterator[str]:
    if column.element.past:
        yield from _certainly(column, "more_than", shelf.as_of.toordinal())
        if column.later:
            yield column.later
        elif column.day:
            yield sql.all_of((column.known, f"COALESCE({cells.low} > {column.day}, FALSE)"))
    if near := column.element.near:
        latest = None if near.ahead is None else shelf.as_of.toordinal() + near.ahead
        earliest = None if near.before is None else shelf.as_of.toordinal() - near.before
        far = sql.any_of(
            (*_certainly(column, "more_than", latest), *_certainly(column, "less_than", earliest))
        )
        yield sql.all_of((far, sql.negate(column.checked or sql.FALSE)))
    birth = shelf.frame.facts.get((BIRTH, "patient"))
    if birth is not None and isinstance(birth.cells, Numbers):
        yield sql.all_of((column.known, birth.known, f"({_high(cells)} < {birth.cells.low})"))


def _not_listed(shelf: ElementColumns, column: FactColumn, name: str) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    listed = _stated(shelf, name, "patient")
    if listed is not None:
        lacks = sql.is_not_met(column_test(listed, "contains", (column.subject,)))
        yield sql.all_of((column.known, listed.known, lacks))


def _of_no_disc(shelf: ElementColumns, subject: str) -> Iterator[str]:
    """Facts of the disc of a sixth lumbar vertebra where at most five are counted."""
    count = _stated(shelf, VERTEBRAE, "patient")
    known = [column.known for (_, of), column in shelf.frame.facts.items() if of == subject]
    if known and count is not None and isinstance(count.cells, Numbers):
        yield sql.all_of((count.known, f"({_high(count.cells)} <= {FIVE})", sql.any_of(known)))


def _names_no_disc(shelf: ElementColumns, column: FactColumn) -> Iterator[str]:
    """A list that names the disc of a sixth lumbar vertebra where at most five are counted."""
    from candidacy.cohort.columns.conditions import column_test

    count = _stated(shelf, VERTEBRAE, "patient")
    if count is not None and isinstance(count.cells, Numbers):
        named = [sql.is_met(column_test(column, "contains", (level,))) for level in OF_A_SIXTH]
        yield sql.all_of((column.known, count.known, f"({_high(count.cells)} <= {FIVE})", sql.any_of(named)))


def _below(shelf: ElementColumns, column: FactColumn, cells: Numbers) -> Iterator[str]:
    for bound in column.element.not_below:
        other = _stated(shelf, bound.element, column.subject)
        if other is not None and isinstance(other.cells, Numbers):
            same = _same_day(column, other) if bound.same_day else sql.TRUE
            apart = f"({_high(cells)} + {sql.number(bound.slack)} < {other.cells.low})"
            yield sql.all_of((column.known, other.known, same, apart))


def _beside_parts(shelf: ElementColumns, column: FactColumn, cells: Numbers) -> Iterator[str]:
    parts = column.element.parts
    if parts is None:
        return
    lows, highs = ["0"], ["0"]
    for name in parts.of:
        other, most = _stated(shelf, name, column.subject), sql.number(highest(name))
        if other is None or not isinstance(other.cells, Numbers):
            highs.append(most)
            continue
        counts = sql.all_of((other.known, _same_day(column, other)))
        lows.append(f"CASE WHEN {counts} THEN {other.cells.low} ELSE 0 END")
        highs.append(f"CASE WHEN {counts} THEN {_high(other.cells)} ELSE {most} END")
    times, slack = sql.number(parts.times), sql.number(column.element.agrees_within)
    if len(lows) > 1:
        least, most = (f"(({' + '.join(some)}) * {times})" for some in (lows, highs))
        yield sql.all_of((column.known, f"({_high(cells)} + {slack} < {least})"))
        yield sql.all_of((column.known, f"({cells.low} - {slack} > {most})"))


def _unlike(shelf: ElementColumns, column: FactColumn) -> Iterator[str]:
    for each in column.element.unlike:
        other = _stated(shelf, each.element, column.subject)
        if other is None:
            continue
        if isinstance(other.cells, Text):
            too = f"COALESCE({other.cells.text} GLOB {sql.text(each.like)}, FALSE)"
        else:
            too = _among(other, each.other, each.other_codes)
        same = _same_day(column, other)
        yield sql.all_of((column.known, other.known, same, too, _among(column, each.values, each.codes)))


def _among(column: FactColumn, bounds: Range | None, codes: tuple[bool | str, ...] | None) -> str:
    from candidacy.cohort.columns.conditions import column_test

    if codes is not None:
        return sql.is_met(column_test(column, "one_of" if codes[1:] else "is", codes))
    if bounds is None:
        return sql.TRUE
    ends = (("at_least", bounds.low), ("at_most", bounds.high))
    return sql.all_of(each for op, limit in ends for each in _certainly(column, op, limit))


def _worked_out(shelf: ElementColumns, element: Element, subject: str) -> str:
    """`worked_out_doubt` in columns."""

    def outside(column: FactColumn) -> str:
        likely = element.likely
        ends = (("less_than", likely.low), ("more_than", likely.high)) if likely is not None else ()
        return sql.any_of(each for op, limit in ends for each in _certainly(column, op, limit))

    stated = shelf.frame.facts.get((element.name, subject))
    told = first_known(shelf.own(element.name, subject).columns, outside, sql.FALSE)
    if told == sql.FALSE:
        return told
    inputs = (_stated(shelf, name, subject) for name in inputs_of(element.name, catalogue()))
    checked = [column.checked for column in inputs if column is not None and column.checked]
    return sql.all_of(
        (told, sql.negate(stated.known) if stated is not None else sql.TRUE, *map(sql.negate, checked))
    )


def _stated(shelf: ElementColumns, name: str, subject: str) -> FactColumn | None:
    return shelf.frame.facts.get((name, "patient" if catalogue()[name].scope == "patient" else subject))


def _high(cells: Numbers) -> str:
    return cells.high or cells.low


def _same_day(one: FactColumn, other: FactColumn) -> str:
    return (
        sql.TRUE
        if one.day == other.day
        else f"({one.day or 'NULL'} IS NOT DISTINCT FROM {other.day or 'NULL'})"
    )


def _certainly(column: FactColumn, op: str, limit: float | None) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    if limit is not None:
        yield sql.is_met(column_test(column, op, (limit,)))


def _dangers(shelf: ElementColumns, dangers: Dangers, subject: str) -> Iterator[str]:
    from candidacy.cohort.columns.conditions import column_test

    for name in _dangerous("patient" if subject == "patient" else "disc"):
        stated = shelf.frame.facts.get((name, subject))
        places = dangers.told.get(name, ())
        told = shelf.own(name, subject).columns if catalogue()[name].derived or places else ()
        harmless = sql.any_of(tellings_at(shelf, name, place, subject).met for place in places)
        found = []
        for danger in catalogue()[name].danger:

            def certainly(column: FactColumn, danger: Danger = danger) -> str:
                return sql.is_met(column_test(column, danger.op, danger.limits))

            if stated is not None:
                perhaps = sql.negate(sql.is_not_met(column_test(stated, danger.op, danger.limits)))
                found.append(sql.all_of((stated.known, perhaps)))
            # what only a formula, or harmless details, tell is a danger where it certainly is one
            only = sql.negate(stated.known) if stated is not None else sql.TRUE
            only = sql.all_of((only, harmless)) if places else only
            found.append(sql.all_of((only, first_known(told, certainly, sql.FALSE))))
        is_danger = sql.any_of(found)
        if is_danger != sql.FALSE:
            yield sql.all_of((sql.negate(Weighing(shelf, dangers).sql(name, subject)), is_danger))


def _of_entries(
    shelf: ElementColumns, list_name: str, names: list[str], of: Callable[[RowView, str, str], bool]
) -> str:
    """Two-valued SQL: some entry of a list has it of some element, answered by the single-case code."""
    if not names:
        return sql.FALSE

    return _of_list(
        shelf,
        lambda view: any(of(view, name, entry) for entry in view.entries(list_name)[1] for name in names),
    )


def _of_list(shelf: ElementColumns, answer: Callable[[RowView], object]) -> str:
    """Two-valued SQL of what the single-case code answers of each combination of what it reads."""
    found = look_up(shelf.frame, shelf.rule_set, shelf.as_of, lambda view: bool(answer(view)))
    if not any(found.answers):
        return sql.FALSE
    (column,) = shelf.answers.join(found, [(each,) for each in found.answers], ["bool"])
    return f"COALESCE({column}, FALSE)"


def _conflicts_of(view: RowView, name: str, subject: str) -> bool:
    fact = view.fact(name, subject)
    return bool(fact.disputed) or told_apart(fact)


def _doubts_of(read: frozenset[str], view: RowView, name: str, subject: str) -> bool:
    if not catalogue()[name].statable:
        return bool(danger_left_open(view, catalogue()[name], subject))
    fact = view.as_written(name, subject)
    if fact is None:
        return False
    if danger_left_unknown(fact) or words_tell_gravely(catalogue()[name], fact):
        return True
    return bool(doubt_in(view, fact) if name in read else impossible(view, fact))


def _dangers_of(dangers: Dangers, view: RowView, name: str, subject: str) -> bool:
    element = catalogue()[name]
    stated = view.states(name, subject)
    worked_out = not stated and (element.derived or dangers.told_of(view, name, subject))
    fact = view.fact(name, subject) if worked_out else view.as_written(name, subject)
    if fact is None or fact.value is None or not dangers_of(element, fact, stated, view):
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
        (column,) = self._shelf.answers.join(found, [(said,) for said in found.answers], ["bool"])
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
