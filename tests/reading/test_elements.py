"""What a reading gives to a case record: exact, open, doubtful, conflicting, or nothing."""

import pytest
from hypothesis import given, settings

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record, with_document, with_fact
from candidacy.case.element import STANDARD_LEVELS
from candidacy.case.load import case_from_record
from candidacy.case.reader_notes import is_own
from candidacy.case.record import Document
from candidacy.reading import read_text
from candidacy.reading.elements import facts, mapping
from tests.reading.test_fuzz import TEXTS
from tests.reading.test_metamorphic import PASSAGES
from tests.rows import each_row


def given_by(text: str, element: str, subject: str = "L4-L5", **more: str) -> dict | None:
    for fact in facts(read_text(text), **more):
        if (fact.subject, fact.element) == (subject, element):
            return fact.entry.model_dump(exclude_none=True, exclude={"words", "by", "note", "source"})
    return None


UNCERTAIN = {"unknown": "uncertain_in_source"}


@each_row(
    ("text", "element", "wanted"),
    [
        ("L4-5: disc protrusion.", "displacement", {"value": "protrusion"}),
        ("L4-5: disc bulge with protrusion.", "displacement", {"value": "protrusion"}),
        ("L4-5: disc herniation.", "displacement", {"one_of": ("protrusion", "extrusion", "sequestration")}),
        ("L4-5: disc herniation. Central protrusion.", "displacement", {"value": "protrusion"}),
        ("L4-5: bulge, possible protrusion.", "displacement", {"one_of": ("bulge", "protrusion")}),
        ("L4-5: possible protrusion.", "displacement", UNCERTAIN),
        ("L4-5: no bulge or herniation.", "displacement", {"value": "none"}),
        ("L4-5: no herniation.", "displacement", {"one_of": ("none", "bulge")}),
        ("L4-5: normal.", "displacement", {"value": "none"}),
        ("L4-5: mild loss of disc height.", "disc_height_loss_words", {"value": "mild"}),
        ("L4-5: loss of disc height.", "disc_height_loss_words", {"one_of": ("mild", "moderate", "severe")}),
        (
            "L4-5: mild to moderate loss of disc height.",
            "disc_height_loss_words",
            {"one_of": ("mild", "moderate")},
        ),
        ("L4-5: mild loss of disc height.", "disc_height_loss", None),
        ("L4-5: 40% loss of disc height.", "disc_height_loss", {"value": 40.0, "unit": "%"}),
        ("L4-5: no canal stenosis.", "canal_stenosis", {"value": "none"}),
        ("L4-5: no severe canal stenosis.", "canal_stenosis", {"one_of": ("none", "mild", "moderate")}),
        ("L4-5: possible canal stenosis.", "canal_stenosis", UNCERTAIN),
        ("L4-5: severe right and mild left foraminal stenosis.", "foraminal_stenosis", {"value": "severe"}),
        ("L4-5: protrusion measuring 4-6 mm.", "displacement_size", {"between": (4.0, 6.0), "unit": "mm"}),
        ("L4-5: left foraminal protrusion.", "displacement_site", {"value": "left_foraminal"}),
        ("L4-5: central protrusion.", "displacement_site", {"value": "central"}),
        ("L4-5: Modic type 2 change.", "modic_type", {"value": "2"}),
        ("L4-5: Modic change.", "modic_type", {"one_of": ("1", "1-2", "2-1", "2", "2-3", "3")}),
        ("L4-5: no Modic change.", "modic_type", {"value": "0"}),
        ("L4-5: questionable maintained endplates.", "modic_type", UNCERTAIN),
        ("L4-5: annular tear.", "annular_fissure", {"value": True}),
        ("L4-5: no annular tear.", "annular_fissure", {"value": False}),
        ("L4-5: possible annular tear.", "annular_fissure", UNCERTAIN),
        ("L4-5: Pfirrmann grade IV.", "pfirrmann_grade", {"value": "IV"}),
        ("L4-5: grade IV degeneration.", "pfirrmann_grade", None),
        ("L4-5: modified Pfirrmann grade 6.", "modified_pfirrmann_grade", {"value": 6}),
        ("L4-5: modified Pfirrmann 4/7.", "modified_pfirrmann_grade", UNCERTAIN),
        ("L4-5: Pathria grade 2 facets.", "pathria_grade", UNCERTAIN),
        ("Grade 1 anterolisthesis of L4 on L5.", "meyerding_grade", {"value": "I"}),
        ("Anterolisthesis of L4 on L5.", "meyerding_grade", {"one_of": ("I", "II", "III", "IV", "V")}),
        (
            "Spondylolisthesis of L4 on L5.",
            "slip_direction",
            {"one_of": ("anterior", "posterior", "lateral")},
        ),
        ("3 mm retrolisthesis of L4 on L5.", "slip", {"value": 3.0, "unit": "mm"}),
        ("L4-5: bulge compressing the thecal sac.", "neural_compression", {"value": True}),
        ("L4-5: bulge abutting the L5 root.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge abutting but not displacing the L5 root.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge contacting and displacing the L5 root.", "neural_compression", {"value": True}),
        ("L4-5: bulge impinging on the L5 root.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge impinging on and displacing the L5 root.", "neural_compression", {"value": True}),
        ("L4-5: bulge effacing the thecal sac.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge indenting the thecal sac.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge flattening the thecal sac.", "neural_compression", UNCERTAIN),
        ("L4-5: bulge deforming the L5 root.", "neural_compression", {"value": True}),
        ("L4-5: no nerve root contact.", "neural_compression", {"value": False}),
        ("L4-5: mild foraminal narrowing.", "neural_compression", None),
        ("L4-5: foramina are patent.", "neural_compression", None),
        ("L4-5: no nerve root compression.", "neural_compression", {"value": False}),
        ("Status post L4-5 laminectomy.", "prior_surgery_at_level", {"value": True}),
        ("L4-5 extrusion has resolved.", "displacement", None),
        (
            "FINDINGS: L4-5 protrusion.\nIMPRESSION: L4-5 extrusion.",
            "displacement",
            {"one_of": ("protrusion", "extrusion")},
        ),
        ("No disc herniation.", "displacement", {"one_of": ("none", "bulge")}),
        ("L4-5 bulge. No disc herniation.", "displacement", {"value": "bulge"}),
    ],
)
def test_fact_of_a_disc(text: str, element: str, wanted: dict | None) -> None:
    assert given_by(text, element) == wanted


