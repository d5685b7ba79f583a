"""Texts that an expression needs: every match of it holds one (Cox R, "Regular Expression Matching in the Wild", 2010)."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.case.danger_topics import topics, topics_in
from candidacy.foundation.literals import needed

# Expressions of few signs, so that short texts match them.
_PARTS = st.deferred(
    lambda: st.one_of(
        st.text("abc 1", min_size=1, max_size=3),
        st.sampled_from(
            (r"\w", r"\b", "[ab]", "[^a]", "[a-c]", r"[\w-]", ".", r"\.", "(?!b)", "(?<=a)", "(?<!c)")
        ),
        st.lists(_PARTS, min_size=1, max_size=3).map(lambda some: f"(?:{'|'.join(some)})"),
        st.lists(_PARTS, min_size=1, max_size=3).map("".join),
        st.tuples(
            st.one_of(
                st.sampled_from("abc"),
                st.lists(_PARTS, min_size=1, max_size=2).map(lambda some: f"(?:{'|'.join(some)})"),
            ),
            st.sampled_from(("?", "*", "+", "{0,2}", "{1,2}", "{2}", "??", "+?")),
        ).map("".join),
    )
)


@settings(max_examples=500)
@given(expression=_PARTS, data=st.data())
def test_every_match_holds_a_needed_text(expression: str, data: st.DataObject) -> None:
    texts = needed(expression)
    text = data.draw(
        st.one_of(st.text("abc 1.", max_size=8), st.from_regex(re.compile(expression, re.ASCII)))
    )
    found = re.search(expression, text)
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
