"""A drafted letter: plain content, from which text, PDF and DOCX are made alike."""

from typing import Literal

from msgspec import Struct, field

Shape = Literal["paragraph", "item", "box", "row"]


class Line(Struct, frozen=True):
    """One paragraph, item of a list, box to tick, or row of a table (``cells`` under ``head``).

    ``marks`` are the sources of the letter it rests on: their number, and the tag where it was not read in the source.
    """

    shape: Shape
    text: str = ""
    cells: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()

    @property
    def marked(self) -> str:
        """The text with the marks of its sources."""
        return f"{self.text} {self.mark}".strip()

    @property
    def mark(self) -> str:
        """The marks of its sources, each in brackets."""
        return " ".join(f"[{mark}]" for mark in self.marks)


class Section(Struct, frozen=True):
    """A heading with its lines; ``alarm`` for what must be acted on first."""

    heading: str
    lines: tuple[Line, ...]
    alarm: bool = False


class SourceLine(Struct, frozen=True):
    """A source by its number: what it is, and how far it was verified."""

    number: int
    text: str
    tag: str


class Letter(Struct, frozen=True):
    """A draft. ``notes`` are for the practice and no part of the letter; ``open`` are blanks that are not filled in.

    ``foot`` is what it was made of, in small print.
    """

    kind: str
    title: str
    reader: str
    state: str
    sections: tuple[Section, ...]
    notes: tuple[str, ...]
    open: tuple[str, ...]
    sources: tuple[SourceLine, ...]
    foot: str
    about: str = ""
    signature: tuple[str, ...] = field(default=())
