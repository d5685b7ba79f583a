"""Answers to labels, denials of lists, short hand and scores in referral letters: what each reaches, and no further."""

from typing import Any

import pytest

from candidacy.reading.letters.read import read_letter
from tests.reading.letters.test_letters import DAY, said

DENIED_THREE = {"fever": False, "chills_or_rigors": False, "unexplained_weight_loss": False}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Diabetes: no\nOsteoporosis", {"diabetes": "none"}),
        ("Diabetes? No\nOsteoporosis? Yes", {"diabetes": "none", "osteoporosis": True}),
        ("Do you have diabetes? No", {"diabetes": "none"}),
        ("Have you had a fever? Yes", {}),
        ("Fever or chills? No", {"fever": False, "chills_or_rigors": False}),
        ("Fever or chills? Yes", {}),
        ("Osteoporosis or diabetes: Yes", {}),
        ("Osteoporosis, fever: no", {"fever": False}),
        ("PMH: osteoporosis, fever: no", {"osteoporosis": True, "fever": False}),
        ("Fever: no, chills: yes", {"fever": False, "chills_or_rigors": True}),
        ("Fever, chills and weight loss are denied.", DENIED_THREE),
        ("Fever, chills and weight loss are negated.", DENIED_THREE),
        ("Reports fever, chills and weight loss are denied.", {"fever": True}),
        ("Fever, weight loss denied.", {"unexplained_weight_loss": False}),
        ("Saddle numbness is present, fever and chills are absent.",
         {"saddle_numbness": True, "fever": False, "chills_or_rigors": False}),
        ("He admits to fever, denies chills.", {"fever": True, "chills_or_rigors": False}),
        ("He admits to night sweats but denies fever, chills, and weight loss.", DENIED_THREE),
        ("Reports fever, denies chills, weight loss.", {"fever": True, "chills_or_rigors": False}),
        ("Reports night pain, no fever, chills and osteoporosis.", {"fever": False}),
        ("Known osteoporosis, fever and chills are denied.", {"fever": False, "chills_or_rigors": False}),
        ("Osteoporosis or fever are denied.", {"osteoporosis": False, "fever": False}),
        ("Recurrent fever and chills are denied.", {}),
        ("Current fever, chills and weight loss are denied.", {}),
        ("The insurer says fever and chills are denied.", {}),
        ("The insurer says there is pain, no fever, no chills.", {}),
        ("The adjuster denies fever, no chills.", {}),
        ("The physio reports no fever, no chills.", {}),
        ("According to the payer, no diabetes, no osteoporosis.", {}),
        ("Mrs Green says her pain is constant, no fever.", {"fever": False}),
        ("The patient says she is well, no fever.", {"fever": False}),
    ],
)  # fmt: skip
def test_an_answer_and_a_denial_reach_their_own_list_and_no_further(
    text: str, wanted: dict[str, Any]
) -> None:
    assert {e: f for e, f in said(text).items() if not (isinstance(f, dict) and "unknown" in f)} == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("ROS: neg fever/chills/wt loss/night sweats.", DENIED_THREE),
        ("ROS: neg for fever/chills/unexpl wt loss.", DENIED_THREE),
        ("Neg hx cancer.", {"cancer_history": False}),
        ("No B/B dysfxn. No saddle anesth.",
         {"urinary_retention_or_incontinence": False, "faecal_incontinence": False, "saddle_numbness": False}),
        ("Strength 5/5 BLE. SILT. SLR neg bilat. Reflexes 2+ and symm.",
         {"motor_deficit": False, "sensory_deficit": False, "straight_leg_raise_positive": False, "reflex_deficit": False}),
        ("Tob: quit 2020.", {"smoking_status": "former", "smoking_stop_date": "2020"}),
        # 20 mmol/mol are 4.0 %, by the IFCC-NGSP master equation (from memory): a lower number is no mmol/mol
        ("PMH: T2DM (A1c 7.1 on 6/30/25).", {"diabetes": "type_2", "hba1c": 7.1}),
        ("A1c 48.", {}),
        ("ROS: negative.", {}),
        ("ROS: neg x 10 except fever.", {}),
        ("ROS: neg fever, pos chills.", {}),
        ("Neg fever neg chills.", {}),
        ("Neg recurrent fever.", {}),
        ("UA neg fever.", {}),
        ("ROS: neg fever, chills pos.", {"chills_or_rigors": True}),
        ("SLR pos.", {}),
        ("Meds: hydrocodone-acetaminophen 5/325 mg TID, rivaroxaban 20 mg daily, hydrocodone-acetaminophen 5/325 mg TID.",
         {"medicine_name": "rivaroxaban", "medicine_agent": "rivaroxaban", "medicine_dose": 20.0, "medicine_doses_per_day": 1.0}),
        ("FUNCTIONAL STATUS: ODI 42% (moderate disability). PHQ-9: 6.", {"odi_percent": 42.0, "phq9_total": 6.0}),
        ("Low back pain without inciting trauma.", {"major_trauma": False, "minor_trauma": False}),
        ("On examination: SLR negative. No red flag features: no fevers, no saddle numbness.",
         {"straight_leg_raise_positive": False, "fever": False, "saddle_numbness": False}),
        ("No red flag features: fever yesterday.", {}),
        ("No red flag features except fever.", {}),
        ("Allergies: penicillin - rash as a child.", {"antibiotic_allergy": True}),
        ("A five year history of low back pain which has failed to respond to conservative measures.", {"pain_duration": 5.0}),
        ("She has had physiotherapy for six months this year.",
         {"treatment_kind": "physical_therapy", "treatment_duration": 6.0}),
        ("Incont of unexpl origin.", {}),
    ],
)  # fmt: skip
def test_short_forms_say_what_their_words_say(text: str, wanted: dict[str, Any]) -> None:
    assert {e: f for e, f in said(text).items() if not (isinstance(f, dict) and "unknown" in f)} == wanted


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Denies numbness, tingling, or weakness in the legs.", False),
        ("Denies night sweats.", False),
        ("Denies bowel or bladder incontinence.", False),
        ("Reports weakness in the legs, denies night sweats.", True),
        ("Denies night sweats but reports bladder retention since Monday.", True),
    ],
)
def test_what_is_denied_and_has_no_place_in_a_record_is_no_sign_of_danger(text: str, shown: bool) -> None:
    assert any(account.danger for account in read_letter(text, day=DAY).ledger) == shown


