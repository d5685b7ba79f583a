"""Parsed files are kept only to save time: whatever happens to what is kept, answers stay those of the files."""

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from candidacy.foundation import parsed
from candidacy.foundation.cache_folder import VARIABLE, cache_folder, keep_private
from candidacy.foundation.errors import InputError
from candidacy.foundation.files import read_tree
from candidacy.foundation.parsed import Keep, ParsedFile, keep_of, packed
from candidacy.foundation.private_files import private_content
from candidacy.foundation.shipped import rulesets_folder

ROOT = Path(__file__).resolve().parents[2]
needs_owners = pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system has no owners of files")


@pytest.fixture
def library(tmp_path: Path) -> Path:
    folder = tmp_path / "library"
    folder.mkdir()
    (folder / "one.yaml").write_text("a: 1\nb: [x, 2.5, true, ~]\n")
    return folder


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of this test's own, in use."""
    folder = tmp_path / "cache"
    monkeypatch.setenv(VARIABLE, str(folder))
    return folder


def opened(folder: Path) -> Keep:
    """The keep as a new process opens it."""
    return keep_of.__wrapped__(folder)


def kept(folder: Path) -> Path:
    """The file a keep was saved in, after one run that read the library."""
    keep = opened(folder)
    keep.read(folder / "one.yaml")
    keep.save()
    assert keep.place is not None
    assert keep.place.is_file()
    return keep.place


def was_parsed(monkeypatch: pytest.MonkeyPatch, folder: Path) -> bool:
    """Whether a new process parses the library's file, and does not merely take what was kept."""
    calls = []
    monkeypatch.setattr(parsed, "parse", lambda *given: calls.append(given) or _parse(*given))
    opened(folder).read(folder / "one.yaml")
    return bool(calls)


_parse = parsed.parse


def test_what_was_kept_equals_what_is_parsed_for_every_shipped_file(cache):
    folder = rulesets_folder()
    files = sorted(folder.rglob("*.yaml"))
    first = opened(folder)
    for path in files:
        first.read(path)
    first.save()
    second = opened(folder)
    assert len(files) > 300
    for path in files:
        found, wanted = second.read(path), read_tree(path)
        assert json.dumps(found.plain()) == json.dumps(wanted.plain())  # also 1 against 1.0 and true
        assert found.tree == wanted


def test_a_second_process_does_not_parse_again(cache, library, monkeypatch):
    kept(library)
    assert not was_parsed(monkeypatch, library)


def test_a_change_is_seen_at_once_also_with_the_same_size_and_times(cache, library, monkeypatch):
    kept(library)
    path = library / "one.yaml"
    before = path.stat()
    path.write_text(path.read_text().replace("a: 1", "a: 2"))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    assert path.stat().st_mtime_ns == before.st_mtime_ns
    assert opened(library).read(path).plain()["a"] == 2


def test_a_keep_sees_a_change_while_it_is_open(cache, library):
    keep, path = opened(library), library / "one.yaml"
    assert keep.read(path).plain()["a"] == 1
    path.write_text("a: 3\n")
    assert keep.read(path).plain() == {"a": 3}


def test_places_are_those_of_the_bytes_that_were_read(cache, library):
    kept(library)
    path = library / "one.yaml"
    found = opened(library).read(path)
    path.write_text("# moved\n\n\na: 1\nb: []\n")
    assert found.at(("b", 1)).line == 2


def test_a_file_with_a_problem_names_its_line_each_time(cache, library):
    path = library / "one.yaml"
    path.write_text("a: 1\na: 2\n")
    for _ in range(2):
        keep = opened(library)
        with pytest.raises(InputError) as told:
            keep.read(path)
        keep.save()
        assert (told.value.problems[0].code.value, told.value.problems[0].line) == ("E105", 2)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda content: b"",
        lambda content: content[:-1],
        lambda content: content[: len(content) // 2],
        lambda content: content.replace(b'"a":1', b'"a":7'),
        lambda content: b"another format\n" + content,
        lambda content: os.urandom(200),
        lambda content: packed({"one.yaml": ("no such mark", b'{"a":7}')}),
    ],
)
def test_spoilt_content_is_passed_over_and_written_anew(cache, library, monkeypatch, spoil):
    place = kept(library)
    whole = place.read_bytes()
    place.write_bytes(spoil(whole))
    keep = opened(library)
    assert keep.read(library / "one.yaml").plain()["a"] == 1
    keep.save()
    assert place.read_bytes() == whole


