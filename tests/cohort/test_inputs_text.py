"""CSV files as they come: encodings, quotes, blank and broken rows; and the numbers by which rows are named."""

from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import screen  # noqa: E402
from candidacy.foundation.errors import Code, Problem, TableError  # noqa: E402
from tests.strategies import AS_OF  # noqa: E402

WIDE = "wide_screen"
HEAD = "case_id,birth_date\n"


def _write(tmp_path: Path, content: str | bytes) -> Path:
    path = tmp_path / "t.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def _refused(path: Path, **more: Any) -> Problem:
    with pytest.raises(TableError) as caught:
        screen(path, WIDE, AS_OF, **more)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.expected or problem.next_step
    return problem


def _read(path: Path, **more: Any) -> tuple[list[str], list[tuple[int, str]]]:
    """References of the cases, and rows set aside, then cells not read, with their reasons."""
    with screen(path, WIDE, AS_OF, **more) as cohort:
        aside = cohort.set_aside_rows()
        assert cohort.rows == cohort.cases + cohort.set_aside
        cells = cohort.unread_cells()
        assert (cohort.set_aside, cohort.cells_not_read) == (len(aside), len(cells))
        told = [int(row) for row in (*aside["row"], *cells["row"])]
        assert [problem.line for problem in cohort.problems] == told
        return list(cohort.outcomes().case_id), [(p.line, p.message) for p in cohort.problems]


@pytest.mark.parametrize(
    ("content", "code", "words", "line"),
    [
        ("case_id,birth_date\na,1980\n".encode("utf-16"), Code.NOT_TEXT, "UTF-16", 0),
        ("case_id,birth_date\na,1980\n".encode("utf-16-le"), Code.NOT_TEXT, "UTF-16", 1),
        (b"case_id,birth_date\na,1980\nb,caf\xe9\n", Code.NOT_TEXT, "not UTF-8", 3),
        (b"case_id,birth_date\na,1980\nb,caf\xc3", Code.NOT_TEXT, "not UTF-8", 3),
        (b"case_id,birth_date\na,1980\nb,19\x0080\n", Code.NOT_TEXT, "zero bytes", 3),
        (HEAD, Code.EMPTY, "header and no row", 1),
        (HEAD + "\n\n,\n", Code.EMPTY, "header and no row", 1),
        ("\n" + HEAD + "a,1980\n", Code.BAD_TABLE, "the first row is empty", 1),
        (HEAD + "a;1980\nb;1981\n", Code.BAD_TABLE, "no row can be read", 2),
        ("case_id\n" + "a,1980\n" * 2, Code.BAD_TABLE, "no row can be read", 2),
        ("case_id^birth_date\na^1980\n", Code.BAD_TABLE, "none of the usual delimiters", 1),
        ("case_id\na\n", Code.BAD_MAPPING, "no column is a data element", 0),
        (HEAD + 'a,1980\nb,"1981\nc,1982\n', Code.BAD_TABLE, "opened and not closed", 3),
        (HEAD + 'a,"x"y\nb,"1981\nc,1982\n', Code.BAD_TABLE, "opened and not closed", 3),
        (HEAD + 'a,"' + "x" * 200_000 + '"\n', Code.BAD_TABLE, "opened and not closed", 2),
        (HEAD + "a," + "x" * 9_000_000 + "\n", Code.BAD_TABLE, "a line is too long", 2),
        ("case_id,age [year],Age [year]\na,1,2\n", Code.BAD_TABLE, "the same name", 0),
        ("case_id,,birth_date\na,1,2\n", Code.BAD_TABLE, "has no name", 0),
        ("case_id,row number in the file\na,1\n", Code.BAD_TABLE, "uses this name itself", 0),
        ("case_id,file_row_number\na,1\n", Code.BAD_TABLE, "uses this name itself", 0),
    ],
)  # fmt: skip
def test_a_text_that_is_no_table_is_told_with_its_row(
    content: str | bytes, code: Code, words: str, line: int, tmp_path: Path
) -> None:
    problem = _refused(_write(tmp_path, content))
    assert (problem.code, problem.line) == (code, line)
    assert words in problem.message


