"""What is kept apart, on top, or raised: modifiers, red flags, contradictions, measures, grades, places, open points."""

from pathlib import Path

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.reading import Reading, read_text
from candidacy.reading.elements import facts, mapping
from candidacy.reading.lexicon import lexicon
from candidacy.reading.marks import marks
from candidacy.rules.libraries import shipped
from tests.published.score_reports import present
from tests.rows import each_row


def of(text: str, kind: str) -> list[tuple]:
    return [(f.disc, f.value, f.status) for f in read_text(text).findings if f.kind == kind]


def one(text: str, kind: str):
    found = [f for f in read_text(text).findings if f.kind == kind]
    assert len(found) == 1, found
    return found[0]


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("L4-5: disc protrusion.", "present"),
        ("L4-5: no disc protrusion.", "absent"),
        ("L4-5: possible disc protrusion.", "possible"),
        ("L4-5: disc protrusion cannot be excluded.", "possible"),
        ("L4-5: disc protrusion ?", "possible"),
        ("L4-5: ? disc protrusion.", "possible"),
        ("L4-5: rule out disc protrusion.", "possible"),
        ("History of disc protrusion at L4-5.", "historical"),
        ("Previously seen disc protrusion at L4-5 has resolved.", "resolved"),
        ("Previously seen disc protrusion at L4-5 is unchanged.", "present"),
        ("No significant change in the disc protrusion at L4-5.", "present"),
        ("Family history of disc protrusion at L4-5.", "other_person"),
        ("If there is a disc protrusion at L4-5, correlate clinically.", "hypothetical"),
        ("Disc protrusion at L4-5 without annular tear.", "present"),
    ],
)
def test_status_of_a_finding(text: str, status: str) -> None:
    finding = one(text, "displacement")
    assert (finding.disc, finding.status) == ("L4-L5", status)
    if status not in ("present",):
        assert finding.modifiers


def test_every_modifier_has_its_span() -> None:
    reading = read_text("L4-5: No evidence of severe canal stenosis.")
    (finding,) = reading.findings
    assert [(m.kind, reading.words(m.span)) for m in finding.modifiers] == [
        ("negation", "No evidence of"),
        ("severity", "severe"),
    ]


RED = [
    ("Findings are those of discitis at L3-4.", "sign of infection"),
    ("Possible epidural abscess.", "sign of infection"),
    ("Sclerotic metastases in L2.", "tumour, mass or unexplained lesion"),
    ("Old compression fracture of L1.", "fracture"),
    ("L4-5: severe central canal stenosis.", "severe canal compromise"),
    ("Compression of the cauda equina at L4-5.", "cauda equina compression"),
    ("L4-5: Schizas grade D.", "severe canal compromise"),
]


@pytest.mark.parametrize(("text", "about"), RED)
def test_red_flags_come_first_whatever_qualifies_them(text: str, about: str) -> None:
    assert about in {r.about for r in read_text(text).red_flags}
    for form in (
        "Possible {}",
        "Previously seen {}",
        "History of {}",
        "{} cannot be excluded.",
        "INDICATION: {}",
    ):
        changed = form.format(text[0].lower() + text[1:-1] if "L4-5" not in text[:4] else text[:-1])
        assert about in {r.about for r in read_text(changed).red_flags}, changed


@pytest.mark.parametrize(
    "text",
    [
        "No evidence of discitis.",
        "No fracture.",
        "There is no metastasis.",
        "L4-5: no severe canal stenosis.",
        "No cauda equina compression.",
    ],
)
def test_a_clear_denial_takes_a_red_flag_away(text: str) -> None:
    assert read_text(text).red_flags == ()


def about(reading: Reading) -> set[tuple[str, str, str]]:
    return {(c.about, c.disc, c.kind) for c in reading.contradictions}