@pytest.mark.parametrize(
    ("text", "results"),
    [
        ("Tried physiotherapy, acupuncture (no benefit).", [("acupuncture", "no_benefit")]),
        ("Tried physiotherapy, acupuncture with no benefit.",
         [("acupuncture", "no_benefit"), ("physical_therapy", "no_benefit")]),
        ("Tried physiotherapy, naproxen stopped due to nausea.", [("nsaid", "not_tolerated")]),
        ("Acupuncture, naproxen, duloxetine (stopped due to nausea).", []),
        ("Tried physiotherapy (no benefit), acupuncture.", [("physical_therapy", "no_benefit")]),
    ],
)  # fmt: skip
def test_a_result_in_a_bracket_and_an_intolerance_are_of_one_treatment(
    text: str, results: list[tuple[str, str]]
) -> None:
    told: dict[str, dict[str, Any]] = {}
    for fact in read_letter(text, day=DAY).facts:
        told.setdefault(fact.subject, {})[fact.element] = fact.form.get("value")
    assert (
        sorted((t["treatment_kind"], t["treatment_result"]) for t in told.values() if "treatment_result" in t)
        == results
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("I reviewed this plumber with his wife. He has diabetes.", True),
        ("His wife has rheumatoid arthritis. He has diabetes.", True),
        ("Her husband has cancer. She has diabetes.", True),
        ("His wife has rheumatoid arthritis. She has diabetes.", False),
        ("His wife and his brother have cancer. He has diabetes.", False),
        ("His wife's brother has cancer. He has diabetes.", False),
        ("Her mother had cancer. She has diabetes.", False),
    ],
)
def test_a_pronoun_of_the_other_sex_is_not_of_the_person_named_before(text: str, told: bool) -> None:
    assert ("diabetes" in said(text)) == told


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("She has neck and arm pain; nothing below the knee.", False),
        ("Headaches, not radiating below the knee.", False),
        ("She has neck pain and low back pain; nothing below the knee.", True),
        ("Hip pain, not radiating below the knee.", True),
        ("Varicose veins, nothing below the knee.", False),
        ("Pain to the buttock, nothing below the knee.", True),
    ],
)
def test_of_pain_above_the_back_nothing_is_denied_of_the_leg(text: str, denied: bool) -> None:
    assert ("leg_pain_below_knee" in said(text)) == denied


@pytest.mark.parametrize(
    "text",
    [
        "Off work because of his back, works part time.",
        "He works part time and is off work with his back.",
        "He is off work because of his back. He works part time.",
    ],
)
def test_work_that_is_told_both_ways_is_held(text: str) -> None:
    assert "unknown" in said(text)["work_status"]


