"""One report as a message or file brings it, before anything of it is read."""

from typing import NamedTuple

from candidacy.foundation.errors import Problem
from candidacy.reading.model import Mark

AMENDED, FINAL, PRELIMINARY, WITHDRAWN = "amended", "final", "preliminary", "withdrawn"


class ReportText(NamedTuple):
    """The text of one report, where it came from, and what the message or file that brought it says of it.

    ``status`` is ``preliminary``, ``final`` or ``amended`` (``withdrawn`` where it was refused for that), empty where the
    message does not say. ``key`` identifies the report among its versions, ``issued`` says when this one was made
    (ISO 8601, compared as text). ``marks`` are reservations about the document. A report with ``problems`` was refused
    and has no text; ``superseded`` names the version that holds in its place. ``name`` and ``form`` are those of the file,
    empty while its parts are told apart.
    """

    text: str
    name: str = ""
    form: str = ""
    day: str = ""
    status: str = ""
    key: str = ""
    issued: str = ""
    marks: tuple[Mark, ...] = ()
    problems: tuple[Problem, ...] = ()
    superseded: str = ""


def left_out(words: list[str]) -> tuple[Mark, ...]:
    """Mark words that a document holds as struck, deleted or hidden."""
    if not words:
        return ()
    shown = "; ".join(words)
    shown = shown if len(shown) <= 300 else shown[:299] + "…"
    return (Mark("left_out", f"struck out, deleted or hidden in the document, and not read: {shown}"),)
