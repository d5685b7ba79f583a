"""Texts that an expression needs: every match of it holds one (Cox R, "Regular Expression Matching in the Wild", 2010)."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.case.danger_topics import topics, topics_in
from candidacy.foundation.literals import needed

# An expression with a text that it matches. Nothing repeats what repeats already, so that no search takes long.
_Both = tuple[str, str]


def _chosen(some: list[_Both], number: int) -> _Both:
    return f"(?:{'|'.join(expression for expression, _ in some)})", some[number % len(some)][1]


def _joined(some: list[_Both]) -> _Both:
    return "".join(expression for expression, _ in some), "".join(text for _, text in some)


def _repeated(one: _Both, times: tuple[str, int]) -> _Both:
    return one[0] + times[0], one[1] * times[1]


_LITERAL = st.text("abc 1", min_size=1, max_size=3).map(lambda text: (text, text))
_SIGN = st.sampled_from((
    (r"\w", "b"), ("[ab]", "b"), ("[^a]", "c"), ("[a-c]", "c"), (r"[\w-]", "-"), (".", "1"), (r"\.", "."), ("a", "a"),
))  # fmt: skip
_LOOKS = st.sampled_from(((r"\b", ""), ("(?!b)", ""), ("(?<=a)", ""), ("(?<!c)", "")))
_PLAIN = st.one_of(_LITERAL, _SIGN, _LOOKS)
_CHOICE = st.builds(_chosen, st.lists(_PLAIN, min_size=1, max_size=3), st.integers(0, 2))
_TIMES = st.sampled_from(
    (("?", 0), ("?", 1), ("*", 0), ("*", 2), ("+", 1), ("{0,2}", 0), ("{1,2}", 2), ("{2}", 2), ("??", 1))
)
_PART = st.one_of(_PLAIN, _CHOICE, st.builds(_repeated, st.one_of(_SIGN, _CHOICE), _TIMES))
_SEVERAL = st.lists(_PART, min_size=1, max_size=4).map(_joined)
_EXPRESSION = st.one_of(
    _SEVERAL, st.builds(_chosen, st.lists(_SEVERAL, min_size=2, max_size=3), st.integers(0, 2))
)


@settings(max_examples=300)
@given(_EXPRESSION, st.text("abc 1.", max_size=4))
def test_every_match_holds_a_needed_text(both: _Both, beside: str) -> None:
    expression, text = both
    texts = needed(expression)
    for said in (text, beside, text + beside, beside + text):
        found = re.search(expression, said)
        if found is not None and texts:
            assert any(each in found[0] for each in texts), (expression, found[0], texts)


@pytest.mark.parametrize(
    ("expression", "texts"),
    [
        ("fever", {"fever"}),
        ("fever|rigors?", {"fever", "rigor", "rigors"}),
        ("h(?:a)?emoglobin", {"hemoglobin", "haemoglobin"}),
        (r"numb\w* (?:of|in) the (?:saddle|perine\w+)", {"saddle", "perine"}),
        ("(?:warm )?back", {"back", "warm back"}),
        (r"t\W{0,3}3[89]", {"38", "39"}),
        ("(?:chills)*", set()),
        (r"\w+", set()),
        ("fever|", set()),
    ],
)
def test_what_expressions_need(expression: str, texts: set[str]) -> None:
    assert needed(expression) == texts


def test_a_group_that_keeps_its_match_is_refused() -> None:
    with pytest.raises(ValueError, match="group"):
        needed("(fever)")


@pytest.mark.parametrize("topic", topics(), ids=lambda topic: topic.name)
def test_each_topic_of_danger_is_sought_where_its_words_stand(topic) -> None:  # type: ignore[no-untyped-def]
    assert needed(topic.expressions), "every text would be searched for it"

    @settings(max_examples=40, deadline=None)
    @given(st.from_regex(re.compile(topic.expressions, re.ASCII)))
    def sought(text: str) -> None:
        if topic.words.search(text):
            assert topic in topics_in(text)

    sought()