@pytest.mark.parametrize(
    "text",
    [
        "Light duty not available.",
        "Modified duty denied.",
        "Nicotine abstinence not achieved.",
        "He is still working on it.",
        "Non-smoker not verified.",
    ],
)
def test_a_state_that_what_stands_behind_it_takes_back_is_none(text: str) -> None:
    assert said(text) == {}


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("Controls sphincters with difficulty.", "urinary_retention_or_incontinence"),
        ("Bladder and bowels normal with intermittent catheters.", "faecal_incontinence"),
        ("Strength preserved with exception of the EHL.", "motor_deficit"),
        ("Strength 5/5 with the left foot weak.", "motor_deficit"),
        ("Sensation intact with patchy loss over the foot.", "sensory_deficit"),
    ],
)
def test_what_is_normal_with_something_that_is_not_understood_is_uncertain(text: str, element: str) -> None:
    assert said(text)[element] == {"unknown": "uncertain_in_source"}


def test_one_name_behind_two_titles_is_two_persons() -> None:
    assert said("Mrs Hill is 44. Mr Hill has osteoporosis.") == {}
    assert said("Mrs Hill is 44. Ms Hill has osteoporosis.") == {"age": 44.0, "osteoporosis": True}


@pytest.mark.parametrize(
    "word", ["HbA1c 52 mmol/mol", "Naproxen 500 mg bd", "Takes co-codamol", "Seen by her GP"]
)
def test_figures_of_a_letter_in_british_words_are_no_day_and_asked(word: str) -> None:
    text = f"11/3/2026\n{word}. Low back pain for 3 years. INR 1.1 on 4/3/2026."
    letter = read_letter(text)
    assert {f.element for f in letter.facts} <= {"hba1c", "medicine_name"}
    asked = [q.about for q in letter.questions]
    assert "11/3/2026 is either day first or month first, which is not told" in asked
    assert "4/3/2026 is either day first or month first, which is not told" in asked
    assert "2026-03-04" in str(read_letter(f"{text} Seen 14/3/2026.", day="2026-03-14").facts)


@pytest.mark.parametrize(
    ("below", "wanted"),
    [
        ("Fever was absent", {"value": False}),
        ("She has fever", {"value": True}),
        ("Denies fever", {"value": False}),
        ("He stopped them after a fever", None),
    ],
)
def test_a_long_line_of_medicines_holds_no_statement_of_the_next(below: str, wanted: Any) -> None:
    line = "Medications: ramipril 5 mg od, atorvastatin 20 mg od, metformin 500 mg bd"
    reading = read_letter(f"{line}\n{below}", day=DAY)
    assert next((f.form for f in reading.facts if f.element == "fever"), None) == wanted
    held = [f.form["value"] for f in reading.facts if f.element == "medicine_name"]
    assert ("metformin" in held) == (wanted is not None)