@pytest.mark.parametrize(
    ("text", "element", "wanted"),
    [
        ("No fracture.", "fracture_on_imaging", {"value": False}),
        ("Old fracture of L1.", "fracture_on_imaging", {"value": True}),
        # an older one that nobody explained is denied by the height that the vertebrae keep, or by words without an age
        ("No acute fracture.", "fracture_on_imaging", UNCERTAIN),
        ("No recent fracture. The L1 vertebral body height is maintained.", "fracture_on_imaging", UNCERTAIN),
        (
            "No acute fracture. Vertebral body heights are maintained.",
            "fracture_on_imaging",
            {"value": False},
        ),
        (
            "No acute fracture. Vertebral body heights are maintained except at L1.",
            "fracture_on_imaging",
            UNCERTAIN,
        ),
        ("Vertebral bodies: normal height; no acute fracture.", "fracture_on_imaging", {"value": False}),
        ("Vertebral body heights normal; no acute fracture.", "fracture_on_imaging", {"value": False}),
        (
            "Vertebral body heights normal; L1 with loss of height; no acute fracture.",
            "fracture_on_imaging",
            UNCERTAIN,
        ),
        ("No acute fracture. No compression deformity.", "fracture_on_imaging", {"value": False}),
        ("No acute or chronic fracture.", "fracture_on_imaging", {"value": False}),
        ("No acute fracture. Normal MRI of the lumbar spine.", "fracture_on_imaging", {"value": False}),
        ("Fractured left S1 pedicle screw.", "fracture_on_imaging", UNCERTAIN),
        ("Likely degenerative rather than infection.", "infection_sign_on_imaging", UNCERTAIN),
        ("Possible discitis.", "infection_sign_on_imaging", UNCERTAIN),
        ("Sacralisation of L5.", "transitional_vertebra", {"value": True}),
        ("Castellvi type II transitional vertebra.", "castellvi_type", {"one_of": ("IIa", "IIb")}),
        ("L4-5: extrusion abutting the cauda equina.", "cauda_equina_compression_on_imaging", UNCERTAIN),
        (
            "L4-5: extrusion compressing the cauda equina.",
            "cauda_equina_compression_on_imaging",
            {"value": True},
        ),
        ("Status post laminectomy.", "prior_lumbar_surgery", {"value": True}),
        ("3T MRI.", "field_strength", {"value": 3.0, "unit": "T"}),
        ("CT OF THE LUMBAR SPINE", "imaging_modality", {"value": "ct"}),
        ("Numbering by counting down from C2.", "numbering_method", {"value": "counted_from_c2"}),
        ("INDICATION: rule out fracture.", "fracture_on_imaging", None),
        ("L4-5: bulge.", "report_covers_every_lumbar_disc", {"value": False}),
        ("L1-2 to L5-S1: normal.", "report_covers_every_lumbar_disc", {"value": True}),
        ("L4-5: grade 3 degeneration.", "degeneration_scale_named", {"value": False}),
    ],
)
def test_fact_of_the_patient(text: str, element: str, wanted: dict | None) -> None:
    assert given_by(text, element, "patient") == wanted


