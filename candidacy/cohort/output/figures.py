"""Diagrams of a cohort as SVG or PNG, drawn by matplotlib without a display, a network or a state of its own."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from candidacy.cohort.answers.counts import Flow
from candidacy.cohort.answers.masking import shown_exclusions, shown_flow
from candidacy.cohort.output.drawing import INK, LINE, Form, bytes_of, drawing, new_figure, plain
from candidacy.foundation.spreadsheet import is_number
from candidacy.rules.vocabulary import STANDINGS

if TYPE_CHECKING:
    import pandas as pd

_MAIN, _SIDE = "#eef2f6", "#ffffff"
# Told apart without colour too: each line has its own dashes and marker.
_LINES = {
    "candidate": ("#0b6e4f", "-", "o"),
    "borderline": ("#8a5a00", "--", "s"),
    "incomplete": ("#5b6770", ":", "^"),
    "not_candidate": ("#3d348b", "-.", "D"),
    "urgent": ("#a4161a", (0, (5, 1)), "x"),
}
# As many as stay legible on one printed page; the table of the flow has them all.
_MOST_STEPS = 24
_MOST_PANELS = 8
_FONT = 9
# Inches: the text of a box is that of its lines, and what stands above and below it.
_LINE_HEIGHT, _BESIDE, _GAP = 0.165, 0.15, 0.2
_LEFT, _LEFT_WIDTH, _RIGHT, _RIGHT_WIDTH, _WIDTH = 0.25, 3.45, 4.05, 5.2, 9.5
# A viewer may have a wider font than the one it is measured with.
_SPARE = 0.9


class _Measure:
    """How wide texts are drawn, in inches."""

    def __init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        figure = new_figure(_WIDTH, 1)
        canvas: Any = FigureCanvasAgg(figure)
        self._renderer = canvas.get_renderer()
        self._figure = figure

    def width(self, text: str, bold: bool = False) -> float:
        weight = "bold" if bold else "normal"
        drawn = self._figure.text(0, 0, plain(text), fontsize=_FONT, fontweight=weight)
        found = drawn.get_window_extent(self._renderer).width / self._figure.dpi
        drawn.remove()
        return float(found)

    def lines(self, text: str, width: float, bold: bool = False) -> list[str]:
        """The text in lines that fit; a word wider than a line is broken."""
        found: list[str] = []
        line = ""
        for word in text.split():
            longer = f"{line} {word}" if line else word
            if self.width(longer, bold) <= width:
                line = longer
                continue
            if line:
                found.append(line)
            while self.width(word, bold) > width:
                fits = max(1, int(len(word) * width / self.width(word, bold)))
                while fits > 1 and self.width(word[:fits], bold) > width:
                    fits -= 1
                found.append(word[:fits])
                word = word[fits:]
            line = word
        return [*found, line] if line or not found else found


def attrition_diagram(flow: Flow, form: Form = "svg", mask_below: int = 0) -> bytes:
    """The participant flow of cases or discs: who is left, and who leaves at which criterion.

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
    with drawing():
        return _drawn(rows, form, f"Flow of {shown['unit']}")


def _drawn(rows: list[tuple[str, str, bool]], form: Form, name: str) -> bytes:
    """Rows of a box on the left and, where somebody leaves, one on the right that an arrow leads to."""
    measure = _Measure()
    laid: list[tuple[list[str], list[str], bool, float]] = []
    for left, right, bold in rows:
        ours = measure.lines(left, (_LEFT_WIDTH - 0.25) * _SPARE, bold)
        theirs = measure.lines(right, (_RIGHT_WIDTH - 0.25) * _SPARE) if right else []
        laid.append((ours, theirs, bold, max(len(ours), len(theirs)) * _LINE_HEIGHT + _BESIDE))
    height = sum(each[3] + _GAP for each in laid) + _GAP
    figure = new_figure(_WIDTH, height)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, _WIDTH), ylim=(0, height))
    axes.axis("off")
    top = height - _GAP
    for place, (ours, theirs, bold, high) in enumerate(laid):
        middle = top - high / 2
        if place:
            _arrow(axes, (_LEFT + _LEFT_WIDTH / 2, top + _GAP), (_LEFT + _LEFT_WIDTH / 2, top))
        _box(axes, (_LEFT, top - high), (_LEFT_WIDTH, high), ours, _MAIN, bold)
        if theirs:
            _arrow(axes, (_LEFT + _LEFT_WIDTH, middle), (_RIGHT, middle))
            _box(axes, (_RIGHT, top - high), (_RIGHT_WIDTH, high), theirs, _SIDE, False)
        top -= high + _GAP
    return bytes_of(figure, form, name)


