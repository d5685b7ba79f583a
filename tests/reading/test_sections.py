"""Sections begin and end where they do for a reader: by headings in any dress, and where findings begin without one."""

import itertools

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts
from tests.rows import each_row


def placed(text: str) -> list[tuple[str, str, str]]:
    return [(f.disc, str(f.value), f.section) for f in read_text(text).findings if f.kind == "displacement"]


def in_the_case(text: str) -> set[tuple[str, str]]:
    return {(f.subject, str(f.entry.value)) for f in facts(read_text(text)) if f.element == "displacement"}


BODY = "L5-S1: Disc bulge."
PREAMBLES = {
    "history": "HISTORY: Low back pain for two years.",
    "indication": "INDICATION: Low back pain, L4-5 extrusion in the past.",
    "comparison": "COMPARISON: MRI of 3 March 2019.",
    "technique": "TECHNIQUE: Sagittal and axial T1 and T2 images without contrast.",
    "header": "EXAM: MRI of the lumbar spine.",
    "details": "DATE OF EXAM: 3 March 2026.",
}
OPENINGS = {
    "a level's label": "L5-S1: Disc bulge.",
    "a dash behind the level": "L5-S1 - Disc bulge.",
    "the study shows": "MRI of the lumbar spine shows a disc bulge at L5-S1.",
    "this study": "This study demonstrates a disc bulge at L5-S1.",
    "there is": "There is a disc bulge at L5-S1.",
    "a level in the present": "The L5-S1 disc shows a bulge.",
    "what is in order": "Vertebral body heights are maintained. L5-S1: Disc bulge.",
    "alignment": "Alignment is normal. There is a disc bulge at L5-S1.",
}


@pytest.mark.parametrize("between", [" ", "\n", "\n\n"], ids=["same line", "next line", "blank line"])
@pytest.mark.parametrize("opening", OPENINGS.values(), ids=OPENINGS.keys())
@each_row("preamble", PREAMBLES.values(), ids=PREAMBLES.keys())
def test_a_preamble_ends_where_findings_begin(preamble: str, opening: str, between: str) -> None:
    if "past" in preamble and between != "\n\n":
        preamble = PREAMBLES["history"]  # what tells of the past keeps what follows, see below
    assert in_the_case(preamble + between + opening) == {("L5-S1", "bulge")}


def dressed(name: str) -> list[str]:
    title = name.capitalize()
    marked = [
        f"## {title}\n",
        f"**{title}** ",
        f"**{title}:** ",
        f"__{title}__\n",
        f"[{title}] ",
        f"=== {title} ===\n",
    ]
    plain = [
        f"{title}: ",
        f"{title}:\n",
        f"{title} - ",
        f"{title} – ",
        f"{title}\n",
        f"{name.upper()}\n",
        f"{name.upper()}: ",
    ]
    return [
        *marked,
        *plain,
        f"2. {name.upper()}\n",
        f"2) {title}: ",
        f"II. {name.upper()}\n",
        f"{title.upper()} -- ",
    ]


@pytest.mark.parametrize(
    ("history", "findings"), list(itertools.zip_longest(dressed("history"), dressed("findings")))
)
def test_a_heading_is_known_in_any_dress(history: str, findings: str) -> None:
    text = f"{history}Back pain, L4-5 disc herniation.\n{findings}L5-S1: disc bulge."
    assert placed(text) == [("L4-L5", "herniation", "history"), ("L5-S1", "bulge", "findings")]


@pytest.mark.parametrize(
    "heading",
    [
        "FINDINGS OF THE LUMBAR SPINE",
        "Findings of the lumbar MRI:",
        "MRI findings:",
        "Detailed findings:",
        "FINDINGS AND IMPRESSION:",
        "What the scan shows:",
    ],
)
def test_unusual_words_of_a_heading(heading: str) -> None:
    text = f"CLINICAL HISTORY AND INDICATION\nL4-5 disc herniation.\n{heading}\nL5-S1: disc bulge."
    assert [(d, s == "history") for d, _, s in placed(text)] == [("L4-L5", True), ("L5-S1", False)]


