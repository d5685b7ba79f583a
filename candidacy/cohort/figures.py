"""Diagrams of a cohort as SVG or PNG, drawn by matplotlib without a display, a network or a state of its own."""

import io
from typing import TYPE_CHECKING, Any, Literal

from candidacy.cohort.counts import Flow
from candidacy.cohort.masking import shown_flow
from candidacy.errors import Code, InputError, Problem
from candidacy.rules.schema import STANDINGS

if TYPE_CHECKING:
    import pandas as pd

Form = Literal["svg", "png"]
_INK, _LINE, _MAIN, _SIDE = "#1f2933", "#7b8794", "#eef2f6", "#ffffff"
# Told apart without colour too: each line has its own dashes and marker.
_LINES = {
    "candidate": ("#0b6e4f", "-", "o"),
    "borderline": ("#8a5a00", "--", "s"),
    "incomplete": ("#5b6770", ":", "^"),
    "not_candidate": ("#3d348b", "-.", "D"),
    "urgent": ("#a4161a", (0, (5, 1)), "x"),
}
_MOST_STEPS = 40


def _figure(width: float, height: float) -> Any:
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        problem = Problem(
            Code.USAGE,
            "drawing needs matplotlib",
            "candidacy screen",
            next_step="pip install 'candidacy[cohort]'",
        )
        raise InputError([problem]) from error
    return Figure(figsize=(width, height))


def _bytes(figure: Any, form: Form) -> bytes:
    import matplotlib

    # the same counts give the same file: no date, and ids that do not change
    with matplotlib.rc_context({"svg.hashsalt": "candidacy", "svg.fonttype": "none"}):
        buffer = io.BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(buffer, format=form, dpi=150, metadata=metadata)
    return buffer.getvalue()


def _plain(text: str) -> str:
    """Text that matplotlib does not read as a formula."""
    return text.replace("$", r"\$")


def attrition_diagram(flow: Flow, form: Form = "svg", mask_below: int = 0) -> bytes:
    """The participant flow of cases or discs: who is left, and who leaves at which criterion.

    Criteria at which nobody leaves are not drawn. With ``mask_below`` small counts are masked.
    """
    shown = shown_flow(flow, mask_below)
    steps = [step for step in shown["steps"] if step["excluded"] != "0"]
    rest = steps[_MOST_STEPS:]
    steps = steps[:_MOST_STEPS]
    rows = len(steps) + 3 + bool(rest)
    figure = _figure(9.5, 0.62 * rows + 0.4)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, 10), ylim=(-rows, 0.4))
    axes.axis("off")

    def box(x: float, row: float, width: float, text: str, colour: str, bold: bool = False) -> None:
        axes.text(
            x + 0.12, -row - 0.35, _plain(text), ha="left", va="center", fontsize=9, color=_INK,
            fontweight="bold" if bold else "normal",
        )  # fmt: skip
        axes.add_patch(_rectangle((x, -row - 0.65), width, 0.55, colour))

    def arrow(start: tuple[float, float], end: tuple[float, float]) -> None:
        axes.annotate("", end, start, arrowprops={"arrowstyle": "-|>", "color": _LINE, "linewidth": 0.9})

    box(0.3, 0, 3.2, f"{shown['unit'].capitalize()} screened: {shown['start']}", _MAIN, True)
    for place, step in enumerate(steps, 1):
        arrow((1.9, -place + 0.35), (1.9, -place - 0.1))
        box(0.3, place, 3.2, f"left: {step['remaining']}", _MAIN)
        arrow((3.5, -place - 0.38), (3.9, -place - 0.38))
        box(3.9, place, 5.8, f"{step['excluded']} excluded: {_short(step['title'])}", _SIDE)
    last = len(steps) + 1
    if rest:
        box(3.9, last, 5.8, f"and at {len(rest)} more criteria", _SIDE)
        last += 1
    arrow((1.9, -last + 0.35), (1.9, -last - 0.1))
    box(0.3, last, 3.2, f"failing nothing, waiting for facts: {shown['waiting']}", _MAIN)
    box(0.3, last + 1, 3.2, f"passing every deciding criterion: {shown['passing']}", _MAIN, True)
    return _bytes(figure, form)


def _rectangle(place: tuple[float, float], width: float, height: float, colour: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(place, width, height, facecolor=colour, edgecolor=_LINE, linewidth=0.8, zorder=0)


def _short(title: str, most: int = 70) -> str:
    return title if len(title) <= most else title[: most - 1] + "…"


def sweep_plot(points: "pd.DataFrame", form: Form = "svg") -> bytes:
    """Cases by standing along the values of the first parameter; one panel for each setting of the others."""
    names = [column for column in points.columns if column not in STANDINGS]
    first, others = names[0], names[1:]
    panels = list(points.groupby(others, sort=False)) if others else [((), points)]
    figure = _figure(7.5, 3.1 * len(panels) + 0.5)
    for place, (values, found) in enumerate(panels, 1):
        axes = figure.add_subplot(len(panels), 1, place)
        labels = [str(value) for value in found[first]]
        numeric = all(_is_number(label) for label in labels)
        along = [float(label) for label in labels] if numeric else list(range(len(labels)))
        for standing, (colour, dashes, marker) in _LINES.items():
            axes.plot(
                along, [int(v) for v in found[standing]], color=colour, linestyle=dashes, marker=marker,
                markersize=4, label=STANDINGS[standing],
            )  # fmt: skip
        if not numeric:
            axes.set_xticks(along, [_plain(label) for label in labels])
        axes.set_xlabel(_plain(first))
        axes.set_ylabel("cases")
        axes.set_ylim(bottom=0)
        axes.grid(visible=True, linewidth=0.4, color="#d9dee3")
        if others:
            settings = values if isinstance(values, tuple) else (values,)
            axes.set_title(
                _plain(", ".join(f"{n} = {v}" for n, v in zip(others, settings, strict=True))), fontsize=9
            )
        if place == 1:
            axes.legend(fontsize=8, frameon=False, loc="best")
    figure.tight_layout()
    return _bytes(figure, form)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