def test_content_of_the_right_digest_that_is_no_keep_is_passed_over(cache, library):
    import hashlib

    place = kept(library)
    head = place.read_bytes().split(b"\n")[0] + b"\n"
    for body in (b"[]\n", b'{"one.yaml": 5}\n', b"no json\n", b'{"one.yaml": ["x", "a", 1]}\n'):
        place.write_bytes(head + hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
        assert opened(library).read(library / "one.yaml").plain()["a"] == 1


def test_another_program_finds_nothing_it_could_use(cache, library, monkeypatch):
    kept(library)
    monkeypatch.setattr(parsed, "_program", lambda: b"another")
    assert was_parsed(monkeypatch, library)


def test_what_was_worked_out_holds_for_the_same_files_and_program_only(cache, library, monkeypatch):
    keep = opened(library)
    keep.remember("answer", ["m1", "m2"], "yes")
    keep.save()
    assert opened(library).remembered("answer", ["m1", "m2"]) == "yes"
    assert opened(library).remembered("answer", ["m1", "m3"]) == ""
    assert opened(library).remembered("answer", ["m1"]) == ""
    assert opened(library).remembered("other", ["m1", "m2"]) == ""
    keep.remember("answer", ["m1", ""], "of what has no mark")
    assert keep.remembered("answer", ["m1", ""]) == ""
    assert keep.remembered("answer", ["m1", "m2"]) == "yes"
    monkeypatch.setattr(parsed, "_code", lambda: b"another")
    assert opened(library).remembered("answer", ["m1", "m2"]) == ""


def test_what_is_kept_is_private_and_small(cache, library):
    place = kept(library)
    if hasattr(os, "geteuid"):
        assert stat.S_IMODE(cache.stat().st_mode) == 0o700
        assert stat.S_IMODE(place.stat().st_mode) == 0o600
    keep = opened(library)
    (library / "two.yaml").write_text("c: 1\n")
    keep.read(library / "two.yaml")
    (library / "one.yaml").unlink()
    keep.save()
    assert b"one.yaml" not in place.read_bytes()
    assert [path.name for path in cache.iterdir()] == [place.name]


@needs_owners
def test_a_linked_or_open_folder_is_neither_read_nor_written(cache, library, monkeypatch, tmp_path):
    place = kept(library)
    content = place.read_bytes()
    cache.chmod(0o777)
    assert private_content(place, 10**6) is None
    assert not keep_private(place, b"other")
    assert place.read_bytes() == content
    assert was_parsed(monkeypatch, library)
    cache.chmod(0o700)
    assert private_content(place, 10**6) == content
    link = tmp_path / "link"
    link.symlink_to(cache)
    assert private_content(link / place.name, 10**6) is None
    assert not keep_private(link / place.name, b"other")


@needs_owners
def test_a_linked_or_open_file_is_not_read(cache, library, tmp_path):
    place = kept(library)
    place.chmod(0o622)
    assert private_content(place, 10**6) is None
    place.chmod(0o600)
    elsewhere = tmp_path / "elsewhere"
    os.replace(place, elsewhere)
    place.symlink_to(elsewhere)
    assert private_content(place, 10**6) is None
    assert opened(library).read(library / "one.yaml").plain()["a"] == 1
    kept(library)  # a link is replaced, not followed
    assert not place.is_symlink()


@needs_owners
def test_what_belongs_to_someone_else_is_not_read(cache, library, monkeypatch):
    place = kept(library)
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert private_content(place, 10**6) is None
    assert not keep_private(place, b"other")


def test_a_pipe_or_a_folder_in_its_place_does_no_harm(cache, library):
    place = kept(library)
    place.unlink()
    if hasattr(os, "mkfifo"):
        os.mkfifo(place, 0o600)
        assert private_content(place, 10**6) is None
        place.unlink()
    place.mkdir()
    keep = opened(library)
    assert keep.read(library / "one.yaml").plain()["a"] == 1
    keep.save()
    assert place.is_dir()
    assert list(cache.glob(".new-*")) == []


def test_a_cache_that_cannot_be_written_costs_nothing_but_time(tmp_path, library, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "file" / "below"))
    keep = opened(library)
    assert keep.read(library / "one.yaml").plain()["a"] == 1
    keep.save()


def test_where_it_is_kept(monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv(VARIABLE, "off")
    assert cache_folder() is None
    monkeypatch.setenv(VARIABLE, "relative/folder")
    assert cache_folder() is None
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    assert cache_folder() == tmp_path
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "candidacy"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert cache_folder() == tmp_path / ".cache" / "candidacy"


def test_nothing_is_kept_where_it_is_switched_off(monkeypatch, library):
    monkeypatch.setenv(VARIABLE, "off")
    keep = opened(library)
    assert keep.place is None
    assert isinstance(keep.read(library / "one.yaml"), ParsedFile)
    keep.save()


def test_a_keep_beside_shipped_rules_is_read_and_never_believed_against_them(cache, library, monkeypatch):
    monkeypatch.setattr(parsed, "_in_package", lambda folder: True)
    keep = opened(library)
    keep.read(library / "one.yaml")
    (library / parsed.SHIPPED_NAME).write_bytes(packed(keep._entries))
    assert not was_parsed(monkeypatch, library)
    (library / "one.yaml").write_text("a: 9\n")
    assert opened(library).read(library / "one.yaml").plain() == {"a": 9}


def test_a_keep_that_came_with_somebody_elses_folder_is_not_believed(library, monkeypatch):
    monkeypatch.setenv(VARIABLE, "off")
    file = library / "one.yaml"
    as_written = opened(library).read(file)
    (library / parsed.SHIPPED_NAME).write_bytes(packed({"one.yaml": (as_written.mark, b'{"a": 99}')}))
    assert opened(library).read(file).plain() == as_written.plain() != {"a": 99}
    monkeypatch.setattr(parsed, "_in_package", lambda folder: True)
    assert opened(library).read(file).plain() == {
        "a": 99
    }  # such a keep would be believed of a shipped folder


def _answer(cache: str) -> subprocess.Popen[bytes]:
    command = [
        sys.executable,
        "-m",
        "candidacy",
        "assess",
        "demo_cases/two-discs-candidate.yaml",
        "--format",
        "json",
    ]
    environment = {**os.environ, VARIABLE: cache, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(command, stdout=subprocess.PIPE, env=environment, cwd=ROOT)


def test_answers_are_the_same_without_with_and_while_filling_the_cache(tmp_path):
    cache = str(tmp_path / "cache")
    runs = [_answer("off"), *(_answer(cache) for _ in range(3))]  # three start at once on an empty cache
    answers = [run.communicate()[0] for run in runs]
    later = _answer(cache)
    answers.append(later.communicate()[0])
    assert [run.returncode for run in (*runs, later)] == [0] * 5
    assert answers[0]
    assert set(answers) == {answers[0]}
    assert sorted(path.suffix for path in Path(cache).iterdir()) == [".parsed"] * 3
