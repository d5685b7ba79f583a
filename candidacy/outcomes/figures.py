"""Figures of what was counted, each with the words that say the same; nothing is drawn that masking keeps out."""

from collections.abc import Callable
from typing import Any, NamedTuple

from candidacy.cohort.output.drawing import INK, LINE, Form, bytes_of, drawing, new_figure, plain
from candidacy.outcomes.change import Change
from candidacy.outcomes.counted import Outcomes, planned_days

_WIDTH = 7.5
_MAIN, _ALARM, _SOFT = "#0b6e4f", "#a4161a", "#8a5a00"


class Figure(NamedTuple):
    """A figure with a short name for files, a heading and its text alternative."""

    name: str
    title: str
    words: str
    draw: Callable[[Form], bytes]


def figures_of(found: Outcomes, told: dict[str, Any]) -> list[Figure]:
    """The figures of a document; under masking only those that rest on shown numbers."""
    figures = [_responses(told)]
    if told["mask_below"]:
        return figures
    if found.patients:
        figures.append(_curve(found, told))
    figures += [_improvements(change, found.visit.title) for change in found.changes]
    for check in told["checks"]:
        if check["line"]:
            figures += [_cusum(check), _funnel(check)]
    return figures


def _responses(told: dict[str, Any]) -> Figure:
    rows = [each for each in told["definitions"] if each["counts"] and each["counts"]["complete"]]
    title = f"Response at {told['visit']['title'].lower()}, by definition"
    words = "; ".join(f"{each['title']}: {each['counts']['complete']['share']:.0%}" for each in rows)

    def draw(form: Form) -> bytes:
        with drawing():
            figure = new_figure(_WIDTH, 0.42 * max(len(rows), 1) + 1.2)
            figure.set_layout_engine("constrained")
            axes = figure.add_subplot()
            for place, each in enumerate(reversed(rows)):
                counts = each["counts"]
                share = counts["complete"]
                if counts["worst"] and counts["best"]:
                    low, high = counts["worst"]["share"], counts["best"]["share"]
                    axes.barh(
                        place, high - low, left=low, height=0.62, color="#e3e8ee", label="worst to best case"
                    )
                axes.plot(
                    [share["low"], share["high"]],
                    [place, place],
                    color=INK,
                    linewidth=1.4,
                    label="95 % interval",
                )
                axes.plot(share["share"], place, "o", color=_MAIN, markersize=5, label="of known answers")
            axes.set_yticks(
                range(len(rows)), [_wrapped(each["title"]) for each in reversed(rows)], fontsize=7.5
            )
            axes.set_xlim(0, 1)
            axes.xaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
            axes.grid(visible=True, axis="x", linewidth=0.4, color="#d9dee3")
            handles, labels = axes.get_legend_handles_labels()
            once = dict(zip(labels, handles, strict=True))
            if once:
                figure.legend(
                    once.values(), once.keys(), loc="outside lower center", ncols=3, fontsize=8, frameon=False
                )
            return bytes_of(figure, form, f"{title}: {words}")

    return Figure("responses", title, words, draw)


def _wrapped(text: str) -> str:
    import textwrap

    return plain("\n".join(textwrap.wrap(text, 48)))


def _curve(found: Outcomes, told: dict[str, Any]) -> Figure:
    curve = found.later.curve
    last = told["later"]["times"][-1] if told["later"]["times"] else None
    words = f"{curve.events} of {curve.people} had a later intervention at a treated disc; " + (
        f"{last['free']:.1%} without one at {last['title'].lower()}, {last['at_risk']} at risk"
        if last
        else ""
    )
    title = "Without a later intervention at a treated disc"

    def draw(form: Form) -> bytes:
        with drawing():
            figure = new_figure(_WIDTH, 4.2)
            figure.set_layout_engine("constrained")
            axes = figure.add_subplot()
            end = max(found.later.until, *(each.days for each in found.later.people))
            steps = curve.steps
            times = [0.0, *(step.time for step in steps), float(end)]
            free = [1.0, *(step.free for step in steps), steps[-1].free if steps else 1.0]
            axes.step(times, free, where="post", color=_MAIN, linewidth=1.6)
            bounded = [(step.time, step.interval) for step in steps if step.interval]
            if bounded:
                along = [time for time, _ in bounded] + [float(end)]
                low = [i.low for _, i in bounded if i]
                high = [i.high for _, i in bounded if i]
                axes.fill_between(
                    along,
                    [*low, low[-1]],
                    [*high, high[-1]],
                    step="post",
                    color=_MAIN,
                    alpha=0.15,
                    linewidth=0,
                )
            censored = [each.days for each in found.later.people if each.ending != "event"]
            axes.plot(censored, [curve.free_at(day) for day in censored], "|", color=INK, markersize=6)
            axes.set_ylim(0, 1.03)
            axes.set_xlim(0, end)
            ticks = [planned_days(visit) for visit in found.content.visits.visits]
            ticks = [0, *(day for day in ticks if day >= 28 and day <= end)]
            axes.set_xticks(ticks, [f"{day}\n{curve.at_risk(day)}" for day in ticks], fontsize=8)
            axes.set_xlabel("days since the injection; below them, how many were at risk", fontsize=9)
            axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
            axes.grid(visible=True, linewidth=0.4, color="#d9dee3")
            return bytes_of(figure, form, f"{title}: {words}")

    return Figure("later_intervention", title, words, draw)


