"""One report as a message or file brings it, before anything of it is read."""

from typing import NamedTuple

from candidacy.foundation.errors import Problem
from candidacy.reading.model import Mark

AMENDED, FINAL, PRELIMINARY, WITHDRAWN = "amended", "final", "preliminary", "withdrawn"


class Sent(NamedTuple):
    """A report's text, and what the message that brought it says of it.

    ``status`` is ``preliminary``, ``final``, ``amended`` or ``withdrawn``, empty where the message does not say;
    ``key`` identifies the report, so that its versions are known as such; ``issued`` says when this version was made
    (ISO 8601, compared as text); ``problems`` says why it cannot be read, and then there is no text.
    """

    text: str
    day: str = ""
    status: str = ""
    key: str = ""
    issued: str = ""
    marks: tuple[Mark, ...] = ()
    problems: tuple[Problem, ...] = ()


def left_out(words: list[str]) -> tuple[Mark, ...]:
    """Mark words that a document holds as struck, deleted or hidden."""
    if not words:
        return ()
    shown = "; ".join(words)
    shown = shown if len(shown) <= 300 else shown[:299] + "…"
    return (Mark("left_out", f"struck out, deleted or hidden in the document, and not read: {shown}"),)
