"""Changes of a report that must change nothing, or exactly one thing."""

import json
import textwrap
from pathlib import Path

import pytest

from candidacy.reading import Reading, read_text
from candidacy.reading.marks import marks
from tests.published.shared import SHARED
from tests.quick_yaml import read_yaml
from tests.rows import each_row

PASSAGES = [c["text"] for c in read_yaml((Path(__file__).parent / "dictation.yaml").read_text("utf-8"))]


def said(reading: Reading) -> set[tuple]:
    """What a reading says, without where in the text it says it."""
    return {
        (f.disc, f.kind, f.value, f.status, f.sides) for f in reading.findings if f.kind != "numbering_method"
    }


def notes() -> list[str]:
    path = SHARED / "report_findings" / "open_gold.jsonl"
    if not path.exists():
        return []
    return [json.loads(line)["text"] for line in path.read_text("utf-8").splitlines()]


TEXTS = PASSAGES + notes()
SAME = {
    "upper case": str.upper,
    "lower case": str.lower,
    "doubled spaces": lambda t: t.replace(" ", "  "),
    "tabs": lambda t: t.replace(" ", "\t"),
    "carriage returns": lambda t: t.replace("\n", "\r\n"),
    "old line ends": lambda t: t.replace("\n", "\r"),
    "space at both ends": lambda t: f"\n\n  {t}  \n\n",
    "byte order mark": lambda t: "\ufeff" + t,
    "no-break spaces": lambda t: t.replace(" ", "\u00a0"),
}


@pytest.mark.parametrize("name", SAME)
def test_form_of_the_text_changes_nothing(name: str) -> None:
    for text in TEXTS:
        assert said(read_text(SAME[name](text))) == said(read_text(text)), text


def wrapped(text: str, width: int) -> str:
    lines = [
        textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False) or [""]
        for line in text.split("\n")
    ]
    return "\n".join("\n".join(part) for part in lines)


# A line that begins with a new sentence may be of another disc, so a break right behind a full stop can leave open of
# which disc a finding is; those few are counted, and none of them is given another disc.
MOST_OPENED = 6


@pytest.mark.parametrize("width", [50, 60, 72, 80, 100])
def test_line_wraps_change_nothing(width: int) -> None:
    changed = [t for t in TEXTS if marks(read_text(wrapped(t, width))) != marks(read_text(t))]
    assert len(changed) <= MOST_OPENED, changed
    for text in TEXTS:
        before, after = ({row[:2] for row in said(read_text(t))} for t in (text, wrapped(text, width)))
        assert all(not disc for disc, _ in after - before), text


LEVELLED = [
    "L4-5: Moderate disc desiccation. Broad-based protrusion measuring 4 mm with annular fissure. Mild canal stenosis.",
    "Diffuse disc bulge noted at L4-5 level, compressing the thecal sac and exit canals.",
    "At L4-5 there is Modic type 2 endplate change with severe loss of disc height.",
    "Possible annular tear at L4-5. Grade 1 anterolisthesis at L4-5.",
]


@pytest.mark.parametrize("text", LEVELLED)
@pytest.mark.parametrize(
    ("written", "disc"), [("L3-4", "L3-L4"), ("L2/3", "L2-L3"), ("L5-S1", "L5-S1"), ("L1-L2", "L1-L2")]
)
def test_another_level_moves_the_findings_and_nothing_else(text: str, written: str, disc: str) -> None:
    before, after = said(read_text(text)), said(read_text(text.replace("L4-5", written)))
    assert after == {((disc if d == "L4-L5" else d), *rest) for d, *rest in before}


FINDINGS = ["disc bulge", "disc protrusion", "annular fissure", "central canal stenosis", "Modic type 2 change", "facet arthropathy",
            "disc desiccation", "vacuum phenomenon", "loss of disc height", "nerve root compression"]  # fmt: skip


@pytest.mark.parametrize("finding", FINDINGS)
@each_row("denial", ["No evidence of", "There is no", "No significant", "Absence of"])
def test_a_denial_removes_exactly_one_finding(finding: str, denial: str) -> None:
    others = "L4-5: Extrusion. {} at this level. Severe foraminal stenosis."
    affirmed = read_text(others.format(finding.capitalize()))
    denied = read_text(others.format(f"{denial} {finding}"))

    def present(r: Reading) -> list[tuple]:
        return [
            (f.disc, f.kind, f.evidence.end - f.evidence.start) for f in r.findings if f.status == "present"
        ]

    gone = present(affirmed)
    for row in present(denied):
        gone.remove(row)
    assert len(gone) == 1


@each_row("text", [t for t in PASSAGES if "\n" not in t and ";" not in t])
def test_a_duplicated_sentence_changes_nothing(text: str) -> None:
    assert marks(read_text(f"{text}\n{text}")) == marks(read_text(text))


def test_typing_errors_do_not_hide_and_do_not_invent() -> None:
    typed = (
        "Difuse disc protruison at L4-5 with anular tear comprssing the thcal sac and stenosiss of the canal."
    )
    right = "Diffuse disc protrusion at L4-5 with annular tear compressing the thecal sac and stenosis of the canal."
    assert said(read_text(typed)) == said(read_text(right))
    near = "Extension and protection at L4-5. Tissue is normal. Medic. Indications. Effusion. Dissection of the aorta at L4-5."
    assert not [f for f in read_text(near).findings if f.status == "present"]


def test_level_spellings_are_the_same_disc() -> None:
    for written in (
        "L4-L5",
        "L4-5",
        "L4/5",
        "L4/L5",
        "L4 L5",
        "L4–5",
        "l4-l5",
        "L 4-5",
        "L4 - L5",
        "L4L5",
        "L45",
        "LV4-5",
    ):
        discs = {f.disc for f in read_text(f"Disc bulge at {written} level.").findings if f.disc}
        assert discs == {"L4-L5"}, written


def test_ranges_and_lists_are_spelled_out() -> None:
    cases = {
        "L2-3 to L4-5": {"L2-L3", "L3-L4", "L4-L5"},
        "L1 through S1": {"L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1"},
        "L3-S1": {"L3-L4", "L4-L5", "L5-S1"},
        "L3-4, 4-5 and 5-S1": {"L3-L4", "L4-L5", "L5-S1"},
        "L3-4, L4-5 & L5/S1": {"L3-L4", "L4-L5", "L5-S1"},
        "L3-L4-L5": {"L3-L4", "L4-L5"},
        "D12/L1": {"T12-L1"},
        "all lumbar levels": {"L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1"},
    }
    for written, wanted in cases.items():
        discs = {f.disc for f in read_text(f"Disc desiccation at {written}.").findings if f.disc}
        assert discs == wanted, written


def test_measure_after_a_level_is_not_a_level() -> None:
    reading = read_text("L4-5: 4-5 mm protrusion.")
    assert {f.disc for f in reading.findings if f.disc} == {"L4-L5"}
    assert [f.value for f in reading.findings if f.kind == "displacement_size"] == [("4.0", "5.0")]


def test_no_letter_case_in_any_rule_of_status() -> None:
    for word in ("no", "NO", "No"):
        found = read_text(f"{word} annular tear at L4-5.").findings
        assert [f.status for f in found] == ["absent"]