def test_headings_in_the_middle_of_a_line() -> None:
    text = "HISTORY L4-5 disc herniation FINDINGS: L5-S1: disc bulge. IMPRESSION - Disc bulge at L5-S1."
    assert [s for _, _, s in placed(text)] == ["history", "findings", "impression"]


def test_a_dictation_without_a_stop_is_cut_at_its_spoken_headings() -> None:
    text = (
        "history low back pain old l4-5 herniation technique sagittal and axial t1 t2 comparison none findings there is a "
        "disc bulge at l5-s1 impression disc bulge at l5-s1"
    )
    assert [s for _, _, s in placed(text)] == ["history", "findings", "impression"]


@pytest.mark.parametrize(
    "line",
    ["MRI L-SPINE WITHOUT CONTRAST 3/4/2026", "Alignment anatomic.", "Vertebral bodies of normal height."],
)
def test_history_ends_at_a_title_and_at_what_only_images_show(line: str) -> None:
    text = f"CLINICAL: Low back pain.\n{line}\nMarrow signal heterogeneous.\nBulge at L5-S1."
    reading = read_text(text)
    assert reading.statements[0].section == "history"
    assert {s.section for s in reading.statements[1:]} == {"findings"}
    assert [o.organ for o in reading.outside] == ["bone marrow"]


HISTORY = [
    "HISTORY: Disc disease. L4-5: protrusion. L3-4: stenosis.\nTECHNIQUE: T1.\nL5-S1: bulge.",
    "HISTORY: Disc disease.\n\nThere is a protrusion at L4-5.\n\nCOMPARISON: None.\nL5-S1: bulge.",
    "HISTORY: L3-4: status post fusion. L4-5: disc protrusion.",
    "HISTORY: There is disc protrusion at L4-5 on x-ray.",
    "HISTORY: Pain. The vertebral bodies and the L4-5 disc protrusion are to be assessed.",
    "HISTORY: Pain. Spinal cord stimulator. Bone marrow transplant. L4-5 disc protrusion in 2018.",
    "HISTORY: Pain.\nMRI of the lumbar spine in 2019 showed extrusion at L4-5.\nFINDINGS: L5-S1: bulge.",
    "HISTORY: Back pain, L4-5 disc herniation.\nFINDINGS: L5-S1: bulge.",
    "HISTORY: She has an L4-5 disc herniation and pain. Evaluate for stenosis.\nFINDINGS: L5-S1: bulge.",
    "HISTORY: Status post L4-5 discectomy. There is a known disc herniation at L4-5.",
    "HISTORY: A disc herniation is present at L4-5 on MRI from 2020.",
    "INDICATION: Is there a disc extrusion at L4-5?",
    "INDICATION: Rule out disc extrusion at L4-5. Please assess whether there is a bulge at L3-4.",
    "HISTORY: Outside MRI of 2019 showed: L4-5: disc extrusion. L3-4: disc bulge.",
    "HISTORY: Prior report (2019):\nL4-5: disc extrusion.\nL3-4: bulge.\n\nFINDINGS:\nL5-S1: bulge.",
    "HISTORY: Old report, copied:\n\nL4-5: disc extrusion.\n\nL3-4: bulge.\n\nFINDINGS:\nL5-S1: bulge.",
    "PRIOR REPORT:\nFINDINGS: L4-5: disc extrusion.\nIMPRESSION: L4-5 extrusion.",
    "PRIOR REPORT:\nFINDINGS: L4-5: extrusion.\nIMPRESSION: L4-5 extrusion.\n\nFINDINGS: L5-S1: bulge.",
    "PRIOR REPORT:\nTECHNIQUE: T2.\nFINDINGS: L4-5: extrusion.\nIMPRESSION: L4-5.\nCURRENT STUDY: L5-S1: bulge.",
    "OUTSIDE REPORT: L4-5 disc extrusion in 2019.\nFINDINGS: L5-S1: bulge.",
    "COMPARISON: MRI of 2019 showed L4-5: disc extrusion. L3-4: disc bulge.\nFINDINGS: L5-S1: bulge.",
    "COMPARISON: MRI of 2019. At that time there was an L4-5 extrusion.",
]


@pytest.mark.parametrize("text", HISTORY)
def test_history_never_becomes_a_finding_of_today(text: str) -> None:
    assert {d for d, _ in in_the_case(text)} <= {"L5-S1"}
    assert ("L5-S1", "bulge") in in_the_case(text) or "L5-S1" not in text


