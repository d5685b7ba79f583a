"""What was counted as one self-contained page. No script, no network; everything from records is escaped."""

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from candidacy.foundation.templates import templates_of
from candidacy.outcomes.figures import Figure
from candidacy.outcomes.responding import ANSWERS
from candidacy.outcomes.text import at_least, group_words, lasting_words, percent
from candidacy.outcomes.visits import STATES

if TYPE_CHECKING:
    from jinja2 import Environment


def page_of(told: dict[str, Any], figures: Sequence[Figure]) -> str:
    """The document with its figures as HTML."""
    from markupsafe import Markup

    drawn = [(each.title, each.words, Markup(_inner(each.draw("svg")))) for each in figures]
    return (
        _templates()
        .get_template("outcomes.html")
        .render(t=told, figures=drawn, answers=ANSWERS, states=STATES)
    )


@cache
def _templates() -> "Environment":
    environment = templates_of("candidacy.outcomes")
    environment.filters["percent"] = percent
    environment.filters["at_least"] = at_least
    environment.filters["group"] = group_words
    environment.filters["lasting"] = lasting_words
    return environment


def _inner(drawn: bytes) -> str:
    """The drawing without its XML head; matplotlib escapes every text in it."""
    text = drawn.decode("utf-8")
    return text[text.index("<svg") :]
