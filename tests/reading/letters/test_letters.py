"""Letters marked by hand, sentences written to mislead, and the way into a case record."""

import json
import random
import re
import textwrap
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record
from candidacy.case.load import case_from_record, load_case
from candidacy.case.reader_notes import is_own
from candidacy.case.record import Document
from candidacy.commands.read import read
from candidacy.foundation.errors import CaseError, ReportError
from candidacy.reading.letters.entries import with_places_for
from candidacy.reading.letters.read import day_of_letter, read_letter
from candidacy.reading.letters.words import words
from candidacy.reading.merge import merge
from candidacy.reading.notes.elements import note_facts
from candidacy.reading.notes.show import as_data, as_html, as_text
from tests.reading.letters.marks import compared, letters, marked
from tests.rows import each_row

FIRST, BUILT = letters("letters_gold.jsonl"), letters("letters_gold_2.jsonl")
HARD = letters("letters_gold_3.jsonl")
ORDINARY = [row for n in (4, 5, 6, 7, 8, 9, 10) for row in letters(f"letters_gold_{n}.jsonl")]
BOTH = [*FIRST, *BUILT, *HARD, *ORDINARY]
DAY = "2026-01-01"
CASE = 'schema_version: "1"\nid: demo\ninvented: true\n'
LETTER = """March 14, 2026

Dear Colleague,

Thank you for seeing this 47-year-old female with low back pain for 18 months. She denies fever or chills.
She takes naproxen 500 mg twice daily. She weighs 204 lb. MRI showed a protrusion.

Sincerely,
"""


def said(text: str, day: str = DAY) -> dict[str, Any]:
    facts = read_letter(text, day=day).facts
    return {f.element: f.form.get("value", f.form) for f in facts}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(read, [str(a) for a in arguments], catch_exceptions=True)


@pytest.mark.parametrize("letter", BOTH, ids=lambda r: r["id"])
def test_nothing_is_asserted_against_or_beyond_the_marks(letter: dict[str, Any]) -> None:
    found = compared(letter)
    assert found["wrong"] == []
    assert [k for k in found["beyond"] if k != ("medicines: duloxetine", "medicine_agent")] == []


def test_few_marks_are_missed() -> None:
    assert sum(len(compared(r)["missed"]) for r in BUILT) <= 1
    assert sum(len(compared(r)["missed"]) for r in FIRST) <= 0.05 * sum(len(marked(r)) for r in FIRST)


def test_most_of_what_ordinary_letters_state_is_read() -> None:
    assert sum(len(compared(r)["missed"]) for r in ORDINARY) <= 0.2 * sum(len(marked(r)) for r in ORDINARY)


_TAKES_BACK = (
    "It is unlikely that {}.",
    "{}, but I doubt it.",
    "{}, which is no longer the case.",
    "{} in her sister.",
    "If {}, call us.",
)


@pytest.mark.parametrize("letter", ORDINARY, ids=lambda r: r["id"])
def test_no_sentence_is_asserted_with_words_that_take_it_back(letter: dict[str, Any]) -> None:
    reading = read_letter(letter["text"])
    used = [" ".join(reading.words(a.span).split()) for a in reading.ledger if a.findings]
    for sentence in [s for s in used if ":" not in s[:25]]:  # a label opens a clause of its own
        for form in _TAKES_BACK:
            assert (
                said("Dear Dr\n\nLow back pain.\n\n" + form.format(sentence[0].lower() + sentence[1:])) == {}
            ), sentence


@pytest.mark.parametrize("letter", BOTH, ids=lambda r: r["id"])
def test_every_fact_fits_a_case_record_with_its_words(letter: dict[str, Any]) -> None:
    reading = read_letter(letter["text"])
    facts = note_facts(reading, "letter")
    record, placed = with_places_for(empty_record(), facts)
    merged = merge(record, placed, "letter", Document(kind="referral_letter"))
    case_from_record(merged.record, "case")
    assert len(merged.added) == len(facts)
    assert all(f.entry.words and f.entry.source == "letter" for f in placed)
    assert all(is_own(f.entry.note or "") for f in facts)


@pytest.mark.parametrize("letter", BOTH, ids=lambda r: r["id"])
def test_every_passage_is_accounted_for(letter: dict[str, Any]) -> None:
    reading = read_letter(letter["text"])
    taken = "".join(reading.words(a.span) for a in reading.ledger)
    assert sum(map(str.isalpha, taken)) == sum(map(str.isalpha, letter["text"]))
    assert all(a.why and a.missed for a in reading.ledger if a.state == "unread")


def test_the_data_file_names_only_what_a_record_can_hold() -> None:
    data = words().data
    rows = [row[k] for row in data["findings"] for k in ("denied", "stated") if row.get(k)]
    rows += [
        row["says"]
        for name in ("values", "allergens", "numbers", "postures")
        for row in data[name]
        if "says" in row
    ]
    for row in rows:
        for element, value in row.items():
            known = catalogue()[element]
            assert known.statable, element
            values = value["one_of"] if isinstance(value, dict) else [value]
            allowed = [True, False] if known.kind == "boolean" else known.choices
            assert all(v in (allowed or ()) for v in values), element
    assert all(catalogue()[row["of"]].kind in ("number", "integer") for row in data["numbers"])
    assert set(data["medicines"]) - {""} <= set(catalogue()["medicine_agent"].choices or ())


@each_row(
    ("text", "element"),
    [
        ("BMI 31 and 35.", "body_mass_index"),
        ("PHQ-9 12, 9.", "phq9_total"),
        ("CRP 5 mg/L, repeat 60 mg/L.", "c_reactive_protein"),
        ("Low back pain 3 years, 5 years.", "pain_duration"),
        ("Low back pain since 2019, since 2021.", "pain_onset_date"),
    ],
)
def test_a_value_beside_another_of_its_kind_is_not_asserted(text: str, element: str) -> None:
    assert said(text) == {element: {"unknown": "uncertain_in_source"}}


