# ruff: noqa: E402
"""Counts that leave the house: no small one is shown, and none follows from a sum and its other parts."""

import csv
import re
from html.parser import HTMLParser
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import attrition_diagram, masked_frame
from candidacy.cohort.answers.masking import masked, shown_flow
from candidacy.foundation.errors import Code, TableError
from tests.cohort.test_figures import flow, texts

BELOW = 10


def possible(shown: str, below: int, most: int) -> range:
    """Every count that is shown so: what a reader can tell from the rule alone."""
    if shown == "0":
        return range(1)
    if shown.startswith("<"):
        return range(1, below)
    return range(int(shown), min(int(shown) + below, most + 1))


@given(st.integers(0, 10**9), st.integers(3, 1000))
def test_a_small_count_is_never_a_number_and_nothing_else_is_hidden(count: int, below: int) -> None:
    shown = masked(count, below)
    if count == 0:
        assert shown == "0"
    elif count < below:
        assert shown == f"<{below}"
    else:
        assert int(shown) % below == 0
        assert count - below < int(shown) <= count
    assert count in possible(shown, below, count)


@given(st.integers(0, 10**6), st.integers(0, 10**6), st.integers(3, 100))
def test_masking_keeps_the_order_of_counts(one: int, other: int, below: int) -> None:
    low, high = sorted((one, other))
    a, b = (possible(masked(n, below), below, 10**7) for n in (low, high))
    assert a.start <= b.start
    assert a.stop <= b.stop


@pytest.mark.parametrize("below", [3, 4, 10])
def test_a_small_part_stays_open_beside_its_sum_and_the_other_part(below: int) -> None:
    """Every small count is as possible as the true one, for a reader who knows the rule and does the sums."""
    for small, other in product(range(1, below), range(6 * below)):
        if small + other < below or not other:
            continue  # a sum that is masked itself bounds its parts, as 0 does
        total = possible(masked(small + other, below), below, 10 * below)
        others = possible(masked(other, below), below, 10 * below)
        open_ = {s for s in range(1, below) for o in others if s + o in total}
        assert open_ == set(range(1, below)), (small, other)


@given(st.integers(3, 12), st.data())
def test_a_small_part_stays_open_beside_its_sum_and_several_parts(below: int, data: Any) -> None:
    small = data.draw(st.integers(1, below - 1))
    others = data.draw(st.lists(st.integers(1, 500), min_size=1, max_size=6))
    assume(small + sum(others) >= below)
    shown = possible(masked(small + sum(others), below), below, 10**6)
    spans = [possible(masked(other, below), below, 10**6) for other in others]
    low, high = sum(s.start for s in spans), sum(s.stop - 1 for s in spans)
    open_ = {s for s in range(1, below) if s + low < shown.stop and s + high >= shown.start}
    assert small in open_
    assert len(open_) >= below - 1 - len(others)


@pytest.mark.parametrize("below", [-5, 0, 1, 2])
def test_a_threshold_that_masks_nothing_is_refused(below: int, cohort: Any, tmp_path: Path) -> None:
    """ "<2" could only be 1, since 0 is shown."""
    with pytest.raises(TableError) as caught:
        masked_frame(pd.DataFrame({"cases": [1]}), below)
    assert caught.value.problems[0].code is Code.USAGE
    if below > 0:
        with pytest.raises(TableError):
            cohort.write(tmp_path / "out", mask_below=below)
        assert list(tmp_path.iterdir()) == []


def test_only_whole_numbers_of_a_table_are_masked_and_a_missing_one_stays_missing() -> None:
    frame = pd.DataFrame(
        {"criterion": ["a", "b", "c"], "cases": pd.array([4, None, 27], dtype="Int64"), "value": [1, 2, 3]}
    )
    found = masked_frame(frame, BELOW, keep=("value",))
    assert list(found["criterion"]) == ["a", "b", "c"]
    assert [None if pd.isna(cell) else cell for cell in found["cases"]] == ["<10", None, "20"]
    assert list(found["value"]) == [1, 2, 3]
    assert list(frame["cases"].dropna()) == [4, 27]  # the given table is as it was


def test_a_masked_flow_masks_every_number() -> None:
    shown = shown_flow(flow([3, 14, 0], passing=2, waiting=9), BELOW)
    assert shown["start"] == "20"
    assert [(s["entering"], s["excluded"], s["remaining"], s["waiting"]) for s in shown["steps"]] == [
        ("20", "<10", "20", "0"), ("20", "10", "10", "0"), ("10", "0", "10", "<10")
    ]  # fmt: skip
    assert (shown["waiting"], shown["excluded"], shown["passing"]) == ("<10", "10", "<10")


# --- what is written for sharing


