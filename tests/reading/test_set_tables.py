"""Tables apart by blanks, and tables with a level for each column: read where every row is full, else not at all."""

import pytest

from candidacy.reading import Reading, read_text
from tests.rows import each_row

WANTED = {
    ("L3-L4", "displacement", "bulge", "absent"),
    ("L4-L5", "displacement", "bulge", "present"),
    ("L5-S1", "displacement", "bulge", "present"),
    ("L3-L4", "canal_stenosis", "present", "absent"),
    ("L4-L5", "canal_stenosis", ("moderate",), "present"),
    ("L5-S1", "canal_stenosis", ("mild",), "present"),
}
ROWS = [("Level", "Disc bulge", "Canal stenosis"), ("L3-4", "none", "none"), ("L4-5", "mild", "moderate"), ("L5-S1", "moderate", "mild")]  # fmt: skip


def said(reading: Reading) -> set[tuple]:
    return {(f.disc, f.kind, f.value, f.status) for f in reading.findings if f.kind != "neural_compression"}


def set_out(rows: list[tuple[str, ...]], how: str) -> str:
    if how == "bars":
        return "\n".join(" | ".join(r) for r in rows)
    if how == "outer bars":
        return "\n".join(f"| {' | '.join(r)} |" for r in rows)
    if how == "tabs":
        return "\n".join("\t".join(r) for r in rows)
    gap = {"wide": 8, "two blanks": 2}[how]
    widths = [max(len(r[i]) for r in rows) + gap for i in range(len(rows[0]))]
    return "\n".join("".join(c.ljust(w) for c, w in zip(r, widths, strict=True)).rstrip() for r in rows)


HOW = ["bars", "outer bars", "tabs", "wide", "two blanks"]


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("turned", [False, True])
@each_row("around", ["{}", "FINDINGS:\n{}", "FINDINGS:\n\n{}\n\nThe conus is normal.", "{}\nThe conus is normal."])  # fmt: skip
def test_a_full_table_is_read(how: str, turned: bool, around: str) -> None:
    rows = [tuple(c) for c in zip(*ROWS, strict=True)] if turned else ROWS
    reading = read_text(around.format(set_out(rows, how)))
    assert said(reading) == WANTED
    assert not reading.unread


@pytest.mark.parametrize("how", ["wide", "two blanks"])
def test_a_corner_may_be_empty(how: str) -> None:
    rows = [("", "L3-4", "L4-5"), ("Canal stenosis", "none", "severe")]
    reading = read_text(set_out(rows, how))
    assert said(reading) == {
        ("L3-L4", "canal_stenosis", "present", "absent"),
        ("L4-L5", "canal_stenosis", ("severe",), "present"),
    }


@pytest.mark.parametrize("how", ["wide", "two blanks"])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("at", [1, 2])
def test_a_table_with_a_row_that_is_not_full_is_unread_as_a_whole(how: str, turned: bool, at: int) -> None:
    rows = [list(c) for c in (zip(*ROWS, strict=True) if turned else ROWS)]
    rows[at][1] = ""
    reading = read_text(set_out([tuple(r) for r in rows], how))
    assert said(reading) == set()
    assert len(reading.unread) == len(rows)


@pytest.mark.parametrize("how", HOW)
def test_cells_with_several_findings(how: str) -> None:
    rows = [
        ("Finding", "L3-4", "L4-5"),
        ("Disc", "normal", "bulge with annular fissure"),
        ("Stenosis", "no canal stenosis", "mild canal stenosis, no foraminal stenosis"),
    ]
    assert said(read_text(set_out(rows, how))) == {
        ("L3-L4", "displacement", "none", "absent"),
        ("L4-L5", "displacement", "bulge", "present"),
        ("L4-L5", "annular_fissure", "present", "present"),
        ("L3-L4", "canal_stenosis", "present", "absent"),
        ("L4-L5", "canal_stenosis", ("mild",), "present"),
        ("L4-L5", "foraminal_stenosis", "present", "absent"),
    }


@pytest.mark.parametrize("value", ["-", "–", "0", "n/a"])
def test_a_dash_or_zero_in_a_cell_asserts_nothing_and_is_shown(value: str) -> None:
    rows = [("Finding", "L3-4", "L4-5"), ("Annular fissure", value, "present")]
    reading = read_text(set_out(rows, "bars"))
    assert said(reading) == {("L4-L5", "annular_fissure", "present", "present")}
    assert [reading.words_missed(a) for a in reading.unread] == [value]


def test_lines_that_begin_with_a_level_and_have_blanks_are_no_table() -> None:
    reading = read_text("L3-4  Normal disc.\nL4-5  Disc bulge.")
    assert said(reading) == {
        ("L3-L4", "displacement", "none", "absent"),
        ("L4-L5", "displacement", "bulge", "present"),
    }


def test_a_yes_that_a_finding_rests_on_is_not_shown_as_unread() -> None:
    reading = read_text(
        "MRI lumbar\nDisc      Bulge      Modic\nL4-5      yes        1\nL5-S1     no         2\n"
    )
    assert reading.unread == ()
    assert ("L4-L5", "bulge", "present") in {(f.disc, f.value, f.status) for f in reading.findings}
