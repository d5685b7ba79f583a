"""Which codes of diagnoses are taken for a hint of danger, and that the table of them is whole."""

from pathlib import Path

import pytest

from candidacy.case import diagnosis_codes
from candidacy.case.diagnosis_codes import told_by_codes

_FOLDER = Path(diagnosis_codes.__file__).parent


def rows(name: str) -> dict[str, str]:
    lines = _FOLDER.joinpath(name).read_text("utf-8").splitlines()
    return dict(line.split(":", 1) for line in lines if line and not line.startswith("#"))


@pytest.mark.parametrize(("text", "topics"), [
    ("C79.51", ["cancer"]), ("c7951", ["cancer"]), ("C7A.00", ["cancer"]), ("D49.2", ["cancer"]), ("D50.0", []),
    ("O9A.1", ["pregnancy"]), ("Z3A.20", ["pregnancy"]), ("F17.210", []), ("F19.20", ["drugs or alcohol"]), ("F32.0", []),
    ("F32.2", ["self-harm"]), ("A18.01", ["infection"]), ("A20", []), ("M51.06", ["weakness or spinal cord"]),
    ("M51.361", ["leg pain or another source"]), ("M51.362", []), ("R33.9; G83.4", ["cauda equina syndrome"] * 2),
    ("M46.46 and Z79.01", ["infection", "blood thinners"]), ("XC79", []), ("1.C79", []), ("", []),
])  # fmt: skip
def test_a_code_is_of_a_topic_by_its_beginning(text: str, topics: list[str]) -> None:
    assert [topic for topic, _ in told_by_codes(text)] == topics


def test_each_topic_is_one_of_words_and_each_entry_finds_its_own_codes() -> None:
    table, found = rows("danger_codes.txt"), []
    assert set(table) <= set(rows("danger_words.txt"))
    for topic, codes in table.items():
        for entry in codes.split():
            ends = entry.split("-")
            assert sorted(ends) == ends
            assert len(ends) == 1 or {len(end) for end in ends} == {3}
            found += [(topic, list(told_by_codes(end))) for end in ends]
    assert [hits for topic, hits in found if [each for each, _ in hits] != [topic]] == []