def test_day_and_status_of_the_message_are_taken() -> None:
    more = {"day": "2026-02-28", "status": "final"}
    assert given_by("LUMBAR MRI: normal study.", "lumbar_mri_date", "patient", **more) == {
        "value": "2026-02-28"
    }
    assert given_by("LUMBAR MRI: normal study.", "report_status", "patient", **more) == {"value": "final"}


def test_every_element_named_in_the_mapping_is_in_the_catalogue() -> None:
    for scope in ("disc", "patient"):
        for rule in mapping()[scope].values():
            element = catalogue().get(rule["element"])
            assert element is not None, rule
            assert element.scope == scope
            for values in rule.get("values", {}).values():
                assert set(values) <= set(element.choices or ())


def loads(text: str) -> None:
    record = with_document(empty_record("x"), "report", Document(kind="imaging_report", date="2026-01-05"))
    for fact in facts(read_text(text), "report", "2026-01-05"):
        record = with_fact(record, fact.subject, fact.element, fact.entry)
    case_from_record(record)


@each_row("text", PASSAGES)
def test_facts_make_a_valid_case_record(text: str) -> None:
    loads(text)
    for fact in facts(read_text(text), day="2026-01-05", status="final"):
        assert is_own(fact.entry.note or ""), "what a person adds is told from the program's own notes"


@settings(max_examples=250, deadline=None)
@given(TEXTS)
def test_any_text_makes_a_valid_case_record(text: str) -> None:
    loads(text)


def test_words_stand_behind_every_finding_fact() -> None:
    text = "L4-5: No evidence of severe canal stenosis. Mild facet arthropathy."
    words = {f.element: f.entry.words for f in facts(read_text(text))}
    assert words["canal_stenosis"] == "No evidence of severe canal stenosis"
    assert words["facet_arthropathy"] == "Mild facet arthropathy"
    assert set(STANDARD_LEVELS) >= {f.subject for f in facts(read_text(text)) if f.subject != "patient"}


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("abutting the S1 root", "contact"),
        ("touching the S1 root", "contact"),
        ("in contact with the S1 root", "contact"),
        ("effacing the thecal sac", "narrowing"),
        ("narrowing of the thecal sac", "narrowing"),
        ("encroaching on both exit foramina", "narrowing"),
        ("compressing the S1 root", "compression"),
        ("displacing the S1 root", "compression"),
        ("deforming the thecal sac", "compression"),
        ("impinging on the S1 root", ("contact", "compression")),
        ("with mass effect on the thecal sac", ("narrowing", "compression")),
    ],
)
def test_contact_narrowing_and_compression_are_values_of_their_own(words: str, value: object) -> None:
    rows = [f for f in read_text(f"L5-S1: protrusion {words}.").findings if f.kind == "neural_compression"]
    assert [(f.value, f.disc, f.status) for f in rows] == [(value, "L5-S1", "present")]