def test_contradictions_are_raised_not_resolved() -> None:
    reading = read_text("FINDINGS: L4-5: disc protrusion.\nIMPRESSION: L4-5 disc extrusion.")
    assert about(reading) == {("findings and impression differ", "L4-L5", "displacement")}
    assert {f.value for f in reading.findings if f.kind == "displacement"} == {"protrusion", "extrusion"}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("L4-5: Pfirrmann grade IV. Pfirrmann grade V.", ("two grades", "L4-L5", "pfirrmann_grade")),
        ("L4-5: mild canal stenosis. Severe canal stenosis.", ("two severities", "L4-L5", "canal_stenosis")),
        (
            "L4-5: grade 2 anterolisthesis, 15% anterolisthesis.",
            ("grade and percentage differ", "L4-L5", "meyerding_grade"),
        ),
        ("L4-5: annular tear. No annular tear.", ("said and denied", "L4-L5", "annular_fissure")),
        (
            "FINDINGS: L5-S1: left protrusion.\nIMPRESSION: L5-S1: right protrusion.",
            ("left and right differ", "L5-S1", "displacement"),
        ),
    ],
)
def test_kinds_of_contradiction(text: str, wanted: tuple[str, str, str]) -> None:
    assert wanted in about(read_text(text))


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: severe right and mild left foraminal stenosis.",
        "L4-5: mild to moderate canal stenosis. Moderate canal stenosis.",
        "FINDINGS: L4-5: bulge with left protrusion.\nIMPRESSION: L4-5: left protrusion.",
        "L4-5: bulge without protrusion.",
        "L4-5: stenosis of the canal. Severe canal stenosis.",
    ],
)
def test_what_fits_together_is_no_contradiction(text: str) -> None:
    assert read_text(text).contradictions == ()


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("L4-5: 5 mm central protrusion.", "displacement_size", 5.0),
        ("L4-5: protrusion measuring 0.6 cm.", "displacement_size", 6.0),
        ("L4-5: protrusion (7 x 4 mm).", "displacement_size", ("7.0", "4.0")),
        ("L4-5: protrusion measuring 4-5 mm.", "displacement_size", ("4.0", "5.0")),
        ("L4-5: 40% loss of disc height.", "disc_height_loss", 40.0),
        ("L4-5: loss of disc height of approximately 30 percent.", "disc_height_loss", 30.0),
        ("4 mm anterolisthesis of L4 on L5.", "slip_mm", 4.0),
        ("Anterolisthesis of L4 on L5 measuring 6 mm.", "slip_mm", 6.0),
        ("L4-5: 25% anterolisthesis.", "slip_percent", 25.0),
        ("L4-5: 4 mm of dynamic translation.", "translation_on_flexion_extension", 4.0),
    ],
)
def test_measures_with_units_belong_to_their_finding(text: str, kind: str, value: object) -> None:
    assert one(text, kind).value == value


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: protrusion. The canal measures 9 mm.",
        "L4-5: bulge. 12 mm renal cyst.",
        "L4-5: mild loss of disc height.",
        "Slice thickness 4 mm.",
    ],
)
def test_a_measure_of_something_else_is_not_taken(text: str) -> None:
    kinds = {f.kind for f in read_text(text).findings}
    assert not kinds & {"displacement_size", "disc_height_loss", "slip_mm", "slip_percent"}


# Grades with their scales: reference/disc_imaging_and_discography.md sections 1, 4, 5, 6 beside the data.
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("L4-5: Pfirrmann grade IV.", "pfirrmann_grade", "IV"),
        ("L4-5: Pfirrmann 4.", "pfirrmann_grade", "IV"),
        ("L4-5: grade 3 Pfirrmann change.", "pfirrmann_grade", "III"),
        ("L4-5: Pfirrmann grade III-IV.", "pfirrmann_grade", ("III", "IV")),
        ("L4-5: modified Pfirrmann grade 6.", "modified_pfirrmann_grade", "6"),
        ("L4-5: modified Pfirrmann 4/7.", "modified_pfirrmann_grade", "4/7"),
        ("L4-5: Schizas B.", "schizas_grade", "B"),
        ("L4-5: Lee central grade 2.", "lee_central_grade", "2"),
        ("L4-5: Lee foraminal grade 3.", "lee_foraminal_grade", "3"),
        ("L4-5: Weishaupt grade 2 facets.", "weishaupt_grade", "2"),
        ("L4-5: Fujiwara grade 3 facets.", "fujiwara_grade", "3"),
        ("Meyerding grade II spondylolisthesis of L5 on S1.", "meyerding_grade", "II"),
        ("Grade 1 anterolisthesis of L4 on L5.", "meyerding_grade", "I"),
        ("L5-S1: Modic type 2 endplate change.", "endplate_change", "2"),
        ("L5-S1: type I/II Modic changes.", "endplate_change", "1-2"),
        ("L5-S1: type II/III Modic changes.", "endplate_change", "2-3"),
        ("Castellvi type IIIb transitional vertebra.", "castellvi_type", "IIIb"),
        ("There are six lumbar-type vertebral bodies.", "lumbar_vertebra_count", 6),
        ("MRI was performed at 1.5 T.", "field_strength", 1.5),
        ("3 Tesla MRI.", "field_strength", 3.0),
        ("CT OF THE LUMBAR SPINE", "imaging_modality", "ct"),
    ],
)
def test_grades_are_kept_with_their_scale(text: str, kind: str, value: object) -> None:
    assert value in [f.value for f in read_text(text).findings if f.kind == kind]


