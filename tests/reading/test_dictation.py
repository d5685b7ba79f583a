"""Longer dictation style, disc by disc: invented passages with the present findings they hold."""

from pathlib import Path

import pytest

from candidacy.reading import read_text
from candidacy.reading.marks import marks
from tests.published.score_reports import present
from tests.quick_yaml import read_yaml

CASES = read_yaml((Path(__file__).parent / "dictation.yaml").read_text("utf-8"))
_FIELD = {
    "height": "height_loss",
    "endplate": "endplate_change",
    "canal": "canal_stenosis",
    "listhesis": "listhesis",
}
_FLAG = {"desiccation": "desiccation", "fissure": "annular_fissure", "neural": "neural_compression"}
_FORM = {"herniation": "herniation_unspecified"}


def expected(discs: dict[str, str]) -> set[tuple[str, str, str]]:
    out = set()
    for disc, words in discs.items():
        for word in words.split():
            name, _, value = word.partition("=")
            if name.startswith("?"):
                continue
            if value:
                out.add((disc, _FIELD[name], value))
            elif name in _FLAG:
                out.add((disc, _FLAG[name], "present"))
            else:
                out.add((disc, "displacement", _FORM.get(name, name)))
    return out


@pytest.mark.parametrize("case", CASES, ids=[c["text"][:60].replace("\n", " ") for c in CASES])
def test_passage_gives_its_present_findings_and_no_other(case: dict) -> None:
    if "limit" in case:
        pytest.xfail(case["limit"])
    found = marks(read_text(case["text"]))
    assert present(found["discs"]) == expected(case["discs"])  # type: ignore[arg-type]
    for field, value in case.get("whole", {}).items():
        assert found["whole_report"].get(field) == value
    for disc, words in case["discs"].items():
        for word in words.split():
            if word.startswith("?"):
                assert found["discs"][disc]["displacement_certainty"] == "possible"  # type: ignore[index]