def test_contact_in_the_findings_and_no_compression_in_the_impression_do_not_clash() -> None:
    text = "FINDINGS: L5-S1: protrusion {} the S1 root.\nIMPRESSION: L5-S1: no compression of the S1 root."
    assert read_text(text.format("abutting")).contradictions == ()
    assert [c.kind for c in read_text(text.format("compressing")).contradictions] == ["neural_compression"]


@pytest.mark.parametrize(
    ("text", "element", "discs"),
    [
        ("Status post L4-S1 fusion.", "prior_surgery_at_level", {"L4-L5", "L5-S1"}),
        ("Status post fusion L4 through S1.", "prior_surgery_at_level", {"L4-L5", "L5-S1"}),
        ("Status post L3 to L5 posterior fusion.", "prior_surgery_at_level", {"L3-L4", "L4-L5"}),
        ("Prior L4 through S1 instrumented fusion.", "prior_surgery_at_level", {"L4-L5", "L5-S1"}),
        ("S/p ALIF L5-S1.", "prior_surgery_at_level", {"L5-S1"}),
        ("Left hemilaminotomy at L4-5.", "prior_surgery_at_level", {"L4-L5"}),
        ("Postsurgical changes of L4-L5 laminectomy.", "prior_surgery_at_level", {"L4-L5"}),
        ("Status post resection of the L5-S1 disc herniation.", "prior_surgery_at_level", {"L5-S1"}),
        ("Interbody cage at L4-5.", "implant_at_level", {"L4-L5"}),
        ("Artificial disc replacement at L4-5.", "implant_at_level", {"L4-L5"}),
        ("Prior fusion of L4-S1 with pedicle screws.", "implant_at_level", {"L4-L5", "L5-S1"}),
        ("Prior laminectomy at L5.", "prior_surgery_at_level", set()),
        ("Fusion L4-S1 planned.", "prior_surgery_at_level", set()),
    ],
)
def test_what_was_operated_is_no_finding_of_today(text: str, element: str, discs: set[str]) -> None:
    found = facts(read_text(text))
    assert {f.subject for f in found if f.element == element and f.entry.value is True} == discs
    assert not any(f.element == "displacement" for f in found)


def test_no_hardware_is_no_denial_of_surgery() -> None:
    found = {(f.element, f.entry.value) for f in facts(read_text("No hardware at L4-5."))}
    assert ("implant_at_level", False) in found
    assert not any(element.startswith("prior_") for element, _ in found)


@pytest.mark.parametrize(
    ("part", "whole", "element"),
    [
        ("No epidural collection.", "No discitis.", "infection_sign_on_imaging"),
        ("No psoas abscess.", "No evidence of infection.", "infection_sign_on_imaging"),
        ("No epidural abscess or phlegmon.", "No discitis or osteomyelitis.", "infection_sign_on_imaging"),
        ("No facet cyst.", "No tumor.", "tumour_or_mass_on_imaging"),
        ("No lytic lesion.", "No mass.", "tumour_or_mass_on_imaging"),
        ("No synovial cyst or bone lesion.", "No tumor or mass.", "tumour_or_mass_on_imaging"),
        ("No intradural lesion.", "No neoplasm.", "tumour_or_mass_on_imaging"),
    ],
)
def test_a_denial_of_a_part_denies_no_danger_as_a_whole(part: str, whole: str, element: str) -> None:
    def told(words: str) -> list[object]:
        read = read_text(f"MRI LUMBAR SPINE\nFINDINGS: L4-5: Disc bulge. {words}")
        return [f.entry.value for f in facts(read) if f.element == element]

    assert told(part) == []
    assert told(whole) == [False]


def test_fluid_in_a_disc_is_no_desiccation_but_may_be_infection() -> None:
    found = facts(read_text("MRI LUMBAR SPINE\nFINDINGS: Abnormal fluid signal within the L3-L4 disc."))
    assert not [f for f in found if f.element == "disc_desiccation"]
    assert [f.entry.unknown for f in found if f.element == "infection_sign_on_imaging"] == [
        "uncertain_in_source"
    ]
