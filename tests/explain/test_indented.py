"""Paragraphs that stand in from the left, beside what rich's own padding prints."""

import io

from hypothesis import example, given
from hypothesis import strategies as st
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from candidacy.explain.indented import Indented


def printed(what: object, width: int) -> list[str]:
    buffer = io.StringIO()
    Console(file=buffer, width=width, no_color=True).print(what)
    return buffer.getvalue().splitlines()


@example("\N{NO-BREAK SPACE}", 0, 30)
@given(
    st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Zs"]), max_size=200),
    st.integers(0, 20),
    st.integers(30, 120),
)
def test_the_lines_are_those_of_a_padding_without_spaces_behind_them(
    words: str, columns: int, width: int
) -> None:
    ours, theirs = (
        printed(Indented(Text(words), columns), width),
        printed(Padding(Text(words), (0, 0, 0, columns)), width),
    )
    assert [line.rstrip(" ") for line in ours] == [line.rstrip(" ") for line in theirs]


def test_no_spaces_follow_a_line() -> None:
    assert printed(Indented(Text("one two three four five"), 4), 12) == [
        "    one two",
        "    three",
        "    four",
        "    five",
    ]