@pytest.mark.parametrize(
    "text", ["L4-5: grade 4 degeneration.", "L4-5: grade IV disc.", "Grade 2 facets at L4-5."]
)
def test_a_grade_without_its_scale_is_listed_and_not_stored(text: str) -> None:
    reading = read_text(text)
    assert "scale not stated" in {u.reason for u in reading.not_understood}
    assert not any(f.kind.endswith("_grade") for f in reading.findings)


@pytest.mark.parametrize(
    "text", ["L4-5: Pfirrmann grade 7.", "L4-5: modified Pfirrmann grade 9.", "L4-5: Schizas E."]
)
def test_a_grade_its_scale_does_not_have_is_not_stored(text: str) -> None:
    assert not any(f.kind.endswith("_grade") for f in read_text(text).findings)


@pytest.mark.parametrize(
    ("text", "disc"),
    [
        ("Spondylolisthesis of L5 over S1.", "L5-S1"),
        ("L4 anterolisthesis.", "L4-L5"),
        ("Retrolisthesis of L3 on L4.", "L3-L4"),
        ("Endplate irregularity of the inferior endplate of L4.", "L4-L5"),
        ("Schmorl's node in the superior endplate of L3.", "L2-L3"),
    ],
)
def test_a_finding_of_a_vertebra_is_placed_by_rule(text: str, disc: str) -> None:
    assert {f.disc for f in read_text(text).findings if f.disc} == {disc}


def test_six_lumbar_bodies_widen_all_levels() -> None:
    text = "Six lumbar-type vertebrae. Disc desiccation at all lumbar levels."
    assert [d for d, _, _ in of(text, "desiccation")] == [
        "L1-L2",
        "L2-L3",
        "L3-L4",
        "L4-L5",
        "L5-L6",
        "L6-S1",
    ]


def test_remaining_discs_are_those_not_described() -> None:
    text = "L4-5: bulge. L5-S1: protrusion. The remaining discs are unremarkable."
    assert [d for d, v, _ in of(text, "displacement") if v == "none"] == ["L1-L2", "L2-L3", "L3-L4"]


def test_what_speaks_of_the_spine_and_yields_nothing_is_listed() -> None:
    reading = read_text("L4-5: The disc looks funny today. Disc bulge at L5-S1.")
    assert [reading.words(u.span) for u in reading.not_understood] == ["L4-5: The disc looks funny today"]


def test_sections_other_than_findings_assert_nothing() -> None:
    text = "INDICATION: L4-5 herniation, rule out tumour.\nTECHNIQUE: Sagittal T2.\nFINDINGS: L5-S1: bulge."
    reading = read_text(text)
    assert marks(reading) == {
        "discs": {"L5-S1": {"displacement": "bulge", "displacement_certainty": "stated"}},
        "whole_report": {},
    }
    assert {f.subject for f in facts(reading)} <= {"L5-S1", "patient"}
    assert "tumour_or_mass_on_imaging" not in {f.element for f in facts(reading)}


def test_other_parts_of_the_body_are_left_alone() -> None:
    reading = read_text(
        "LSS MRI:\nL4-5: bulge.\n\nRT KNEE MRI:\nTear of the medial meniscus. Disc bulge at L3-4.\n"
    )
    assert reading.discs_named == ("L4-L5",)


