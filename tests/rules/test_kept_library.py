"""A library read through kept files says what it says without them, and sees every change."""

import shutil
from pathlib import Path

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.foundation import parsed
from candidacy.foundation.cache_folder import VARIABLE
from candidacy.foundation.errors import RuleError
from candidacy.foundation.parsed import Keep, keep_of
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules import own_relations, rule_files
from candidacy.rules.library import Library
from candidacy.rules.relations import RelationFile


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A library of one's own, a copy of the shipped one, with a cache folder of this test."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "cache"))
    folder = tmp_path / "own"
    shutil.copytree(rulesets_folder(), folder)
    return folder


@pytest.fixture
def start(monkeypatch: pytest.MonkeyPatch):
    """Opens a library as a new process does; afterwards what it read is saved."""
    opened: list[Keep] = []

    def run(folder: Path) -> Library:
        for keep in opened:
            keep.save()
        opened.append(keep_of.__wrapped__(folder))
        monkeypatch.setattr(rule_files, "keep_of", lambda _: opened[-1])
        return Library(folder)

    return run


def _replace(path: Path, old: str, new: str) -> int:
    """Replace a word in a file; returns the line it stands on."""
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    return text[: text.index(old)].count("\n") + 1


def test_rule_sets_have_the_same_digest_from_parsed_and_from_kept_files(own, start, monkeypatch):
    names = Library(own).rule_set_names()
    first = start(own)
    digests = [first.rule_set(name).digest for name in names]
    second = start(own)
    monkeypatch.setattr(parsed, "parse", None)  # nothing is parsed any more
    assert [second.rule_set(name).digest for name in names] == digests
    assert second.relations() == first.relations()


def test_a_changed_criterion_is_seen_and_its_fault_named_with_its_line(own, start):
    start(own).rule_set("practice_baseline")
    path = next(own.glob("criteria/*/body_mass_index_limit.yaml"))
    before = start(own).criterion("body_mass_index_limit").title
    _replace(path, before, "Another title")
    assert start(own).criterion("body_mass_index_limit").title == "Another title"
    line = _replace(path, "title:", "titel:")
    for _ in range(2):
        with pytest.raises(RuleError) as told:
            start(own).rule_set("practice_baseline")
        found = [p for p in told.value.problems if p.code.value == "E201"]
        assert [(p.file, p.line) for p in found] == [(str(path), line)]


def test_a_relation_that_no_longer_fits_is_told_although_the_old_one_did(own, start):
    start(own).relations()
    path = sorted(own.glob("relations/*.yaml"))[0]
    name = next(iter(start(own).load(path, RelationFile).relations)).element
    line = _replace(path, f"element: {name}", "element: no_such_element")
    for _ in range(2):
        with pytest.raises(RuleError) as told:
            start(own).relations()
        assert [(p.code.value, p.file, p.line) for p in told.value.problems] == [("E204", str(path), line)]


def test_relations_are_checked_again_where_the_catalogue_is_another(own, start, monkeypatch):
    start(own).relations()
    library = start(own)
    checked = []
    monkeypatch.setattr(own_relations, "relation_misfits", lambda relation: checked.append(relation) or [])
    library.relations()
    assert checked == []
    shelf = catalogue()
    monkeypatch.setattr(shelf, "mark", "another")
    start(own).relations()
    assert checked


def test_a_new_and_a_removed_file_are_seen(own, start):
    start(own).rule_set("practice_baseline")
    source = next(own.glob("criteria/*/body_mass_index_limit.yaml"))
    copy = source.with_name("body_mass_index_copy.yaml")
    copy.write_text(source.read_text().replace("id: body_mass_index_limit", "id: body_mass_index_copy"))
    source.unlink()
    library = start(own)
    assert library.criterion("body_mass_index_copy").id == "body_mass_index_copy"
    with pytest.raises(RuleError, match="no such criterion"):
        library.criterion("body_mass_index_limit")