def _improvements(change: Change, visit: str) -> Figure:
    """How many improved by at least each size, so that no single cut decides the picture."""
    unit = change.measure.unit or "points"
    sizes = sorted(set(change.improvements))
    shares = [sum(each >= size for each in change.improvements) / change.pairs for size in sizes]
    half = max((size for size, share in zip(sizes, shares, strict=True) if share >= 0.5), default=None)
    words = (
        f"{change.pairs} patients with both values; at least half of them improved by {half:g} {unit} or more"
    )
    title = f"Improvement by at least so much at {visit.lower()}: {change.measure.id.replace('_', ' ')}"

    def draw(form: Form) -> bytes:
        with drawing():
            figure = new_figure(_WIDTH, 3.2)
            figure.set_layout_engine("constrained")
            axes = figure.add_subplot()
            axes.step(sizes, shares, where="pre", color=_MAIN, linewidth=1.6)
            axes.set_ylim(0, 1.03)
            axes.set_xlabel(plain(f"improvement in {unit}; below 0 is worse"), fontsize=9)
            axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
            axes.axvline(0, color=LINE, linewidth=0.8)
            axes.grid(visible=True, linewidth=0.4, color="#d9dee3")
            return bytes_of(figure, form, f"{title}: {words}")

    return Figure(f"improvement_{change.measure.id}", title, words, draw)


def _cusum(check: dict[str, Any]) -> Figure:
    line = check["line"]
    reached = (
        f"reached at patient {', '.join(map(str, check['signals_at']))}"
        if check["signals_at"]
        else "never reached"
    )
    title = f"Running sum: {check['title']}"
    words = f"{len(line)} patients in the order of injections; the sum ends at {line[-1]:.2f}, its limit {check['limit']:.2f} was {reached}. {check['words']}"

    def draw(form: Form) -> bytes:
        with drawing():
            figure = new_figure(_WIDTH, 3.4)
            figure.set_layout_engine("constrained")
            axes = figure.add_subplot()
            along = range(1, len(line) + 1)
            axes.plot(along, line, color=_MAIN, linewidth=1.4, label="sum")
            axes.axhline(
                check["limit"],
                color=_ALARM,
                linewidth=1,
                linestyle="--",
                label="limit of the sum: somebody should look",
            )
            axes.plot(
                along,
                check["excess"],
                color=_SOFT,
                linewidth=1,
                linestyle=":",
                label="observed less expected",
            )
            for at in check["signals_at"]:
                axes.plot(at, line[at - 1], "D", color=_ALARM, markersize=6)
            axes.set_xlabel("patients in the order of their injections", fontsize=9)
            axes.grid(visible=True, linewidth=0.4, color="#d9dee3")
            figure.legend(loc="outside upper center", ncols=3, fontsize=8, frameon=False)
            return bytes_of(figure, form, f"{title}: {words}")

    return Figure(f"running_{check['id']}", title, words, draw)


def _funnel(check: dict[str, Any]) -> Figure:
    points = check["quarters"]
    outside = ", ".join(check["quarters_outside"]) or "none"
    title = f"Quarters: {check['title']}"
    words = (
        "; ".join(f"{p['quarter']}: {p['count']} of {p['of']}" for p in points)
        + f". Outside the limits: {outside}. {check['words']}"
    )

    def draw(form: Form) -> bytes:
        from candidacy.outcomes.running import funnel

        with drawing():
            figure = new_figure(_WIDTH, 3.4)
            figure.set_layout_engine("constrained")
            axes = figure.add_subplot()
            most = max(p["of"] for p in points) + 2
            sizes = list(range(1, most + 1))
            limits = [funnel(size, check["expected"]) for size in sizes]
            for name, dashes, label in (("low", "--", "95 %"), ("alert", "--", ""), ("alarm", ":", "99.9 %")):
                axes.step(sizes, [getattr(limit, name) / size for size, limit in zip(sizes, limits, strict=True)], where="mid",
                          color=LINE, linestyle=dashes, linewidth=1, label=label)  # fmt: skip
            axes.axhline(check["expected"], color=INK, linewidth=0.9, label="expected")
            axes.plot(
                [p["of"] for p in points],
                [p["count"] / p["of"] for p in points],
                "o",
                color=_MAIN,
                label="quarter",
            )
            for p in points:
                axes.annotate(
                    p["quarter"],
                    (p["of"], p["count"] / p["of"]),
                    textcoords="offset points",
                    xytext=(5, 4),
                    fontsize=7,
                )
            axes.set_ylim(-0.02, 1.02)
            axes.set_xlim(0, most)
            axes.set_xlabel("patients of the quarter", fontsize=9)
            axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
            figure.legend(loc="outside upper center", ncols=4, fontsize=8, frameon=False)
            return bytes_of(figure, form, f"{title}: {words}")

    return Figure(f"funnel_{check['id']}", title, words, draw)