def _box(
    axes: Any,
    place: tuple[float, float],
    size: tuple[float, float],
    lines: list[str],
    colour: str,
    bold: bool,
) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle(place, *size, facecolor=colour, edgecolor=LINE, linewidth=0.8, zorder=0))
    first = place[1] + size[1] / 2 + (len(lines) - 1) / 2 * _LINE_HEIGHT
    for number, line in enumerate(lines):
        axes.text(
            place[0] + 0.12, first - number * _LINE_HEIGHT, plain(line), ha="left", va="center_baseline",
            fontsize=_FONT, color=INK, fontweight="bold" if bold else "normal",
        )  # fmt: skip


def _arrow(axes: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    arrow = {"arrowstyle": "-|>", "color": LINE, "linewidth": 0.9, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", end, start, arrowprops=arrow)


def sweep_plot(points: "pd.DataFrame", form: Form = "svg", standings: Mapping[str, str] = STANDINGS) -> bytes:
    """Cases by standing along the values of the first parameter; one panel for each setting of the others.

    No more than eight panels are drawn, and the drawing says how many there are. ``standings`` are those that the
    rule set may come to, with its names for them.
    """
    names = [column for column in points.columns if column not in STANDINGS]
    first, others = names[0], names[1:]
    panels = list(points.groupby(others, sort=False)) if others else [((), points)]
    drawn = panels[:_MOST_PANELS]
    with drawing():
        figure = new_figure(7.5, 3.1 * len(drawn) + 0.9)
        figure.set_layout_engine("constrained")
        for place, (values, found) in enumerate(drawn, 1):
            axes = figure.add_subplot(len(drawn), 1, place)
            _panel(axes, found, first, standings)
            if others:
                settings = values if isinstance(values, tuple) else (values,)
                told = "\n".join(f"{n} = {v}" for n, v in zip(others, settings, strict=True))
                axes.set_title(plain(told), fontsize=_FONT)
        lines, labels = figure.axes[0].get_legend_handles_labels()
        figure.legend(lines, labels, loc="outside upper center", ncols=len(_LINES), fontsize=8, frameon=False)
        if len(panels) > len(drawn):
            figure.supxlabel(f"{len(drawn)} of {len(panels)} settings are drawn", fontsize=_FONT, color=INK)
        return bytes_of(figure, form, f"Cases by standing along {first}")


def _panel(axes: Any, found: "pd.DataFrame", first: str, standings: Mapping[str, str]) -> None:
    from matplotlib.ticker import MaxNLocator

    labels = [str(value) for value in found[first]]
    numeric = all(is_number(label) for label in labels)
    if numeric:  # values may have been typed in any order
        found = found.iloc[sorted(range(len(labels)), key=lambda place: float(labels[place]))]
        labels = [str(value) for value in found[first]]
    along = [float(label) for label in labels] if numeric else list(range(len(labels)))
    for standing, (colour, dashes, marker) in _LINES.items():
        if standing not in standings:
            continue
        axes.plot(
            along, [int(v) for v in found[standing]], color=colour, linestyle=dashes, marker=marker,
            markersize=4, label=standings[standing],
        )  # fmt: skip
    if not numeric:
        # codes of a list stand below each other, and turned where there are many
        texts = [plain(label.replace(", ", "\n")) for label in labels]
        widest = max(len(line) for text in texts for line in text.split("\n"))
        crowded = widest * len(texts) > 75
        axes.set_xticks(along, texts, fontsize=8, rotation=45 if crowded else 0, ha="right" if crowded else "center",
                        rotation_mode="anchor" if crowded else "default")  # fmt: skip
    axes.set_xlabel(plain(first))
    axes.set_ylabel("cases")
    axes.set_ylim(bottom=0)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.grid(visible=True, linewidth=0.4, color="#d9dee3")
