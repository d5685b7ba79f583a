"""Desk and store: nothing is lost, nothing is shared, nothing unsafe starts."""

import tomllib

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from streamlit import config

from candidacy.case.edit import with_fact
from candidacy.case.record import FactEntry
from candidacy.commands.ui import SAFE, command_line, ui
from candidacy.ui.desk import KEPT_CASES, KEPT_STEPS, Desk
from candidacy.ui.safety import unsafe_settings
from candidacy.ui.store import Store
from tests.ui.conftest import ROOT, demo

_EDITS = st.lists(
    st.tuples(st.sampled_from(["body_weight", "body_height"]), st.integers(60, 200)), max_size=12
)


def _write(desk: Desk, element: str, value: int) -> None:
    unit = "kg" if element == "body_weight" else "cm"
    desk.write("patient", element, lambda: FactEntry(value=value, unit=unit), str(value))


@given(_EDITS)
def test_undoing_everything_gives_the_start_and_redoing_gives_the_end(edits):
    desk = Desk()
    start = desk.record
    for element, value in edits:
        _write(desk, element, value)
    end = desk.record
    steps = len(desk.steps)
    for _ in range(steps):
        desk.undo()
    assert desk.record == start
    for _ in range(steps):
        desk.redo()
    assert desk.record == end


def test_an_edit_after_undo_drops_what_was_undone():
    desk = Desk()
    _write(desk, "body_weight", 70)
    _write(desk, "body_weight", 80)
    desk.undo()
    _write(desk, "body_weight", 90)
    desk.redo()
    assert desk.record.patient["body_weight"].value == 90
    assert len(desk.steps) == 3


def test_history_is_bounded():
    desk = Desk()
    for number in range(KEPT_STEPS + 20):
        desk.take(
            with_fact(desk.record, "patient", "body_weight", FactEntry(value=60 + number % 50, unit="kg")),
            str(number),
        )
    assert len(desk.steps) == KEPT_STEPS
    assert desk.record.patient["body_weight"].value == 60 + (KEPT_STEPS + 19) % 50


def test_entering_the_same_value_again_keeps_its_words_and_source():
    desk = Desk()
    entry = FactEntry(value=70, unit="kg", words="weighs 70 kg")
    desk.take(with_fact(desk.record, "patient", "body_weight", entry), "read")
    _write(desk, "body_weight", 70)
    assert desk.record.patient["body_weight"] == entry


def test_a_reload_finds_a_copy_and_two_copies_never_mix():
    store = Store()
    desk = Desk()
    _write(desk, "body_weight", 70)
    token = store.put(desk, "browser one")
    first, second = store.copy_of(token, "browser one"), store.copy_of(token, "browser one")
    _write(first, "body_weight", 80)
    assert [d.record.patient["body_weight"].value for d in (desk, first, second)] == [70, 80, 70]


def test_an_address_opens_nothing_in_another_browser():
    store = Store()
    token = store.put(Desk(), "browser one")
    assert store.copy_of(token, "browser two") is None
    assert store.copy_of(token, "") is None
    assert store.copy_of("guessed", "browser one") is None
    nameless = store.put(Desk(), "")
    assert store.copy_of(nameless, "") is None


def test_desks_expire_are_bounded_and_can_be_forgotten():
    idle = Store(max_idle=-1)
    assert idle.copy_of(idle.put(Desk(), "b"), "b") is None
    small = Store(max_desks=2)
    tokens = [small.put(Desk(), "b") for _ in range(3)]
    assert [small.copy_of(t, "b") is not None for t in tokens] == [False, True, True]
    small.forget(tokens[2])
    assert small.copy_of(tokens[2], "b") is None
    assert len({*tokens}) == 3


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("server.address", "0.0.0.0"),
        ("server.address", None),
        ("browser.gatherUsageStats", True),
        ("server.enableXsrfProtection", False),
    ],
)
def test_the_pages_refuse_unsafe_settings(name, value):
    before = config.get_option(name)
    assert unsafe_settings() == []
    config.set_option(name, value)
    try:
        assert unsafe_settings() != []
    finally:
        config.set_option(name, before)


def test_the_command_and_the_settings_file_say_the_same():
    file = tomllib.loads((ROOT / "candidacy" / "ui" / ".streamlit" / "config.toml").read_text("utf-8"))
    for name, value in SAFE.items():
        section, key = name.split(".")
        if key in file.get(section, {}):
            assert str(file[section][key]).lower() == value.lower(), name
    line = command_line(8600, browser=False)
    assert "--server.address=127.0.0.1" in line
    assert "--browser.gatherUsageStats=false" in line
    assert CliRunner().invoke(ui, ["--port", "80"]).exit_code == 2


