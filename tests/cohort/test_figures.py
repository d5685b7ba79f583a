# ruff: noqa: E402
"""Drawings say the numbers of their flow or sweep, literally, in files that fetch nothing and do not vary."""

import io
import re
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("matplotlib", reason="cohort screening is an optional part")

from candidacy.cohort import Flow, attrition_diagram, sweep_plot
from candidacy.rules.vocabulary import STANDINGS

HOSTILE = ("$x$", "$", r"\$x^2$ \frac{1}{2}", "<b>bold</b>", "a & b &amp; c", "]]><script>alert(1)</script>",
           'say "so" and \'so\'', "W" * 300, "word " * 60, "Größe ≥ 5 µm – Höhe")  # fmt: skip


def flow(excluded: list[int], passing: int = 7, waiting: int = 2, titles: Any = None) -> Flow:
    """A flow with so many leaving at each step; those who wait do so at the last step."""
    remaining = start = sum(excluded) + passing + waiting
    steps = []
    for place, count in enumerate(excluded):
        title = titles[place] if titles else f"Criterion {place}"
        steps.append({"criterion": f"c{place}", "title": title, "force": "absolute", "entering": remaining,
                      "excluded": count, "remaining": remaining - count, "waiting": 0})  # fmt: skip
        remaining -= count
    if steps:
        steps[-1]["waiting"] = waiting
    return Flow("cases", start, tuple(steps), passing)


def texts(drawn: bytes) -> list[str]:
    """Every text of an SVG, in its order."""
    root = ElementTree.fromstring(drawn)
    return ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]


def joined(drawn: bytes) -> str:
    """All texts without spaces: titles are broken into lines, and a long word inside itself."""
    return re.sub(r"\s", "", "".join(texts(drawn)))


def points(first: dict[str, list[Any]]) -> Any:
    count = len(next(iter(first.values())))
    return pd.DataFrame({**first, **{s: [n + 3 * k for k in range(count)] for n, s in enumerate(STANDINGS)}})


def _fetches_nothing(drawn: bytes) -> None:
    text = drawn.decode("utf-8")
    root = ElementTree.fromstring(drawn)
    assert "<!DOCTYPE" not in text
    assert not [
        n for n in root.iter() if n.tag.endswith(("}script", "}image", "}foreignObject", "}metadata"))
    ]
    for node in root.iter():
        for name, value in node.attrib.items():
            if name.endswith("href") or "url(" in value:
                assert value.startswith(("#", "url(#")), (name, value)
            assert not name.startswith("on")
    assert not re.search(r"@import|javascript:|expression\(", text)


@pytest.mark.parametrize("title", HOSTILE, ids=lambda t: t[:12])
def test_a_hostile_title_is_literal_text(title: str) -> None:
    drawn = attrition_diagram(flow([5], titles=[title]))
    _fetches_nothing(drawn)
    assert re.sub(r"\s", "", f"5 excluded: {title}") in joined(drawn)


@settings(max_examples=8)
@given(st.lists(st.integers(0, 10**7), max_size=60), st.integers(0, 10**6), st.integers(0, 10**6))
def test_numbers_of_the_drawing_are_those_of_the_flow(
    excluded: list[int], passing: int, waiting: int
) -> None:
    waiting = waiting if excluded else 0
    given_ = flow(excluded, passing, waiting)
    drawn = attrition_diagram(given_)
    _fetches_nothing(drawn)
    shown = joined(drawn)
    assert f"Casesscreened:{given_.start:,}" in shown
    assert f"passingeverydecidingcriterion:{passing:,}" in shown
    assert f"{waiting:,}failingnothing" in shown
    # nobody is lost, however many steps are drawn as one
    lines = "\n".join(texts(drawn))
    numbers = [int(n.replace(",", "")) for n in re.findall(r"^([\d,]+) excluded:", lines, re.M)]
    assert sum(numbers) == given_.excluded
    assert len(numbers) == min(len([n for n in excluded if n]), 25)
    left = [int(n.replace(",", "")) for n in re.findall(r"^left: ([\d,]+)", lines, re.M)]
    assert left == [given_.start - sum(numbers[: place + 1]) for place in range(len(numbers))]


def test_who_is_left_is_written_beside_who_leaves() -> None:
    found = texts(attrition_diagram(flow([5, 0, 8], passing=7, waiting=2)))
    assert found == [
        "Cases screened: 22",
        "left: 17", "5 excluded: Criterion 0",
        "left: 9", "8 excluded: Criterion 2",
        "passing every deciding criterion: 7", "2 failing nothing, waiting for facts",
    ]  # fmt: skip


def test_steps_after_the_twenty_fourth_are_drawn_as_one_with_their_sum() -> None:
    exactly = texts(attrition_diagram(flow([3] * 25)))
    assert sum("excluded" in text for text in exactly) == 25
    assert not any("further criteria" in text for text in exactly)
    more = texts(attrition_diagram(flow([3] * 40)))
    assert more[-4:-2] == ["left: 9", "48 excluded: 16 further criteria"]


