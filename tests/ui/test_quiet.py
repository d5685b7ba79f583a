"""What the server does while nobody waits: desks whose page is gone go, their work stays, and sweeps are few."""

import gc
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from streamlit import config

from candidacy.case.record import FactEntry
from candidacy.ui.desk import Desk
from candidacy.ui.kept import VARIABLE
from candidacy.ui.kept.keeper import keeper_of, restored
from candidacy.ui.own_library import at_rest, steady
from candidacy.ui.quiet import Sweeper, kept_quiet
from candidacy.ui.store import Store
from tests.ui.conftest import demo


def entered() -> Desk:
    desk = Desk()
    desk.open(demo("one-disc-candidate"), "opened")
    desk.document()
    return desk


@pytest.fixture
def kept_in(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    return tmp_path


def gone(_: str) -> bool:
    return False


def test_a_desk_whose_page_is_gone_is_let_go_when_the_disk_has_it_and_opens_again_from_there(kept_in) -> None:
    store, desk = Store(page_gone=0), entered()
    keeper = keeper_of(desk, "token", "browser")
    assert keeper is not None
    store.put(desk, "browser", token="token", session="one", saved=keeper.all_kept)
    store.tidy(gone)
    store.tidy(gone)
    assert store.copy_of("token", "browser") is not None, "not saved yet: it stays"
    keeper.keep()
    for _ in range(2):
        store.tidy(lambda session: session == "one")
    assert store.copy_of("token", "browser") is not None, "its page is open: it stays"
    store.tidy(gone)
    store.tidy(gone)
    assert store.copy_of("token", "browser") is None
    assert restored("token", "another browser")[0] is None
    back, told = restored("token", "browser")
    assert back is not None
    assert back.to_keep() == desk.to_keep()
    assert told == ""


def test_a_page_that_is_loaded_again_finds_its_desk_as_it_was() -> None:
    store = Store(page_gone=3600)
    token = store.put(entered(), "browser", session="one", saved=lambda: True)
    for _ in range(3):
        store.tidy(gone)
    assert store.copy_of(token, "browser") is not None


def test_where_nothing_is_kept_on_disk_nothing_that_was_entered_goes() -> None:
    store, desk = Store(page_gone=0, dozing=0), entered()
    before = desk.to_keep()
    token = store.put(desk, "browser", session="one")
    store.tidy(lambda _: True)
    for _ in range(3):
        store.tidy(gone)
    back = store.copy_of(token, "browser")
    assert back is not None
    assert back.to_keep() == before


def test_a_desk_that_was_let_go_is_kept_again_when_its_page_comes_back() -> None:
    store, desk = Store(page_gone=0), entered()
    token = store.put(desk, "browser", session="one", saved=lambda: True)
    assert store.touch(token)
    store.tidy(gone)
    store.tidy(gone)
    assert not store.touch(token)
    assert store.put(desk, "browser", token=token, session="one") == token
    assert store.touch(token)


def test_forgetting_drops_the_copies_that_reloads_left_and_nobody_elses() -> None:
    store, desk, other = Store(), entered(), entered()
    first = store.put(desk, "browser")
    second = store.put(store.copy_of(first, "browser"), "browser")
    theirs = store.put(other, "browser")
    store.forget(second)
    assert [store.copy_of(token, "browser") is not None for token in (first, second, theirs)] == [
        False,
        False,
        True,
    ]


def test_a_session_finds_its_desk_in_the_store_again(screen) -> None:
    from candidacy.ui.session import STORE

    page = screen()
    page.at.session_state["browser"], page.at.session_state["keeper"] = "b" * 32, None
    page.run()
    page.desk.write("patient", "age", lambda: FactEntry(value=50, unit="years"), "50")
    found = STORE.copy_of("test", "b" * 32)
    STORE.forget("test")
    assert found is not None
    assert STORE.copy_of("test", "b" * 32) is None
    page.run()
    found = STORE.copy_of("test", "b" * 32)
    STORE.forget("test")
    assert found is not None
    assert found.record.patient["age"].value == 50


def test_no_page_is_drawn_while_desks_are_laid_down() -> None:
    with steady(), ThreadPoolExecutor(1) as other:
        assert other.submit(lambda: at_rest().__enter__()).result(20) is False
    drawn = threading.Event()

    def draw() -> None:
        with steady():
            drawn.set()

    with at_rest() as rest:
        assert rest
        thread = threading.Thread(target=draw)
        thread.start()
        assert not drawn.wait(0.2)
    assert drawn.wait(20)
    thread.join()


def test_sweeps_come_with_work_and_are_the_rarer_the_longer_they_take() -> None:
    sweeper = Sweeper()
    assert sweeper.due < 1
    sweeper.sweep()
    assert sweeper.sweeps == 1
    end = time.process_time() + 0.1
    while time.process_time() < end:
        pass
    sweeper.seconds = 0.001
    soon = sweeper.due
    sweeper.seconds = 10.0
    assert 0 < sweeper.due < soon


@pytest.fixture
def left_out_again() -> Iterator[None]:
    """What the tests left out of every later sweep stays out of those behind this test."""
    yield
    gc.freeze()


@pytest.mark.usefixtures("left_out_again")
def test_the_server_sweeps_instead_of_the_toolkit_and_gives_it_back() -> None:
    config.set_option("runner.postScriptGC", True)  # as the toolkit starts
    before = gc.get_threshold(), config.get_option("runner.postScriptGC"), gc.get_freeze_count()
    with kept_quiet():
        assert config.get_option("runner.postScriptGC") is False
        assert gc.get_freeze_count() > before[2]
        assert gc.isenabled(), "young garbage is swept as ever"
        full = gc.get_stats()[2]["collections"]
        held = [[number] for number in range(300_000)]  # enough for a full sweep by the usual thresholds
        assert gc.get_stats()[2]["collections"] == full
        del held
    assert gc.get_threshold() == before[0]
    assert config.get_option("runner.postScriptGC") == before[1]
    assert gc.get_freeze_count() == 0
