"""What is read at once is what the reader with places reads, and whatever that refuses is left to it."""

import json
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.case import load
from candidacy.case.load import parse_case
from candidacy.foundation.errors import CaseError, InputError
from candidacy.foundation.files import parse
from candidacy.foundation.plain_json import plain_json
from tests.foundation.test_files import json_values
from tests.strategies import FULL, STANDARD_LEVELS, random_case


def typed(value: Any) -> Any:
    """A value with the kinds of its numbers, since 1, 1.0 and true are equal."""
    if isinstance(value, dict):
        return {key: typed(part) for key, part in value.items()}
    return [typed(part) for part in value] if isinstance(value, list) else (type(value), value)


def same_or_left(text: str) -> bool:
    """Whether a text was read at once; then the reader with places gives the same."""
    found = plain_json(text)
    if found is None:
        return False
    assert typed(parse(text).plain()) == typed(found)
    return True


objects = st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=10), json_values, max_size=4)


@given(objects, st.booleans(), st.sampled_from([None, 1, "\t"]))
def test_what_the_json_library_writes_is_read_alike(
    value: dict[str, object], ascii_only: bool, indent: int | str | None
) -> None:
    same_or_left(json.dumps(value, ensure_ascii=ascii_only, indent=indent))


@given(objects, st.randoms(use_true_random=False))
def test_damaged_text_is_read_alike_or_left(value: dict[str, object], rng: Random) -> None:
    text = list(json.dumps(value, ensure_ascii=False))
    for _ in range(3):
        place = rng.randrange(len(text))
        text[place : place + rng.randrange(2)] = rng.choice(
            ['"', "{", "}", ",", ":", "0", "e9", "\\u0041", "\n", "#"]
        )
    same_or_left("".join(text))


@pytest.mark.parametrize(
    "text",
    [
        '{"a": 1, "a": 2}',
        '{"a": NaN}',
        '{"a": Infinity}',
        '{"a": 1e999}',
        '{"a": 1e-999}',
        '{"a": 1234567890123456}',
        '{"a": "\\ud800"}',
        '{"a": "\x7f"}',
        '{"%s": 1}' % ("k" * 2000),
        '{"a": ' + "[" * 60 + "]" * 60 + "}",
        '{"a": 1} {"b": 2}',
        '{"a": 1',
    ],
)  # fmt: skip
def test_what_is_refused_is_left(text: str) -> None:
    assert plain_json(text) is None
    with pytest.raises(InputError):
        parse(text)


def test_yaml_and_an_empty_text_are_left() -> None:
    assert [plain_json(text) for text in ("", "a: 1", "[1]", "# {}", "{a: 1}")] == [None] * 5


@pytest.mark.parametrize("seed", range(8))
def test_a_record_is_the_same_case_and_a_wrong_one_is_told_with_its_place(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = random_case(Random(seed), mix=FULL, levels=STANDARD_LEVELS).plain()
    text, wrong = json.dumps(plain, indent=1), json.dumps(plain | {"patien": {}}, indent=1)
    assert plain_json(text) is not None
    quick = parse_case(text, "one.json")
    with pytest.raises(CaseError) as told:
        parse_case(wrong, "one.json")
    assert told.value.problems[0].line > 1
    monkeypatch.setattr(load, "plain_json", lambda text: None)
    assert parse_case(text, "one.json") == quick
    with pytest.raises(CaseError) as again:
        parse_case(wrong, "one.json")
    assert again.value.problems == told.value.problems