@each_row(
    ("text", "wanted"),
    [
        ("She has low back pain. He has diabetes. She has no fever. She smokes.", {"fever": False, "smoking_status": "current"}),
        ("This 50-year-old woman has no fever. He smokes.", {"age": 50.0, "sex": "female", "fever": False}),
        ("I saw Mrs B with Mr B. She has no fever. He smokes.", {}),
        ("He has no fever. He smokes.", {"fever": False, "smoking_status": "current"}),
    ],
)  # fmt: skip
def test_what_is_said_of_one_of_the_other_sex_is_not_the_patients(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


@each_row(
    ("text", "element"),
    [
        ("No blood thinners. Apixaban 5 mg bd.", "antithrombotic_use"),
        ("No antithrombotics. Takes aspirin 75 mg od.", "antithrombotic_use"),
        ("No diabetes, metformin 500 mg bd.", "diabetes"),
        ("No osteoporosis, takes alendronate weekly.", "osteoporosis"),
        ("Never smoked. 20 pack years.", "smoking_status"),
        ("Non-smoker, 10 a day.", "smoking_status"),
        ("No saddle numbness; saddle area numb since Monday.", "saddle_numbness"),
        ("No previous surgery. Scar over the lumbar spine.", "prior_lumbar_surgery"),
        ("Off work since June. Works full time.", "work_status"),
        ("Continence maintained with a pad.", "faecal_incontinence"),
    ],
)
def test_a_denial_that_the_letter_gainsays_is_not_asserted(text: str, element: str) -> None:
    assert said(text)[element] == {"unknown": "uncertain_in_source"}


@each_row(
    ("text", "wanted"),
    [
        ("No blood thinners. Stopped warfarin in 2019.", {"antithrombotic_use": {"one_of": ["none", "antiplatelet"]}}),
        ("No blood thinners. His wife takes warfarin.", {"antithrombotic_use": {"one_of": ["none", "antiplatelet"]}}),
        ("No diabetes. Not on metformin.", {"diabetes": "none"}),
        ("Non-smoker. 20 pack years.", {"smoking_status": {"one_of": ["never", "former"]}, "pack_years": 20.0}),
        ("No saddle numbness. His bicycle is old.", {"saddle_numbness": False}),
    ],
)  # fmt: skip
def test_a_denial_stays_beside_what_is_past_or_of_another(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


NOTHING = """
    Fever: N/A.
    No history of breast cancer.
    No prostate cancer.
    Pregnancy: N/A
    Penicillin allergy not confirmed.
    No penicillin allergy.
    Diabetes: n/a
    Smoking: 0/day
    He takes naproxen 500 mg bd for now.
    He takes apixaban 5 mg bd for a few more days.
    No leg pain until recently.
    Bladder and bowel function is not normal.
    No leg pain at rest.
    Previous visit: fever\\nFever: no\\nSmoker: yes
    Her mother had fever and chills.
    She may have osteoporosis.
    If she has fever, call us.
    Consider naproxen 500 mg daily.
    She was advised to stop warfarin 5 mg daily.
    She would like to start gabapentin 300 mg daily.
    Last year she had fever.
    In 2019, she denied fever.
    At her initial visit, she denied fever.
    Denies fever, 2019.
    She does not deny fever.
    Patient denies no fever.
    Not without fever.
    Her aide denies fever.
    The coach denies fever.
    Has fever or chills.
    Denies fever with chills.
    Fever, chills.
    Fever?
    [x] Fever
    ( ) Fever (x) Chills
    Fever Y / N
    Fever: yes/no
    Reports bowel or bladder dysfunction.
    Biopsy negative for malignancy.
    History of fever.
    Prior osteoporosis.
    I am a 50-year-old male physician.
    The patient's father is a 70-year-old male.
    She has a 5-year-old.
    She has a 25-year-old female aide.
    Retired at age 62.
    Weight 204.
    Weight 81,5 kg
    BMI 24,2
    INR 1,1
    BMI was 31.
    HbA1c 48.
    ODI 42.
    Platelets 230.
    INR goal 2-3.
    Back pain 7/10.
    Average pain 7/10.
    Pain is 7/10.
    Average back pain 11/10.
    Neck pain for 2 years.
    Leg pain for 2 years.
    Low back pain x 6 weeks.
    No back pain for 2 years.
    Warfarin 5 mg daily.
    She took naproxen 500 mg bid.
    She takes no naproxen.
    She takes naproxen 500 mg or ibuprofen 400 mg.
    She takes naproxen 500 mg bid or tid.
    She takes hydrocodone/acetaminophen 5/325 mg daily.
    She takes warfarin 5 mg daily, stopped.
    She takes 2 tablets of naproxen 250 mg daily.
    Discontinued medications:\\nWarfarin 5 mg daily
    Allergies: aspirin.
    Allergies: latex - unconfirmed
    No allergy to penicillin.
    Underwent cervical fusion in 2019.
    Underwent fusion in 2019.
    L4-5 fusion 2019.
    ESI 4/10/2026.
    ESI x 3
    Has not tried physical therapy.
    Never smoker until 2010.
    Not a current smoker.
    Her husband is a current smoker.
    Not working full time.
    Off work because of his knee.
    Workers' compensation claim closed.
    No new bowel or bladder dysfunction.
    No personal or family history of cancer.
    Exam: no saddle anesthesia.
    Sister: diabetes.
    On 3/1/2021 Dr. Example wrote:\\n\\nShe takes warfarin 5 mg daily. She denies fever.
    -----Original Message-----\\nShe takes warfarin 5 mg daily.
    She hardly has fever.
    She barely denies fever.
    45-year-old's aide doesn't present with fever
    Prior note: male. Takes warfarin 5 mg daily.
    Prior note 2021:\\n\\nMedications:\\nwarfarin 5 mg daily
    Outside record: male.\\nTakes warfarin 5 mg daily.
    Past medications: warfarin 5 mg daily
    Family history:\\nOsteoporosis\\nDiabetes
    Plan:\\nShe takes warfarin 5 mg daily
    Fever | No | Chills | Yes
    Her neighbour who has had low back pain for 3 years denies fever.
    Never a smoker until recently.
    He stopped smoking but restarted.
    He was a smoker.
    She does not smoke 10 a day.
    Smoker: unknown
    Gave up smoking 3 years ago like her husband.
    Weight 14 stone 15.
    Weight 80 kg (200 lb).
    Low back pain once a year.
    Two years ago she denied fever.
    Back pain and knee pain. Pain 8/10 at worst.
    Back pain. The pain in the shoulder is 8/10 at worst.
    Allergies: penicillin (tolerated)
    PMH: osteoporosis (excluded 2019)
    Takes naproxen 500 mg bd but ran out.
    Mr Smith and Mrs Green take naproxen 500 mg bd. Mrs Green smokes.
    Medications: 2 times daily naproxen 500 mg
    Not on apixaban.
    PMH: diabetes (HbA1c 48 mmol/mol) excluded.
    Allergies: penicillin (not confirmed)
    Low back pain for several and a half years.
    Low back pain. Her anxiety is 9/10 at worst.
    Smokes cannabis, 3 a day.
    Stopped smoking cannabis 3 years ago.
    Allergies: latex none
    Meeting Date: 04/04/2026 Low back pain
    Smoker in past.
    On warfarin in past.
    He quit smoking in 2019, restarted in 2024.
    Smoking: quit 2019, relapsed.
    Mr Smith, 62, Acacia Avenue.
    He came with his wife Mrs Green. Mrs Green takes warfarin.
    Accompanied by Miss Green. Miss Green smokes.
    Allergies: penicillin denied today
    Medications: naproxen 500 mg bd (not taking)
    Allergies: none recorded
    Low back pain. Bad shoulder. The pain is 8/10 at worst.
    Fever\\tNo\\tChills\\t
""".strip().split("\n")


MISLEADING = (Path(__file__).parent / "misleading.txt").read_text("utf-8").splitlines()


@each_row("text", [t.strip() for t in [*NOTHING, *MISLEADING]])
def test_nothing_is_asserted_of_what_is_not_understood(text: str) -> None:
    reading = read_letter(text.replace("\\n", "\n").replace("\\t", "\t"), day=DAY)
    assert reading.facts == ()
    assert reading.unread or reading.questions


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("She denies fever, chills, or weight loss.",
         {"fever": False, "chills_or_rigors": False, "unexplained_weight_loss": False}),
        ("She doesn't have any fever.", {"fever": False}),
        ("Mrs Green is a 47 year old care assistant with a four year history of chronic low back pain.",
         {"age": 47.0, "pain_duration": 4.0}),
        ("This 43-year-old carer of a man with low back pain for 3 years.", {"age": 43.0}),
        ("Allergies: nil known", {"antibiotic_allergy": False, "local_anaesthetic_allergy": False}),
        ("On apixaban 5 mg bd.", {"medicine_name": "apixaban", "medicine_agent": "apixaban", "medicine_dose": 5.0,
                                  "medicine_doses_per_day": 2.0}),
        ("LBP for >10 years, worse over past 12 months.", {"pain_duration": {"more_than": 10.0, "unit": "year"}}),
        ("He does not drink or smoke. Ht 1.68m.",
         {"smoking_status": {"one_of": ["never", "former"]}, "body_height": 1.68}),
        ("Low back pain for a year and a half.", {"pain_duration": 1.5}),
        ("Low back pain for two and a half years.", {"pain_duration": 2.5}),
        ("PMH: T2DM (HbA1c 58 mmol/mol), appendicectomy", {"diabetes": "type_2", "hba1c": 58.0}),
        ("Mr A, 38, has chronic low back pain since 2021.", {"age": 38.0, "pain_onset_date": "2021"}),
        ("Back pain began 2 years ago. No leg pain. The pain is 7/10 on average, 9/10 at worst.",
         {"pain_duration": 2.0, "leg_pain_below_knee": False, "back_pain_nrs_average": 7.0, "back_pain_nrs_worst": 9.0}),
        ("No fever, chills present.", {"fever": False, "chills_or_rigors": True}),
        ("A four-year history of midline lumbar pain with no leg pain.", {"pain_duration": 4.0, "leg_pain_below_knee": False}),
        ("Bladder and bowel function are normal.", {"urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
        ("There is no motor deficit.", {"motor_deficit": False}),
        ("He is an ex-smoker (stopped 2009).", {"smoking_status": "former", "smoking_stop_date": "2009"}),
        ("Tobacco: former, quit 2020", {"smoking_status": "former", "smoking_stop_date": "2020"}),
        ("He is a smoker (15/day).", {"cigarettes_per_day": 15.0, "smoking_status": "current"}),
        ("He has a penicillin allergy.", {"antibiotic_allergy": True}),
        ("Symptoms:\n- low back pain for 2 years\n- worse sitting\n- fever: no", {"pain_duration": 2.0, "worse_sitting": True, "fever": False}),
        ("Smoking: 15/day", {"cigarettes_per_day": 15.0, "smoking_status": "current"}),
        ("Previous spinal surgery: none\nDiabetes: no\nPrevious injections: epidural 2025-11, no benefit\nAnticoagulants: no\nPregnant: no",
         {"prior_lumbar_surgery": False, "diabetes": "none", "antithrombotic_use": {"one_of": ["none", "antiplatelet"]}, "pregnancy_status": "not_pregnant"}),
        ("Low back pain. Duration of symptoms: 3 years", {"pain_duration": 3.0}),
        ("Name: withheld   DOB: 1980-03-02   Sex: F", {"birth_date": "1980-03-02", "sex": "female"}),
        ("Worse with sitting and bending.", {"worse_sitting": True, "worse_flexion": True}),
        ("I would be grateful for your opinion on this man with low back pain for over a year.",
         {"sex": "male", "pain_duration": {"more_than": 1.0, "unit": "year"}}),
        ("Weight 13st 4lb. BMI 34 (height 180 cm).", {"body_weight": 186.0, "body_mass_index": 34.0, "body_height": 180.0}),
        ("Weight 79.4 kg (175 lb) BMI 30.", {"body_weight": 79.4, "body_mass_index": 30.0}),
        ("Smokes 20/day for 30 years.", {"cigarettes_per_day": 20.0, "smoking_status": "current"}),
        ("Smoking: current, 10 cigarettes per day", {"smoking_status": "current"}),
        ("He stopped smoking 3 years ago.", {"smoking_status": "former"}),
        ("43-year-old man, back pain began 2 years ago, no fever, weight 90 kg, on warfarin.",
         {"age": 43.0, "sex": "male", "pain_duration": 2.0, "medicine_name": "warfarin", "medicine_agent": "warfarin"}),
        ("He stopped smoking 10 years ago, no diabetes.", {"smoking_status": "former", "diabetes": "none"}),
        ("NKDA. Swelling of the knee.", {"antibiotic_allergy": False, "local_anaesthetic_allergy": False}),
        ("Low back pain began 2 years ago with fever.", {"pain_duration": 2.0}),
        ("Wt 14 st, 3 months of back pain.", {"body_weight": 196.0, "pain_duration": 3.0}),
        ("Weight 14 st, 3 lb.", {"body_weight": 199.0}),
        ("Allergies: none, penicillin intolerance",
         {"antibiotic_allergy": {"unknown": "uncertain_in_source"}, "local_anaesthetic_allergy": False}),
        ("Allergies: none\nIodine causes hives",
         {"antibiotic_allergy": {"unknown": "uncertain_in_source"},
          "local_anaesthetic_allergy": {"unknown": "uncertain_in_source"}}),
        ("Average back pain (0-10): 5. Prior lumbar surgery: No.", {"back_pain_nrs_average": 5.0, "prior_lumbar_surgery": False}),
        ("PMH: T2DM (HbA1c 58 mmol/mol), osteoporosis 2019",
         {"diabetes": "type_2", "hba1c": 58.0, "osteoporosis": True}),
        ("Allergies: penicillin (rash)", {"antibiotic_allergy": True}),
        ("She completed 12 weeks of physiotherapy without benefit.",
         {"treatment_kind": "physical_therapy", "treatment_duration": 12.0, "treatment_result": "no_benefit"}),
        ("Medications:\nparacetamol 1 g qds\nnaproxen 500 mg tablet, take 1 tablet twice daily",
         {"medicine_name": "naproxen", "medicine_agent": "naproxen", "medicine_dose": 500.0, "medicine_doses_per_day": 2.0}),
        ("Age: 51     Sex: Male     BMI: 28.9", {"age": 51.0, "sex": "male", "body_mass_index": 28.9}),
        ("No fever but has chills.", {"fever": False, "chills_or_rigors": True}),
        ("No fever and chills.", {"fever": False}),
        ("No fever or chills, weight loss.", {"fever": False}),
        ("Reports fever, no chills, weight loss.", {"fever": True, "chills_or_rigors": False}),
        ("No saddle anesthesia; fever.", {"saddle_numbness": False}),
        ("Back pain currently 5/10, 8/10 at worst, 6/10 on average. Leg pain worst 2/10.",
         {"back_pain_nrs_current": 5.0, "back_pain_nrs_worst": 8.0, "back_pain_nrs_average": 6.0,
          "leg_pain_nrs_worst": 2.0}),
        ("NRS back 8/10.", {}),
        ("She has a three year history of low back pain.", {"pain_duration": 3.0}),
        ("Labs 12/04/2025: INR 2.4, creatinine 1.9 mg/dL.", {"inr": 2.4, "creatinine": 1.9}),
        ("He has never been operated on.", {"prior_lumbar_surgery": False}),
        ("He weighs 94 kg and is 180 cm tall. Ex-smoker since 2012.",
         {"body_weight": 94.0, "body_height": 180.0, "smoking_status": "former", "smoking_stop_date": "2012"}),
        ("Repeat medication: metformin 500 mg tds, Zyrvantil 5 mg od.",
         {"medicine_name": "metformin", "medicine_agent": "metformin", "medicine_dose": 500.0, "medicine_doses_per_day": 3.0}),
        ("Takes zofenopril 30 mg every morning.",
         {"medicine_name": "zofenopril", "medicine_dose": 30.0, "medicine_doses_per_day": 1.0}),
        ("Medication | Dose | Frequency\nApixaban | 5 mg | bd\nZyrvantil | 20 mg | od",
         {"medicine_name": "Apixaban", "medicine_agent": "apixaban", "medicine_dose": 5.0,
          "medicine_doses_per_day": 2.0}),
        ("Denies bowel or bladder dysfunction.",
         {"urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
        ("Denies bowel or bladder incontinence.", {"faecal_incontinence": False}),
        ("Denies latex allergy.", {"latex_allergy": False}),
        ("Allergic to penicillin but not latex.", {"antibiotic_allergy": True}),
        ("No history of\nosteoporosis", {"osteoporosis": False}),
        ("He is not on any blood thinners.", {"antithrombotic_use": {"one_of": ["none", "antiplatelet"]}}),
        ("He does not smoke.", {"smoking_status": {"one_of": ["never", "former"]}}),
        ("Low back pain on and off for years.", {"pain_duration": {"unknown": "uncertain_in_source"}}),
        ("Low back pain for 2 years, on and off.", {"pain_duration": {"unknown": "uncertain_in_source"}}),
        ("Low back pain for over 2 years.", {"pain_duration": {"more_than": 2.0, "unit": "year"}}),
        ("LBP since March 2024.", {"pain_onset_date": "2024-03"}),
        ("Height 5'6\".", {"body_height": 66.0}),
        ("Wt 204 lb.", {"body_weight": 204.0}),
        ("He weighs 90 kg. Weight: 95 kg.", {"body_weight": {"unknown": "conflicting"}}),
        ("She denies fever. On Monday a fever of 39 was noted.", {"fever": {"unknown": "uncertain_in_source"}}),
        ("INR was 1.2 on 9/15/2025.", {"inr": 1.2}),
        ("Dear Dr, this 37 yr old is afebrile. Not diabetic. Not anticoagulated.",
         {"age": 37.0, "fever": False, "diabetes": "none", "antithrombotic_use": {"one_of": ["none", "antiplatelet"]}}),
        ("ODI 44% on 4 Oct 2025.", {"odi_percent": 44.0}),
        ("ODI 44% on 4 Oct 2025. ODI 40%.", {"odi_percent": {"unknown": "conflicting"}}),
        ("Denies use of blood thinners.", {"antithrombotic_use": {"one_of": ["none", "antiplatelet"]}}),
        ("Denies use of blood thinners other than aspirin. Was afebrile until yesterday. Mother not diabetic.", {}),
        ("Afebrile, fevers at night.", {"fever": {"unknown": "uncertain_in_source"}}),
        ("Remains on naproxen 500 mg bd.",
         {"medicine_name": "naproxen", "medicine_agent": "naproxen", "medicine_dose": 500.0, "medicine_doses_per_day": 2.0}),
        ("Now on naproxen until May.", {}),
        ("- Previous medication: warfarin 5 mg daily\n- Weight 80 kg", {"body_weight": 80.0}),
        ("Previous treatments:\nNo physiotherapy\nAcupuncture", {"treatment_kind": "acupuncture"}),
        ("Physiotherapy did not help but acupuncture helped.",
         {"treatment_kind": "physical_therapy", "treatment_result": "no_benefit"}),
        ("Power 5/5. Left EHL 4/5.", {"motor_deficit": {"unknown": "uncertain_in_source"}}),
        ("Low back pain. The pain is 7/10 average 9/10 worst.", {"back_pain_nrs_average": 7.0, "back_pain_nrs_worst": 9.0}),
        ("Low back pain. Pain average 7/10 worst 9/10.", {"back_pain_nrs_average": 7.0, "back_pain_nrs_worst": 9.0}),
        ("Low back pain. NRS 6 average, 8 worst.", {"back_pain_nrs_average": 6.0, "back_pain_nrs_worst": 8.0}),
        ("Low back pain 7/10 on average and in the leg 4/10 on average.", {"back_pain_nrs_average": 7.0}),
        ("The low back pain is worse with sitting, bending and driving.", {"worse_sitting": True, "worse_flexion": True}),
        ("Low back pain. Sitting, coughing and forward flexion increase the pain.", {"worse_sitting": True, "worse_flexion": True}),
        ("Low back pain worse with walking, sitting or bending eases it.", {}),
        ("PMH: no osteoporosis, diabetes", {"osteoporosis": False}),
        ("PMH:\n- no osteoporosis\n- diabetes", {"osteoporosis": False, "diabetes": {"one_of": ["type_1", "type_2", "other"]}}),
        ("No known history of diabetes.", {"diabetes": "none"}),
        ("Denies symptoms of saddle numbness.", {"saddle_numbness": False}),
        ("PMH: well controlled diabetes.", {"diabetes": {"one_of": ["type_1", "type_2", "other"]}}),
        ("A 44-year-old bus driver.", {"age": 44.0}),
        ("Retired teacher.", {"work_status": "retired"}),
        ("Works full time as a nurse.", {"work_status": "working"}),
        ("Low back pain. No numbness. Worse with sitting.", {"worse_sitting": True}),
        ("Diabetes, no osteoporosis, fibromyalgia.", {"osteoporosis": False}),
        ("Takes warfarin 3 mg and 5 mg on alternate days.", {"medicine_name": "warfarin", "medicine_agent": "warfarin"}),
        ("Fever, no chills, weight loss.", {"chills_or_rigors": False}),
        ("Sitting tolerance 20 minutes, standing 10 minutes.", {"sitting_tolerance": 20.0}),
        ("Current medications include Voltarol 50 mg tds, naproxen 500 mg bd.",
         {"medicine_name": "naproxen", "medicine_agent": "naproxen", "medicine_dose": 500.0, "medicine_doses_per_day": 2.0}),
        ("Takes apixaban 5 mg bd for atrial fibrillation.",
         {"medicine_name": "apixaban", "medicine_agent": "apixaban", "medicine_dose": 5.0, "medicine_doses_per_day": 2.0}),
        ("Type 2 diabetes treated with metformin 500 mg bd.",
         {"diabetes": "type_2", "medicine_name": "metformin", "medicine_agent": "metformin", "medicine_dose": 500.0,
          "medicine_doses_per_day": 2.0}),
        ("She takes paracetamol 1 g up to four times daily.",
         {"medicine_name": "paracetamol", "medicine_agent": "acetaminophen", "medicine_dose": 1000.0,
          "medicine_doses_per_day": {"at_most": 4.0}}),
        ("She takes metformin 850 mg 1-0-1.",
         {"medicine_name": "metformin", "medicine_agent": "metformin", "medicine_dose": 850.0, "medicine_doses_per_day": 2.0}),
        ("She had physiotherapy and CBT (both cancelled).", {}),
        ("She had supervised physiotherapy for five months in 2025 with little benefit, naproxen (stopped in August because of heartburn), "
         "one left L4/5 transforaminal epidural steroid in March 2024 which helped for two weeks.",
         {"treatment_kind": "physical_therapy", "treatment_duration": 5.0, "treatment_supervised": True,
          "treatment_result": "insufficient_benefit", "injection_kind": "epidural_steroid", "injection_levels": ["L4-L5"],
          "injection_side": "left", "injection_date": "2024-03"}),
        ("He previously tried physiotherapy without benefit.",
         {"treatment_kind": "physical_therapy", "treatment_result": "no_benefit"}),
        ("PT with temporary relief for 2 weeks.", {"treatment_kind": "physical_therapy", "treatment_result": "insufficient_benefit"}),
        ("Naproxen and physiotherapy made no difference.", {"treatment_kind": "physical_therapy", "treatment_result": "no_benefit"}),
        ("Facet injections 2024: no benefit\nWeight 80 kg", {"injection_kind": "facet", "injection_date": "2024", "body_weight": 80.0}),
        ("Diagnostic medial branch blocks in May 2025 were negative.",
         {"facet_block_done": True, "facet_block_result": "negative", "facet_block_date": "2025-05",
          "injection_kind": "medial_branch_block", "injection_date": "2025-05"}),
        ("Exam: no fever. SLR negative. Denies chills.", {"straight_leg_raise_positive": False, "chills_or_rigors": False}),
        ("Normal power, sensation and reflexes.", {"motor_deficit": False, "sensory_deficit": False, "reflex_deficit": False}),
        ("Off work since May 2025 because of his back.", {"work_status": "off_work_back"}),
        ("Works full time as a teacher's aide.", {"work_status": "working"}),
        ("Works full time when well.", {}),
        ("Ex-smoker, stopped 2019.", {"smoking_status": "former", "smoking_stop_date": "2019"}),
        ("CRP 2 mg/L and ESR 5 mm/h in May 2025.", {"esr": 5.0}),
        ("Bladder and bowels normal.", {"urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
        ("Low back pain since 3 years, 40 yrs/F.", {"pain_duration": 3.0, "age": 40.0, "sex": "female"}),
        ("Low back pain on average 6/10 with medication and 8/10 without.", {}),
        ("PMH: diabetes, osteoporosis (2019)", {"diabetes": {"one_of": ["type_1", "type_2", "other"]}, "osteoporosis": True}),
        ("He has diabetes, has no allergies, and quit smoking (2015).",
         {"diabetes": {"one_of": ["type_1", "type_2", "other"]}, "antibiotic_allergy": False, "local_anaesthetic_allergy": False,
          "latex_allergy": False, "smoking_status": "former", "smoking_stop_date": "2015"}),
        ("History of diabetes, fever and osteoporosis.", {"diabetes": {"one_of": ["type_1", "type_2", "other"]}, "osteoporosis": True}),
        ("History of diabetes since 2018.", {"diabetes": {"one_of": ["type_1", "type_2", "other"]}}),
        ("Denies fever and reports chills.", {"fever": False, "chills_or_rigors": True}),
        ("He denies leg pain with fever.", {"leg_pain_below_knee": False}),
        ("He denies leg pain, numbness, fever or chills.", {"leg_pain_below_knee": False, "fever": False, "chills_or_rigors": False}),
        ("Denies leg pain, reports fever, chills.", {"leg_pain_below_knee": False, "fever": True, "chills_or_rigors": True}),
        ("Denies any new tenderness, fever, chills.", {}),
        ("Denies any tenderness, fever, chills.", {"fever": False, "chills_or_rigors": False}),
        ("He is on disability for his back.", {"work_status": "off_work_back"}),
        ("There is no motor or sensory deficit.", {"motor_deficit": False, "sensory_deficit": False}),
        ("Low back pain for 4 years following a fall.", {"pain_duration": 4.0}),
        ("Low back pain, present for 20 months.", {"pain_duration": 20.0}),
        ("Low back pain. She has had pain for about 6 years now.", {"pain_duration": 6.0}),
        ("Low back pain worse on sitting: yes, on bending: no", {"worse_sitting": True}),
        ("Low back pain. It is aggravated by rowing, sitting and flexion.", {"worse_sitting": True, "worse_flexion": True}),
        ("Bloods in April 2025: CRP 2 mg/L", {"c_reactive_protein": 2.0}),
        ("Smoking: ex-smoker", {"smoking_status": "former"}),
        ("She smoked until 2015.", {"smoking_status": "former", "smoking_stop_date": "2015"}),
        ("He is 5'10\".", {"body_height": 70.0}),
        ("Nil fever.", {"fever": False}),
        ("This 36-year-old mother of two smokes.", {"age": 36.0, "smoking_status": "current"}),
        ("46-year-old male truck driver denies fever.", {"age": 46.0, "sex": "male", "fever": False}),
        ("On examination power, sensation and reflexes are normal.",
         {"motor_deficit": False, "sensory_deficit": False, "reflex_deficit": False}),
        ("Medial branch blocks in May 2025 which were negative.",
         {"facet_block_done": True, "facet_block_result": "negative", "facet_block_date": "2025-05",
          "injection_kind": "medial_branch_block", "injection_date": "2025-05"}),
        ("He attended 10 sessions of physiotherapy between June and October 2025 with no change in his symptoms.",
         {"treatment_kind": "physical_therapy", "treatment_sessions": 10.0, "treatment_result": "no_benefit"}),
        ("Failed conservative treatment including physiotherapy.",
         {"treatment_kind": "physical_therapy", "treatment_result": {"one_of": ["no_benefit", "insufficient_benefit"]}}),
        ("Date: 07/07/2025\n33F with low back pain for 2 years.", {"age": 33.0, "sex": "female", "pain_duration": 2.0}),
    ],
)  # fmt: skip
def test_what_is_understood_is_asserted(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


def test_the_summary_of_cauda_equina_signs_is_never_asserted() -> None:
    assert all(
        "cauda_equina_signs" not in row.get(k, {})
        for row in words().data["findings"]
        for k in ("denied", "stated")
    )


def test_a_duration_needs_the_letters_day() -> None:
    text = "She has had low back pain for 18 months."
    assert said(text, day="") == {}
    assert any("day" in q.about for q in read_letter(text).questions)
    fact = read_letter(text, day=DAY).facts[0]
    assert (fact.form, DAY in fact.note) == ({"value": 18.0, "unit": "month"}, True)
    assert day_of_letter(LETTER) == "2026-03-14"
    assert day_of_letter("Date: 1/2/2026\nDate: 1/3/2026\n") == ""


def test_a_date_that_may_be_read_in_two_orders_is_a_question() -> None:
    assert any("3/2/2026" in q.about for q in read_letter("INR 1.0 on 3/2/2026.").questions)
    assert not read_letter("Date: 25/03/2026. INR 1.0 on 3/2/2026.").questions
    assert said("Date: 25/03/2026. INR 1.0 on 3/2/2026.", day="")["inr"] == 1.0


def test_a_score_without_its_kind_is_a_question() -> None:
    reading = read_letter("Her pain is 7/10.")
    assert reading.facts == ()
    assert "back or leg" in reading.questions[0].about


def test_a_medicine_list_that_is_called_complete_is_for_a_person_to_state() -> None:
    reading = read_letter("She takes aspirin 81 mg daily. No other medications.")
    assert any("complete" in q.about for q in reading.questions)
    record, _ = with_places_for(empty_record(), note_facts(reading, "n"))
    assert record.medicines is not None
    assert record.medicines.complete is None


def test_an_antithrombotic_that_was_not_read_is_asked_about() -> None:
    assert any(
        "warfarin" in q.about.lower() for q in read_letter("She stopped warfarin on 3/1/2026.").questions
    )


@pytest.mark.parametrize("letter", BUILT, ids=lambda r: r["id"])
@each_row("width", [25, 33, 40, 48, 57, 66, 78, 90])
def test_wrapping_the_lines_never_makes_another_value(letter: dict[str, Any], width: int) -> None:
    def facts(text: str) -> set[tuple[str, str]]:
        return {(f.element, json.dumps(f.form)) for f in read_letter(text).facts}

    lines = (textwrap.wrap(x, width, break_on_hyphens=False) or [""] for x in letter["text"].split("\n"))
    assert facts("\n".join("\n".join(some) for some in lines)) <= facts(letter["text"])


def test_the_order_of_sentences_does_not_matter() -> None:
    sentences = ["She denies fever or chills.", "She weighs 70 kg.", "She takes aspirin 81 mg daily.", "BMI 24.1.",
                 "She is retired.", "She underwent L4-5 discectomy in 2019."]  # fmt: skip
    wanted = said(" ".join(sentences))
    assert len(wanted) >= 11
    shuffle = random.Random(7)
    for _ in range(10):
        shuffle.shuffle(sentences)
        assert said(" ".join(sentences)) == wanted


@pytest.mark.parametrize("letter", BOTH, ids=lambda r: r["id"])
def test_a_swapped_negation_swaps_or_loses_what_it_reaches(letter: dict[str, Any]) -> None:
    before = {f.element for f in read_letter(letter["text"]).facts if f.form == {"value": False}}
    for old, new in (("denies", "reports"), ("Denies", "Reports"), ("Negative for", "Positive for")):
        text = letter["text"].replace(old, new)
        if text == letter["text"]:
            continue
        denied = [f for f in read_letter(text).facts if f.form == {"value": False}]
        assert {f.element for f in denied} <= before
        stated = re.compile(r"reports (?!no\b)", re.IGNORECASE)  # "reports no leg pain" is a denial
        assert not any(stated.search(text, s.start, s.end) for f in denied for s in f.spans)


def test_mutated_letters_never_crash_and_quote_what_stands_there() -> None:
    shuffle = random.Random(11)
    pieces = [w for r in BOTH for w in r["text"].split(" ")]
    for _ in range(600):
        text = shuffle.choice(BOTH)["text"]
        for _ in range(shuffle.randint(1, 8)):
            at = shuffle.randrange(len(text) + 1)
            cut = shuffle.randrange(12)
            new = shuffle.choice(
                ["", "\n", "\t", " ", ":", "/", "-", "|", "½", "\u202e", shuffle.choice(pieces)]
            )
            text = text[:at] + new + text[at + cut :]
        try:
            reading = read_letter(text)
        except ReportError:
            continue
        for fact in reading.facts:
            assert all(0 <= s.start < s.end <= len(text) for s in fact.spans)
        note_facts(reading, "n")


def test_a_letter_goes_into_a_case_record_and_a_conflict_is_refused(tmp_path: Path) -> None:
    letter, case = tmp_path / "letter.txt", tmp_path / "case.yaml"
    letter.write_text(LETTER, "utf-8")
    medicine = "medicines:\n  complete: true\n  entries:\n    - {medicine_name: naproxen, medicine_agent: naproxen, medicine_dose: {value: 250, unit: mg}}\n"
    case.write_text(CASE + medicine, "utf-8")
    refused = run(letter, "--into", case)
    assert isinstance(refused.exception, CaseError)
    assert "medicines[1].medicine_dose" in str(refused.exception)
    assert case.read_text("utf-8") == CASE + medicine
    done = run(letter, "--into", case, "--accept")
    assert done.exit_code == 0, done.output
    assert "read as letter" in done.output
    assert "not read" in done.output
    record = load_case(case).record
    assert record.medicines is not None
    assert len(record.medicines.entries) == 1
    dose = record.medicines.entries[0]["medicine_dose"]
    assert (dose.value, dose.unit, dose.words) == (500, "mg", "She takes naproxen 500 mg twice daily")
    fever = record.patient["fever"]
    assert (fever.value, fever.words, fever.source) == (False, "She denies fever", "letter")
    assert record.patient["chills_or_rigors"].words == "She denies fever or chills"
    assert (record.documents["letter"].kind, record.documents["letter"].date) == (
        "referral_letter",
        "2026-03-14",
    )
    again = run(letter, "--into", case)
    assert "nothing was added" in again.output


def test_a_medicine_more_leaves_a_complete_list_open_and_says_so(tmp_path: Path) -> None:
    letter, case = tmp_path / "letter.txt", tmp_path / "case.yaml"
    letter.write_text(LETTER, "utf-8")
    medicine = "medicines:\n  complete: true   # by phone\n  entries:\n    - medicine_name: metformin   # since 2020\n"
    case.write_text(CASE + medicine, "utf-8")
    done = run(letter, "--into", case)
    assert done.exit_code == 0, done.output
    assert "medicines: no longer stated to be complete" in done.output
    written = case.read_text("utf-8")
    assert "  complete: null   # by phone\n" in written
    assert "    - medicine_name: metformin   # since 2020\n    - medicine_name: {value: naproxen" in written
    medicines = load_case(case).record.medicines
    assert medicines is not None
    assert medicines.complete is None
    assert len(medicines.entries) == 2
    assert "no longer" not in run(letter, "--into", case).output


def test_a_letter_is_shown_as_text_json_and_page(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text(LETTER, "utf-8")
    text = run(letter).output
    assert "Read as letter" in text
    assert "The patient" in text
    assert "Medicine 1" in text
    assert "MRI showed a protrusion" in text.split("NOT READ")[1]
    data = json.loads(run(letter, "--format", "json").output)
    assert data["kind"] == "letter"
    facts = {(f["subject"], f["element"]): f for f in data["facts"]}
    assert facts["patient", "fever"]["value"] is False
    assert (
        facts["medicines[1]", "medicine_dose"]["evidence"][0]["words"]
        == "She takes naproxen 500 mg twice daily"
    )
    page = run(letter, "--format", "html").output
    assert "The patient" in page
    assert "Not read" in page


def test_a_text_that_is_no_letter_or_is_taken_back_is_refused() -> None:
    with pytest.raises(ReportError, match="no letter"):
        read_letter(
            "MRI LUMBAR SPINE\nSagittal T1 and T2 images. L4-5: disc bulge, no foraminal stenosis.",
            asked="imaging",
        )
    with pytest.raises(ReportError, match="E404"):
        read_letter("ENTERED IN ERROR\n" + LETTER)


@pytest.mark.parametrize(
    ("text", "danger"),
    [
        ("She takes prednisolone 10 mg in the mornings lately.", "immune suppression"),
        ("Some urinary hesitancy since last week.", "cauda equina syndrome"),
        ("Not able to pass urine.", "cauda equina syndrome"),
        ("Did not pass any urine since Monday.", "cauda equina syndrome"),
        ("Is not passing much urine.", "cauda equina syndrome"),
        ("He could not void last night.", "cauda equina syndrome"),
        ("She wakes with drenching night sweats lately.", "cancer"),
        ("She was recently found to have a mass in the left kidney.", "cancer"),
        ("CT showed an incidental adrenal nodule.", "cancer"),
        ("Leaks urine when coughing.", "cauda equina syndrome"),
        ("Medications: Zyrvantil 20 mg once daily.", "a medicine whose name is not known"),
        # whose it is the words leave open: it may be the patient's
        ("His father had arthritis. He takes warfarin 3 mg.", "warfarin"),
    ],
)
def test_what_was_not_read_and_holds_a_word_of_danger_says_so(text: str, danger: str) -> None:
    assert danger in {a.danger for a in read_letter(text).unread}


def test_what_is_certainly_of_another_person_is_no_danger() -> None:
    assert not any(a.danger for a in read_letter("His mother had bowel cancer.").unread)


def test_an_unread_passage_with_a_sign_of_danger_comes_first_and_says_so():
    reading = read_letter("Failed magnets for twelve weeks. New foot drop and saddle numbness since Monday.")
    assert reading.unread[0].danger == "saddle numbness"
    shown = as_text(reading)
    assert shown.index("! holds a word of: saddle numbness") < shown.index("Failed magnets")
    assert as_data(reading)["ledger"][-1]["danger"] == "saddle numbness"
    assert "holds a word of: saddle numbness" in as_html(reading)


@pytest.mark.parametrize(
    ("text", "danger"),
    [
        ("Penicillin: anaphylaxis.", "allergy"),
        ("She was allergic to penicillin as a child.", "allergy"),
        ("She is 12 weeks pregnant.", "pregnancy"),
        ("She finished amoxicillin last week.", "infection"),
    ],
)
def test_an_allergy_to_a_medicine_is_no_sign_of_what_the_medicine_is_for(text: str, danger: str) -> None:
    assert [a.danger for a in read_letter(text, day=DAY).unread] == [danger]


@pytest.mark.parametrize(
    "text", ["Rectal tone reduced.", "Recent sepsis.", "Toxic hepatitis.", "Dear colleague, septic."]
)
def test_a_short_line_that_begins_like_a_greeting_is_shown(text: str) -> None:
    assert len(read_letter(text, day=DAY).unread) == 1


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("She denies trauma, but fell from a ladder in March.", "major_trauma"),
        ("No history of cancer. Lymphoma was treated somewhere abroad.", "cancer_history"),
        ("No known allergies. There is a known allergy against iodine contrast.", "antibiotic_allergy"),
    ],
)
def test_a_denial_beside_an_unread_passage_on_what_is_denied_is_not_asserted(text: str, element: str) -> None:
    assert said(text)[element] == {"unknown": "uncertain_in_source"}


def test_an_unread_passage_on_something_else_leaves_a_denial() -> None:
    assert said("She denies trauma. Lymphoma was treated somewhere abroad.")["major_trauma"] is False


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("No fever. Temp 38.6 yesterday.", "fever"),
        ("Patient's last menstrual period 7 weeks ago. Denies pregnancy.", "pregnancy_status"),
        ("INR 1.1 (01/02/2026), 3.4 (05/30/2026).", "inr"),
    ],
)
def test_a_value_beside_an_unread_one_that_differs_is_not_asserted(text: str, element: str) -> None:
    assert said(text, day="2026-06-01")[element] == {"unknown": "uncertain_in_source"}


def test_a_urinary_infection_is_no_fever() -> None:
    assert said("No fever. Treated abroad for a urinary infection.")["fever"] is False


def test_a_label_with_a_day_dates_what_was_measured_on_it() -> None:
    def forms(text: str) -> dict[str, Any]:
        return {f.element: f.form for f in read_letter(text, day=DAY).facts}

    assert forms("Labs 12/04/2025: INR 2.4.") == {"inr": {"value": 2.4, "date": "2025-12-04"}}
    assert forms("Labs 12/04/2025: weight 82 kg.") == forms("Labs 02/04/2026: INR 2.4.") == {}


def test_what_a_medicine_is_taken_for_is_shown_and_hides_no_medicine() -> None:
    reading = read_letter("He takes warfarin for atrial fibrillation.", day=DAY)
    assert {f.element: f.form.get("value") for f in reading.facts} == {
        "medicine_name": "warfarin",
        "medicine_agent": "warfarin",
    }
    assert [reading.words(s) for a in reading.unread for s in a.missed] == ["atrial fibrillation"]