@pytest.fixture(scope="module")
def shared(cohort: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("masked") / "out"
    rules = cohort.rule_set.with_trial({("degeneration_grade_window", "imaging_max_age"): 1})
    sweep = cohort.sweep({"bmi_upper_limit": [28, 35]})
    cohort.write(folder, mask_below=BELOW, sweep=sweep, comparison=cohort.compare(rules))
    return folder / "to_share"


def _fit(cell: str) -> bool:
    return cell in ("0", f"<{BELOW}") or (cell.isdigit() and int(cell) % BELOW == 0 and cell != "0")


def test_every_count_of_every_shared_table_is_masked(shared: Path, cohort: Any) -> None:
    words = ("criterion", "title", "subject", "force", "standing", "disc", "flow", "element", "label", "ask",
             "burden", "from", "to", "change", "body_mass_index_limit.bmi_upper_limit")  # fmt: skip
    seen = []
    for path in sorted(shared.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                counts = {name: cell for name, cell in row.items() if name not in words}
                assert counts, path.name
                assert all(_fit(cell) for cell in counts.values()), (path.name, counts)
                seen += counts.values()
    assert f"<{BELOW}" in seen
    assert "0" in seen
    # and they are the counts of the cohort
    with (shared / "standings.csv").open(encoding="utf-8", newline="") as stream:
        found = {row["standing"]: row["cases"] for row in csv.DictReader(stream)}
    assert found == {
        r["standing"]: masked(int(r["cases"]), BELOW) for r in cohort.standings().to_dict("records")
    }


class _Cells(HTMLParser):
    """Texts of the cells of counts, and all other texts."""

    def __init__(self) -> None:
        super().__init__()
        self.counts: list[str] = []
        self.others: list[str] = []
        self._counting = self._hidden = False

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self._counting = tag == "td" and dict(attrs).get("class") == "n"
        self._hidden = tag == "style"

    def handle_data(self, data: str) -> None:
        if not self._hidden and data.strip():
            (self.counts if self._counting else self.others).append(data.strip())

    def handle_endtag(self, tag: str) -> None:
        self._counting = self._hidden = False


def test_every_count_of_the_shared_page_is_masked(shared: Path, cohort: Any) -> None:
    page = _Cells()
    page.feed((shared / "summary.html").read_text(encoding="utf-8"))
    assert len(page.counts) > 50
    assert all(_fit(cell) for cell in page.counts), [c for c in page.counts if not _fit(c)]
    said = " ".join(page.others)
    # what is not a count: what rule set and cautions say in words, the day, the digest, the threshold
    frames = (cohort.tallies(), cohort.reasons(), cohort.missing_ranking())
    words = {
        str(cell)
        for frame in frames
        for column in ("title", "ask")
        if column in frame
        for cell in frame[column]
    }
    for told in sorted(words, key=len, reverse=True):
        said = said.replace(told, " ")
    said = re.sub(r"Counts from 1 to 9|\d{4}-\d\d-\d\d|sha256:\w+|\d+\.\d+\.\d+", " ", said)
    numbers = [int(n) for n in re.findall(r"(?<![\w<])\d+(?!\w)", said)]
    assert numbers
    assert all(number % BELOW == 0 for number in numbers), numbers


@pytest.mark.parametrize("place", [0, 1])
def test_every_number_of_the_shared_drawings_is_masked(shared: Path, cohort: Any, place: int) -> None:
    given_ = cohort.flows()[place]
    drawn = (shared / f"attrition_{given_.unit}.svg").read_bytes()
    said = "\n".join(texts(drawn))
    counts = re.findall(r"^(?:.*: )?(<?\d+)(?: (?:excluded:|failing).*)?$", said, re.M)
    assert len(counts) >= 4
    assert all(_fit(count) for count in counts), counts
    # pixels cannot be read here: the same drawing as of the masked numbers, and another than of the true ones
    png = (shared / f"attrition_{given_.unit}.png").read_bytes()
    assert png == attrition_diagram(given_, "png", BELOW)
    assert png != attrition_diagram(given_, "png")


def test_nothing_shared_names_the_table_or_a_case(shared: Path, cohort: Any) -> None:
    references = [*cohort.outcomes()["case_id"]]
    files = [path for path in shared.rglob("*") if path.is_file()]
    assert len(files) >= 11
    for path in files:
        content = path.read_bytes()
        for name in (cohort.name, Path(cohort.name).name, *references):
            assert name.encode() not in content, (path.name, name)


def test_what_speaks_of_single_cases_or_the_run_is_not_shared(shared: Path) -> None:
    kept = {path.name for path in shared.parent.iterdir() if path.is_file()}
    assert {"run.json", "cases.parquet", "discs.parquet", "moved_cases.parquet", "set_aside.csv"} <= kept
    found = {path.name for path in shared.iterdir()}
    assert {"moves.csv", "sweep.csv", "standings.csv", "summary.html"} <= found
    assert not [name for name in found if name.startswith(("run", "cases", "discs.", "moved", "set_aside"))]
    # a plot shows exact counts to anyone with a ruler
    assert not [name for name in found if name.startswith("sweep.") and name != "sweep.csv"]
