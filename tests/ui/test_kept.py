"""The work of a session outlives the server, in a private folder, for the browser it belongs to."""

import json
import os
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.case.record import FactEntry
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.ui.desk import Desk
from candidacy.ui.kept import VARIABLE
from candidacy.ui.kept.desk_files import DeskFile, kept_desk
from candidacy.ui.kept.keeper import keeper_of, restored
from candidacy.ui.kept.plain import from_plain, to_plain
from candidacy.ui.report.desk import change, new_report, reports_of
from tests.ui.conftest import demo

HELD = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text() | st.dates(),
    lambda of: st.lists(of)
    | st.lists(of).map(tuple)
    | st.dictionaries(st.text() | st.integers() | st.tuples(st.text(), st.text()), of)
    | st.frozensets(st.text() | st.integers())
    | st.sets(st.tuples(st.text(), st.integers())),
    max_leaves=12,
)  # fmt: skip


@given(HELD)
def test_every_value_comes_back_from_json_as_it_was(value: object) -> None:
    back = from_plain(json.loads(json.dumps(to_plain(value))))
    assert back == value
    assert repr(to_plain(back)) == repr(to_plain(value))  # 1 and 1.0 and True are told apart


@pytest.mark.parametrize("data", [
    {"=": "os:system", "of": "true"}, {"=": "candidacy.ui.kept.plain:to_plain", "of": {}}, {"=": "builtins:eval", "of": "1"},
    {"=": "candidacy.nothing:Nothing", "of": {}}, {"=": "candidacy.__main__:main", "of": {}}, {"=": "candidacy.case.record:FactEntry", "of": {"value": 1, "more": 2}},
    {"=": "candidacy.ui.desk:Draft", "of": {"text": "only this"}},
])  # fmt: skip
def test_only_the_programs_own_data_is_made_from_a_file(data: object) -> None:
    with pytest.raises(ValueError, match=r"no class|not built|does not fit"):
        from_plain(data)


def worked() -> Desk:
    """A desk with everything that a session leaves on it."""
    desk = Desk()
    desk.open(demo("extruded-disc"), "opened for a test")
    desk.write("patient", "age", lambda: FactEntry(value=51, unit="years"), "51")
    desk.hold(("patient", "body_weight"), "heavy", (Problem(Code.BAD_SCALAR, "not a number", found="heavy"),))
    desk.trials["practice_baseline"] = {("body_mass_index_limit", "bmi_upper_limit"): 38}
    text = "MRI LUMBAR SPINE\nFINDINGS: L4-L5: 4 mm protrusion. L5-S1: normal."
    desk.kept |= {
        "reports": [new_report("report", text)],
        "missing-unlocked": {("patient", "age")},
        "study-days": {0: "2026-01-02"},
    }
    change(desk, 0, choices={("L4-L5", "displacement"): "accept"})
    return desk


def test_a_desk_comes_back_whole_with_its_history_and_what_is_parked(tmp_path: Path) -> None:
    desk = worked()
    before = desk.document().standing
    desk.open(demo("heavy-patient-for-conference"), "opened another")  # parks all of it
    desk.undo()
    DeskFile(tmp_path, "token", "browser", desk.work).save(desk.to_keep())
    state = kept_desk(tmp_path, "token", "browser")
    assert state is not None
    back = Desk.from_kept(state)
    assert back.to_keep() == desk.to_keep()
    assert back.document().standing == before
    assert reports_of(back)[0].choices == {("L4-L5", "displacement"): "accept"}
    back.undo()  # the refused text first
    assert not back.drafts
    back.redo()
    assert back.record == demo("heavy-patient-for-conference")


def test_steps_are_added_and_an_edit_after_an_undo_counts(tmp_path: Path) -> None:
    desk = Desk()
    files = DeskFile(tmp_path, "token", "browser", desk.work)

    def age(years: int) -> None:
        desk.write("patient", "age", lambda: FactEntry(value=years, unit="years"), str(years))
        files.save(desk.to_keep())
        assert kept_desk(tmp_path, "token", "browser") == desk.to_keep()

    for years in (40, 41, 42):
        age(years)
    assert len(list(tmp_path.iterdir())) == 2
    desk.undo()
    desk.undo()
    age(50)
    assert [s.label.split(" (")[0] for s in desk.steps][1:] == ["age: 40", "age: 50"]
    assert len(list(tmp_path.iterdir())) == 2


def test_files_are_private_and_name_no_secret_and_others_get_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "desks"
    desk = worked()
    DeskFile(folder, "the-token", "the-browser", desk.work).save(desk.to_keep())
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    for place in folder.iterdir():
        assert stat.S_IMODE(place.stat().st_mode) == 0o600
        assert b"the-token" not in place.read_bytes() + place.name.encode()
        assert b"the-browser" not in place.read_bytes()
    assert kept_desk(folder, "the-token", "another-browser") is None
    assert kept_desk(folder, "another-token", "the-browser") is None
    folder.chmod(0o777)
    assert kept_desk(folder, "the-token", "the-browser") is None