DENIALS = [
    line
    for line in (Path(__file__).parent / "denials.txt").read_text("utf-8").splitlines()
    if line and not line.startswith("#")
]


@each_row("text", DENIALS)
def test_nothing_is_asserted_from_a_denial_a_doubt_or_the_past(text: str) -> None:
    assert present(marks(read_text(text))["discs"]) == set()  # type: ignore[arg-type]


# --- what is told from the rule files


def test_every_red_flag_of_the_rule_files_is_one_that_the_reader_finds() -> None:
    told = {flag.about for text in RED_FLAGS for flag in read_text(text).red_flags}
    assert told == {row["says"] for row in shipped().tables()("report_red_flags").values()}


@pytest.mark.parametrize(
    ("text", "flagged"),
    [
        ("L4-5: Schizas grade B.", False),
        ("L4-5: Schizas grade C.", True),
        ("L4-5: Schizas grade D.", True),
        ("L4-5: Lee central grade 2.", False),
        ("L4-5: Lee central grade 3.", True),
        ("L4-5: moderate canal stenosis.", False),
        ("L4-5: moderate to severe canal stenosis.", True),
        ("L4-5: no severe canal stenosis.", False),
    ],
)
def test_a_canal_is_flagged_from_the_least_severe_grade_of_each_scale_on(text: str, flagged: bool) -> None:
    assert ("severe canal compromise" in {flag.about for flag in read_text(text).red_flags}) is flagged


def test_severity_words_run_from_the_least_to_the_most_as_the_catalogue_has_them() -> None:
    for rule in mapping()["disc"].values():
        if rule["form"] == "graded":
            assert catalogue()[rule["element"]].codes == ("none", *lexicon().severities)
            assert tuple(rule["open"]) == lexicon().severities


RED_FLAGS = (
    "L4-5: findings of discitis and osteomyelitis.",
    "There is a destructive mass of the L3 vertebral body.",
    "Acute compression fracture of L1.",
    "Large extrusion at L4-5 with cauda equina compression.",
    "Infrarenal aortic aneurysm of 4.5 cm.",
    "L4-5: severe canal stenosis.",
)


@pytest.mark.parametrize("mark", ["|", " | ", "\t"])
@pytest.mark.parametrize("first", ["Level", "Disc level", "Segment"])
def test_the_names_of_columns_say_nothing_themselves(mark: str, first: str) -> None:
    rows = [(first, "Bulge", "Canal stenosis"), ("L3-4", "yes", "none"), ("L4-5", "none", "severe")]
    reading = read_text("FINDINGS:\n" + "\n".join(mark.join(r) for r in rows))
    assert {f.disc for f in reading.findings} == {"L3-L4", "L4-L5"}
    assert {(f.disc, f.status) for f in reading.findings if f.kind == "displacement"} == {
        ("L3-L4", "present"),
        ("L4-L5", "absent"),
    }
    assert not reading.not_understood
    assert all(a.state == "known" for a in reading.ledger if first in reading.words(a.span))


def test_words_looked_up_before_do_not_hide_a_level() -> None:
    for level in ("L2-L3", "l2-l3", "L02-03", "L2/3"):
        lexicon().spell(level)
        lexicon().words(f"bulge at {level}")
    for level in ("L2-L3", "l2-l3", "L2/3"):
        assert of(f"Disc bulge at {level}.", "displacement") == [("L2-L3", "bulge", "present")]


@pytest.mark.parametrize("word", ["patent", "open", "adequate", "capacious"])
@pytest.mark.parametrize("form", ["L5-S1 {}.", "L5-S1: {}", "L4-5 bulge, L5-S1 {}.", "Foramina:\nL5-S1 {}"])
def test_an_open_level_is_no_normal_disc(word: str, form: str) -> None:
    """Lost before: a level called patent, of its foramina, was read as a disc without displacement."""
    reading = read_text(form.format(word))
    assert not [f for f in reading.findings if f.disc == "L5-S1" and f.kind == "displacement"]


