"""The screens with a library of one's own: its rule sets come first, its fields are in the form, what is wrong is told."""

from collections.abc import Iterator

import pytest

from candidacy.foundation.errors import RuleError
from candidacy.rules.in_use import own_library
from candidacy.rules.libraries import shipped
from candidacy.ui import own_library as own
from candidacy.ui.desk import Desk
from candidacy.ui.intake.plan import page_of
from candidacy.ui.own_library import SHIPPED, choose, open_named, steady
from tests.rules.own import replaced_criterion, write

VERSION = shipped().criterion("body_mass_index_limit").version


@pytest.fixture(autouse=True)
def closed_again(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    yield
    monkeypatch.delenv("CANDIDACY_LIBRARY", raising=False)
    choose(SHIPPED)
    own._chosen = None
    own._added.clear()
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
    page.type("form-patient-needle_path_depth", "200")
    assert page.desk.entry("patient", "needle_path_depth").value == 200
    (row,) = [c for c in page.desk.document().criteria if c.id == "needle_path_not_too_deep"]
    assert row.outcome == "fail"
    assert "Needle path" in page.text


@pytest.mark.parametrize(
    ("teller", "page"),
    [("imaging", "imaging"), ("patient", "patient"), ("laboratory", "health"), ("coordinator", "plan")],
)
def test_an_own_fact_is_asked_where_its_teller_is_the_source_of_the_page(teller, page, tmp_path, monkeypatch):
    # what imaging tells had been asked on the last page, where the source is a discography record
    folder = write(
        tmp_path / "mine", lambda f: f["elements/needle.yaml"]["elements"][0].update(supplied_by=teller)
    )
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(folder))
    assert open_named() == ()
    assert page_of("needle_path_depth").id == page


def test_a_fresh_desk_begins_with_the_set_that_extends_the_usual_one(tmp_path, monkeypatch):
    def two(files):
        ours = files["sets/our_practice/ruleset.yaml"]
        files["sets/our_usual/ruleset.yaml"] = ours | {"id": "our_usual", "extends": "practice_baseline"}

    monkeypatch.setenv("CANDIDACY_LIBRARY", str(write(tmp_path / "mine", two)))
    assert open_named() == ()
    assert Desk().rules == "our_usual"


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


def test_libraries_are_listed_and_opened_and_a_broken_one_leaves_the_former_in_use(
    tmp_path, monkeypatch, screen
):
    first, second = write(tmp_path / "mine"), write(tmp_path / "yours")
    broken = write(
        tmp_path / "broken", lambda f: f["elements/needle.yaml"]["elements"][0].update(unit="furlong")
    )
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(first))
    monkeypatch.setenv("CANDIDACY_LIBRARIES", f"{first}:{second}")
    open_named()
    page = screen("rule_sets.rule_sets")
    assert str(first) in page.text
    assert "in use" in page.text
    assert " criteria, " in page.text
    page.press("library-use-2")
    assert own_library().folder == second
    assert "The library of rules in use was changed" in page.text
    page.type("library-folder", str(broken)).press("library-open")
    assert "furlong" in page.text
    assert own_library().folder == second
    page.press("library-use-0")
    assert own_library() is None
    assert "It has no rule set our_practice; another one is chosen." in page.text
    assert page.desk.rules == "practice_baseline"


def test_a_referral_that_the_rules_do_not_know_is_neither_read_nor_lost(tmp_path, monkeypatch, screen):
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(write(tmp_path / "mine")))
    open_named()
    page = screen().open("needle_access").type("form-patient-needle_path_depth", "200")
    choose(SHIPPED)
    assert "facts that the rules in use do not know" in page.run().text
    assert "needle_path_depth" in page.text
    assert not page.has("selectbox", "kept-rules")
    page.press("library-use-1")
    assert page.desk.entry("patient", "needle_path_depth").value == 200
    assert page.has("selectbox", "kept-rules")


def test_text_that_waits_in_a_field_goes_with_its_field_and_that_is_told(tmp_path, monkeypatch, screen):
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(write(tmp_path / "mine")))
    open_named()
    page = screen().open("needle_access").type("form-patient-needle_path_depth", "deep")
    assert page.desk.drafts
    choose(SHIPPED)
    assert "dropped with its fields: needle_path_depth." in page.run().text
    assert not page.desk.drafts


def test_the_rules_are_not_changed_while_something_is_read(tmp_path):
    with steady(), pytest.raises(RuleError, match="being read just now"):
        choose(str(write(tmp_path / "mine")), patience=0.05)
    assert own_library() is None