@pytest.mark.parametrize("label", ["Age: indeterminate.", "Reason: motion.", "Date: not stated."])
def test_a_label_among_the_findings_opens_no_section(label: str) -> None:
    text = f"FINDINGS: L4-5: disc bulge. Fracture of L2. {label} L5-S1: disc bulge."
    assert [(d, s) for d, _, s in placed(text)] == [("L4-L5", "findings"), ("L5-S1", "findings")]


def test_a_heading_behind_a_title_on_its_line_opens_its_section() -> None:
    text = "MRI of the lumbar spine. History: L4-5 disc herniation. Findings: L5-S1: disc bulge."
    assert [s for _, _, s in placed(text)] == ["history", "findings"]


def test_an_addendum_is_a_section_of_its_own() -> None:
    text = (
        "FINDINGS: L5-S1: bulge.\nIMPRESSION: L5-S1 bulge.\n"
        "ADDENDUM 1: L4-5: annular fissure.\nIMPRESSION: Annular fissure at L4-5."
    )
    reading = read_text(text)
    assert [s.section for s in reading.statements] == ["findings", "impression", "addendum", "addendum"]
    assert ("L4-L5", "annular_fissure") in {(f.subject, f.element) for f in facts(reading)}


def test_a_body_below_an_addendum_is_a_body() -> None:
    text = "ADDENDUM: The fissure at L4-5 was measured again.\nFINDINGS: L5-S1: bulge."
    assert [s.section for s in read_text(text).statements] == ["addendum", "findings"]


@pytest.mark.parametrize("section", ["history", "comparison", "technique"])
def test_much_under_a_section_that_holds_no_findings_is_asked_about(section: str) -> None:
    text = f"{section.upper()}: Known L4-5 extrusion, old annular fissure at L5-S1.\nFINDINGS: L3-4: bulge."
    asked = [q.about for q in read_text(text).questions]
    assert asked == [f"more than half of what was read stands under {section}: is it of this study?"]


COMPLAINTS = [
    "HISTORY: Low back pain. No prior surgery.",
    "INDICATION: Leg weakness, prior microdiscectomy at L5-S1",
    "INDICATION: Low back pain since a fall.",
    "Hx: LBP, previous laminectomy",
    "CLINICAL HISTORY: Known scoliosis, earlier fusion.",
]


@pytest.mark.parametrize("complaint", COMPLAINTS)
@pytest.mark.parametrize(
    "opening",
    [
        "L5-S1: Disc bulge.",
        "Alignment is normal. There is a disc bulge at L5-S1.",
        "There are postsurgical changes at L4-5.\nThe L5-S1 disc shows a bulge.",
        "The L5-S1 disc is desiccated and shows a bulge.",
    ],
)
def test_an_earlier_operation_does_not_keep_the_lines_below_it(complaint: str, opening: str) -> None:
    assert in_the_case(f"{complaint}\n{opening}") == {("L5-S1", "bulge")}


@pytest.mark.parametrize(
    "word",
    ["Prior MRI showed", "Outside report described", "Earlier CT demonstrated", "MRI of 2019 revealed"],
)
def test_what_an_earlier_study_showed_goes_on_below_its_line(word: str) -> None:
    text = (
        f"HISTORY: {word} a protrusion at L4-5.\nThere is a disc bulge at L5-S1.\n\nFINDINGS: Conus normal."
    )
    assert in_the_case(text) == set()


@pytest.mark.parametrize(("opening", "closing"), [('"', '"'), ("“", "”")])
@pytest.mark.parametrize(
    "heading", ["COMPARISON: MRI of last year, whose impression reads:", "HISTORY: The outside report says:"]
)
def test_a_report_quoted_word_for_word_is_no_finding_of_today(
    heading: str, opening: str, closing: str
) -> None:
    quoted = f"{opening}1. Extrusion at L4-L5. 2. There is a disc protrusion at L3-L4.{closing}"
    text = f"{heading}\n{quoted}\nFINDINGS:\nL5-S1: Disc bulge."
    assert in_the_case(text) == {("L5-S1", "bulge")}