def test_the_screens_import_no_evaluation_and_no_engine():
    # What decides lives in candidacy; the screens only hand over and show.
    forbidden = (
        "candidacy.assessment.evaluate",
        "candidacy.engine",
        "candidacy.derive",
        "candidacy.assessment.view",
        "candidacy.foundation.truth",
        "durable",
    )
    for file in (ROOT / "candidacy" / "ui").rglob("*.py"):
        text = file.read_text("utf-8")
        assert not any(f"import {name}" in text or f"from {name}" in text for name in forbidden), file.name


def test_a_demonstration_case_keeps_its_content_on_the_desk():
    desk = Desk()
    desk.open(demo("two-discs-candidate"), "opened")
    assert desk.copy().record == demo("two-discs-candidate")


def test_an_edit_reads_and_assesses_the_new_record_once_and_a_rerun_nothing(screen, monkeypatch):
    from candidacy.ui import desk as module

    count = {"case_from_record": 0, "assess": 0, "build_document": 0}
    for name in count:
        original = getattr(module, name)

        def counted(*given, _name=name, _original=original):
            count[_name] += 1
            return _original(*given)

        monkeypatch.setattr(module, name, counted)
    page = screen(record=demo("two-discs-candidate"))
    for value in (101, 102):
        count.update(dict.fromkeys(count, 0))
        _write(page.desk, "body_weight", value)
        page.run()
        assert count == {"case_from_record": 1, "assess": 1, "build_document": 1}
        page.run()
        assert count == {"case_from_record": 1, "assess": 1, "build_document": 1}
    page.desk.undo()
    page.run()
    assert count == {"case_from_record": 1, "assess": 1, "build_document": 1}


def test_the_cases_kept_are_those_of_the_records_asked_for_and_few():
    desk = Desk()
    for value in range(60, 60 + 3 * KEPT_CASES):
        _write(desk, "body_weight", value)
        assert desk.case().record is desk.record
        before = desk.steps[desk.at - 1].record
        assert desk.case(before).record is before
    assert len(desk._cases) == KEPT_CASES


def _trial(desk: Desk) -> None:
    desk.trials[desk.rules] = {("body_mass_index_limit", "bmi_upper_limit"): 60}


def test_reports_a_trial_and_refused_texts_belong_to_one_referral_and_come_back_with_it():
    desk = Desk()
    _write(desk, "body_weight", 70)
    desk.kept.update({"reports": ["a report"], "report-text": "half", "source": "clinic-1", "role": "nurse"})
    _trial(desk)
    desk.hold(("patient", "body_height"), "abc", ())
    desk.open(demo("one-disc-candidate"), "opened another")
    label = desk.steps[desk.at].label
    for words in ("1 report", "an unread pasted text", "1 local trial", "1 refused text", "parked with"):
        assert words in label
    assert desk.trials == {}
    assert desk.drafts == {}
    assert desk.kept == {"role": "nurse"}
    assert not desk.rule_set().trial
    desk.kept["reports"] = ["of the other"]
    desk.undo()
    assert desk.kept["reports"] == ["a report"]
    assert desk.kept["source"] == "clinic-1"
    assert desk.drafts[("patient", "body_height")].text == "abc"
    assert desk.rule_set().trial
    desk.redo()
    assert desk.kept["reports"] == ["of the other"]
    assert not desk.rule_set().trial


def test_an_empty_referral_after_an_empty_one_with_a_report_is_another_referral():
    desk = Desk()
    desk.open(desk.record, "empty again")
    assert desk.at == 0, "nothing was there to be parked"
    desk.kept["reports"] = ["a report"]
    desk.open(desk.record, "the next patient")
    assert "reports" not in desk.kept
    desk.undo()
    assert desk.kept["reports"] == ["a report"]


def test_a_copy_keeps_what_is_parked_apart():
    desk = Desk()
    desk.kept["reports"] = ["a report"]
    desk.open(demo("one-disc-candidate"), "another")
    copy = desk.copy()
    copy.undo()
    assert copy.kept["reports"] == ["a report"]
    assert "reports" not in desk.kept
    desk.undo()
    assert desk.kept["reports"] == ["a report"]


def test_undo_drops_the_refused_text_first_the_last_one_before_the_others():
    desk = Desk()
    _write(desk, "body_weight", 70)
    _write(desk, "body_weight", 900)
    desk.hold(("patient", "body_height"), "abc", ())
    _write(desk, "body_weight", 901)
    assert list(desk.drafts) == [("patient", "body_height"), ("patient", "body_weight")]
    for left in (1, 0):
        desk.undo()
        assert len(desk.drafts) == left
        assert desk.record.patient["body_weight"].value == 70
    desk.undo()
    assert desk.record.patient == {}
