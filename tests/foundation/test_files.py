"""Reading YAML and JSON: what is accepted is kept as written, and everything misleading is refused with its place."""

import json
import os
import threading
from contextlib import suppress
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation import files
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.files import (
    MAX_BYTES,
    MAX_DEPTH,
    nearest,
    parse,
    parse_collecting,
    plain_text,
    read_text,
    read_tree,
)


def problems_of(text: str) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        parse(text, "file.yaml")
    return list(caught.value.problems)


def place_of(text: str, wanted: Code) -> tuple[int, int]:
    """Where the one problem of a text stands."""
    (problem,) = problems_of(text)
    assert problem.code is wanted
    assert problem.file == "file.yaml"
    return problem.line, problem.column


# --- what is accepted


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("30", 30),
        ("-4", -4),
        ("+5", 5),
        ("30.5", 30.5),
        (".5", 0.5),
        ("1e2", 100.0),
        ("true", True),
        ("false", False),
        ("null", None),
        ("~", None),
        ('"30"', "30"),
        ("'true'", "true"),
        # YAML 1.1 would turn these into something else; here they stay text
        ("yes", "yes"),
        ("No", "No"),
        ("on", "on"),
        ("TRUE", "TRUE"),
        ("2026-02-30", "2026-02-30"),
        ("2026-02-03", "2026-02-03"),
        ("0x1F", "0x1F"),
        ("012", "012"),
        ("1_000", "1_000"),
        ("1:30", "1:30"),
        ("<<", "<<"),
        ("=", "="),
    ],
)
def test_a_scalar_is_only_what_it_looks_like(written: str, value: object) -> None:
    found = parse(f"key: {written}\n").value["key"].value
    assert found == value
    assert type(found) is type(value)


def test_every_node_and_key_knows_its_place() -> None:
    tree = parse("a: 1\nb:\n  - x\n  -  {c: 2}\n")
    assert (tree.at(("b", 1, "c")).line, tree.at(("b", 1, "c")).column) == (4, 10)
    assert tree.key_place("b") == (2, 1)
    assert tree.at(("b", 1)).key_place("c") == (4, 7)
    assert tree.at(("b", 7, "nothing")) is tree.at(("b",))  # the nearest that exists
    assert tree.key_place("nothing") == (1, 1)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_system_count_as_one_line(end: str) -> None:
    tree = parse(f"a: 1{end}b: two{end}c: 3{end}")
    assert tree.plain() == {"a": 1, "b": "two", "c": 3}
    assert tree.key_place("c") == (3, 1)


def test_a_byte_order_mark_is_not_part_of_the_text(tmp_path: Path) -> None:
    assert parse("\ufeffa: 1").plain() == {"a": 1}
    path = tmp_path / "bom.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\n")
    assert read_tree(path).plain() == {"a": 1}


def test_tabs_between_json_tokens_are_accepted_and_tabs_in_its_text_are_kept() -> None:
    text = '{\n\t"a": 1,\n\t"b":\t"x\\ty",\t"c": ["\\\\",\t"\\""]\n}'
    assert parse(text).plain() == json.loads(text) == {"a": 1, "b": "x\ty", "c": ["\\", '"']}


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**13), 10**13) | st.floats(-1e9, 1e9).filter(lambda x: x == 0 or abs(x) > 1e-300)
    | st.text(st.characters(codec="utf-8"), max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=10), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(
    st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=10), json_values, max_size=4),
    st.booleans(),
    st.sampled_from([None, 1, "\t"]),
)
def test_every_json_document_is_read_as_the_json_library_reads_it(
    value: dict[str, object], ascii_only: bool, indent: int | str | None
) -> None:
    # source: Python's json module, an implementation of RFC 8259
    text = json.dumps(value, ensure_ascii=ascii_only, indent=indent)
    if files._NOT_PRINTABLE.search(text):  # raw characters JSON allows and YAML does not, such as U+007F
        assert {p.code for p in problems_of(text)} == {Code.NOT_TEXT}
    else:
        assert parse(text).plain() == json.loads(text)


