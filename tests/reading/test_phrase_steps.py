"""Phrases sought word by word are those that their choices spell out."""

from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.reading.letters.words import words
from candidacy.reading.notes.vocabulary import words_of
from candidacy.reading.phrase_steps import Phrases, Role, Step, expanded, shortest

WORDS = st.sampled_from(("a", "b", "c", "a b", "5/5", "no-one"))
PART = st.one_of(
    WORDS,
    st.lists(st.one_of(WORDS, st.just("")), min_size=2, max_size=3).map(lambda some: f"({'|'.join(some)})"),
    st.lists(WORDS, min_size=2, max_size=2).map(lambda some: f"({' |'.join(some)} |)"),
)
PHRASE = st.tuples(
    st.lists(PART, min_size=1, max_size=4), st.sampled_from((" ", " ", ":", "", "-"))
).map(lambda made: made[1].join(made[0]))  # fmt: skip


def behind(phrases: Phrases, said: list[str]) -> Step | None:
    step: Step | None = phrases.begin()
    for word in said:
        step = step.step(word) if step is not None else None
    return step


@given(st.lists(PHRASE, min_size=1, max_size=4), st.lists(st.sampled_from("abc"), min_size=1, max_size=4))
def test_a_phrase_is_found_exactly_where_one_of_its_choices_stands(
    written: list[str], text: list[str]
) -> None:
    phrases = Phrases(words_of)
    for number, phrase in enumerate(written):
        phrases.add([phrase], Role("phrase", number))
    spelled = [[words_of(one) for one in expanded(phrase)] for phrase in written]
    for said in [text, *(one for some in spelled for one in some)]:
        step = behind(phrases, said)
        wanted = [number for number, some in enumerate(spelled) if said and said in some]
        assert [role.value for role in (step.roles if step is not None and said else ())] == wanted
    for phrase in written:
        assert shortest(phrase) <= min(map(len, expanded(phrase)))


def test_phrases_added_at_once_tell_what_they_may_be_once() -> None:
    phrases = Phrases(words_of)
    phrases.add(["(no|) fever", "fever"], Role("denied"))
    phrases.add(["fever"], Role("stated"))
    step = behind(phrases, ["fever"])
    assert step is not None
    assert [role.name for role in step.roles] == ["denied", "stated"]


def test_short_forms_stand_for_the_words_of_phrases() -> None:
    phrases = Phrases(words_of, {"dysfxn": ["dysfunction"], "ble": ["both legs", "both feet"]})
    phrases.add(["bladder dysfunction", "strength in (both legs|both arms) is full"], Role("found"))
    assert [bool(s and s.roles) for s in (
        behind(phrases, ["bladder", "dysfxn"]), behind(phrases, ["strength", "in", "ble", "is", "full"]),
        behind(phrases, ["dysfxn"]), behind(phrases, ["strength", "in", "ble", "arms", "is", "full"]),
    )] == [True, True, False, False]  # fmt: skip


def _written(data: Any) -> list[str]:
    if isinstance(data, str):
        return [data]
    inner = data.values() if isinstance(data, dict) else data if isinstance(data, list) else ()
    return [each for one in inner for each in _written(one)]


@pytest.mark.parametrize("row", range(len(words().data["findings"])))
def test_findings_of_letters_are_found_as_their_choices_spell_them_out(row: int) -> None:
    finding = words().data["findings"][row]
    for phrase in finding["phrases"]:
        some = expanded(phrase)
        for one in Random(row).sample(some, min(len(some), 20)):
            step = behind(words().phrases, words_of(one))
            assert step is not None
            assert any(role.value is finding for role in step.roles), one
