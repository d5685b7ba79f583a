"""The participant flow of a cohort as SVG or PNG: laid out once, and the same file for the same numbers."""

import io
from collections.abc import Iterator
from functools import cache
from importlib import resources
from typing import Any

from msgspec import Struct

from candidacy.cohort.answers.counts import Flow
from candidacy.cohort.answers.masking import shown_exclusions, shown_flow
from candidacy.cohort.output.drawing import INK, LINE, Form, drawing_needs
from candidacy.foundation.templates import template

# As many as stay legible on one printed page; the table of the flow has them all.
_MOST_STEPS = 24
# Lengths are in points of print.
_TYPE, _LINE_HEIGHT, _BESIDE, _GAP, _INDENT = 9, 12, 11, 14, 9
_LEFT, _LEFT_WIDTH, _RIGHT, _RIGHT_WIDTH, _WIDTH = 18, 248, 292, 374, 684
# From the middle of a line of text to the line that its letters stand on.
_TO_BASELINE = 0.35 * _TYPE
# A viewer may have a wider font than the one it is measured with.
_SPARE = 0.9
_HEAD, _HEAD_WIDTH = 4.0, 1.8
_BORDER = 0.8
_POINTS, _DOTS = 72, 150
# Large enough that lengths do not depend on how a font is fitted to dots.
_MEASURED = 100


class _Box(Struct, frozen=True):
    """Lines of text in a box; ``first`` is where the first one stands."""

    left: float
    top: float
    width: float
    height: float
    lines: tuple[str, ...]
    main: bool
    bold: bool = False

    @property
    def fill(self) -> str:
        return "#eef2f6" if self.main else "#ffffff"

    def placed(self) -> Iterator[tuple[float, float, str]]:
        """Each line with the point on which it begins."""
        first = self.top + self.height / 2 - (len(self.lines) - 1) / 2 * _LINE_HEIGHT + _TO_BASELINE
        for place, line in enumerate(self.lines):
            yield self.left + _INDENT, first + place * _LINE_HEIGHT, line


class _Arrow(Struct, frozen=True):
    """From one point to another one, along one axis."""

    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def head(self) -> tuple[tuple[float, float], ...]:
        (x, y), down = self.end, self.start[0] == self.end[0]
        back = (
            ((-_HEAD_WIDTH, -_HEAD), (_HEAD_WIDTH, -_HEAD))
            if down
            else ((-_HEAD, -_HEAD_WIDTH), (-_HEAD, _HEAD_WIDTH))
        )
        return ((x, y), *((x + across, y + along) for across, along in back))


class FlowDiagram(Struct, frozen=True):
    """A participant flow laid out."""

    name: str
    height: float
    boxes: tuple[_Box, ...]
    arrows: tuple[_Arrow, ...]

    def drawn(self, form: Form) -> bytes:
        """The diagram as a file; an SVG bears its name as text alternative and fetches nothing."""
        return self._svg() if form == "svg" else self._png()

    def _svg(self) -> bytes:
        page = template("candidacy.cohort.output", "flow.svg")
        text = page.render(
            diagram=self, width=_WIDTH, ink=INK, line=LINE, border=_BORDER, size=_TYPE, n=_short
        )
        return text.encode("utf-8")

    def _png(self) -> bytes:
        with drawing_needs():
            from PIL import Image, ImageDraw

        def dots(*lengths: float) -> list[float]:
            return [length * _DOTS / _POINTS for length in lengths]

        border, wide, high = (round(length) for length in dots(_BORDER, _WIDTH, self.height))
        image = Image.new("RGB", (wide, high), "white")
        draw = ImageDraw.Draw(image)
        for box in self.boxes:
            corners = dots(box.left, box.top, box.left + box.width, box.top + box.height)
            draw.rectangle(corners, fill=box.fill, outline=LINE, width=border)
            for x, y, line in box.placed():
                across, down = dots(x, y)
                draw.text(
                    (across, down), line, fill=INK, font=_font(_TYPE * _DOTS / _POINTS, box.bold), anchor="ls"
                )
        for arrow in self.arrows:
            draw.line(dots(*arrow.start, *arrow.end), fill=LINE, width=border)
            draw.polygon(dots(*(length for point in arrow.head for length in point)), fill=LINE)
        made = io.BytesIO()
        image.save(made, "png", dpi=(_DOTS, _DOTS))
        return made.getvalue()