def _inside(drawn: bytes) -> None:
    """Boxes are in the drawing and apart, and every line of text is in one of them."""
    root = ElementTree.fromstring(drawn)
    width, height = (float(n) for n in root.attrib["viewBox"].split()[2:])
    boxes = []
    for box in root.iter("{http://www.w3.org/2000/svg}rect"):
        if "stroke" in box.attrib:
            x, y, wide, high = (float(box.attrib[name]) for name in ("x", "y", "width", "height"))
            boxes.append((x, y, x + wide, y + high))
    assert boxes
    for place, one in enumerate(boxes):
        assert 0 <= one[0] < one[2] <= width
        assert 0 <= one[1] < one[3] <= height
        for other in boxes[place + 1 :]:
            apart = one[2] < other[0] or other[2] < one[0] or one[3] < other[1] or other[3] < one[1]
            assert apart, (one, other)
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        # the line stands on y; its letters are some 7 points high
        assert any(b[0] < x < b[2] and b[1] + 7 <= y <= b[3] - 2 for b in boxes), "".join(text.itertext())


def test_boxes_stay_inside_and_apart_with_long_titles_and_great_numbers() -> None:
    _inside(attrition_diagram(flow([10**11, 5, 8], titles=HOSTILE[-3:])))
    _inside(attrition_diagram(flow([1] * 60, titles=["long " * 60] * 60)))


def test_every_line_of_a_long_title_fits_its_box() -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    renderer = FigureCanvasAgg(figure).get_renderer()
    for line in texts(attrition_diagram(flow([123456789] * 4, titles=HOSTILE[-4:]))):
        drawn = figure.text(0, 0, line.replace("$", r"\$"), fontsize=9)
        wide = drawn.get_window_extent(renderer).width / figure.dpi
        assert wide < (5.0 if "screened" not in line and "left" not in line else 3.3), line


def test_an_empty_flow_is_drawn() -> None:
    found = texts(attrition_diagram(Flow("discs", 0, (), 0)))
    assert found == [
        "Discs screened: 0", "passing every deciding criterion: 0", "0 failing nothing, waiting for facts"
    ]  # fmt: skip


def test_the_same_counts_give_the_same_bytes_whatever_the_settings_of_matplotlib() -> None:
    import matplotlib

    sweep = points({"bmi": [30, 35, 40]})
    made = {
        (kind, form): draw(content, form)
        for kind, draw, content in (("flow", attrition_diagram, flow([5, 8])), ("sweep", sweep_plot, sweep))
        for form in ("svg", "png")
    }
    with matplotlib.rc_context(
        {"font.size": 20, "lines.linewidth": 5, "savefig.dpi": 30, "svg.fonttype": "path"}
    ):
        assert attrition_diagram(flow([5, 8]), "svg") == made["flow", "svg"]
        assert attrition_diagram(flow([5, 8]), "png") == made["flow", "png"]
        assert sweep_plot(sweep, "svg") == made["sweep", "svg"]
        assert sweep_plot(sweep, "png") == made["sweep", "png"]
    assert attrition_diagram(flow([5, 9]), "svg") != made["flow", "svg"]


def test_a_png_opens_and_is_not_blank() -> None:
    image = pytest.importorskip("PIL.Image", reason="cohort screening is an optional part")
    for drawn in (attrition_diagram(flow([5, 8]), "png"), sweep_plot(points({"bmi": [30, 35]}), "png")):
        opened = image.open(io.BytesIO(drawn))
        opened.load()
        assert opened.format == "PNG"
        assert opened.width > 900
        assert len(set(opened.convert("L").resize((60, 60)).tobytes())) > 5


def test_masked_counts_are_masked_in_the_drawing_and_its_sums() -> None:
    drawn = attrition_diagram(flow([3, 0, 14, *[1] * 40], passing=2, waiting=9), mask_below=10)
    shown = re.sub(r"Criterion \d+|\d+ further", "", " ".join(texts(drawn)))
    assert "<10" in shown
    assert all(int(number) % 10 == 0 for number in re.findall(r"\d+", shown))
    found = texts(drawn)
    assert found[:3] == ["Cases screened: 60", "left: 60", "<10 excluded: Criterion 0"]
    assert found[-2:] == ["passing every deciding criterion: <10", "<10 failing nothing, waiting for facts"]


# --- sweeps


def test_a_sweep_of_numbers_is_drawn_along_them() -> None:
    drawn = sweep_plot(points({"rule.bmi": [30, 32.5, 40]}))
    _fetches_nothing(drawn)
    found = texts(drawn)
    assert "rule.bmi" in found
    assert set(STANDINGS.values()) <= set(found)
    assert "cases" in found


def test_a_sweep_of_codes_names_every_value_in_its_order() -> None:
    values = ["extrusion", "extrusion, sequestration", "$none$ <i>"]
    found = texts(sweep_plot(points({"rule.codes": values})))
    places = [found.index(part) for part in ("extrusion", "sequestration", "$none$ <i>")]
    assert places == sorted(places)


def test_a_sweep_of_two_parameters_has_a_panel_for_each_value_of_the_second() -> None:
    frame = points({"a": [1, 2, 1, 2], "rule.b": [12, 12, "x, y", "x, y"]})
    found = texts(sweep_plot(frame))
    assert "rule.b = 12" in found
    assert "rule.b = x, y" in found
    assert found.count("cases") == 2


def test_a_sweep_of_very_many_settings_is_drawn_in_part_and_says_so() -> None:
    frame = points({"a": [1, 2] * 250, "b": [n // 2 for n in range(500)]})
    found = texts(sweep_plot(frame))
    assert found.count("cases") == 8
    assert "8 of 250 settings are drawn" in found
    assert sweep_plot(frame, "png").startswith(b"\x89PNG")


def test_a_sweep_of_one_point_and_of_masked_nothing_is_drawn() -> None:
    frame = points({"a": [30]})
    frame[list(STANDINGS)] = 0
    _fetches_nothing(sweep_plot(frame.convert_dtypes()))
