"""What was not read and may tell of danger is shown, gainsays denials, and stays open in a record until a person has looked."""

from pathlib import Path

import pytest
from click.testing import CliRunner

import candidacy
from candidacy.case.free_text import ELEMENT, told_in
from candidacy.commands.read import read
from candidacy.reading import read_text
from candidacy.reading.dangers import examples, labels, note_of
from candidacy.reading.elements import facts
from candidacy.reading.show import as_data, as_html, as_text

BODY = "FINDINGS: L4-5: mild disc bulge."
BEFORE = [
    ("HISTORY: Known discitis at L4-5, treated.", "infection"),
    ("CLINICAL INDICATION: Prostate ca with bony mets, on chemo.", "cancer that spread or came back"),
    ("INDICATION: IV drug user with endocarditis.", "infection"),
    ("COMPARISON: In 2024 there was a pathological fracture of L2.", "fracture"),
    ("HISTORY: hx of spinal TB, now afebrile.", "infection"),
    ("HISTORY: new foot drop.", "weakness or spinal cord"),
]
NOT_TOLD = [
    "HISTORY: No history of cancer.",
    "HISTORY: Back pain, ?fracture.",
    "INDICATION: Rule out infection.",
    "INDICATION: Evaluate for metastasis.",
    "HISTORY: Back pain for two years.",
]
DESCRIBED = [
    ("L4-5: fluid bright disc, endplates destroyed.", "infection_sign_on_imaging"),
    ("L1 is squashed with bright marrow.", "fracture_on_imaging"),
    ("The L3 body has caved in with its back wall pushed into the canal.", "fracture_on_imaging"),
    ("Multiple dark holes are scattered through the bones.", "tumour_or_mass_on_imaging"),
    ("The nerve roots are jammed together, no CSF left.", "cauda_equina_compression_on_imaging"),
    ("L2-3: fluid within the interspace, opposing plates frayed.", "infection_sign_on_imaging"),
    ("Epidural gas at L4.", "infection_sign_on_imaging"),
    ("Subdural collection.", "infection_sign_on_imaging"),
    ("Loss of nearly all CSF about the roots at L3-4.", "cauda_equina_compression_on_imaging"),
]


def told(text: str) -> list[str]:
    return [a.danger for a in read_text(text).unread if a.danger]


@pytest.mark.parametrize(("before", "danger"), BEFORE)
def test_a_danger_that_only_the_requester_tells_is_shown_and_is_no_finding(before: str, danger: str) -> None:
    reading = read_text(f"{before}\n{BODY}")
    assert [a.danger for a in reading.unread if a.danger] == [danger]
    assert not {f.element for f in facts(reading)} & {element for _, element in DESCRIBED}
    for shown in (as_text(reading), as_html(reading), str(as_data(reading)["ledger"])):
        assert danger in shown


@pytest.mark.parametrize("before", NOT_TOLD)
def test_what_the_requester_denies_or_asks_is_no_danger(before: str) -> None:
    assert told(f"{before}\n{BODY}") == []


@pytest.mark.parametrize(("described", "element"), DESCRIBED)
def test_a_danger_described_without_its_word_is_shown_and_gainsays_a_denial(
    described: str, element: str
) -> None:
    denial = "No fracture, tumour or infection. No cauda equina compression."
    assert {f.element: f.entry.value for f in facts(read_text(f"{BODY} {denial}"))}[element] is False
    reading = read_text(f"{BODY} {described} {denial}")
    assert reading.unread[0].danger
    assert {f.element: f.entry.unknown for f in facts(reading)}[element] == "conflicting"


@pytest.mark.parametrize(("name", "example", "counter"), examples())
def test_examples_of_descriptions(name: str, example: str, counter: str) -> None:
    assert told(example), name
    assert not told(counter), name


def test_a_denial_ends_at_but() -> None:
    assert told(f"{BODY} No compression fracture but L1 has an odd biconcave look.")


