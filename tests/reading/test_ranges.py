"""A report that differs from itself: the range of both values, with a mark and the words of each side."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from candidacy.case.edit import empty_record, with_fact
from candidacy.case.record import Document, FactEntry
from candidacy.commands.assess import assess
from candidacy.commands.read import read
from candidacy.reading import read_text
from candidacy.reading.elements import facts
from candidacy.reading.merge import merge

CASES = [
    ("L4-5: mild canal stenosis.", "L4-5: severe canal stenosis.", "canal_stenosis", {"one_of": ("mild", "moderate", "severe")}),
    ("L4-5: mild canal stenosis.", "L4-5: moderate canal stenosis.", "canal_stenosis", {"one_of": ("mild", "moderate")}),
    ("L4-5: disc bulge.", "L4-5: disc extrusion.", "displacement", {"one_of": ("bulge", "protrusion", "extrusion")}),
    ("L4-5: disc protrusion.", "No disc protrusion at L4-5.", "displacement", {"one_of": ("none", "bulge", "protrusion")}),
    ("L4-5: 4 mm protrusion.", "L4-5: 7 mm protrusion.", "displacement_size", {"between": (4.0, 7.0), "unit": "mm"}),
    ("L4-5: Modic type 1 change.", "L4-5: Modic type 2 change.", "modic_type", {"one_of": ("1", "1-2", "2-1", "2")}),
    ("Grade 1 anterolisthesis at L4-5.", "Grade 2 anterolisthesis at L4-5.", "meyerding_grade", {"one_of": ("I", "II")}),
]  # fmt: skip
FORMS = {"one_of", "between", "unit", "unknown", "value"}


@pytest.mark.parametrize(("body", "final", "element", "wanted"), CASES)
@pytest.mark.parametrize("second", ["IMPRESSION", "ADDENDUM"])
def test_differing_values_give_their_range_with_both_words(
    body: str, final: str, element: str, wanted: dict, second: str
) -> None:
    reading = read_text(f"FINDINGS: {body}\n\n{second}: {final}")
    assert reading.contradictions
    (fact,) = [f for f in facts(reading) if (f.subject, f.element) == ("L4-L5", element)]
    assert fact.entry.model_dump(include=FORMS, exclude_none=True) == wanted
    note = fact.entry.note or ""
    assert note.startswith("sources conflict (")
    for words in reading.contradictions[0].findings:
        assert " ".join(reading.words(words.quoted).split()) in note


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("FINDINGS: L4-5: nerve root compression.\nIMPRESSION: L4-5: no nerve root compression.", "neural_compression"),
        ("FINDINGS: L4-5: left protrusion.\nIMPRESSION: L4-5: right protrusion.", "displacement"),
    ],
)  # fmt: skip
def test_values_without_an_order_stay_unknown(text: str, element: str) -> None:
    (fact,) = [f for f in facts(read_text(text)) if (f.subject, f.element) == ("L4-L5", element)]
    assert fact.entry.unknown == "conflicting"
    assert (fact.entry.note or "").startswith("sources conflict (")


def test_same_value_twice_is_no_conflict() -> None:
    for body, _, element, _ in CASES:
        reading = read_text(f"FINDINGS: {body}\nIMPRESSION: {body}")
        assert not reading.contradictions
        for fact in facts(reading):
            assert "conflict" not in (fact.entry.note or ""), element


def test_range_of_a_conflict_never_replaces_a_value() -> None:
    reading = read_text("FINDINGS: L4-5: disc bulge.\nIMPRESSION: L4-5: disc extrusion.")
    empty = empty_record("demo").model_copy(update={"discs": {"L4-L5": {}}})
    record = with_fact(empty, "L4-L5", "displacement", FactEntry(value="protrusion"))
    for differing in ("accept", "conflict"):
        merged = merge(record, facts(reading), "r", Document(kind="imaging_report"), differing=differing)
        fact = merged.record.discs["L4-L5"]["displacement"]
        assert (fact.value, fact.unknown) == (None, "conflicting")
        assert 'record "protrusion"' in (fact.note or "")


def test_assessment_tells_of_the_conflict_and_is_not_decided_across_it(tmp_path: Path) -> None:
    report, case = tmp_path / "report.txt", tmp_path / "case.yaml"
    report.write_text(
        "MRI LUMBAR SPINE 3/14/2026\nFINDINGS: L4-5: Mild canal stenosis. Protrusion measuring 4 mm.\n"
        "IMPRESSION: L4-5: severe canal stenosis. Protrusion measuring 7 mm.\n", "utf-8",
    )  # fmt: skip
    case.write_text('schema_version: "1"\nid: demo\ninvented: true\ndiscs: {L4-L5: {}}\n', "utf-8")
    assert CliRunner().invoke(read, [str(report), "--into", str(case)]).exit_code == 0
    result = CliRunner().invoke(assess, [str(case), "--full", "--as-of", "2026-04-01"])
    assert result.exit_code in (0, 1), result.output
    said = " ".join(result.output.split())
    assert (
        'canal stenosis of L4-L5: sources conflict (two severities): findings "Mild canal stenosis"; impression'
        in said
    )
    assert (
        "Displacement size of L4-L5 is 4 to 7 mm (sources conflict), 18 days old: not precise enough" in said
    )
    row = next(
        line for line in result.output.splitlines() if line.startswith("No severe central canal stenosis")
    )
    assert "pass" not in row
    assert "fail" not in row