# --- what is refused


@pytest.mark.parametrize(
    ("text", "code", "place"),
    [
        ("a: 1\nb: 2\na: 3\n", Code.DUPLICATE_KEY, (3, 1)),
        ('{"a": 1, "a": 1}', Code.DUPLICATE_KEY, (1, 10)),
        ("a: &x 1\nb: *x\n", Code.ALIAS, (1, 4)),
        ("b: *x\n", Code.ALIAS, (1, 4)),
        ("a: !!python/object/apply:os.system ['true']", Code.ALIAS, (1, 4)),
        ("a: !!str 30", Code.ALIAS, (1, 4)),
        ("a: !odd 30", Code.ALIAS, (1, 4)),
        ("a: .nan", Code.BAD_SCALAR, (1, 4)),
        ("a: NaN", Code.BAD_SCALAR, (1, 4)),
        ("a: -.INF", Code.BAD_SCALAR, (1, 4)),
        ("a: Infinity", Code.BAD_SCALAR, (1, 4)),
        ("a: 1e400", Code.BAD_SCALAR, (1, 4)),
        ("a: 1e-400", Code.BAD_SCALAR, (1, 4)),
        ("a: 12345678901234567890", Code.BAD_SCALAR, (1, 4)),
        ("", Code.EMPTY, (0, 0)),
        (" \n\t\n", Code.EMPTY, (0, 0)),
        ("# only a comment\n", Code.EMPTY, (0, 0)),
        ("a: 1\n---\nb: 2\n", Code.SYNTAX, (2, 1)),
        ("a: 1\n b: 2\n", Code.SYNTAX, (2, 3)),
        ("a: [1, 2", Code.SYNTAX, (1, 9)),
        ('{"a": 1,,}', Code.SYNTAX, (1, 9)),
        ("a:\tb:\tc", Code.SYNTAX, (1, 5)),
        ("? [a, b]\n: 1\n", Code.SYNTAX, (1, 3)),
        ("{[1]: 2}", Code.SYNTAX, (1, 2)),
        ("a: x\x00y", Code.NOT_TEXT, (1, 5)),
        ("line: one\na: \x1b[31mred", Code.NOT_TEXT, (2, 4)),
        ("a: \ud800", Code.NOT_TEXT, (1, 4)),
        ('{"a": "\\ud83d"}', Code.SYNTAX, (1, 10)),
        ("[" * (MAX_DEPTH + 1), Code.TOO_DEEP, (1, MAX_DEPTH + 1)),
        ("{a: " * 100_000, Code.TOO_DEEP, (1, 4 * MAX_DEPTH + 1)),
        ("x" * (MAX_BYTES + 1), Code.TOO_LARGE, (0, 0)),
    ],
    ids=lambda value: repr(value)[:40] if isinstance(value, str) else None,
)
def test_what_could_mislead_is_refused_at_its_place(text: str, code: Code, place: tuple[int, int]) -> None:
    assert place_of(text, code) == place


def test_an_exploding_document_is_refused_before_it_explodes() -> None:
    rows = ['a: &a ["x","x","x","x","x","x","x","x","x"]']
    rows += [f"{chr(98 + n)}: &{chr(98 + n)} [{', '.join(['*' + chr(97 + n)] * 9)}]" for n in range(9)]
    assert place_of("\n".join(rows), Code.ALIAS) == (1, 4)


def test_all_duplicate_keys_and_bad_numbers_are_told_at_once() -> None:
    text = "a: .nan\nb: {c: 1, c: 2}\nb: 1e999\nd: [.inf, 3]\n"
    found = [(p.code, p.line, p.column) for p in problems_of(text)]
    assert found == [
        (Code.BAD_SCALAR, 1, 4),
        (Code.DUPLICATE_KEY, 2, 11),
        (Code.DUPLICATE_KEY, 3, 1),
        (Code.BAD_SCALAR, 3, 4),
        (Code.BAD_SCALAR, 4, 5),
    ]


