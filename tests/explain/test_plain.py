"""Text for a file or a pipe is what the terminal's layout gives without colour; nothing of that layout is loaded for it."""

import io
import subprocess
import sys
from collections.abc import Iterable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console, Group

from candidacy.assessment.assess import assess
from candidacy.case.load import load_case
from candidacy.explain.brief import brief_text, print_brief
from candidacy.explain.build import build_document
from candidacy.explain.lines import Line, Pairs
from candidacy.explain.plain import Unusual, plain
from candidacy.explain.rich_lines import in_colour
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from tests.explain.test_only_words import demos

DAY = date(2026, 11, 25)
SIGNS = "aä ○‼✓✗–“”≥⏎…→½ \n-"


def console(width: int) -> tuple[Console, io.StringIO]:
    buffer = io.StringIO()
    made = Console(file=buffer, width=width, no_color=True, highlight=False, markup=False, emoji=False)
    return made, buffer


def laid_out(lines: Iterable[Line | Pairs], width: int) -> str:
    printing, buffer = console(width)
    printing.print(Group(*in_colour(lines)))
    return buffer.getvalue()


@pytest.mark.parametrize("stem", demos())
def test_an_answer_reads_the_same_in_a_pipe_as_the_terminal_lays_it_out(stem: str) -> None:
    case = load_case(demo_cases_folder() / f"{stem}.yaml")
    for rules in ("practice_baseline", "procedural_safety"):
        document = build_document(assess(case, load_rule_set(rules), DAY))
        for width in (80, 100):
            printing, buffer = console(width)
            print_brief(printing, document)
            assert brief_text(document, width) == buffer.getvalue()


texts = st.text(SIGNS, max_size=90) | st.text(st.sampled_from(SIGNS + "\t漢\u0301🙂\u200b"), max_size=30)
written = st.builds(
    Line,
    st.lists(st.tuples(texts, st.sampled_from(["", "bold", "dim"])), min_size=1, max_size=3).map(tuple),
    st.just(""),
    st.sampled_from([0, 2]),
)
named = st.builds(
    Pairs,
    st.lists(st.tuples(texts, texts), min_size=1, max_size=4).map(tuple),
    st.just("bold"),
    st.integers(4, 42),
)


@given(st.lists(written | named, min_size=1, max_size=3), st.integers(20, 80))
def test_any_text_is_laid_out_the_same_or_left_to_the_terminal(lines: list[Line | Pairs], width: int) -> None:
    try:
        found = plain(lines, width)
    except Unusual:
        return
    assert found == laid_out(lines, width)


def test_signs_of_another_width_and_words_wider_than_their_place_are_left_to_the_terminal() -> None:
    for text in ("漢字", "a\u0301", "🙂", "a\tb", "x" * 41):
        with pytest.raises(Unusual):
            plain([Line(((text, ""),))], 40)


def test_every_sign_that_is_laid_out_takes_one_cell() -> None:
    printing, _ = console(10)
    taken = 0
    for code in range(0x20, 0x3000):
        try:
            plain([Line(((chr(code), ""),))], 40)
        except Unusual:
            continue
        taken += 1
        assert printing.measure(chr(code)).maximum == (
            1 if not chr(code).isspace() else printing.measure(chr(code)).maximum
        )
    assert taken > 900


def test_a_pipe_loads_nothing_of_the_terminals_layout() -> None:
    case = demo_cases_folder() / "two-discs-candidate.yaml"
    code = (
        "import sys\nfrom candidacy.cli import main\n"
        f"try: main(['assess', {str(case)!r}])\nexcept SystemExit: pass\n"
        "sys.exit('rich' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.PIPE)
