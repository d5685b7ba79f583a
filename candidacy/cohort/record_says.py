"""What the record itself says, in columns: facts that contradict each other, and dangers that no criterion reads.

The single-case counterparts are `candidacy.relate.conflicts` and `candidacy.record_grounds`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from candidacy.case.catalogue import LISTS, catalogue
from candidacy.cohort import sqltext as sql
from candidacy.cohort.lookups import RowView, look_up
from candidacy.cohort.shelf import Shelf
from candidacy.record_grounds import Dangers, dangers_of
from candidacy.relate import relations_of, told_apart


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
                watched = [n for n in _dangerous(LISTS[name]) if not dangers.decides(n)]
                danger.append(_of_entries(shelf, name, watched, _dangers_of))
        found[level] = RecordSays(sql.any_of(conflict), sql.any_of(danger))
    return found


def _conflicting_names(shelf: Shelf, scope: str) -> list[str]:
    return [n for n in relations_of(shelf.rule_set).conflicting if catalogue()[n].scope == scope]


def _dangerous(scope: str) -> list[str]:
    return [element.name for element in catalogue().of_scope(scope) if element.danger]


def _conflicts(shelf: Shelf, subject: str) -> Iterator[str]:
    for name in _conflicting_names(shelf, "patient" if subject == "patient" else "disc"):
        yield shelf.own(name, subject).conflict


def _dangers(shelf: Shelf, dangers: Dangers, subject: str) -> Iterator[str]:
    from candidacy.cohort.conditions import column_test

    for name in _dangerous("patient" if subject == "patient" else "disc"):
        column = shelf.frame.facts.get((name, subject))
        if column is None or dangers.decides(name):
            continue
        for danger in catalogue()[name].danger:
            test = column_test(column, danger.op, danger.limits)
            yield sql.all_of((column.known, sql.negate(sql.is_not_met(test))))


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


def _dangers_of(view: RowView, name: str, subject: str) -> bool:
    fact = view.as_written(name, subject)
    return fact is not None and fact.value is not None and bool(dangers_of(catalogue()[name], fact))