@pytest.mark.parametrize(
    "text", ["Endplates are not eroded.", "No lytic change of the bones.", "The discs are bright."]
)
def test_what_is_denied_or_harmless_is_no_danger(text: str) -> None:
    assert told(f"{BODY} {text}") == []


def test_an_unread_danger_stays_open_in_the_record(tmp_path: Path) -> None:
    case, report = tmp_path / "case.yaml", tmp_path / "report.txt"
    case.write_text('schema_version: "1"\nid: r\npatient: {}\n', encoding="utf-8")
    report.write_text(f"HISTORY: Metastatic breast cancer.\n{BODY}\n", encoding="utf-8")
    arguments = [str(report), "--kind", "imaging", "--into", str(case), "--date", "2026-01-05"]
    assert CliRunner().invoke(read, arguments).exit_code == 0
    loaded = candidacy.load_case(case)
    assert "Metastatic breast cancer" in loaded.record.documents["report"].note
    assert ELEMENT in {fact.element for fact in loaded.facts.stated()}


def test_a_sign_seen_outside_the_discs_stays_open_in_the_record(tmp_path: Path) -> None:
    case, report = tmp_path / "case.yaml", tmp_path / "report.txt"
    case.write_text('schema_version: "1"\nid: r\npatient: {}\n', encoding="utf-8")
    report.write_text(f"{BODY} Retroperitoneal lymphadenopathy.\n", encoding="utf-8")
    arguments = [str(report), "--kind", "imaging", "--into", str(case), "--date", "2026-01-05"]
    assert CliRunner().invoke(read, arguments).exit_code == 0
    loaded = candidacy.load_case(case)
    assert "lymphadenopathy" in loaded.record.documents["report"].note
    assert ELEMENT in {fact.element for fact in loaded.facts.stated()}


CROSSED = [
    "L5-S1: Left paracentral protrusion compressing the right S1 nerve root.",
    "L5-S1: Left paracentral protrusion. The right S1 root is displaced.",
    "FINDINGS: L5-S1: Left protrusion contacting the left S1 root.\nIMPRESSION: L5-S1 protrusion compressing the right S1 root.",
]
NOT_CROSSED = [
    "L5-S1: Left paracentral protrusion compressing the left S1 nerve root.",
    "L4-5: Left protrusion. Right facet arthropathy with cyst compressing the right L5 root.",
    "L4-5: Left foraminal protrusion. Right foraminal stenosis with contact of the right L4 root.",
    "L4-5: Broad-based bulge with left paracentral protrusion; the right L5 root is contacted.",
]


@pytest.mark.parametrize("text", CROSSED)
def test_a_disc_of_one_side_on_a_root_of_the_other_is_a_conflict(text: str) -> None:
    reading = read_text(text)
    assert "left and right differ" in {q.about for q in reading.questions}
    site = {f.element: f.entry for f in facts(reading)}.get("displacement_site")
    assert site is None or site.unknown == "conflicting"


@pytest.mark.parametrize("text", NOT_CROSSED)
def test_what_else_may_meet_the_root_is_no_conflict(text: str) -> None:
    assert "left and right differ" not in {q.about for q in read_text(text).questions}


ADDENDA = [
    "FINDINGS: L3-4: moderate canal stenosis. ADDENDUM: Level of the stenosis should read L4-5.",
    "FINDINGS: L3-4: moderate canal stenosis. ADDENDUM 4/5/26: this should have been dictated under L4-5.",
    "FINDINGS: L3-4: moderate canal stenosis. Addendum: should say mild.",
    "FINDINGS: L3-4: moderate canal stenosis.\n\nADDENDUM\nThe stenosis described above is one level lower.",
]


@pytest.mark.parametrize("text", ADDENDA)
def test_an_addendum_that_was_not_read_leaves_what_it_speaks_of_open(text: str) -> None:
    assert {f.element: f.entry.unknown for f in facts(read_text(text))}["canal_stenosis"] == "conflicting"