def test_a_header_that_could_be_parted_in_two_ways_is_asked_about(tmp_path: Path) -> None:
    path = _write(tmp_path, "case_id;birth_date,x\n1;1980,y\n")
    assert _refused(path).next_step == "name it with --delimiter"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_rows_keep_their_numbers_whatever_stands_between_them(end: str, tmp_path: Path) -> None:
    lines = ["case_id,birth_date", "a,1980", "", "b,1981,extra", "c,yesterday", ",", "d", "e,1985", "", ""]
    cases, aside = _read(_write(tmp_path, end.join(lines)))
    assert cases == ["a", "c", "e"]
    assert [line for line, _ in aside] == [4, 7, 5]  # rows without cells first, then cells
    assert [message for _, message in aside[:2]] == ["the row has not as many cells as the header"] * 2


def test_a_wrong_quotation_mark_spoils_its_row_and_no_other(tmp_path: Path) -> None:
    text = HEAD + 'a,1980\n"b"x,1981\n"c",1982\n"d\nd",1983\n"e""e",1984\n'
    cases, aside = _read(_write(tmp_path, text))
    assert cases == ["a", "c", "d\nd", 'e"e']
    assert aside == [(3, "a quotation mark stands inside a cell and is not written twice")]


def test_a_mark_inside_an_unquoted_cell_is_a_letter(tmp_path: Path) -> None:
    assert _read(_write(tmp_path, HEAD + '5" a,1980\nb,1981\n'))[0] == ['5" a', "b"]


def test_a_byte_order_mark_and_blanks_around_names_do_no_harm(tmp_path: Path) -> None:
    text = '\ufeff"case_id" , birth_date\na , 1980 \n'
    assert _read(_write(tmp_path, text.replace('" ,', '",')))[0] == ["a"]


def test_numbers_hold_across_the_blocks_in_which_a_large_file_is_read(tmp_path: Path) -> None:
    """More than two blocks of eight megabytes, bad rows in each; the same rows are named as counting lines gives."""
    wide = "x" * 990
    lines = ["case_id,birth_date,comment"]
    bad = {5, 7_000, 9_500, 16_999, 19_999}
    for number in range(2, 20_001):
        lines.append(f"c{number},1980,{wide}" + (",more" if number in bad else ""))
    path = _write(tmp_path, "\n".join(lines) + "\n")
    with screen(path, WIDE, AS_OF) as cohort:
        assert (cohort.rows, cohort.set_aside) == (19_999, len(bad))
        assert sorted(problem.line for problem in cohort.problems) == sorted(bad)
        assert set(cohort.outcomes().case_id) == {f"c{n}" for n in range(2, 20_001) if n not in bad}


def test_more_bad_rows_than_are_told_all_stand_in_the_file(tmp_path: Path) -> None:
    lines = [
        HEAD.strip(),
        "a,1980",
        *(f"b{n},1980,more" for n in range(1_500)),
        *(f"c{n},soon" for n in range(900)),
    ]
    with screen(_write(tmp_path, "\n".join(lines)), WIDE, AS_OF) as cohort:
        assert (cohort.rows, cohort.cases, cohort.set_aside, cohort.cells_not_read) == (
            2_401,
            901,
            1_500,
            900,
        )
        assert len(cohort.problems) == 400
        assert len(cohort.set_aside_rows()) == 1_500
        assert len(cohort.unread_cells()) == 900


def test_what_is_set_aside_is_no_formula(tmp_path: Path) -> None:
    text = HEAD + "=1+1,=2+2\n@x,1980,more\na,1980\n"
    with screen(_write(tmp_path, text), WIDE, AS_OF) as cohort:
        rows = cohort.set_aside_rows().fillna("")
        assert list(rows["case_id"]) == ["'@x,1980,more"]
        (cell,) = cohort.unread_cells().to_dict("records")
        assert (cell["case"], cell["value"]) == ("'=1+1", "'=2+2")


def test_every_duplicate_is_set_aside_however_it_is_written(tmp_path: Path) -> None:
    cases, aside = _read(_write(tmp_path, HEAD + "a,1980\nb,1981\n a ,1982\n"))
    assert cases == ["b"]
    assert [line for line, _ in aside] == [2, 4]
