"""Lines of text as they are shown: words with their style, before anything decides how wide they run and in which colours.

Styles are those of the terminal (`candidacy.explain.rich_lines`); a file or a pipe has none (`candidacy.explain.plain`).
"""

from collections.abc import Iterable
from typing import NamedTuple

from candidacy.explain.cautions import EMERGENCY
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.headline import condition_words
from candidacy.explain.labels import standing_words
from candidacy.explain.record import (
    CONTRADICTIONS,
    DISPUTED,
    NOT_READ,
    REMARKS,
    conflict_lines,
    conflict_title,
    danger_lines,
    disputed_lines,
    remark_lines,
)

STYLES = {
    "pass": "green",
    "fail": "bold red",
    "undetermined": "yellow",
    "noted": "",
    "not_seen": "",
    "does_not_apply": "",
    "not_considered": "dim",
    "plain": "",
    "urgent": "bold white on red",
    "not_candidate": "bold red",
    "incomplete": "bold yellow",
    "borderline": "bold magenta",
    "candidate": "bold green",
    "not_yet": "bold blue",
}


class Line(NamedTuple):
    """Words one after the other, each piece with a style upon that of the whole; ``indent`` is how far it is set in."""

    pieces: tuple[tuple[str, str], ...]
    style: str = ""
    indent: int = 0

    @property
    def text(self) -> str:
        return "".join(words for words, _ in self.pieces)


class Pairs(NamedTuple):
    """Names at the left, at most ``most`` signs wide, and what each stands for beside it."""

    rows: tuple[tuple[str, str], ...]
    style: str
    most: int


Lines = list[Line | Pairs]


def line(text: str, style: str = "", indent: int = 0) -> Line:
    """A line of one style."""
    return Line(((text, ""),), style, indent)


def heading(text: str) -> Line:
    """The title of a part."""
    return line(f"\n{text}", "bold underline")


def alert_lines(document: AssessmentDocument, *, cited: bool = True) -> list[Line]:
    """What a standing must not hide: companions that stop, and signs of danger that nothing decides on."""
    lines = [line(f"‼ {sentence}", "bold white on red") for sentence in document.stops]
    dangers = danger_lines(document, cited=cited)
    if dangers:
        lines.append(line(f"‼ {NOT_READ}:", "bold red"))
        lines += _marked("  -", dangers, "bold red")
    return lines


def emergency_lines(document: AssessmentDocument) -> list[Line]:
    """That a sign of an emergency outranks the program, where there is one."""
    return [line(f"! {EMERGENCY}", "bold red")] if EMERGENCY in document.cautions else []


def record_lines(
    document: AssessmentDocument, most: int | None = None, signs: int | None = None
) -> list[Line]:
    """Disputed signs of danger, contradictions and remarks of the record; nothing where there are none.

    Parameters
    ----------
    most, signs
        How many remarks are shown, and how much of each; all of them in full unless given.
    """
    lines: list[Line] = []
    if document.disputed:
        lines.append(heading(DISPUTED))
        lines += _marked("!", disputed_lines(document), "bold red")
    if document.conflicts:
        lines.append(heading(CONTRADICTIONS))
    for conflict in document.conflicts:
        lines.append(line(f"! {conflict_title(conflict)}", "bold yellow"))
        lines += _marked("  -", conflict_lines(conflict), "")
    if document.remarks:
        lines.append(heading(REMARKS))
        lines += _marked("!", remark_lines(document, most, signs), "yellow")
    return lines


def _marked(mark: str, sentences: Iterable[str], style: str) -> list[Line]:
    return [line(f"{mark} {sentence}", style) for sentence in sentences]


def head_line(document: AssessmentDocument) -> Line:
    """The standing, and of which case."""
    name = standing_words(document.shown, document.standing_name)
    title = f"  {document.case.id}" + (f": {document.case.title}" if document.case.title else "")
    standing = f" {name.upper()}{condition_words(document)} "
    return Line(((standing, STYLES[document.shown]), (title, "bold")))
