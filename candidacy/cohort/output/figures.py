"""Sweeps of a cohort as SVG or PNG, drawn by matplotlib without a display, a network or a state of its own."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from candidacy.cohort.output.drawing import INK, Form, bytes_of, drawing, new_figure, plain
from candidacy.foundation.spreadsheet import is_number
from candidacy.rules.vocabulary import STANDINGS

if TYPE_CHECKING:
    import pandas as pd

# Told apart without colour too: each line has its own dashes and marker.
_LINES = {
    "candidate": ("#0b6e4f", "-", "o"),
    "borderline": ("#8a5a00", "--", "s"),
    "incomplete": ("#5b6770", ":", "^"),
    "not_candidate": ("#3d348b", "-.", "D"),
    "urgent": ("#a4161a", (0, (5, 1)), "x"),
}
# As many as stay legible on one printed page; the table of the sweep has them all.
_MOST_PANELS = 8
_FONT = 9


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