def test_forgetting_deletes_the_copies_of_this_work_and_no_other(tmp_path: Path) -> None:
    desk, other = worked(), worked()
    first = DeskFile(tmp_path, "one", "browser", desk.work)
    for files, of in ((first, desk), (DeskFile(tmp_path, "two", "browser", desk.work), desk.copy()),
                      (DeskFile(tmp_path, "three", "browser", other.work), other)):  # fmt: skip
        files.save(of.to_keep())
    first.forget()
    assert kept_desk(tmp_path, "one", "browser") is None
    assert kept_desk(tmp_path, "two", "browser") is None
    assert kept_desk(tmp_path, "three", "browser") == other.to_keep()


def test_a_disk_that_refuses_is_told_and_the_work_is_saved_when_it_takes_it(
    tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "desks"))
    desk = worked()
    keeper = keeper_of(desk, "token", "browser")
    assert keeper is not None
    (tmp_path / "desks").write_text("a file where the folder should be")
    keeper.keep()
    assert keeper.failed
    assert keeper.words.startswith("not saved: ")
    (tmp_path / "desks").unlink()
    keeper.keep()
    assert keeper.words.startswith("saved ")
    back, told = restored("token", "browser")
    assert back is not None
    assert back.to_keep() == desk.to_keep()
    assert told == "", "this server let it go itself"
    for place in (tmp_path / "desks").glob("*.desk"):
        os.utime(place, (0, 0))
    assert "started again" in restored("token", "browser")[1]


def test_a_desk_is_known_to_be_kept_only_as_the_disk_has_it(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    desk = worked()
    keeper = keeper_of(desk, "token", "browser")
    assert keeper is not None
    assert not keeper.all_kept()
    keeper.keep()
    assert keeper.all_kept()
    desk.kept["view"] = "Missing"
    assert not keeper.all_kept()
    keeper.keep()
    desk.undo()
    assert not keeper.all_kept()
    keeper.keep()
    assert keeper.all_kept()
    desk.kept["cohort-tables"] = object()
    assert not keeper.all_kept(), "tables of a cohort are in memory alone"
    del desk.kept["cohort-tables"]
    keeper.forget()
    assert not keeper.all_kept()


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b'{"schema": "other"}'])
def test_damaged_or_foreign_files_open_nothing_and_say_so(tmp_path: Path, monkeypatch, damage: bytes) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    desk = worked()
    DeskFile(tmp_path, "token", "browser", desk.work).save(desk.to_keep())
    (place,) = tmp_path.glob("*.desk")
    place.write_bytes(damage)
    back, told = restored("token", "browser")
    assert back is None
    assert "An empty referral is open" in told or "an empty referral is open" in told
    place.unlink()


def test_lost_steps_open_nothing(tmp_path: Path) -> None:
    desk = worked()
    DeskFile(tmp_path, "token", "browser", desk.work).save(desk.to_keep())
    (place,) = tmp_path.glob("*.steps")
    place.write_text("\n".join(place.read_text("utf-8").splitlines()[:-1]), "utf-8")
    with pytest.raises(ValueError, match="damaged"):
        kept_desk(tmp_path, "token", "browser")


def test_work_whose_elements_are_not_known_now_is_not_opened(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    desk = worked()
    DeskFile(tmp_path, "token", "browser", desk.work).save(desk.to_keep())
    monkeypatch.setattr(Desk, "case", lambda self, record=None: (_ for _ in ()).throw(
        CaseError([Problem(Code.BAD_SCALAR, "no such element", field="patient.house_score")])))  # fmt: skip
    back, told = restored("token", "browser")
    assert back is None
    assert "patient.house_score" in told
    assert "stays where it is" in told


@pytest.mark.parametrize("sign", ["\u2028", "\u2029", "\x85", "\x0b", "\x0c", "\x1c", "\r", "\n", "\ud800"])
def test_text_with_any_sign_of_a_new_line_comes_back(tmp_path: Path, sign: str) -> None:
    desk = Desk()
    desk.take(desk.record.model_copy(update={"note": "a note"}), f"one{sign}two")
    desk.hold(("patient", "age"), f"4{sign}2", (Problem(Code.BAD_SCALAR, "not a number", found=sign),))
    files = DeskFile(tmp_path, "token", "browser", desk.work)
    files.save(desk.to_keep())
    assert not files.why_not
    assert kept_desk(tmp_path, "token", "browser") == desk.to_keep()


def test_what_cannot_be_kept_is_told_and_not_called_saved(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    desk = worked()
    keeper = keeper_of(desk, "token", "browser")
    assert keeper is not None
    keeper.keep()
    assert keeper.words.startswith("saved ")
    desk.kept["strange"] = object()
    keeper.keep()
    assert keeper.failed
    assert keeper.words.startswith("not saved: something on this desk cannot be kept")
    del desk.kept["strange"]
    keeper.keep()
    assert keeper.words.startswith("saved ")