@pytest.mark.parametrize("label", sorted(set(labels())))
def test_a_record_knows_each_danger_by_its_label(label: str) -> None:
    assert told_in(f"{label}: “words of the report”")


SEEN = [
    ("Severe canal stenosis at L4-5. The bladder is distended.", "cauda equina syndrome"),
    ("Tethered cord.", "cord compression or disease"),
    ("The conus ends low, at L3.", "cord compression or disease"),
    ("The conus terminates at L4.", "cord compression or disease"),
    ("Conus at L3-4.", "cord compression or disease"),
    ("Cord shows high signal.", "cord compression or disease"),
    ("Retroperitoneal lymphadenopathy.", "cancer"),
    ("Enlarged retroperitoneal nodes, 3 cm.", "cancer"),
    ("Left psoas collection.", "infection, by its description"),
    ("Gas in the psoas.", "infection, by its description"),
    ("Presacral fluid collection.", "infection, by its description"),
    ("Retroperitoneal collection.", "infection, by its description"),
    ("Left iliacus collection.", "infection, by its description"),
    ("Dissection of the infrarenal aorta.", "aneurysm or dissection"),
]
HARMLESS = [
    "No canal stenosis. The bladder is distended.",
    "Severe canal stenosis at L4-5. The bladder is normal.",
    "Retroperitoneal nodes are not enlarged.",
    "No lymphadenopathy.",
    "The conus ends at L1.",
    "The conus terminates at L2-3.",
    "Conus normal. L4-5: bulge.",
    "The conus and the roots are normal at L4-5.",
    "Cord signal is normal.",
    "Bowel gas.",
    "Free pelvic fluid, physiologic.",
    "Retroperitoneal structures are unremarkable.",
    "No presacral collection.",
    "Dependent subcutaneous oedema.",
    "Fatty atrophy of the multifidus.",
    "Simple renal cyst.",
]


@pytest.mark.parametrize(("text", "danger"), SEEN)
def test_what_is_seen_outside_the_discs_may_be_a_sign_of_danger(text: str, danger: str) -> None:
    reading = read_text(f"{BODY} {text}")
    assert [o.danger for o in reading.outside if o.danger] == [danger]
    note = note_of(reading.text, reading.unread, reading.outside)
    assert danger in note
    assert told_in(note)
    for shown in (as_text(reading), as_html(reading), str(as_data(reading)["outside"])):
        assert danger in shown


@pytest.mark.parametrize("text", HARMLESS)
def test_what_is_harmless_outside_the_discs_is_no_danger(text: str) -> None:
    reading = read_text(f"{BODY} {text}")
    assert not [o for o in reading.outside if o.danger]
    assert not note_of(reading.text, reading.unread, reading.outside)


def test_a_denial_of_the_whole_is_not_taken_beside_a_sign_seen_elsewhere() -> None:
    reading = read_text(f"{BODY} No tumour or infection. Retroperitoneal lymphadenopathy.")
    found = {f.element: f.entry for f in facts(reading)}
    assert found["tumour_or_mass_on_imaging"].unknown == "conflicting"
    assert found["infection_sign_on_imaging"].value is False


@pytest.mark.parametrize(
    ("text", "danger"),
    [
        ("TECHNIQUE: Limited study. Known AAA.", "vessels and heart"),
        ("TECHNIQUE: Fever of 39 during the scan.", "infection"),
        ("INDICATION: LBP, h/o prostate ca.", "cancer"),
        ("INDICATION: Ca breast 2015.", "cancer"),
        ("TECHNIQUE: Standard tumor protocol.", ""),
        ("TECHNIQUE: Sagittal T1 and T2. No pacemaker.", ""),
        ("INDICATION: On a Ca channel blocker.", ""),
    ],
)
def test_a_danger_told_outside_the_findings_is_shown(text: str, danger: str) -> None:
    reading = read_text(f"{text}\nFINDINGS: L4-5 bulge.")
    assert next((a.danger for a in reading.ledger if a.danger), "") == danger