def test_two_values_of_two_occasions_are_none_of_today() -> None:
    assert "unknown" in said("ODI on assessment 52%, on discharge 44%.")["odi_percent"]
    assert said("Weight 92 kg, lifts 20 kg at work.")["body_weight"] == 92.0


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("He takes co-codamol 30/500 two tablets qds.", [("co-codamol", None, 4.0)]),
        ("Medications: naproxen 500 bd, aspirin 75 od.", [("naproxen", None, 2.0), ("aspirin", None, 1.0)]),
        ("He takes oxycodone 5 mg two tablets every 6 hours.", [("oxycodone", None, 4.0)]),
        ("Medications:\nApixaban 5mg tablets - one twice a day\nMethotrexate 15mg once weekly on Mondays",
         [("Apixaban", 5.0, 2.0), ("Methotrexate", 15.0, None)]),
        ("Medications: ibuprofen 2 daily", []),
        ("Medications: warfarin 3 daily", []),
        ("Medications: tramadol 50 mg b.i.d.", [("tramadol", 50.0, 2.0)]),
        ("He takes naproxen 500 mg bd now.", [("naproxen", 500.0, 2.0)]),
        ("He takes naproxen 500 mg bd for now.", []),
    ],
)  # fmt: skip
def test_a_strength_or_a_number_of_tablets_is_no_dose(text: str, wanted: list[Any]) -> None:
    rows: dict[str, dict[str, Any]] = {}
    for f in read_letter(text, day=DAY).facts:
        rows.setdefault(f.subject, {})[f.element] = f.form.get("value")
    assert [
        (r["medicine_name"], r.get("medicine_dose"), r.get("medicine_doses_per_day")) for r in rows.values()
    ] == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("LBP x 3y.", {"pain_duration": 3.0}),
        ("Low back pain. Onset: 2019", {"pain_onset_date": "2019"}),
        ("Low back pain for years. Diabetes, onset: 2015.", {"pain_duration": {"unknown": "uncertain_in_source"}}),
        ("4y hx LBP.", {"pain_duration": 4.0}),
        ("PHQ-9 out of 27.", {}),
        ("Cancer hx screening.", {}),
        ("Micturition and defaecation are undisturbed.", {"urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
        ("Strength and sensitivity preserved.", {"motor_deficit": False, "sensory_deficit": False}),
        ("Age/Sex: 39 M", {"age": 39.0, "sex": "male"}),
        ("SLR: negative", {"straight_leg_raise_positive": False}),
        ("SLR: negative on the left, positive on the right.", {}),
        ("PSH: none", {"prior_lumbar_surgery": False}),
        ("PSH: nil of note", {}),
        ("Operations: none of the spine", {}),
        ("He does not refer fever, loss of weight or sphincter disorders.",
         {"fever": False, "unexplained_weight_loss": False, "urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
        ("He does not refer patients with fever.", {}),
        ("Allergies: denies", {"antibiotic_allergy": False, "local_anaesthetic_allergy": False}),
        ("Allergies: denies latex", {}),
        ("LBP x 18/12.", {"pain_duration": 18.0}),
        ("LBP seen 3/12/2025.", {}),
        ("30 pack years, quit in 2015.", {"pack_years": 30.0, "smoking_status": "former", "smoking_stop_date": "2015"}),
        ("He quit his job.", {}),
        ("PHQ-9 14/27, GAD-7 10/21, PCS 31/52.", {"phq9_total": 14.0, "gad7_total": 10.0, "pcs_total": 31.0}),
        ("PCS 31.", {}),
        ("ODI 23/50 (46%).", {"odi_percent": 46.0}),
        ("ODI 23/50 (40%).", {}),
        ("ODI 23/50.", {"odi_percent": 46.0}),  # 100 x sum / (5 x sections answered): the scoring handout of the index
        ("Oswestry 23 out of 50.", {"odi_percent": 46.0}),
        ("ODI 23/45.", {}),
        ("ODI 53/50.", {}),
        ("VAS 23/50.", {}),
        ("ODI 46/100.", {"odi_percent": 46.0}),
        ("38M with LBP x 5 yrs.", {"age": 38.0, "sex": "male", "pain_duration": 5.0}),
        ("Mr Hughes is 50 and has diabetes.", {"age": 50.0, "diabetes": {"one_of": ["type_1", "type_2", "other"]}}),
        ("Bladder or rectal disturbances: none", {"urinary_retention_or_incontinence": False, "faecal_incontinence": False}),
    ],
)  # fmt: skip
def test_short_hand_and_scores_of_a_scale(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


def test_a_calling_behind_as_a_is_no_other_person() -> None:
    reading = read_letter("He works for the council as a driver. He has fever.")
    assert [f.form for f in reading.facts if f.element == "fever"] == [{"value": True}]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Allergic to elastoplast and trimethoprim.", {"antibiotic_allergy": True}),
        ("Allergic to latex and penicillin.", {"latex_allergy": True, "antibiotic_allergy": True}),
        ("Allergic to latex? No", {"latex_allergy": False}),
        ("Allergic to latex:", {}),
        ("Allergic to latex, on penicillin.", {"latex_allergy": True}),
        ("Allergic to nuts and takes penicillin.", {}),
        ("Not allergic to nuts and penicillin.", {}),
        ("Allergic to elastoplast, denies penicillin.", {}),
        ("Latex allergy", {}),
    ],
)
def test_an_allergy_goes_on_to_its_own_list(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Prev. smoker.", {}),
        ("Occ. smoker.", {}),
        ("Prev. on warfarin 5 mg daily.", {}),
        ("Prev. BMI 40.", {}),
        ("Fam. has osteoporosis.", {}),
        ("PMH: poss. osteoporosis", {}),
        ("PMH: fam. diabetes", {}),
        ("PMH: no hx. of diabetes", {"diabetes": "none"}),
        ("PMH: osteoporosis, poss.", {}),
        ("PMH: diabetes, gest.", {}),
        ("Smoker, prev.", {"smoking_status": "former"}),
        ("Neg. fever, chills", {"fever": False, "chills_or_rigors": False}),
        ("Fever neg. chills pos.", {"fever": False, "chills_or_rigors": True}),
        ("SLR neg. strength 5/5.", {"straight_leg_raise_positive": False, "motor_deficit": False}),
        ("No prev. surgery.", {"prior_lumbar_surgery": False}),
        ("Strength 5/5 throughout, 5-/5 left EHL.", {"motor_deficit": {"unknown": "uncertain_in_source"}}),
    ],
)
def test_a_full_stop_that_shortens_a_word_ends_nothing(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Fever: pos/neg", {}),
        ("Fever neg/pos", {}),
        ("Chills present or absent.", {}),
        ("Fever neg, chills pos/neg", {"fever": False}),
        ("Negative fever with chills.", {}),
        ("No fever with or without chills.", {}),
        ("Mr Le pain 7/10 on average.", {}),
        ("LE pain 7/10 on average.", {"leg_pain_nrs_average": 7.0}),
    ],
)
def test_what_is_to_be_filled_in_or_a_name_says_nothing(text: str, wanted: dict[str, Any]) -> None:
    assert said(text) == wanted
