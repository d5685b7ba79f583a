"""Invented dictations marked by hand before the reader met them, eighty and sixty; how, and the first figures, in
data/README.md.

The marks follow the guide of the open set. After the first run the rules were changed for what the set showed, so
this guards what was reached and is no longer a held-out figure.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts
from candidacy.reading.marks import marks
from tests.published.score_reports import load, score
from tests.published.test_report_findings import half
from tests.rows import each_row

GOLD = load(Path(__file__).parent / "data" / "dictation_gold.jsonl")
SECOND = load(Path(__file__).parent / "data" / "dictation_gold_2.jsonl")
THIRD = load(Path(__file__).parent / "data" / "dictation_gold_3.jsonl")
FOURTH = load(Path(__file__).parent / "data" / "dictation_gold_4.jsonl")
DEVELOPMENT = load(Path(__file__).parent / "data" / "dictation_gold_dev.jsonl")


@pytest.mark.parametrize("which", ["A", "B"])
def test_figures_do_not_fall(which: str) -> None:
    result = score([g for g in GOLD if half(g["report_id"]) == which])
    assert result["present_findings_micro"]["f1"] >= 1.0, result["differences"]
    assert result["displacement"]["f1"] >= 1.0
    assert result["asserted_where_gold_says_absent_or_possible"] == []
    assert result["discs"] == {"missed": 0, "not_in_gold": 0}


@pytest.mark.parametrize("change", [str.upper, str.lower], ids=["upper", "lower"])
def test_letter_case_changes_nothing(change: Callable[[str], str]) -> None:
    for g in (*GOLD, *SECOND):
        assert marks(read_text(change(g["text"]))) == marks(read_text(g["text"])), g["report_id"]


def test_denials_doubts_and_the_whole_report_do_not_fall() -> None:
    assert score(GOLD)["differences"] == []


def test_the_set_is_as_described() -> None:
    ids = [g["report_id"] for g in GOLD]
    assert len(set(ids)) == len(ids) == 80
    halves = [half(i) for i in ids]
    assert (halves.count("A"), halves.count("B")) == (41, 39)


@pytest.mark.parametrize("which", ["A", "B"])
def test_figures_of_the_second_set_do_not_fall(which: str) -> None:
    result = score([g for g in SECOND if half(g["report_id"]) == which])
    assert result["present_findings_micro"]["f1"] >= 0.97, result["differences"]
    assert result["displacement"]["f1"] >= 0.99
    assert result["asserted_where_gold_says_absent_or_possible"] == []
    assert result["discs"]["not_in_gold"] == 0


def test_the_second_set_is_as_described() -> None:
    ids = [g["report_id"] for g in SECOND]
    assert len(set(ids)) == len(ids) == 60
    halves = [half(i) for i in ids]
    assert (halves.count("A"), halves.count("B")) == (29, 31)


@pytest.mark.parametrize(("style", "least"), [("ordinary", 1.0), ("hard", 0.87)])
def test_figures_of_the_development_set_do_not_fall(style: str, least: float) -> None:
    result = score([g for g in DEVELOPMENT if g["style"] == style])
    assert result["present_findings_micro"]["f1"] >= least, result["differences"]
    assert result["present_findings_micro"]["fp"] == 0
    assert result["silent_wrong"] == []


def test_what_is_outside_the_discs_is_told_or_shown_unread() -> None:
    told = 0
    for g in DEVELOPMENT:
        reading = read_text(g["text"])
        for words in g["incidental"]:
            start = g["text"].index(words)
            end = start + len(words)
            assert any(o.evidence.start < end and start < o.evidence.end for o in reading.outside), words
            told += 1
    assert told == 11


def row(**fields: str) -> dict[str, str]:
    if "displacement" in fields:
        fields.setdefault("displacement_certainty", "stated")
    return fields


BULGE, NONE = row(displacement="bulge"), row(displacement="none")
DRY = row(desiccation="present")
# One rule a case, in words that the eighty reports do not use. Invented.
RULES = [
    ("EXAM: CT lumbar spine.\n\nL3-4: disc bulge.\n\nNB: gallstones.", {"L3-L4": BULGE}),
    ("TECHNIQUE: Axial T2.\nL3-4: disc bulge.", {"L3-L4": BULGE}),
    ("HISTORY: herniation at L4-5.\n\nThe L3-4 disc bulges.", {"L3-L4": BULGE}),
    ("HISTORY: herniation at L4-5.\n\nBulge there before.\n\nFINDINGS: The L3-4 disc bulges.", {"L3-L4": BULGE}),
    ("L2-3:\nDisc: bulge\nCentral canal: patent", {"L2-L3": {**BULGE, "canal_stenosis": "none"}}),
    ("The L3-4 disc is normal in height.", {"L3-L4": row(height_loss="none")}),
    ("Disc signal at L2-3 and L3-4 is preserved.", {d: row(desiccation="absent") for d in ("L2-L3", "L3-L4")}),
    ("L2-3: The disc is desiccated and severely narrowed.", {"L2-L3": {**DRY, "height_loss": "severe"}}),
    ("L2-3: Desiccated disc, canal narrowed.", {"L2-L3": {**DRY, "canal_stenosis": "present_ungraded"}}),
    ("L2-3: disc signal is low, annular tear is not seen.", {"L2-L3": {**DRY, "annular_fissure": "absent"}}),
    ("L2-3: bulge, tear, canal stenosis are not seen.", {"L2-L3": row(annular_fissure="absent", canal_stenosis="none")}),
    ("L2-3: ? Small central protrusion.", {"L2-L3": row(displacement="protrusion", displacement_certainty="possible")}),
    ("L2-3: bulge with annular fissure ?", {"L2-L3": {**BULGE, "annular_fissure": "possible"}}),
    ("Bulges at L1-2 and possibly at L2-3.", {"L1-L2": BULGE, "L2-L3": {**BULGE, "displacement_certainty": "possible"}}),
    ("Anterolisthesis of L3 on L4 (grade 2).", {"L3-L4": row(listhesis="grade2")}),
    ("Modic changes at L2-3 and grade 1 anterolisthesis of L3 on L4.", {"L2-L3": row(endplate_change="present_untyped"), "L3-L4": row(listhesis="grade1")}),
    ("Canal stenosis: L2-3, moderate. L3-4, severe.", {"L2-L3": row(canal_stenosis="moderate"), "L3-L4": row(canal_stenosis="severe")}),
    ("No canal stenosis at L2-3. Mild at L3-4.", {"L2-L3": row(canal_stenosis="none")}),
    ("Bulge and extrusion at L1-2 and L2-3, respectively.", {"L1-L2": BULGE, "L2-L3": row(displacement="extrusion")}),
    ("Grade 2 and grade 1 retrolisthesis at L2-3 and L3-4 respectively.", {"L2-L3": row(listhesis="grade2"), "L3-L4": row(listhesis="grade1")}),
    ("Bulges at L1-2 and L2-3, the second one with an annular tear.", {"L1-L2": BULGE, "L2-L3": {**BULGE, "annular_fissure": "present"}}),
    ("Bulge at L1-2. Desiccation at L2-3. No listhesis at either of these levels.", {"L1-L2": {**BULGE, "listhesis": "none"}, "L2-L3": {**DRY, "listhesis": "none"}}),
    ("Desiccation at all lumbar levels except L1-2.", dict.fromkeys(("L2-L3", "L3-L4", "L4-L5", "L5-S1"), DRY)),
    ("Desiccation at L2-3 and L3-4 but not at L4-5.", {"L2-L3": DRY, "L3-L4": DRY}),
    ("No disc bulge except at L2-3.", {"L2-L3": BULGE}),
    ("Disc height is reduced at L1-2 but preserved at L2-3.", {"L1-L2": row(height_loss="present_ungraded"), "L2-L3": row(height_loss="none")}),
    ("Discitis at L1-2. The remaining discs are normal.", dict.fromkeys(("L2-L3", "L3-L4", "L4-L5", "L5-S1"), NONE)),
    ("Six lumbar vertebrae. The lumbosacral disc bulges.", {"L6-S1": BULGE}),
    ("L2-3: No disc herniation.", {}),
    ("Level: L2-3\nCanal: No stenosis\nForamina: Mild narrowing", {"L2-L3": row(canal_stenosis="none", neural_compression="present")}),
    ("L2-3: Disc: extrusion? Canal: normal.", {"L2-L3": row(displacement="extrusion", displacement_certainty="possible", canal_stenosis="none")}),
    ("Endplate change (Modic type 3) at L2-3.", {"L2-L3": row(endplate_change="modic3")}),
    ("Grade two retrolisthesis of L2 on L3.", {"L2-L3": row(listhesis="grade2")}),
    ("Retrolisthesis at one level, L2-3.", {"L2-L3": row(listhesis="present_ungraded")}),
    ("L2 dash L3: bulge. L3 slash 4: annular tear.", {"L2-L3": BULGE, "L3-L4": row(annular_fissure="present")}),
    ("L2 3 there is a bulge.", {"L2-L3": BULGE}),
    ("Bulge at L2-3, the L3-4 disc is normal and there is no infection.", {"L2-L3": BULGE, "L3-L4": NONE}),
    ("Bulge at L2-3, L3-4 is unremarkable.", {"L2-L3": BULGE, "L3-L4": NONE}),
    ("Bulge at L2-3 and L3-4 is normal.", {"L2-L3": BULGE, "L3-L4": NONE}),
    ("Bulge at L2-3, the L3-4 and the L4-5 discs.", {"L2-L3": BULGE, "L3-L4": BULGE, "L4-L5": BULGE}),
    ("Bulge at L2-3, alignment at L3-4 is normal.", {"L2-L3": BULGE}),
    ("* L2-3\n  - bulge\n  - no annular tear", {"L2-L3": {**BULGE, "annular_fissure": "absent"}}),
    ("Annular fissure: L1-2 no, L2-3 yes.", {"L1-L2": row(annular_fissure="absent"), "L2-L3": row(annular_fissure="present")}),
    ("Disc height: L1-2 normal, L2-3 severely reduced.", {"L1-L2": row(height_loss="none"), "L2-L3": row(height_loss="severe")}),
    ("Modic: L1-2 none; L2-3 type 1.", {"L1-L2": row(endplate_change="absent"), "L2-L3": row(endplate_change="modic1")}),
    ("Level | Disc | Central canal | Modic\nL1-2 | bulge | patent | none\nL2-3 | extrusion | severe stenosis | type 2", {"L1-L2": {**BULGE, "canal_stenosis": "none", "endplate_change": "absent"}, "L2-L3": row(displacement="extrusion", canal_stenosis="severe", endplate_change="modic2")}),
    ("| Level | Disc | Annular fissure |\n|---|---|---|\n| L1-2 | bulge | not assessed |\n| L2-3 | - | yes |", {"L1-L2": BULGE, "L2-L3": row(annular_fissure="present")}),
    ("Level\tDisc\tForamina\nL1-2\tbulge\tmild narrowing", {"L1-L2": {**BULGE, "neural_compression": "present"}}),
    ("L1-2 ....... bulge\nL2-3 ....... annular tear", {"L1-L2": BULGE, "L2-L3": row(annular_fissure="present")}),
    ("Bulges at L1-2 and L2-3, the L1-2 bulge compresses the sac.", {"L1-L2": {**BULGE, "neural_compression": "present"}, "L2-L3": BULGE}),
    ("COMPARISON: None.\nThe L2-3 disc bulges.", {"L2-L3": BULGE}),
    ("COMPARISON: MRI of last year.\nThe L2-3 disc bulges.", {"L2-L3": BULGE}),
    ("COMPARISON: MRI of last year.\nThe L2-3 disc bulged.", {}),
    ("COMPARISON: MRI of last year, which showed:\nThe L2-3 disc bulges.", {}),
    ("L1-2 to L5-S1 were reviewed. L2-3: bulge. All other discs normal.", {"L2-L3": BULGE, **dict.fromkeys(("L1-L2", "L3-L4", "L4-L5", "L5-S1"), NONE)}),
    ("no fracture seen at L2-3 there is a bulge at L3-4 there is a tear", {"L2-L3": BULGE, "L3-L4": row(annular_fissure="present")}),
    ("L2-3: No disc bulge or herniation.", {"L2-L3": NONE}),
]  # fmt: skip


@each_row(("text", "discs"), RULES, ids=[text[:60] for text, _ in RULES])
def test_rule(text: str, discs: dict[str, dict[str, str]]) -> None:
    assert marks(read_text(text))["discs"] == discs


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("No prior lumbar surgery.", {"prior_surgery": "absent"}),
        ("Otherwise normal lumbar spine.", {}),
        ("Normal MRI of the lumbar spine except for a bulge at L2-3.", {}),
        ("Normal MRI of the lumbar spine.", {"normal_study": "present"}),
        ("No foraminal stenosis.", {}),
        ("Fracture ......... none", {"fracture": "absent"}),
        ("Fracture ......... T12", {"fracture": "present"}),
        ("No nerve root compression.", {"neural_compression_denied": "present"}),
        ("The L2-3 disc is normal. No canal stenosis.", {"canal_stenosis_denied": "present"}),
    ],
)
def test_rule_of_the_whole_report(text: str, whole: dict[str, str]) -> None:
    assert marks(read_text(text))["whole_report"] == whole


def test_a_denial_of_surgery_reaches_the_record() -> None:
    found = [f for f in facts(read_text("No prior lumbar surgery.")) if f.element == "prior_lumbar_surgery"]
    assert [f.entry.value for f in found] == [False]


@pytest.mark.parametrize(
    ("gold", "style", "f1", "silent", "denied"),
    [
        (THIRD, "ordinary", 0.98, 2, 0),
        (THIRD, "hard", 0.71, 5, 1),
        (FOURTH, "ordinary", 0.97, 3, 0),
        (FOURTH, "hard", 0.80, 0, 1),
    ],
    ids=["third ordinary", "third hard", "fourth ordinary", "fourth hard"],
)
def test_figures_of_the_sets_by_other_hands_do_not_fall(
    gold: list[dict], style: str, f1: float, silent: int, denied: int
) -> None:
    result = score([g for g in gold if g["style"] == style])
    assert result["reports"] == 30
    assert result["present_findings_micro"]["f1"] >= f1, result["differences"]
    assert len(result["silent_wrong"]) <= silent, result["silent_wrong"]
    assert len(result["asserted_where_gold_says_absent_or_possible"]) <= denied


def test_no_finding_outside_the_discs_is_lost() -> None:
    """Each is listed, raised as a red flag or shown unread."""
    for g in (*THIRD, *FOURTH):
        reading = read_text(g["text"])
        shown = [o.evidence for o in reading.outside] + [r.finding.evidence for r in reading.red_flags]
        shown += [s for a in reading.unread for s in a.missed]
        for words in g["incidental"]:
            at = g["text"].find(words)
            assert any(s.start < at + len(words) and at < s.end for s in shown), (g["report_id"], words)
