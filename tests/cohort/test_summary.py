# ruff: noqa: E402
"""The page of a cohort: whole in itself, escaped, complete, and fit for print."""

import re
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from candidacy.foundation.changed_copy import replace

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import screen
from candidacy.explain.cautions import GENERAL
from candidacy.rules.resolved import RuleSet
from tests.cohort.screened import part_of, shipped
from tests.strategies import AS_OF

MARKUP = "<img src=x onerror=alert(1)>&\"' $x$"
NAMESPACES = ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink")


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self.text = ""
        self._cell = self._style = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        self._cell, self._style = tag in ("td", "th"), tag == "style"

    def handle_data(self, data: str) -> None:
        if self._cell:
            self.rows[-1].append(data)
        if not self._style:
            self.text += data

    def handle_endtag(self, tag: str) -> None:
        self._cell = self._style = False


@pytest.fixture(scope="module")
def hostile_rules() -> RuleSet:
    """A trial of a few criteria whose titles are markup."""
    rules = part_of(
        shipped("practice_baseline"), ("able_to_consent", "body_mass_index_limit", "displacement_limit")
    ).with_trial({("body_mass_index_limit", "bmi_upper_limit"): 33})
    criteria = tuple(
        replace(item, criterion=item.criterion.model_copy(update={"title": f"{MARKUP} {place}"}))
        for place, item in enumerate(rules.criteria)
    )
    return replace(rules, file=rules.file.model_copy(update={"title": MARKUP}), criteria=criteria)


