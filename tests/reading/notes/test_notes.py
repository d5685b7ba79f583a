"""Notes marked by hand, kinds of document, pressures that are never mixed, and the way into a case record."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from candidacy.case.load import load_case
from candidacy.case.reader_notes import is_own
from candidacy.commands.read import read
from candidacy.foundation.errors import CaseError, ReportError
from candidacy.reading.notes.days import days
from candidacy.reading.notes.elements import note_facts
from candidacy.reading.notes.kinds import kind_of
from candidacy.reading.notes.model import NoteReading
from candidacy.reading.notes.read import read_note
from tests.rows import each_row

DATA = Path(__file__).parents[1] / "data"
GOLD = [
    json.loads(line)
    for name in ("note_gold.jsonl", "note_gold_2.jsonl")
    for line in (DATA / name).read_text("utf-8").splitlines()
]
NOTE = """Lumbar provocation discography, 03/12/2026
L4-5: opening pressure 12 psi; at 1.5 mL he reported 8/10 concordant pain at 38 psi. No leak.
L3-4: painless control to 75 psi.
"""
CASE = 'schema_version: "1"\nid: demo\ninvented: true\n'


UNFAMILIAR = [json.loads(line) for line in (DATA / "note_gold_3.jsonl").read_text("utf-8").splitlines()]


def forms(reading: NoteReading) -> dict[tuple[str, str], dict[str, Any]]:
    return {(f.subject, f.element): f.form for f in reading.facts}


def said(text: str, kind: str = "discography") -> dict[tuple[str, str], dict[str, Any]]:
    return forms(read_note(text, "procedure" if kind == "procedure" else "discography"))


def run(*arguments: object) -> Result:
    return CliRunner().invoke(read, [str(a) for a in arguments], catch_exceptions=True)


def marked(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {"value": value}


def without_usual_unit(form: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in form.items() if k != "unit" or v == "kPa"}


@pytest.mark.parametrize("gold", GOLD, ids=lambda g: g["id"])
def test_notes_marked_by_hand(gold: dict[str, Any]) -> None:
    reading = read_note(gold["text"])
    found = {key: without_usual_unit(form) for key, form in forms(reading).items()}
    assert reading.kind == gold["kind"]
    assert found == {(s, e): marked(v) for s, facts in gold["facts"].items() for e, v in facts.items()}


def test_notes_in_unfamiliar_styles_lose_some_values_and_assert_no_other() -> None:
    right = lost = 0
    for gold in UNFAMILIAR:
        marks = {(s, e): marked(v) for s, facts in gold["facts"].items() for e, v in facts.items()}
        found = {k: without_usual_unit(f) for k, f in forms(read_note(gold["text"], gold["kind"])).items()}
        assert {k: f for k, f in found.items() if marks.get(k) != f} == {}, gold["id"]
        right, lost = right + len(found), lost + len(marks) - len(found)
    assert right >= 8 * lost


@pytest.mark.parametrize("gold", GOLD, ids=lambda g: g["id"])
def test_every_fact_of_a_marked_note_fits_a_case_record(gold: dict[str, Any]) -> None:
    reading = read_note(gold["text"])
    for fact in note_facts(reading, "n"):
        assert fact.entry.words
        assert is_own(fact.entry.note or "")
        assert fact.entry.source == "n"
        assert all(0 <= s.start < s.end <= len(gold["text"]) for s in fact.spans)


# -- pressures ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", ["a.o.", "above opening", "above opening pressure", "over opening"])
def test_pressure_above_opening_is_never_an_absolute_one(words: str) -> None:
    found = said(f"L4-5: concordant pain 8/10 at 20 psi {words}.")
    assert found["L4-L5", "discography_pressure_above_opening"] == {"value": 20.0, "unit": "psi"}
    assert ("L4-L5", "discography_pain_pressure") not in found


def test_an_absolute_pressure_is_never_one_above_opening() -> None:
    found = said("L4-5: opening pressure 12 psi, concordant pain 8/10 at 38 psi.")
    assert found["L4-L5", "discography_pain_pressure"] == {"value": 38.0, "unit": "psi"}
    assert ("L4-L5", "discography_pressure_above_opening") not in found


def test_highest_pressure_above_opening_gives_nothing_and_is_shown() -> None:
    reading = read_note("L4-5: pressurized to 50 psi a.o. without pain.", "discography")
    assert ("L4-L5", "discography_pressure_above_opening") not in forms(reading)
    assert ("L4-L5", "discography_peak_pressure") not in forms(reading)
    assert "50 psi a.o." in [reading.words(s) for a in reading.unread for s in a.missed]
    table = "Level | Peak (psi a.o.) | NRS\nL4-5 | 50 | 0\n"
    assert not [e for _, e in said(f"Discography\n\n{table}") if "pressure_above" in e or "peak" in e]


def test_pain_below_the_opening_pressure_makes_both_unknown_and_asks() -> None:
    reading = read_note("L4-5: opening pressure 20 psi, pain 7/10 at 12 psi, concordant.", "discography")
    for element in ("discography_opening_pressure", "discography_pain_pressure"):
        assert forms(reading)["L4-L5", element] == {"unknown": "conflicting"}
    assert any("perhaps meant above opening" in q.about for q in reading.questions)


def test_units() -> None:
    assert said("L4-5: opening pressure 100 kPa.")["L4-L5", "discography_opening_pressure"]["unit"] == "kPa"
    for unit in ("mmHg", "bar", "atm"):
        form = {"value": 2.0, "unit": unit}
        assert said(f"L4-5: opening pressure 2 {unit}.") == {("L4-L5", "discography_opening_pressure"): form}
        assert said(f"Pressures in {unit}. L4-5: opening 2, pain P3.") == {
            ("L4-L5", "discography_opening_pressure"): form
        }
    for unit in ("cmH2O", "MPa", "kg/cm2"):
        assert said(f"L4-5: opening pressure 2 {unit}.") == {}
    assert said("L4-5: opening pressure 12.") == {}
    assert said("L4-5: opening pressure 60000 mmHg.") == {
        ("L4-L5", "discography_opening_pressure"): {"unknown": "not_readable"}
    }
    assert said("L4-5: opening pressure 900 psi.")["L4-L5", "discography_opening_pressure"] == {
        "unknown": "not_readable"
    }


# -- what is said twice, of whom, and when --------------------------------------------------------------------------


def test_words_of_concordance() -> None:
    def concordance(words: str) -> dict[str, Any] | None:
        return said(f"L4-5: {words}.").get(("L4-L5", "discography_concordance"))

    assert concordance("concordant pain") == {"one_of": ["similar", "exact"]}
    assert concordance("exact reproduction of his usual pain") == {"value": "exact"}
    assert concordance("partially concordant pain") == {"value": "similar"}
    assert concordance("non-concordant pain") == {"value": "unfamiliar"}
    assert concordance("non-\nconcordant pain") == {"value": "unfamiliar"}
    assert concordance("pain was not concordant") == {"one_of": ["none", "unfamiliar"]}
    assert concordance("painless") == {"value": "none"}
    assert concordance("concordant pain, exactly like the usual pain") == {"value": "exact"}
    assert concordance("concordant pain. Later the pain was discordant") == {"unknown": "conflicting"}
    assert concordance("his usual pain is 6/10") is None


def test_pain_denied_and_scored_is_a_conflict() -> None:
    found = said("L4-5: no pain, 7/10.")
    assert found["L4-L5", "discography_concordance"] == {"unknown": "conflicting"}
    assert found["L4-L5", "discography_pain_nrs"] == {"unknown": "conflicting"}


@pytest.mark.parametrize(
    "text",
    [
        "Compared with L3-4, the L4-5 disc showed concordant pain.",
        "L4-5: leak -.",
        "No pain was felt at L4-5 because of residual sedation.",
        "Except at L4-5 there was no pain.",
        "L4-5: pain-free after the procedure.",
        "History: outside discogram with concordant pain at L4-5 at 20 psi.",
        "L4-5: contrast leaked, needle repositioned at L5-S1.",
        "L4-5: concordant pain?",
        "It is unclear whether L4-5 was concordant.",
        "The pain was concordant.",
        "Concordant pain at L4-5 or L5-S1.",
    ],
)
def test_nothing_is_asserted_of_a_disc(text: str) -> None:
    reading = read_note(text, "discography")
    assert not [f for f in reading.facts if "unknown" not in f.form]
    assert reading.unread


def test_an_antibiotic_counts_as_given_only_where_that_is_said() -> None:
    element = ("patient", "discography_antibiotic_given")
    assert said("Cefazolin 1 g IV was given.")[element] == {"value": True}
    assert said("No antibiotic was given.")[element] == {"value": False}
    assert element not in said("The patient is allergic to cefazolin.")
    assert element not in said("Contrast mixed with cefazolin was injected.")


def test_dates() -> None:
    for written in (
        "03/12/2026",
        "2026-03-12",
        "March 12, 2026",
        "12 March 2026",
        "3/12/26",
        "Mar. 12, 2026",
    ):
        assert said(f"Date of procedure: {written}")["patient", "discography_date"] == {"value": "2026-03-12"}
    assert ("patient", "discography_date") not in said("Date of procedure: 02/30/2026")
    assert ("patient", "discography_date") not in said("MRI of 03/01/2026 was reviewed.")


def test_several_procedures_in_one_note_give_nothing_and_say_so() -> None:
    reading = read_note("Medial branch block: relief 80%.\nSacroiliac joint block: relief 20%.", "procedure")
    assert reading.facts == ()
    assert "several procedures" in reading.questions[0].about


# -- kinds ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (NOTE, "discography"),
        ("MRI LUMBAR SPINE\nSagittal T1 and T2. L4-5: disc bulge. Conus normal.", "imaging"),
        ("Procedure note: medial branch block, L4 and L5. Bupivacaine. Relief 80%.", "procedure"),
        ("Dear colleague, thank you for seeing this 45 year old. Discography showed concordant pain.", "letter"),
        ("L4-5: 3 mm.", None),
        ("MRI lumbar spine, sagittal and axial. Procedure note: epidural steroid injection, needle, relief, prone, "
         "bupivacaine. Conus normal, disc bulge.", None),
        ("Dear Dr,\n58 year old man. BMI 31. HbA1c 58 mmol/mol. On metformin 500 mg bd.", "letter"),
        ("Dear colleague,\nplease see her. She smokes, lives with her sister and takes nothing.", "letter"),
        ("MRI lumbar spine. 58 year old man, smoker, BMI 31. Sagittal T2: L4-5 bulge. Conus normal.", "imaging"),
    ],
)  # fmt: skip
def test_kind_of_document(text: str, kind: str | None) -> None:
    assert kind_of(text).kind == kind


def test_a_text_of_no_clear_kind_is_refused_and_taken_when_told() -> None:
    with pytest.raises(ReportError, match="--kind"):
        read_note("L4-5: opening pressure 12 psi.")
    with pytest.raises(ReportError, match="no discography or procedure note"):
        read_note("MRI LUMBAR SPINE\nSagittal T1 and T2. L4-5: disc bulge. Conus normal.")
    assert said("L4-5: opening pressure 12 psi.")


def test_a_note_that_is_taken_back_or_in_another_language_is_refused() -> None:
    with pytest.raises(ReportError, match="does not count"):
        read_note("ENTERED IN ERROR\n" + NOTE)
    with pytest.raises(ReportError, match="French"):
        read_note(
            "Discographie L4-L5: la pression d'ouverture était de 12 psi, sans douleur pour le patient.",
            "discography",
        )


# -- command --------------------------------------------------------------------------------------------------------


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    note, case = tmp_path / "discogram.txt", tmp_path / "case.yaml"
    note.write_text(NOTE, "utf-8")
    case.write_text(CASE, "utf-8")
    return note, case


def test_into_a_case_with_words_and_source(files: tuple[Path, Path]) -> None:
    note, case = files
    result = run(note, "--into", case)
    assert result.exit_code == 0, result.output
    assert "read as discography: found from the words" in result.output
    record = load_case(case).record
    assert record.documents["discogram"].kind == "discography_record"
    assert record.documents["discogram"].date == "2026-03-12"
    fact = record.discs["L4-L5"]["discography_pain_pressure"]
    assert (fact.value, fact.unit, fact.source, fact.words) == (38, "psi", "discogram", "at 38 psi")
    assert record.discs["L3-L4"]["discography_pain_pressure"].unknown == "not_applicable"
    again = run(note, "--into", case)
    assert "nothing was added" in again.output


def test_a_differing_record_is_left_alone_until_accepted(files: tuple[Path, Path]) -> None:
    note, case = files
    case.write_text(CASE + "discs: {L4-L5: {discography_pain_nrs: 5}}\n", "utf-8")
    before = case.read_bytes()
    result = run(note, "--into", case)
    assert isinstance(result.exception, CaseError)
    assert case.read_bytes() == before
    assert run(note, "--into", case, "--accept").exit_code == 0
    assert load_case(case).record.discs["L4-L5"]["discography_pain_nrs"].value == 8


def test_an_injection_becomes_one_entry(tmp_path: Path) -> None:
    note, case = tmp_path / "esi.txt", tmp_path / "case.yaml"
    note.write_text(
        "PROCEDURE NOTE\nDate: 10/02/2025\nLeft L4-L5 transforaminal epidural steroid injection\n"
        "Dexamethasone 10 mg was injected. Relief: 50%.\n",
        "utf-8",
    )
    case.write_text(CASE, "utf-8")
    for _ in range(2):
        assert run(note, "--into", case).exit_code == 0
    entries = load_case(case).record.injections
    assert entries is not None
    assert len(entries.entries) == 1
    values = {name: fact.value for name, fact in entries.entries[0].items()}
    assert values["injection_kind"] == "epidural_steroid"
    assert values["injection_date"] == "2025-10-02"
    assert values["injection_contained_steroid"] is True
    assert values["injection_relief"] == 50


def test_forms_of_output_and_day(files: tuple[Path, Path]) -> None:
    note, case = files
    data = json.loads(run(note, "--format", "json").stdout)
    assert data["kind"] == "discography"
    for fact in data["facts"]:
        for span in fact["evidence"]:
            assert data["text"][span["start"] : span["end"]] == span["words"]
    assert "Read as discography" in run(note).stdout
    note.write_text(NOTE + "Remark: a < b & c\n", "utf-8")
    page = run(note, "--format", "html").stdout
    assert "a &lt; b &amp; c" in page
    assert "<script" not in page
    run(note, "--into", case, "--date", "2026-03-13")
    assert load_case(case).record.patient["discography_date"].unknown == "conflicting"


def test_kind_may_be_named_and_an_unclear_text_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "n.txt"
    text.write_text(
        "MRI lumbar spine, sagittal and axial. Procedure note: epidural steroid injection, needle, relief, prone, "
        "bupivacaine. Conus normal, disc bulge.",
        "utf-8",
    )
    refused = run(text)
    assert isinstance(refused.exception, ReportError)
    assert "--kind" in str(refused.exception)
    assert run(text, "--kind", "procedure").exit_code == 0
    assert "Read as imaging: as asked for" in run(text, "--kind", "imaging").stdout
    assert run(text, "--kind", "other").exit_code == 2


def test_a_note_in_a_folder_is_not_read_as_imaging(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(NOTE, "utf-8")
    (tmp_path / "b.txt").write_text("MRI lumbar spine. L4-5: disc bulge.", "utf-8")
    result = run(tmp_path)
    assert "a discography note" in result.output
    assert "1 reports read" in result.output


def test_a_letter_in_a_folder_is_not_read_as_imaging_unless_that_is_asked(tmp_path: Path) -> None:
    letter = (
        "Dear Colleague,\nThank you for seeing this 47-year-old female with low back pain. She denies fever. "
        "Her MRI showed a disc bulge at L4-5.\nSincerely,\nFamily Medicine\n"
    )
    (tmp_path / "a.txt").write_text(letter, "utf-8")
    (tmp_path / "b.txt").write_text("MRI lumbar spine. L4-5: disc bulge.", "utf-8")
    result = run(tmp_path)
    assert "a referral letter, no imaging report" in result.output
    assert "1 reports read" in result.output
    assert result.exit_code != 0
    assert "2 reports read" in run(tmp_path, "--kind", "imaging").output
    refused = run(tmp_path, "--kind", "letter")
    assert refused.exit_code == 2
    assert "takes one document at a time" in refused.output


@pytest.mark.parametrize(
    "text",
    [
        "No pain at L3-4, L4-5 exact pain, L5-S1 similar.",
        "Dallas grade 4, L4-5; grade 2, L5-S1.",
        "Pain 8/10 at L4-5, 3/10, L5-S1.",
    ],
)
def test_a_pause_between_a_value_and_a_disc_leaves_open_which_is_meant(text: str) -> None:
    assert not read_note(text, "discography").facts


def test_strength_and_relief_are_no_range() -> None:
    reading = read_note("L4-5: 0.8 mL bupivacaine 0.5% - 80% relief.", "discography")
    assert not [f for f in reading.facts if f.element == "anaesthetic_relief_reported"]
    assert reading.unread


@pytest.mark.parametrize(
    "text",
    [
        "Lumbar discography: the L5-S1 level was aborted because of a paresthesia. L4-5: concordant 7/10.",
        "Discography (transitional anatomy, sacralised L5). L4-5: concordant 7/10.",
        "Discography. The patient tolerated the procedure poorly and developed a seizure. L4-5: painless.",
        "Discography. L4-5 concordant 8/10 at 22 psi. There was no valid negative control.",
        "Discography. L4-5: he reported his known pain, 7/10.",
        "Discography. At L4-5 he had an opening pressure of twelve.",
    ],
)
def test_what_is_told_beside_a_title_or_in_words_not_known_is_shown(text: str) -> None:
    reading = read_note(text, "discography")
    missed = " ".join(reading.words(s) for a in reading.unread for s in a.missed)
    shown = ("aborted", "transitional", "seizure", "no valid negative control", "known pain", "twelve")
    assert sum(w in missed for w in shown) == 1
    assert not any(f.element == "discography_role" for f in reading.facts)


def test_a_label_before_a_list_of_discs_is_answered_for_each() -> None:
    found = said("Discography. Concordance: L3-4 none; L4-5 exact; L5-S1 similar.")
    assert [found[d, "discography_concordance"] for d in ("L3-L4", "L4-L5", "L5-S1")] == [
        {"value": "none"},
        {"value": "exact"},
        {"value": "similar"},
    ]


@pytest.mark.parametrize(
    "text",
    [
        "L5-S1: initially concordant pain 8/10 at 20 psi; on repeat injection no pain.",
        "L5-S1: concordant pain 8/10.\nIMPRESSION: Negative discogram at L5-S1.",
        "L5-S1: concordant pain 8/10. Impression: negative discography at L5-S1, positive at L4-5.",
        "The response at L5-S1 was unreliable. L5-S1: concordant pain 8/10.",
        "L5-S1: concordant pain 8/10. The levels were transposed in this report.",
        "Addendum: The level reported as L5-S1 is actually L4-5.\nL5-S1: concordant pain 8/10.",
        "The pain at L5-S1 was familiar in location but different in quality.",
    ],
)
def test_a_concordance_that_another_passage_gainsays_is_not_asserted(text: str) -> None:
    form = said(f"Discography. {text}")["L5-S1", "discography_concordance"]
    assert "unknown" in form


def test_an_impression_that_agrees_takes_nothing_back() -> None:
    found = said("Discography. L4-5: painless. L5-S1: concordant 8/10.\nIMPRESSION: Positive at L5-S1.")
    assert found["L5-S1", "discography_concordance"] == {"one_of": ["similar", "exact"]}


def test_the_day_of_a_discogram_that_is_compared_is_not_that_of_the_note() -> None:
    for lead in ("Discography 3/2/2026 (compare", "Discography (compare"):
        found = said(f"{lead} discogram of 5/6/2021: L4-5 concordant). L4-5: painless.")
        assert ("patient", "discography_date") not in found


def test_a_volume_at_the_onset_of_pain_is_not_the_volume() -> None:
    assert ("L4-L5", "discography_volume") not in said("Discography. L4-5: pain onset 0.8 mL, concordant.")


def test_relief_elsewhere_and_a_procedure_broken_off_give_nothing() -> None:
    lead = "Procedure note: Medial branch blocks 01/15/2026."
    assert ("patient", "facet_block_relief") not in said(f"{lead} 80% relief of the neck pain.", "procedure")
    assert said(f"{lead} The procedure was aborted.", "procedure") == {}


def test_a_complication_that_was_not_read_is_named_as_a_danger() -> None:
    reading = read_note("Discography. L4-5: painless. Discitis was diagnosed days later.", "discography")
    assert reading.unread[0].danger == "infection"


@pytest.mark.parametrize(
    "text",
    [
        "Level / OP / Pain P / NRS\nL3-4 / 18 psi / none / 0/10\nL4-5 / 12 psi / 28 psi / 8/10",
        "Results (level / OP / pain pressure / NRS):\nL3-4 / 18 psi / none / 0/10\nL4-5 / 12 psi / 28 psi / 8/10",
        "           L3-4    L4-5\nOpening psi   18    12\nPain psi   none    28\nNRS   0    8",
        "L3-4: opening pressure 18 psi, nil pain, NRS 0. L4-5: opening pressures 12 psi, pain pressure 28 psi, NRS 8.",
    ],
)
def test_one_result_however_it_is_laid_out(text: str) -> None:
    found = {
        (s, e.removeprefix("discography_")): f.get("value")
        for (s, e), f in said(f"Discography.\n{text}").items()
    }
    wanted = {("L3-L4", "opening_pressure"): 18, ("L4-L5", "opening_pressure"): 12, ("L4-L5", "pain_pressure"): 28,
              ("L3-L4", "pain_nrs"): 0, ("L4-L5", "pain_nrs"): 8, ("L3-L4", "concordance"): "none"}  # fmt: skip
    assert {k: v for k, v in found.items() if k[1] != "pain_pressure" or v is not None} == wanted


def test_lists_in_turn_go_to_the_discs_in_their_order() -> None:
    text = (
        "Discography L4-5 and L5-S1: opening 12 and 16 psi, pain at 24 and 50 psi, NRS 8 and 5 respectively."
    )
    found = {(s, e.removeprefix("discography_")): f["value"] for (s, e), f in said(text).items()}
    assert found == {("L4-L5", "opening_pressure"): 12, ("L5-S1", "opening_pressure"): 16, ("L4-L5", "pain_pressure"): 24,
                     ("L5-S1", "pain_pressure"): 50, ("L4-L5", "pain_nrs"): 8, ("L5-S1", "pain_nrs"): 5}  # fmt: skip
    assert said(text.replace("12 and 16", "12, 14 and 16")) == {}


@pytest.mark.parametrize(
    "text",
    [
        "Concordant pain at L4-5 (9/10) and L5-S1 (7/10), none at L3-4.",
        "Concordant pain was noted at L4-5 of 9/10 and at L5-S1 of 7/10 and at L3-4 of 0/10.",
    ],
)
def test_values_behind_their_discs_are_not_given_to_the_next(text: str) -> None:
    assert said(f"Discography. {text}") == {}


def test_a_control_that_hurt_is_shown() -> None:
    reading = read_note("Discography. L3-4 control also hurt. L4-5: exact pain.", "discography")
    assert [reading.words(s) for a in reading.unread for s in a.missed] == ["hurt"]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("L4-5 concordant 8/10 with transient leg paresthesia.", "paresthesia"),
        ("L4-5: similar 5/10 @ 30 psi.", "similar"),
        ("L4-5 exact 9/10; he was admitted.", "admitted"),
        ("L4-5: NRS 8/10, P++.", "P++"),
        ("L4-5 (P+), NRS 8/10.", "P+"),
        ("L4-5: NRS 8/10; pain ++", "++"),
        ("L4-5: 2 mL of contrast; firm; NRS 8/10.", "firm"),
        ("L4-5: NRS 8/10 and the patient screamed.", "the patient screamed"),
        ("L4-5: NRS 8/10, C, volume 2 mL.", "C"),
    ],
)
def test_mishaps_and_words_of_concordance_beside_values_are_shown(text: str, word: str) -> None:
    reading = read_note(f"Discography. {text}", "discography")
    assert [reading.words(s) for a in reading.unread for s in a.missed] == [word]
    assert ("L4-L5", "discography_pain_nrs") in forms(reading)


def test_one_kind_of_injection_on_two_days_gives_nothing() -> None:
    text = "Procedure note: right L4-5 TFESI 03/02/2026; 50% relief. 2nd TFESI 04/02/2026."
    reading = read_note(text, "procedure")
    assert (reading.facts, [q.about for q in reading.questions]) == (
        (),
        ["several days in one note: which values belong to which is open"],
    )


def test_no_relief_in_an_unread_passage_leaves_the_relief_open() -> None:
    lead = "Procedure note: right L4-5 TFESI 03/02/2026. 50% relief"
    kept = said(f"{lead}.", "procedure")["injections[1]", "injection_relief"]
    open_ = said(f"{lead} of it at first. Then there was no relief at all.", "procedure")
    assert kept == {"value": 50.0, "unit": "%"}
    assert open_["injections[1]", "injection_relief"] == {"unknown": "conflicting"}


def test_when_relief_was_asked_is_not_how_long_it_lasted() -> None:
    lead = "Procedure note: SI joint block 04/02/2026: 75% relief"
    notes = [
        next(f.note for f in read_note(f"{lead} {time}.", "procedure").facts if f.element.endswith("_relief"))
        for time in ("at 30 minutes", "for 30 minutes")
    ]
    assert notes == ["", "relief lasted 30 min"]


def test_a_dose_of_another_medicine_is_shown() -> None:
    text = "Discography under monitored anesthesia care; 100 mg propofol. L4-5: exact pain."
    reading = read_note(text, "discography")
    assert [reading.words(s) for a in reading.unread for s in a.missed] == ["100 mg propofol"]


# -- codes and signs of pain ----------------------------------------------------------------------------------------

CODES = ["P0", "P1", "P2", "P3", "P++", "P+", "P-", "pain P2", "P3/3", "+++"]


@each_row("code", CODES)
def test_a_code_of_pain_is_shown_and_gives_no_value(code: str) -> None:
    for text, where in (
        ("L4-5: opening pressure 12 psi, {}.", "line"),
        ("L4-5: {} at 30 psi.", "line"),
        ("Level | Opening (psi) | Pain\nL4-5 | 12 | {}\n", "cell"),
        ("Level | Opening (psi) | Concordance\nL4-5 | 12 | {}\n", "cell"),
    ):
        reading = read_note(f"Discography\n\n{text.format(code)}", "discography")
        assert {e for _, e in forms(reading)} <= {"discography_opening_pressure"}, (text, where)
        shown = " ".join(reading.words(s) for a in reading.unread for s in a.missed)
        assert code in shown, (text, shown)


def test_the_pressure_at_pain_is_no_score_of_pain() -> None:
    table = (
        "Discogram, pressures in bar\n\nLevel | Opening | Pain at | Response\nL4-5 | 1.0 | 2.4 | concordant\n"
    )
    found = said(table)
    assert found["L4-L5", "discography_pain_pressure"] == {"value": 2.4, "unit": "bar"}
    assert ("L4-L5", "discography_pain_nrs") not in found
    bare = said(table.replace(", pressures in bar", ""))
    assert {"discography_concordance"} == {e for _, e in bare}


@each_row("cell", ["++", "+", "-", "?", "±", "()"])
def test_a_cell_of_signs_alone_is_shown(cell: str) -> None:
    text = f"Discogram\n\nLevel | Opening (psi) | Concordance\nL4-5 | 12 | {cell}\n"
    reading = read_note(text, "discography")
    assert ("L4-L5", "discography_concordance") not in forms(reading)
    assert cell in [reading.words(s) for a in reading.unread for s in a.missed]


def test_a_pressure_that_rose_without_pain_reached_the_second_number() -> None:
    peak = ("L3-L4", "discography_peak_pressure")
    assert said("At L3-4 from 15 to 80 psi without pain.")[peak] == {"at_least": 80.0, "unit": "psi"}
    assert said("L3-4: no pain at 70 to 80 psi.")[peak] == {"at_least": 70.0, "unit": "psi"}


@each_row(
    ("grade", "form"),
    [
        ("III", {"value": 3.0}),
        ("grade IV", {"value": 4.0}),
        ("III-IV", {"between": [3.0, 4.0]}),
        ("III/IV", None),
        ("III to IV", None),
        ("IV-III", None),
    ],
)
def test_grades_of_the_annulus_in_roman_numerals(grade: str, form: dict[str, Any] | None) -> None:
    reading = read_note(f"L5-S1: Dallas {grade} with leak.", "discography")
    assert forms(reading).get(("L5-S1", "discography_fissure_grade")) == form
    assert form is not None or reading.unread


def test_a_leak_that_is_suspected_is_not_said_to_be_there() -> None:
    for text in ("L4-5: leak suspected.", "L4-5: suspected leak."):
        assert said(text) == {("L4-L5", "discography_leak"): {"unknown": "uncertain_in_source"}}
    assert said("L4-5 (suspected disc): leak.")["L4-L5", "discography_leak"] == {"value": True}


@each_row(
    ("text", "day"),
    [
        ("Discography 03/02/2026", "2026-03-02"),
        ("Discography 03/02/2026. Born 25/03/1980.", "2026-02-03"),
        ("Discography 25/03/2026", "2026-03-25"),
        ("Discography 03/02/2026. Born 03/25/1980.", "2026-03-02"),
        ("Discography 03/02/2026. Born 25/03/1980, referred 01/28/2026.", ""),
    ],
)
def test_the_order_of_figures_is_that_which_the_dates_of_the_text_tell(text: str, day: str) -> None:
    assert days(text, 0, len("Discography 03/02/2026"))[0].day == day


BLANKS = """Discography, pressures in psi.
Level Opening Pain pressure NRS Concordance
L3-4 15 none 0 none
L4-5 12 30 8/10 exact
L5-S1 14 45 6/10 unfamiliar pain
"""


def test_a_table_with_one_blank_between_its_cells_is_read_as_one_with_wide_gaps() -> None:
    def told(text: str) -> list[tuple[str, str, dict[str, object]]]:
        return [(f.subject, f.element, f.form) for f in read_note(text, "discography").facts]

    wide = (
        BLANKS.replace(" ", "   ")
        .replace("Pain   pressure", "Pain pressure")
        .replace("unfamiliar   pain", "unfamiliar pain")
    )
    wide = wide.replace("Discography,   pressures   in   psi", "Discography, pressures in psi")
    assert told(BLANKS) == told(wide)
    assert ("L4-L5", "discography_pain_pressure", {"value": 30.0, "unit": "psi"}) in told(BLANKS)


@pytest.mark.parametrize(
    "changed",
    [
        BLANKS.replace(" none 0", " 0"),  # a cell is missing
        BLANKS.replace("L4-5 12", "L4-5 about 12"),  # a word that is no value
        BLANKS.replace("Level Opening", "Level Odd Opening"),  # a column that no rule knows
        BLANKS.replace("NRS", ""),
    ],
)
def test_a_row_that_does_not_fit_its_head_gives_nothing_of_its_table(changed: str) -> None:
    assert not [f for f in read_note(changed, "discography").facts if f.subject == "L4-L5"]


def test_a_pain_that_is_not_concordant_and_scored_0_is_none() -> None:
    facts = {f.element: f.form for f in read_note("L3-4: concordance: no, NRS 0/10.", "discography").facts}
    assert facts["discography_concordance"] == {"value": "none"}
    assert facts["discography_pain_nrs"] == {"value": 0.0}
