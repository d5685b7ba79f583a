"""A letter as plain text."""

import textwrap
from collections.abc import Iterable

from candidacy.letters.compose import BLANK, runs_of
from candidacy.letters.frame import frame
from candidacy.letters.letter import Letter, Line

WIDTH = 88
_BETWEEN = "\n" + "=" * WIDTH + "\n\n"
_BOX, _ITEM = "[ ] ", "- "


def letters_text(letters: Iterable[Letter]) -> str:
    """One letter, or several one after the other."""
    return _BETWEEN.join(map(letter_text, letters))


def letter_text(letter: Letter) -> str:
    """A letter as text; first and last line say that it is a draft."""
    words = frame()
    title = letter.title + (f": {letter.about}" if letter.about else "")
    out = [words["draft"]]
    if letter.open:
        out += _wrapped(f"{words['incomplete']}: {'; '.join(letter.open)}.")
    if letter.notes:
        out += ["", *_wrapped(f"{words['for_practice']}:")]
        for note in letter.notes:
            out += _wrapped(note, "! ")
        out += ["", "-" * WIDTH]
    out += ["", *_wrapped(title)]
    for label in letter_head(letter):
        out += [f"{label}: {BLANK}"]
    for section in letter.sections:
        out += ["", ("!! " if section.alarm else "") + section.heading]
        for head, lines in runs_of(section):
            out += [" | ".join(head)] if head else []
            for line in lines:
                out += _line(line)
    out += ["", f"{letter.signature[0]}: {BLANK}   {letter.signature[1]}: {BLANK}", words["unsigned"]]
    if letter.sources:
        out += ["", words["sources"]]
        for source in letter.sources:
            out += _wrapped(f"{source.text} ({source_tag(source.tag)})", f"[{source.number}] ")
    out += ["", *_wrapped(letter.foot), words["draft"]]
    return "\n".join(out) + "\n"


def letter_head(letter: Letter) -> tuple[str, ...]:
    """Labels of the blanks at the head of a letter, filled by hand."""
    blanks = frame()["blanks"]
    return (
        (blanks["patient_label"],) if letter.reader == "patient" else (blanks["to"], blanks["patient_label"])
    )


def source_tag(tag: str) -> str:
    """A tag with what it means."""
    return f"{tag}: {frame()['tags'][tag]}"


def _line(line: Line) -> list[str]:
    if line.shape == "row":
        return _wrapped(f"{' | '.join(line.cells)} {line.mark}".strip(), _ITEM)
    return _wrapped(line.marked, {"paragraph": "", "item": _ITEM, "box": _BOX}[line.shape])


def _wrapped(text: str, first: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False
    ) or [""]
