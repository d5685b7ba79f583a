"""What is asked of a report before it is read: language, part of the body, standing, templates, addenda."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading.elements import facts
from candidacy.reading.language import foreign, profiles
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import MARKS, Reading
from candidacy.reading.reader import read_text
from candidacy.reading.sent import ReportText
from candidacy.reading.take import take

ROOT = Path(__file__).resolve().parents[2]
ENGLISH = "MRI LUMBAR SPINE\nFINDINGS:\nL4-5: Mild disc bulge.\nL5-S1: No disc herniation.\n"


def marks(text: str) -> dict[str, bool]:
    """The kinds of marks of a text, and whether each refuses it."""
    found = read_text(text).marks
    assert {m.kind for m in found} <= set(MARKS)
    assert all(m.about for m in found)
    return {m.kind: m.refuses for m in found}


def refused_as(text: str) -> Code:
    reading, problems = take(ReportText(text, "report.txt", "text"))
    assert reading is None
    assert not read_text(text).findings
    assert facts(read_text(text)) == ()
    assert problems[0].next_step
    assert problems[0].file == "report.txt"
    return problems[0].code


def said(reading: Reading) -> set[tuple[str, str, object, str]]:
    return {(f.disc, f.kind, f.value, f.status) for f in reading.findings}


# --- language

FOREIGN = [
    "IRM lombaire\nL4-L5 : protrusion discale postérieure sans hernie.\nL5-S1 : pas de conflit disco-radiculaire.",
    "Sans hernie discale L4-L5",
    "L4-L5: debord discal sans hernie",
    "RM lumbar\nL4-L5: sin hernia discal. Canal conservado.",
    "No se observa hernia discal en L4-L5.",
    "MRT LWS\nL4/5: Bandscheibenvorfall mit Kompression der Nervenwurzel L5 links.\nL5/S1: kein Vorfall.",
    "Bandscheibenvorfall L4/5",
    "RM lombare: ernia discale L4-L5 senza compressione radicolare",
    "L4-L5: hérnia discal. Sem compressão.",
    "L4-L5: geen hernia. L5-S1: discushernia met wortelcompressie",
    "L4-L5: przepuklina krążka międzykręgowego. Bez ucisku korzeni.",
    "L4-5 disk hernisi izlenmedi. L5-S1 düzeyinde bulging saptanmadı.",
    "L4-L5: грыжа диска. Без компрессии.",
    "L4-L5 椎间盘突出。无椎管狭窄。",
    "L4-L5: diskbråck med rotkompression. L5-S1: ingen prolaps",
]


@pytest.mark.parametrize("text", FOREIGN)
def test_another_language_is_refused_and_asserts_nothing(text: str) -> None:
    assert refused_as(text) is Code.OTHER_LANGUAGE


def test_one_foreign_sentence_is_not_read_and_the_rest_is() -> None:
    text = ENGLISH + "L3-L4: sans hernie discale.\n"
    reading = read_text(text)
    (mark,) = reading.marks
    assert (mark.kind, mark.refuses) == ("language", False)
    assert "French" in mark.about
    assert mark.span is not None
    assert "sans hernie" in reading.words(mark.span)
    assert said(reading) == said(read_text(ENGLISH))


def test_half_a_report_in_another_language_is_refused() -> None:
    assert refused_as(ENGLISH + "L4-L5: protrusion discale sans compression.\nL5-S1: pas de hernie.\n") is (
        Code.OTHER_LANGUAGE
    )


def test_text_without_a_known_word_is_refused() -> None:
    assert refused_as(
        "diskus kiemelkedik enyhe mertekben az also szakaszon jobb oldali gyok fele nyomja kisse L4-5"
    ) is (Code.OTHER_LANGUAGE)


@pytest.mark.parametrize(
    "text",
    [
        "L4-5 HNP. Cauda equina WNL. Filum terminale lipoma. De novo spondylolisthesis. In situ fusion.",
        "LSS MRI\nSt. post PLIF L4-S1. Conus medullaris at L1. Os sacrum, corpora et disci normal. Modic I. Baastrup.",
        "Referring physician: Dr. Juan de la Cruz y Santos\nHospital San José, Los Angeles\n" + ENGLISH,
        "Patient: Maria de los Santos van der Berg\n" + ENGLISH,
        "disc bulge",
        "L4-5",
        "Rt L5 n. root comp.",
        "Schmörl nodes, Ménière, Müller",
    ],
)
def test_latin_terms_names_and_short_notes_are_english(text: str) -> None:
    assert foreign(text, lexicon()).marks == ()


def real_notes() -> list[str]:
    texts: list[str] = []
    for name in ("dictation_gold.jsonl", "dictation_gold_2.jsonl"):
        lines = (ROOT / "tests" / "reading" / "data" / name).read_text("utf-8").splitlines()
        texts += [json.loads(line)["text"] for line in lines if line.strip()]
    return texts


def test_no_english_report_is_taken_for_another_language() -> None:
    texts = real_notes()
    assert len(texts) > 100
    assert [t for t in texts if foreign(t, lexicon()).marks] == []
    assert [t for t in texts if read_text(t).refusal] == []


def test_words_that_tell_a_language_are_no_english_ones() -> None:
    known = profiles()
    for p in known.profiles:
        assert p.telling
        assert not (p.telling | p.small) & known.english, p.name
        assert not [w for w in p.telling if lexicon().spell.knows(w)], p.name


# --- part of the body

ELSEWHERE = [
    "MRI CERVICAL SPINE\nFINDINGS:\nC5-C6: Disc protrusion with cord compression.",
    "MRI of the cervical spine without contrast.\nC5-6: disc herniation. C6-7: bulge.",
    "C5-C6: disc extrusion.\nC6-C7: disc bulge.",
    "EXAM: MRI THORACIC SPINE\nFINDINGS: Disc herniation at T7-T8. No fracture.",
    "MRI BRAIN WITHOUT CONTRAST\nNo acute infarct. No mass.",
    "RT KNEE MRI :\nTear of the posterior horn of the medial meniscus. Joint effusion.",
    "CT ABDOMEN AND PELVIS\nFINDINGS: No renal stone. Degenerative changes of the lumbar spine.",
    "EXAM: MRI cervical spine\nHISTORY: Neck pain and L4-5 fusion, L5-S1 disc bulge, L3-4 protrusion.\nFINDINGS: C5-6 protrusion.",
]


@pytest.mark.parametrize("text", ELSEWHERE)
def test_another_part_of_the_body_is_refused(text: str) -> None:
    assert refused_as(text) is Code.OTHER_REGION


@pytest.mark.parametrize(
    "text",
    [
        "MRI CERVICAL SPINE:\nC5-6: Disc extrusion. Severe canal stenosis.\nMRI LUMBAR SPINE:\nL4-5: Mild disc bulge.",
        "MRI cervical and lumbar spine\nFINDINGS:\nC5-6: Disc extrusion. Severe canal stenosis.\nL4-5: Mild disc bulge.",
        "Cervical spine: C5-6 disc extrusion with fracture.\n\nLumbar spine: L4-5 mild disc bulge.",
    ],
)
def test_only_the_lumbar_part_is_read(text: str) -> None:
    reading = read_text(text)
    assert {f.disc for f in reading.findings if f.section} == {"L4-L5"}
    assert "extrusion" not in {f.value for f in reading.findings}
    (mark,) = (m for m in reading.marks if m.kind == "region")
    assert not mark.refuses


def test_report_without_a_lumbar_level_is_marked_and_read() -> None:
    assert marks("Multilevel disc bulges. Adequate canal.") == {"no_level": False}
    assert marks("MRI LUMBAR SPINE\nMultilevel disc bulges.") == {}
    assert marks(ENGLISH) == {}


@pytest.mark.parametrize(
    "text",
    [
        "MRI LUMBAR SPINE\nSagittal T1/T2 images. T12-L1: normal. L4-5: disc bulge.",
        "MRI LUMBAR SPINE\nL4-5: disc bulge.\nIMPRESSION: Bulge. MRI of the cervical spine may be considered.",
        "MRI LUMBAR SPINE\nHISTORY: Leg and hip pain, prior C5-6 fusion.\nFINDINGS: L4-5: disc bulge.",
        "MRI of the lumbosacral spine and SI joints. L4-5: disc bulge.",
    ],
)
def test_lumbar_reports_that_mention_other_parts_are_not_refused(text: str) -> None:
    reading = read_text(text)
    assert reading.refusal is None
    assert ("L4-L5", "displacement", "bulge", "present") in said(reading)


# --- standing


@pytest.mark.parametrize(
    "line",
    [
        "*** ENTERED IN ERROR ***", "VOID", "REPORT STATUS: CANCELLED", "This report was entered in error.",
        "Status: entered in error by J. Doe", "*** THIS REPORT HAS BEEN RETRACTED ***", "WRONG PATIENT",
    ],
)  # fmt: skip
@pytest.mark.parametrize("first", [True, False])
def test_report_that_takes_itself_back_is_refused(line: str, first: bool) -> None:
    assert refused_as(f"{line}\n{ENGLISH}" if first else f"{ENGLISH}\n{line}") is Code.WITHDRAWN


@pytest.mark.parametrize(
    "line",
    [
        "The flow void of the aorta is normal.", "No void.", "The level was labelled in error on the prior report.",
        "Prior study cancelled for claustrophobia, now under sedation.", "CORRECTED REPORT: prior report was entered in error.",
    ],
)  # fmt: skip
def test_a_sentence_about_an_error_takes_nothing_back(line: str) -> None:
    assert "withdrawn" not in marks(f"{ENGLISH}{line}\n")


def test_preliminary_and_amended_reports_are_marked_and_noted() -> None:
    for line, kind in (("*** PRELIMINARY REPORT ***", "preliminary"), ("STATUS: PRELIMINARY", "preliminary"),
                       ("CORRECTED REPORT", "amended"), ("Report status: amended", "amended")):  # fmt: skip
        text = f"{line}\n{ENGLISH}"
        assert marks(text) == {kind: False}
        status = [f.entry.value for f in facts(read_text(text)) if f.element == "report_status"]
        assert status == [kind]


# --- templates


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: [ ] normal [ ] bulge [ ] protrusion\nL5-S1: [ ] normal [ ] bulge [ ] extrusion",
        "LUMBAR MRI\nL4-5:\n☐ disc bulge\n☐ canal stenosis\n☐ annular fissure",
        "L4-5: {normal/bulge/protrusion}. L5-S1: {finding} with {severity} stenosis.",
        "FINDINGS:\nL4-5: <<finding>>. Disc protrusion measuring ___ mm.\nL5-S1: [level] [side] protrusion of XX mm.",
        "L4-5: *** disc bulge measuring *** mm.\nL5-S1: [mild/moderate/severe] canal stenosis.",
    ],
)
def test_unfilled_template_is_refused(text: str) -> None:
    assert refused_as(text) is Code.UNFILLED


def test_a_blank_left_in_a_report_costs_its_sentence_only() -> None:
    reading = read_text(
        ENGLISH + "L3-4: Disc protrusion of ___ mm.\nL2-3: Normal disc.\nL1-2: Normal disc.\n"
    )
    (mark,) = reading.marks
    assert (mark.kind, mark.refuses) == ("template", False)
    assert "L3-L4" not in {f.disc for f in reading.findings}
    assert {"L4-L5", "L5-S1", "L2-L3"} <= {f.disc for f in reading.findings}


@pytest.mark.parametrize(
    "more",
    ["Signed: __________ MD", "________________", "**********", "*** FINAL REPORT ***", "Dr [**Name 12**] (reviewed)",
     "Accession [redacted]", "L2-3: [x] normal [ ] bulge", "Name: [NAME]  Date: ___/___/___"],
)  # fmt: skip
def test_lines_and_marks_of_removed_names_are_no_templates(more: str) -> None:
    assert "template" not in marks(ENGLISH + more + "\n")


# --- addenda

BODY = "MRI LUMBAR SPINE\nFINDINGS:\nL4-5: 5 mm left paracentral protrusion.\nL5-S1: Normal disc.\nIMPRESSION: L4-5 protrusion.\n"


def test_addendum_that_corrects_replaces_and_shows_what_it_replaced() -> None:
    reading = read_text(BODY + "ADDENDUM (03/02/2026): The finding at L4-5 should read: L4-5 extrusion.\n")
    (mark,) = (m for m in reading.marks if m.kind == "addendum")
    assert "03/02/2026" in mark.about
    assert {f.value for f in reading.findings if f.disc == "L4-L5" and f.kind == "displacement"} == {
        "extrusion"
    }
    assert {f.value for f in reading.replaced if f.kind == "displacement"} == {"protrusion"}
    assert "displacement_size" not in {f.kind for f in reading.findings if f.disc == "L4-L5"}
    assert not reading.contradictions
    fact = next(f for f in facts(reading) if (f.subject, f.element) == ("L4-L5", "displacement"))
    assert fact.entry.value == "extrusion"
    assert all(reading.of_addendum(f) for f in reading.findings if f.value == "extrusion")


def test_addendum_that_moves_a_finding_takes_it_from_the_old_level() -> None:
    reading = read_text(BODY + "\nADDENDUM:\nCorrection: L4-5 protrusion should read L5-S1 protrusion.\n")
    said_of = {f.disc for f in reading.findings if f.value == "protrusion"}
    assert said_of == {"L5-S1"}
    assert {f.disc for f in reading.replaced} == {"L4-L5", "L5-S1"}


def test_what_an_addendum_calls_an_error_is_not_asserted() -> None:
    for more in ("Correction: L4-5 extrusion was stated in error.", "L4-5 protrusion was dictated in error.",
                 "L4-5 protrusion is corrected to bulge."):  # fmt: skip
        reading = read_text(BODY + f"\nADDENDUM:\n{more}\n")
        fact = next(f for f in facts(reading) if (f.subject, f.element) == ("L4-L5", "displacement"))
        assert fact.entry.unknown == "conflicting" or fact.entry.value == "bulge", more


def test_addendum_that_only_differs_is_a_conflict() -> None:
    reading = read_text(BODY + "\nADDENDUM:\nL5-S1: Central disc extrusion.\n")
    assert [(c.disc, c.kind) for c in reading.contradictions if "addendum" in c.about] == [
        ("L5-S1", "displacement")
    ]
    fact = next(f for f in facts(reading) if (f.subject, f.element) == ("L5-S1", "displacement"))
    assert fact.entry.one_of == ("none", "bulge", "protrusion", "extrusion")
    assert (fact.entry.note or "").startswith("sources conflict")
    assert 'findings "Normal disc"; addendum "disc extrusion"' in (fact.entry.note or "")
    other = next(f for f in facts(reading) if (f.subject, f.element) == ("L4-L5", "displacement"))
    assert other.entry.value == "protrusion"


def test_correction_that_was_not_read_makes_its_disc_doubtful() -> None:
    reading = read_text(BODY + "\nADDENDUM: 'Left' at L4-5 was stated in error.\n")
    assert "addendum_unread" in {m.kind for m in reading.marks}
    fact = next(f for f in facts(reading) if (f.subject, f.element) == ("L4-L5", "displacement"))
    assert fact.entry.unknown == "conflicting"


@pytest.mark.parametrize(
    "words",
    [
        "Levels were miscounted in the dictation above.",
        "The body of the report contains an error of level.",
        "The wrong level was dictated.",
        "The numbering is off by one level.",
        "Incorrect levels were given in the body.",
        "The vertebrae were misnumbered.",
    ],
)
def test_addendum_that_takes_the_levels_back_leaves_none_certain(words: str) -> None:
    reading = read_text(BODY + f"\nADDENDUM: {words} The protrusion lies one level lower.\n")
    of_discs = [f for f in facts(reading) if f.subject != "patient"]
    assert of_discs
    assert {f.entry.unknown for f in of_discs} == {"conflicting"}


def test_addendum_that_adds_or_agrees_changes_nothing_else() -> None:
    for more in (
        "ADDENDUM: Discussed with Dr. A at 10:15.",
        "ADDENDUM: L4-5 protrusion again confirmed.",
        "No addendum.",
    ):
        reading = read_text(BODY + "\n" + more + "\n")
        assert not reading.replaced
        assert not [c for c in reading.contradictions if "addendum" in c.about]


def test_addendum_that_stands_first_ends_where_the_report_begins() -> None:
    text = "ADDENDUM 2026-03-02:\nL5-S1: Central disc extrusion.\nEND OF ADDENDUM\n" + BODY
    reading = read_text(text)
    (span,) = reading.addenda
    assert text[span.end :].startswith("END OF ADDENDUM")
    assert [(c.disc, c.kind) for c in reading.contradictions if "addendum" in c.about] == [
        ("L5-S1", "displacement")
    ]


# --- any text


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [*FOREIGN, *ELSEWHERE, ENGLISH, "ADDENDUM:", "[ ] bulge", "{x}", "___", "***", "VOID", "L4-5 should read",
             "C5-6", "T8-T9", "[level]", "\n", "\r", "\x0b", "sans", "<<", ">>", "END OF ADDENDUM", "Accession: 12"]
        )
        | st.text(max_size=20),
        max_size=8,
    ).map("\n".join)
)  # fmt: skip
def test_any_text_passes_the_gates_without_a_fault(text: str) -> None:
    reading = read_text(text)
    if reading.refusal:
        assert reading.findings == ()
    for mark in reading.marks:
        assert mark.span is None or 0 <= mark.span.start <= mark.span.end <= len(text)


def test_refusal_is_an_error_of_the_python_interface() -> None:
    import candidacy

    with pytest.raises(ReportError) as caught:
        candidacy.read_report("L4-L5 : sans hernie discale.")
    assert caught.value.problems[0].code is Code.OTHER_LANGUAGE


def test_what_a_gate_holds_back_is_unread_with_its_own_reason() -> None:
    text = (
        ENGLISH + "L3-L4: sans hernie discale.\nL2-3: protrusion of ___ mm.\nL1-2: Normal.\nT12-L1: Normal.\n"
    )
    why = {text[a.span.start : a.span.end].strip(" .\n")[:5]: a.why for a in read_text(text).unread}
    assert why["L3-L4"] == "in another language, which is not read"
    assert why["L2-3:"] == "an option or a blank that nobody filled in"


def test_what_an_addendum_replaced_is_accounted_for() -> None:
    reading = read_text(BODY + "ADDENDUM: L4-5 should read: L4-5 extrusion.\n")
    rows = [a for a in reading.ledger if a.why == "an addendum replaces it"]
    assert rows
    assert all(n < len(reading.findings) for a in reading.ledger for n in a.findings)


@pytest.mark.parametrize(
    "line",
    [
        "This report belongs to another patient and was filed in error.",
        "Report belongs to a different patient.",
        "This report was dictated on the wrong patient.",
    ],
)
def test_a_report_of_another_patient_is_refused(line: str) -> None:
    reading = read_text(f"{line}\nL4-5: extrusion.")
    assert reading.refusal is not None
    assert not reading.findings


def test_a_level_that_an_addendum_wants_read_as_another_is_a_conflict() -> None:
    reading = read_text(
        "IMPRESSION: Left protrusion at L4-L5.\n"
        "ADDENDUM: There are six lumbar type vertebrae. The level described as L4-L5 should be read as L5-L6."
    )
    assert {"L4-L5"} == {c.disc for c in reading.contradictions}
    assert any(f.kind == "transitional" for f in reading.findings)


def test_a_correction_at_the_head_is_read_as_an_addendum() -> None:
    reading = read_text('CORRECTION: It should read "no fracture".\nFINDINGS: There is a fracture of L1.')
    assert "addendum" in {m.kind for m in reading.marks}
    assert [f.status for f in reading.findings if f.kind == "fracture"] == ["absent"]
    assert "fracture" in {f.kind for f in reading.replaced}


def test_titles_within_running_text_part_the_lumbar_spine_from_another_region() -> None:
    text = (
        "Cervical spine MRI: C5-6 disc protrusion. The canal is narrowed. Lumbar spine MRI: L4-5 disc extrusion. "
        "The canal is severely narrowed. Thoracic spine: mild bulges."
    )
    reading = read_text(text)
    assert reading.refusal is None
    assert {(f.disc, f.kind, f.value) for f in reading.findings if f.disc} == {
        ("L4-L5", "displacement", "extrusion"),
        ("L4-L5", "canal_stenosis", ("severe",)),
    }
    apart = " ".join(reading.words_missed(a) for a in reading.unread)
    assert all(words in apart for words in ("C5-6", "The canal is narrowed", "mild bulges"))


def test_a_title_of_another_region_alone_is_still_refused() -> None:
    assert read_text("Cervical spine MRI: C5-6 disc protrusion. The canal is narrowed.").refusal is not None


def test_levels_that_the_report_calls_wrongly_numbered_are_asked_and_not_known() -> None:
    def displacement(text: str) -> str | None:
        found = [f.entry.unknown for f in facts(read_text(text)) if f.element == "displacement"]
        return found[0] if len(found) == 1 else "not one"

    said = "L4-5: protrusion."
    assert (
        displacement(f"The levels in the original report were numbered one too high. {said}") == "conflicting"
    )
    assert displacement(f"The prior report numbered the levels one too high. {said}") is None