def test_a_caller_may_go_on_past_what_was_refused_to_find_more() -> None:
    tree, problems = parse_collecting("a: .nan\nb: 2\n")
    assert [p.code for p in problems] == [Code.BAD_SCALAR]
    assert tree.plain() == {"a": None, "b": 2}
    assert tree.value["a"].refused
    assert not tree.value["b"].refused


@pytest.mark.parametrize("text", ["a: .nan\nb: 1e400\na: 2", "a: &x 1", "[" * 99, "a: [", "a: 1\n---\nb: 1"])
def test_the_slower_loader_of_the_yaml_library_refuses_the_same(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    fast = [(p.code, p.line) for p in problems_of(text)]
    monkeypatch.delattr(yaml, "CSafeLoader")
    assert [(p.code, p.line) for p in problems_of(text)] == fast


@given(
    st.text(st.characters(codec="utf-8"), max_size=200)
    | st.text(st.sampled_from("ab:-[]{}&*!|>'\"#%@` \n\t,?~.0e"), max_size=60)
)
def test_any_text_is_read_or_refused_and_nothing_else(text: str) -> None:
    with suppress(InputError):
        assert isinstance(parse(text, "file"), files.Node)


# --- files


def refused(path: Path) -> Problem:
    with pytest.raises(InputError) as caught:
        read_text(path)
    (problem,) = caught.value.problems
    return problem


def test_files_that_cannot_be_read_are_told_plainly(tmp_path: Path) -> None:
    assert refused(tmp_path / "missing.yaml").code is Code.UNREADABLE
    assert "No such file" in refused(tmp_path / "missing.yaml").found
    assert refused(tmp_path).code is Code.UNREADABLE
    assert refused(Path("nul\x00byte")).code is Code.UNREADABLE
    assert refused(Path("x" * 5000)).code is Code.UNREADABLE


def test_binary_and_other_encodings_are_refused_with_the_first_byte_that_does_not_fit(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    for content, byte in (
        (b"\x89PNG\r\n\x1a\n", 0),
        ("näh".encode("latin-1"), 1),
        ("a: 1".encode("utf-16"), 0),
    ):
        path.write_bytes(content)
        problem = refused(path)
        assert problem.code is Code.NOT_TEXT
        assert problem.found.startswith(f"byte {byte} is 0x")
    path.write_bytes(b"")
    assert refused(path).code is Code.EMPTY
    path.write_bytes(b"\xef\xbb\xbf \n")
    assert refused(path).code is Code.EMPTY


def test_fifty_megabytes_are_refused_without_reading_them_all(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)  # sparse: takes no room on the disk
    assert refused(path).code is Code.TOO_LARGE


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no endless device")
def test_an_endless_device_ends_in_a_refusal() -> None:
    assert refused(Path("/dev/zero")).code is Code.TOO_LARGE


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_read_like_a_file(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    writer = threading.Thread(target=lambda: path.write_text("a: 1\n"))
    writer.start()
    assert read_text(path) == "a: 1\n"
    writer.join()


# --- small helpers


@given(st.text(st.sampled_from("abtrue nul~.-+0123456789eEinfa_x"), max_size=12))
def test_text_called_plain_is_read_back_as_that_text(text: str) -> None:
    if (
        plain_text(text)
        and text.strip() == text
        and yaml.safe_dump(text).strip().removesuffix("\n...") == text
    ):
        assert parse(f"key: {text}").plain() == {"key": text}


def test_nearest_word_is_close_or_none() -> None:
    assert nearest("bdy_weight", ["body_weight", "body_height"]) == "body_weight"
    assert nearest("zzz", ["body_weight"]) == ""
