"""Course records in a store: bound to their referral, versions kept, due visits told, and part of all that keeps a store."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from candidacy.course.load import Course, course_from_mapping
from candidacy.foundation.errors import Code, StoreError
from candidacy.records.backup import back_up, restore
from candidacy.records.export import check_export
from candidacy.records.store import Store, open_store
from tests.records.kept import Minutes, record

R = "ref-1"


def course(reference: str = R, visits: int = 0, note: str = "") -> Course:
    done = [("weeks_2", "2026-03-16"), ("months_1", "2026-04-02")][:visits]
    return course_from_mapping(
        {
            "schema_version": "1",
            "case": reference,
            "invented": True,
            "injections": [{"id": 1, "date": "2026-03-02", "discs": [{"level": "L4-L5", "material": "donated disc tissue"}]}],
            "visits": [{"date": on, "kind": "planned", "of": name, "answers": {"pain_average_week": 4}} for name, on in done],
            "note": note,
        }
    )  # fmt: skip


def code(act: object, *given: object, **more: object) -> Code:
    with pytest.raises(StoreError) as caught:
        act(*given, **more)  # type: ignore[operator]
    return caught.value.problems[0].code


def test_a_course_is_kept_in_versions_beside_its_referral(store: Store) -> None:
    assert code(store.save_course, R, course(), expected_version=0) is Code.UNKNOWN_REFERRAL
    store.save_case(R, record(), expected_version=0)
    assert code(store.load_course, R) is Code.UNKNOWN_REFERRAL
    first = store.save_course(R, course(), expected_version=0)
    assert (first.version, first.case_version) == (1, 1)
    assert code(store.save_course, R, course("ref-2"), expected_version=1) is Code.WRONG_TYPE
    assert (
        code(store.save_course, R, course(visits=1), expected_version=0, reason="x") is Code.CHANGED_MEANWHILE
    )
    assert code(store.save_course, R, course(visits=1), expected_version=1) is Code.MISSING_KEY
    second = store.save_course(R, course(visits=1), expected_version=1, reason="two weeks")
    assert (
        store.save_course(R, course(visits=1), expected_version=2).seq == second.seq
    )  # the same enters nothing
    assert store.load_course(R).record == course(visits=1).record
    assert store.load_course(R, 1).record == course().record
    assert [each.reason for each in store.course_versions(R)] == ["", "two weeks"]
    assert code(store.load_course, R, 3) is Code.UNKNOWN_REFERRAL
    read = [each for each in store.history(R) if each.entry.what == "read"]
    assert len(read) >= 3  # every reading is an entry
    assert store.verify().sound


def test_due_and_overdue_visits_of_open_referrals_are_derived(store: Store) -> None:
    for reference in (R, "ref-2", "ref-3"):
        store.save_case(reference, record(reference), expected_version=0)
    store.save_course(R, course(visits=2), expected_version=0)
    store.save_course("ref-2", course("ref-2"), expected_version=0)
    size = store.head().size
    found = store.due_visits(date(2026, 3, 20))
    assert {(row.case, row.visit, row.state) for row in found.visits} == {
        ("ref-1", "call", "overdue"), ("ref-2", "call", "overdue"), ("ref-2", "weeks_2", "due"),
    }  # fmt: skip
    assert [reference for reference, _ in found.notices] == [R]  # its visit of April lies in the future
    assert store.head().size == size + 2  # one reading for each course that was read
    store.set_work("ref-2", state="closed")
    assert {row.case for row in store.due_visits(date(2026, 3, 20)).visits} == {R}


def test_export_copy_rebuild_and_removal_take_the_course_along(file_store: Store, folder: Path) -> None:
    file_store.save_case(R, record(), expected_version=0)
    file_store.save_course(R, course(visits=1, note="a word nobody else writes"), expected_version=0)
    exported = file_store.export(R)
    assert check_export(exported) == ()
    assert "a word nobody else writes" in str(exported)
    file_store.rebuild("to see")
    assert file_store.load_course(R).record.note == "a word nobody else writes"
    back_up(file_store, folder / "copy.sqlite")
    restore(folder / "copy.sqlite", folder / "again.sqlite", "ana-1", clock=Minutes())
    with open_store(folder / "again.sqlite", "ana-1", clock=Minutes()) as again:
        assert again.load_course(R).record == course(visits=1, note="a word nobody else writes").record
        assert again.verify().sound
    later = date(2026, 11, 2)
    file_store._clock.at += timedelta(days=400)  # type: ignore[attr-defined]
    file_store.remove(R, rule="ten years", keep_until_after=later)
    assert code(file_store.load_course, R) is Code.UNKNOWN_REFERRAL
    assert file_store.due_visits(date(2026, 3, 20)).visits == ()
    assert file_store.verify().sound
