"""Text and small pieces of page. All foreign text is escaped here; none is ever read as markup."""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st
from jinja2 import Environment

from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.explain.labels import OUTCOMES, SHOWN, STANDING_SYMBOLS
from candidacy.explain.page import page_templates
from candidacy.explain.wording import subject_words, with_unit
from candidacy.foundation.errors import Problem

_HERE = Path(__file__).parent
_MARKDOWN = str.maketrans({c: f"\\{c}" for c in "\\`*_{}[]<>()#+-.!|:$~&\"'"})


@cache
def _templates() -> Environment:
    environment = page_templates("candidacy.ui")
    environment.filters["subject"] = subject_words
    environment.filters["with_unit"] = lambda number, unit: with_unit(f"{number}", unit or "")
    environment.filters["plain"] = lambda text: str(text).replace("_", " ")
    environment.filters["figure"] = lambda number: "open" if number is None else f"{number:.4g}"
    environment.tests["contains_none"] = lambda outcomes: None in outcomes
    environment.globals.update(
        outcomes=OUTCOMES, marks=SHOWN, symbols=STANDING_SYMBOLS, hold_lines=hold_lines, hold_title=hold_title
    )
    return environment


def fill(template: str, **values: Any) -> str:
    """Fill a template of this folder; every value is escaped."""
    return _templates().get_template(template).render(**values)


def put(template: str, **values: Any) -> None:
    """Put a filled template on the page."""
    st.html(fill(template, **values))


def put_beside(template: str, **values: Any) -> None:
    """Put a filled template on the page, no wider than it needs, for a row of things."""
    st.html(fill(template, **values), width="content")


def label(text: str) -> str:
    """Foreign text for a place that reads Markdown, such as a button: every sign stands for itself."""
    return " ".join(text.split()).translate(_MARKDOWN)


def note(text: str, kind: str = "soft") -> None:
    """A line of text. ``kind`` is soft, notice, alarm or good."""
    put("note.html", text=text, kind=kind)


def problems(found: tuple[Problem, ...] | list[Problem], heading: str = "") -> None:
    """Everything wrong with an input: where, what was found, what is allowed."""
    put("problems.html", problems=list(found), heading=heading)


def style() -> None:
    """The style sheet of all pages, for screen and print."""
    st.html(_HERE / "style.css")


def move_to(key: str) -> None:
    """Scroll to the widget of a key and put the cursor into it. The key is made of our own names only."""
    safe = "".join(c if c.isalnum() or c in "_-" else "-" for c in key)
    run_script(
        "move",
        f"let tries = 0; const go = () => {{ const box = document.querySelector('.st-key-{safe}');"
        " if (!box) { if (tries++ < 20) setTimeout(go, 100); return; }"
        " box.scrollIntoView({block: 'center'}); const f = box.querySelector('input, textarea, [role=radio]') || box.querySelector('button');"
        " if (f) f.focus({preventScroll: true}); }; go();",
    )


def run_script(name: str, script: str) -> None:
    """Run a script of our own in the page. It never holds text from outside."""
    with st.container(key=f"script-{name}"):
        st.html(f"<script>(() => {{ {script} }})();</script>", unsafe_allow_javascript=True)