def flow_diagram(flow: Flow, mask_below: int = 0) -> FlowDiagram:
    """Lay out the participant flow of cases or discs: who is left, and who leaves at which criterion.

    Criteria at which nobody leaves are not drawn, and those after the twenty-fourth at which somebody leaves
    are drawn as one. With ``mask_below`` small counts are masked.
    """
    shown = shown_flow(flow, mask_below)
    rows = [(f"{shown['unit'].capitalize()} screened: {shown['start']}", "", True)]
    rows += [
        (f"left: {step['remaining']}", f"{step['excluded']} excluded: {step['title']}", False)
        for step in shown_exclusions(flow, mask_below, _MOST_STEPS)
    ]
    rows.append(
        (
            f"passing every deciding criterion: {shown['passing']}",
            f"{shown['waiting']} failing nothing, waiting for facts",
            True,
        )
    )
    boxes, arrows, top = [], [], float(_GAP)
    for place, (left, right, bold) in enumerate(rows):
        ours = _lines(left, _LEFT_WIDTH, bold)
        theirs = _lines(right, _RIGHT_WIDTH) if right else ()
        high = max(len(ours), len(theirs)) * _LINE_HEIGHT + _BESIDE
        if place:
            middle = _LEFT + _LEFT_WIDTH / 2
            arrows.append(_Arrow((middle, top - _GAP), (middle, top)))
        boxes.append(_Box(_LEFT, top, _LEFT_WIDTH, high, ours, True, bold))
        if theirs:
            arrows.append(_Arrow((_LEFT + _LEFT_WIDTH, top + high / 2), (_RIGHT, top + high / 2)))
            boxes.append(_Box(_RIGHT, top, _RIGHT_WIDTH, high, theirs, False))
        top += high + _GAP
    return FlowDiagram(f"Flow of {shown['unit']}", top, tuple(boxes), tuple(arrows))


def attrition_diagram(flow: Flow, form: Form = "svg", mask_below: int = 0) -> bytes:
    """The participant flow of cases or discs as a file; see `flow_diagram`.

    Raises
    ------
    InputError
        E601 where the optional part ``cohort`` is not installed.
    """
    return flow_diagram(flow, mask_below).drawn(form)


def _lines(text: str, width: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines that fit a box of this width; a word wider than a line is broken."""
    room = (width - 2 * _INDENT) * _SPARE
    found: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if _wide(longer, bold) <= room:
            line = longer
            continue
        if line:
            found.append(line)
        while _wide(word, bold) > room:
            fits = max(1, int(len(word) * room / _wide(word, bold)))
            while fits > 1 and _wide(word[:fits], bold) > room:
                fits -= 1
            found.append(word[:fits])
            word = word[fits:]
        line = word
    return (*found, line) if line or not found else tuple(found)


def _wide(text: str, bold: bool) -> float:
    return float(_font(_MEASURED, bold).getlength(text)) * _TYPE / _MEASURED


@cache
def _font(size: float, bold: bool) -> Any:
    """The type of our printed pages; characters are set one after another, whatever else is installed."""
    with drawing_needs():
        from PIL import ImageFont
    file = (
        resources.files("candidacy.explain") / "fonts" / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    )
    return ImageFont.truetype(io.BytesIO(file.read_bytes()), size, layout_engine=ImageFont.Layout.BASIC)


def _short(length: float) -> str:
    """A length as text, to a hundredth of a point."""
    return f"{length:.2f}".rstrip("0").rstrip(".")
