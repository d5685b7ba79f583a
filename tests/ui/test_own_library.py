"""The screens with a library of one's own: its rule sets come first, its fields are in the form, what is wrong is told."""

from collections.abc import Iterator

import pytest

from candidacy.rules.in_use import own_library
from candidacy.rules.libraries import shipped
from candidacy.ui.desk import Desk
from candidacy.ui.own_library import open_named
from tests.rules.own import replaced_criterion, write

VERSION = shipped().criterion("body_mass_index_limit").version


@pytest.fixture(autouse=True)
def closed_again(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    yield
    monkeypatch.delenv("CANDIDACY_LIBRARY", raising=False)
    assert open_named() == ()
    assert own_library() is None


def test_own_sets_come_first_and_own_fields_are_filled_in_and_read(tmp_path, monkeypatch, screen):
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(write(tmp_path / "mine")))
    assert open_named() == ()
    page = screen().open("needle_access")
    assert page.desk.rules == "our_practice"
    assert (
        page.at.selectbox(key="kept-rules")
        .options[0]
        .startswith("Wide screen, extended as our_practice 0.1.0")
    )
    page.type("form-patient-needle_path_depth", "20 cm")
    assert page.desk.entry("patient", "needle_path_depth").value == 20
    (row,) = [c for c in page.desk.document().criteria if c.id == "needle_path_not_too_deep"]
    assert row.outcome == "fail"
    assert "Needle path" in page.text


def test_a_replacement_is_shown_on_the_page(tmp_path, monkeypatch, screen):
    folder = write(
        tmp_path / "mine",
        lambda f: replaced_criterion(f, {"version": VERSION, "reason": "Our table carries more."}),
    )
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(folder))
    assert open_named() == ()
    page = screen()
    page.desk.rules = "practice_baseline"
    assert f"replaces the shipped {VERSION}: Our table carries more." in page.run().text


@pytest.mark.parametrize(("place", "words"), [
    ("criterias", "nothing reads this"), ("mine", "there is no such folder"), ("unit", "furlong"),
])  # fmt: skip
def test_what_is_wrong_with_the_library_is_told_and_no_page_is_shown(
    tmp_path, monkeypatch, screen, place, words
):
    folder = tmp_path / "mine"
    if place == "criterias":
        write(folder, lambda f: f.update({"criterias/who/x.yaml": "id: x\n"}))
    elif place == "unit":
        write(folder, lambda f: f["elements/needle.yaml"]["elements"][0].update(unit="furlong"))
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(folder))
    page = screen()
    assert words in page.text
    assert "cannot be used, so no page is shown" in page.text
    assert str(folder) in page.text
    assert not page.at.selectbox
    write(folder)
    (folder / "criterias" / "who" / "x.yaml").unlink(missing_ok=True)
    assert "cannot be used" not in page.run().text  # mended and reloaded


def test_without_a_library_the_desk_is_as_it_was():
    assert Desk().rules == "practice_baseline"
