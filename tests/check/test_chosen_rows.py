"""A setting that chooses rows of published figures names rows, one for each element."""

from pathlib import Path

import pytest
import yaml

from candidacy.check.library import check_library
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library

ROWS = "measurement_error_in_use"


@pytest.mark.parametrize(
    ("rows", "wrong"),
    [
        (["odi_davidson_16", "nrs_childs"], []),
        (["odi_davidsen_16"], [("E208", "no such row of measurement_error")]),
        (["odi_davidson_16", "odi_parai"], [("E314", "two rows about odi_percent"),
                                            ("E314", "two rows about odi_percent_on_procedure_day")]),
    ],
)  # fmt: skip
def test_rows_that_are_chosen_are_checked(
    rows: list[str], wrong: list[tuple[str, str]], tmp_path: Path
) -> None:
    setting = {
        "value": rows,
        "meaning": "Errors that our practice counts with",
        "cites": [{"source": "common_practice", "supports": "value", "tag": "local"}],
        "replaces": {"reason": "Our own retest."},
    }
    (tmp_path / "settings.yaml").write_text(yaml.safe_dump({"settings": {ROWS: setting}}), encoding="utf-8")
    found = check_library(Library(tmp_path, shipped()))
    assert [(p.code.value, p.message) for p in found] == wrong
    assert all(p.field.endswith(f"{ROWS}.value") for p in found)