@pytest.fixture(scope="module")
def hostile(hostile_rules: RuleSet, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A table with a name and columns that are markup."""
    path = tmp_path_factory.mktemp("hostile") / "<b onclick=x>&'$y$.csv"
    frame = pd.DataFrame(
        {
            "case_id": [f"<i>{n}</i>" for n in range(1200)],
            "able_to_consent": ["false", "true", ""] * 400,
            "body_mass_index [kg/m2]": ["29.5", "", "40"] * 400,
            "L4-L5 displacement": ["extrusion", "none", "?not_stated"] * 400,
            "<script>": ["x"] * 1200,
        }
    )
    frame.to_csv(path, index=False)
    with screen(path, hostile_rules, AS_OF) as found:
        yield found


@pytest.mark.parametrize("mask_below", [0, 10])
def test_the_page_needs_and_asks_for_nothing_else(cohort: Any, hostile: Any, mask_below: int) -> None:
    for each in (cohort, hostile):
        text = each.summary(mask_below)
        addresses = set(re.findall(r"(?:https?:|ftp:)?//[^\s\"'<>)]+", text))
        assert addresses <= set(NAMESPACES)
        page = _Page(text)
        (policy,) = [a["content"] for t, a in page.tags if a.get("http-equiv") == "Content-Security-Policy"]
        assert policy is not None
        assert "default-src 'none'" in policy
        assert "script" not in policy
        tags = {tag for tag, _ in page.tags}
        assert not tags & {"script", "link", "iframe", "object", "embed", "img", "form", "base"}
        for _, attributes in page.tags:
            assert not [name for name in attributes if name.startswith("on")]
            for name in ("src", "href", "xlink:href"):
                assert (attributes.get(name) or "#").startswith("#")


def test_markup_in_titles_names_and_columns_is_text(hostile: Any) -> None:
    page = _Page(hostile.summary())
    tags = [tag for tag, _ in page.tags]
    assert not set(tags) & {"img", "script", "b", "i"}
    assert f"Cohort under {MARKUP}" in page.text
    assert f"{MARKUP} 0" in page.text  # in the tables
    assert re.sub(r"\s", "", f"excluded: {MARKUP} 0") in re.sub(r"\s", "", page.text)  # in the drawing
    assert "<b onclick=x>&'$y$.csv" in page.text
    assert "Columns not read: <script>." in page.text


def test_the_page_says_what_it_was_made_of(hostile: Any, hostile_rules: RuleSet) -> None:
    text = " ".join(_Page(hostile.summary()).text.split())
    for part in (AS_OF.isoformat(), f"practice_baseline {hostile_rules.file.version}", "status draft",
                 hostile_rules.digest, "Engine: embedded", "body_mass_index_limit.bmi_upper_limit = 33",
                 "1,200 cases read; 0 rows set aside"):  # fmt: skip
        assert part in text, part
    for caution in (*hostile_rules.file.cautions, *GENERAL):
        assert " ".join(caution.split()) in text


def test_an_untried_rule_set_is_not_called_a_trial(cohort: Any) -> None:
    assert "Local trial" not in cohort.summary()


def test_every_count_is_on_the_page(hostile: Any) -> None:
    rows = _Page(hostile.summary()).rows
    # a count does not tell what can be mended, so its name says both
    names = hostile.rule_set.decisions.counted
    assert names["not_candidate"] == "Not a candidate, or not yet"
    for row in hostile.standings().to_dict("records"):
        assert [names[row["standing"]], f"{row['cases']:,}"] in rows
    for row in hostile.tallies().to_dict("records"):
        counts = [f"{row[word]:,}" for word in ("pass", "fail", "undetermined")]
        assert [*[row["title"], row["subject"]], *counts] in [[*r[:2], *r[3:]] for r in rows]
    for row in hostile.reasons().to_dict("records"):
        assert [row["title"], f"{row['failing']:,}", f"{row['sole']:,}"] in [
            [r[0], *r[3:]] for r in rows if r
        ]
    for row in hostile.missing_ranking().to_dict("records"):
        assert [row["ask"], f"{row['settles']:,}", f"{row['waiting']:,}"] in [
            [r[0], *r[2:]] for r in rows if r
        ]


def test_no_criterion_of_a_long_rule_set_is_left_out() -> None:
    rules = shipped("practice_baseline")
    assert len(rules.criteria) > 60
    with screen(pd.DataFrame({"case_id": ["a"], "able_to_consent": [True]}), rules, AS_OF) as cohort:
        rows = _Page(cohort.summary()).rows
    titles = [row[0] for row in rows if row]
    assert {item.criterion.title for item in rules.criteria} <= set(titles)


def test_rows_set_aside_and_the_other_day_are_told(some_rules: RuleSet) -> None:
    frame = pd.DataFrame({"case_id": ["a", "b"], "able_to_consent": ["true", "perhaps"]})
    discs = pd.DataFrame(
        {"case_id": ["a", "z"], "disc": ["L4-L5", "L4-L5"], "displacement": ["none", "none"]}
    )
    with screen(frame, some_rules, date(2026, 3, 1), discs=discs) as cohort:
        text = " ".join(_Page(cohort.summary()).text.split())
    assert "2 cases read; 0 rows set aside, and 1 rows of the table of discs" in text
    assert "1 cells not read: their facts are unknown" in text
    assert "2026-03-01" in text


# --- as a browser shows and prints it


def test_a_browser_shows_it_without_a_request_and_inside_the_window(
    browser: Any, cohort: Any, hostile: Any, tmp_path: Path
) -> None:
    path = tmp_path / "summary.html"
    for each, width in ((cohort, 1280), (cohort, 820), (hostile, 820)):
        path.write_text(each.summary(), encoding="utf-8")
        asked: list[str] = []
        said: list[str] = []
        page = browser.new_page(viewport={"width": width, "height": 900})
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.on("console", lambda message, said=said: said.append(message.text))
        page.on("dialog", lambda dialog, said=said: said.append(dialog.message))
        page.goto(path.as_uri())
        assert asked == [path.as_uri()]
        assert said == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        smallest = page.evaluate(
            "Math.min(...[...document.querySelectorAll('svg text')].map(t => t.getBoundingClientRect().height))"
        )
        assert smallest >= 9
        page.close()


def test_in_print_no_drawing_is_cut_by_the_end_of_a_page(browser: Any, tmp_path: Path, cohort: Any) -> None:
    pypdf = pytest.importorskip("pypdf", reason="the printed page is read with pypdf")
    path = tmp_path / "summary.html"
    path.write_text(cohort.summary(), encoding="utf-8")
    page = browser.new_page()
    page.goto(path.as_uri())
    page.pdf(path=str(tmp_path / "summary.pdf"), format="A4")
    page.close()
    pages = [each.extract_text() for each in pypdf.PdfReader(tmp_path / "summary.pdf").pages]
    for unit in ("Discs", "Cases"):
        (of,) = [text for text in pages if f"{unit} screened:" in text]
        assert "passing every deciding criterion" in of.split(f"{unit} screened:")[1]