@pytest.mark.parametrize(
    ("findings", "impression", "kind"),
    [
        (
            "L5-S1: left S1 nerve root compression.",
            "No nerve root compression at any level.",
            "neural_compression",
        ),
        ("L5-S1: severe canal stenosis.", "No canal stenosis.", "canal_stenosis"),
        ("L5-S1: annular fissure.", "No annular fissure.", "annular_fissure"),
        ("L5-S1: protrusion.", "No disc herniation.", "displacement"),
        ("L5-S1: severe left foraminal stenosis.", "No foraminal stenosis.", "foraminal_stenosis"),
    ],
)
def test_what_one_section_says_of_a_disc_and_the_other_denies_of_all_is_a_conflict(
    findings: str, impression: str, kind: str
) -> None:
    for first, second in ((findings, impression), (impression, findings)):
        reading = read_text(f"FINDINGS: {first}\nIMPRESSION: {second}")
        assert ("L5-S1", kind) in {(c.disc, c.kind) for c in reading.contradictions}


@pytest.mark.parametrize(
    ("findings", "impression"),
    [
        ("L5-S1: mild canal stenosis.", "No significant canal stenosis."),
        ("L5-S1: severe canal stenosis.", "No foraminal stenosis."),
        ("L5-S1: disc bulge.", "No disc herniation."),
        ("L5-S1: moderate canal stenosis.", "No severe canal stenosis."),
    ],
)
def test_a_denial_of_all_that_leaves_room_for_a_finding_is_no_conflict(
    findings: str, impression: str
) -> None:
    assert not read_text(f"FINDINGS: {findings}\nIMPRESSION: {impression}").contradictions


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: bulge. Dallas grade 3 fissure at the CT discogram.",
        "FINDINGS: On review with radiographs the L4-5 disc bulges.",
        "FINDINGS: The outside CT showed an L4-5 bulge.",
        "FINDINGS: L4-5: bulge. Vacuum was noted on the CT.",
        "FINDINGS: L4-5: bulge, as on CT. Gas seen by CT.",
        "FINDINGS: CT of 3 May showed a pars defect. L4-5: bulge.",
    ],
)
def test_a_study_named_in_the_body_beside_another_is_not_the_modality(text: str) -> None:
    assert not [f for f in read_text(text).findings if f.kind == "imaging_modality"]


def test_two_counts_of_the_vertebrae_are_both_kept() -> None:
    reading = read_text(
        "FINDINGS: Five lumbar vertebrae.\nIMPRESSION: Six lumbar-type vertebrae. L4-5 bulge."
    )
    assert {f.value for f in reading.findings if f.kind == "lumbar_vertebra_count"} == {5, 6}


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("L4-5: the extrusion has not resolved.", "present"),
        ("L4-5: protrusion, not yet resolved.", "present"),
        ("The abscess has not resolved.", "present"),
        ("L4-5: bulge has nearly resolved.", "present"),
        ("L4-5: the extrusion has resolved.", "resolved"),
    ],
)
def test_what_has_not_resolved_is_there(text: str, status: str) -> None:
    assert [f.status for f in read_text(text).findings] == [status]


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: canal 9 mm, normal 12 mm.",
        "L4-5: canal 8 mm, normal over 12 mm.",
        "L4-5: disc height 6 mm, normal range 8-12 mm.",
        "L4-5: height preserved relative to L3-4.",
        "L4-5: height preserved since 2021.",
        "L4-5: no desiccation beyond age.",
        "L4-5: no height loss compared with L3-4.",
        "No infection in 2019.",
        "No fracture as of 2019.",
        "No tumour on the 2019 study.",
        "L4-5: Modic type I superior endplate and type II inferior endplate.",
    ],
)
def test_nothing_is_asserted_of_a_limit_a_comparison_another_year_or_one_of_two_types(text: str) -> None:
    reading = read_text(text)
    assert reading.findings == ()
    assert any(a.state != "used" for a in reading.ledger)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("L4-5: disc height is normal, 10 mm.", "height_loss"),
        ("No infection, unchanged since 2021.", "infection"),
        ("L4-5: no protrusion. Stable since 2021.", "displacement"),
    ],
)
def test_a_denial_of_today_stays(text: str, kind: str) -> None:
    assert "absent" in {f.status for f in read_text(text).findings if f.kind == kind}
