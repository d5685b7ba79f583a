"""A table of rows tells every row that fails, and fails by each."""

import pytest

from tests.rows import each_row


@each_row(("number", "limit"), [(1, 2), (3, 2), (4, 4)], ids=["below", "above", "upon"])
def _is_below(number: int, limit: int) -> None:
    assert number < limit


def test_every_row_that_fails_is_told_by_its_name_and_what_was_wrong():
    (mark,) = _is_below.pytestmark
    (block,) = mark.args[1]
    with pytest.raises(pytest.fail.Exception, match="2 of 3 rows") as failed:
        _is_below(some_rows=block)
    for told in ("_is_below[above]", "assert 3 < 2", "_is_below[upon]", "assert 4 < 4"):
        assert told in str(failed.value)
    _is_below(some_rows=block[:1])


def test_a_row_that_skips_fails_and_an_empty_table_is_refused():
    def skips(row):
        pytest.skip("not here")

    with pytest.raises(pytest.fail.Exception, match="not here"):
        each_row("row", [1])(skips)(some_rows=[("1", (1,))])
    with pytest.raises(AssertionError):
        each_row("row", [])(skips)
