"""Free text of a record: a sign of danger in it is shown as not read, and words of not knowing carry no value."""

from random import Random
from typing import Any

import pytest

import candidacy
from candidacy.case.free_text import ELEMENT, told_in
from candidacy.derive import medicine_names
from candidacy.derive.medicine_names import class_of_name
from candidacy.foundation.errors import CaseError, Code
from candidacy.reading.elements import BY
from candidacy.rules.libraries import shipped
from tests.rows import each_row

TOLD = [
    "no allergies (anaphylaxis to latex in 2018)",
    "no allergy (rash after cefazolin)",
    "no infection (abscess drained last week)",
    "no cancer (melanoma removed 2021)",
    "no blood thinners (takes rivaroxaban)",
    "no medicines (warfarin 5 mg daily)",
    "no implants (pacemaker implanted 2019)",
    "no steroids (prednisone 10 mg daily)",
    "no drugs (heroin on weekends)",
    "no fever (39.2 °C yesterday)",
    "no weakness (foot drop since Monday)",
    "no doubt infected",
    "no doubt about the discitis",
    "without any doubt septic",
    "no real doubt that this is a fracture",
    "no reason to doubt the tumour",
    "not on warfarin, just apixaban",
    "no antibiotics, just doxycycline until Friday",
    "no cancer, lymphoma diagnosed at the weekend",
    "denies cocaine, used heroin at weekends",
    "risk of bleeding on warfarin",
    "risk of infection under methotrexate",
    "risk of bleeding due to haemophilia",
    "risk of stroke because of atrial fibrillation",
    "prophylaxis against thrombosis, enoxaparin 40 mg",
    "prevention of stroke, apixaban",
    "prophylaxis of gout flares, prednisone 10 mg",
    "stone prevention, on nitrofurantoin",
    "prophylaxis for recurrent UTI, nitrofurantoin 50 mg nightly",
    "prevention of rejection, tacrolimus 2 mg",
    "he soaks the sheets",
    "she would sooner be dead",
    "he cannot feel his genitals",
    "no longer feels her buttocks",
    "wants to think it over",
    "passed out in the waiting room",
    "no bladder trouble, retains 450 ml",
    "denies drug use, heroin last weekend",
    "no known allergies (anaphylaxis to chlorhexidine in 2020)",
    "takes no aspirin, just clopidogrel",
    "risk of bleeding, because on dabigatran",
    "no reason to doubt the diagnosis of discitis",
    "no steroids recently, epidural two weeks ago",
    "MRSA screen negative, VRE positive",
    "skin clear, boil next to the entry point",
    "antibiotic prophylaxis for recurrent cellulitis, doxycycline daily",
    "blood culture: E. coli",
    "treated for C. difficile in June",
    "no fever or chills, CRP 84",
    "no saddle numbness, strength 3/5",
    "no new numbness, weakness getting worse",
    "no fever, no chills, the culture grew two organisms",
    "desirudin after the bypass",
    "danaparoid at home",
    "aorta 3.4 cm",
    "roots of L5 look compressed",
    "compresses not only the S1 root",
    "the saddle area is numb",
    "her buttocks have gone dead",
    "denies incontinence, the perineum feels numb",
    "hands without doubt clumsy",
    "has been wearing pads since Sunday",
    "wears pads for leakage",
    "viral load of 40,000 copies",
    "cannot feel it when she wipes herself",
    "left foot slaps on the floor when walking",
    "ASA 81 daily, otherwise none",
    "husband insisted, she was silent throughout",
    "does not wish to go ahead",
    "spleen taken out after a crash",
    "rods in the back since she was fifteen",
    "no pain at all since the discogram",
    "works as a nurse, has an infection",
    "works full time and attends the cancer clinic",
    "unable to work because of sepsis, hospital stay of two weeks",
    "lives with her husband and has fever",
    "accompanied by her son, with rigors",
    "her husband has noticed fever",
    "his wife has to push him in a wheelchair",
    "a mother of two with fever",
    "brother is on dialysis, she has cirrhosis",
    "rivaroxaban restarted two days ago",
    "empties her leg bag twice a day",
    "weakness of the foot has spread to the knee",
    "INR target 2 to 3",
    "his belt needs two more notches",
    "WBC 18.2",
    "leukocytosis in the last sample",
    "hit by a car on Friday",
    "has saved up her tablets",
    "unsure that she grasped the risks",
    "on betamethasone",
    "needle marks at the elbow",
    "something was implanted into L5-S1 abroad",
    "tongue swelled after the dye",
    "her signature is outstanding",
    "clots in both lungs last winter",
    "has been feverish since Sunday",
    "his left leg goes from under him",
    "expecting twins in spring",
    "snorts something at parties",
    "second course of FOLFIRI",
    "parcel held up at the customs",
    "cancelled her appointment",
    "plasters give her blisters",
    "six lumbar vertebrae on the radiograph",
    "aorta bulges to 47 mm at the coeliac trunk",
    "an enlarged aorta, vascular surgeon asked",
    "squeezing behind the sternum when walking uphill",
    "pus from the knee, debrided in August",
    "elbow red and hot",
    "loses her balance in the dark",
    "coughs up blood",
    "treated for a duodenal ulcer",
    "naproxen caused a GI bleed",
    "bladder retention since Sunday",
    "polymyalgia, tapering",
    "two bottles of wine each evening",
    "felt pressured by the insurer",
    "objection to donor material",
    "thinks he is being poisoned",
    "sheet under the name of another man",
    "what is labelled as L3-L4 is L4-L5",
    "cannot get started when she urinates",
    "strains to empty his bladder",
    "urine culture grew two organisms",
    "wound swab with enterococcus",
    "electrophoresis shows a monoclonal spike",
    "known heterozygous for factor V Leiden",
    "protrusion that compresses the right S1 root",
    "L5 root is trapped in the recess",
    "systolic 78 mmHg",
    "temperature 34.1 C on arrival",
    "saturation dropped to 85 %",
    "finger-prick 412 mg/dL",
    "scab at the puncture site",
    "had a full meal an hour ago",
    "has not signed the form",
    "signature on the consent is missing",
    "straw arrived thawed",
    "swelling of the face after iodine",
    "cannot lift his left foot",
    "fresh bruises all over, cause unclear",
    "BM 3.1 mmol/L before transfer",
    "skin over L4-L5 red and warm",
    "dentist prescribed clindamycin on Monday",
    "did not stop his blood thinner",
    "still taking warfarin",
    "patient is not nil by mouth",
    "wants to think it over before signing",
    "consent was signed by her husband",
    "product from a lot under quarantine",
    "lips swell with rubber gloves",
    "reacts to gentamicin eye drops",
    "new numb patch around the anus",
    "weak big toe since the weekend",
    "right side marked, pain on the left",
    "had an epidural ten days ago",
    "enrolled in another trial",
    "takes ginkgo and fish oil",
    "fainted in the waiting room",
    "pulse 132, blood pressure 82/50",
    "SpO2 84 % on room air",
    "blood pressure 214/122",
    "Capillary glucose this morning 380 mg/dL",
    "hypoglycaemic before leaving home",
    "small pustule over the entry site",
    "weeping eczema at L4-L5 on the left",
    "took tablet this morning by mistake",
    "forgot to stop the tablets",
    "ate breakfast at 8, deep sedation planned",
    "no escort, will drive himself home",
    "driver cancelled this morning",
    "thawed and frozen again",
    "freezer alarm, -40 for six hours",
    "lot recalled by the supplier",
    "lot number does not match the label",
    "seal of the bag found broken, seal broken",
    "period three weeks late",
    "epidural abscess at L4-L5 cannot be excluded",
    "temp 39.2 last night",
    "dental abscess drained last week, on amoxicillin",
    "wife reports saddle numbness since Sunday",
    "takes rivaroxaban, not on the list",
    "no fever, but dental abscess last week",
    "no fever. Two syncopes last week",
    "no discitis, has new weakness of the foot",
    "says she wants to end it",
    "this report belongs to another patient",
    "early spondylodiscitis not excluded",
    "anaphylaxis to gelatine in 2020",
    "possible metastasis at T12",
    "pregnancy test pending",
    "AAA 6.1 cm",
    "transverse myelitis in 2024",
    "Fear of needles, fever since Sunday",
    "Risk of bleeding discussed, has discitis",
    "Told to call, and she has fever",
    "Mother died of cancer, patient has fever",
    "Father had cancer, he now has melanoma himself",
    "Told to return, now has cellulitis",
    "knows to call and reports new weakness",
    "in case of doubt: fever yesterday",
    "Told to report new weakness, developed foot drop",
    "no relief, fever 39",
    "Not better, abscess at L4",
    "Without job, febrile",
    "No answer yet, metastasis at T12",
    "not working, foot drop",
    "fracture with normal alignment",
    "infection of the disc, blood count normal",
    "call from wife: fever since Sunday",
    "risk assessed; infection of the foot, on flucloxacillin",
    "reports fever when lying down",
    "reports night sweats with fever",
    "drenching night sweats",
    "some urinary hesitancy since last week",
    "difficulty passing urine",
    "phoned with fever",
    "returned with fever",
    "she reports fever with chills",
    "on antibiotics for a tooth",
    "course of antibiotics finished yesterday",
    "cancer, staging normal apart from node",
    "fracture L1 all levels otherwise normal",
    "infection screen positive",
    "pregnancy test positive",
    "The patient called with new weakness",
    "He reports numbness of the saddle if he sits",
    "fever no better with tablets",
    "fever and pain no better",
    "fever, wound clean and dry",
    "Fever, fracture excluded",
    "infection and then sepsis",
    "Red flags (fever present) none other",
    "metastasis c spine normal",
    "Tumour marker raised",
    "no fever and abscess drained",
    "denies fever and has an abscess",
    "no fever & abscess drained in March",
    "no weight loss, chills and dental abscess drained",
    "denies fever, cancer was treated in 2010",
    "no relief from chemotherapy",
    "no fever apart from the cellulitis",
    "no cancer since the melanoma of 2019",
    "no fever - abscess drained",
    "on amoxicillin and fever denied",
    "no red flags and metastases are known",
    "not working because of foot drop",
    # said in other words, and in other languages
    "Numbness between the legs since last week",
    "lost control of the bladder yesterday",
    "No sensation around the anus",
    "Ankle dorsiflexion 2/5",
    "CRP 120 on Monday",
    "INR 3.2 last week",
    "platelets 40",
    "lost 12 kg without dieting",
    "Weight loss of 9 kg",
    "Fell from a ladder",
    "L4-L5 was fused in 2012",
    "rash and wheeze after iodine dye",
    "She withdrew consent",
    "Does not understand what the injection is",
    "Under a court-appointed guardian",
    "injects heroin",
    "Insulin pump",
    "Spinal cord stimulator in place",
    "liver cirrhosis",
    "PRP into the disc last year",
    "The MRI belongs to her sister",
    "Scan is of the cervical spine",
    "the patient died",
    "symptom free now",
    "on tamoxifen",
    "toma rivaroxabán",
    "Fieber seit drei Tagen",
    "Enceinte de 3 mois",
    "fièvre",
    "Blutverdünner wird eingenommen",
    "Schwangerschaft nicht ausgeschlossen",
    "Reithosenanästhesie",
    "perte de poids",
    "Allergie auf Kontrastmittel",
    # of the patient, though a relative stands before it
    "like her father she takes warfarin",
    "Like his brother he has haemophilia",
    "Her mother takes warfarin, she takes apixaban",
    # asserted behind a denial and a comma
    "No allergy, anaphylaxis to latex in 2018",
    "no fractures, T 38.9",
    "no trauma, fell from a ladder last week",
    "no allergies, rash after cefazolin",
    "no pacemaker, spinal cord stimulator implanted 2019",
    "no incontinence, urinary retention with catheter",
    "no heart disease, stent placed 2021",
    "No sign of tumour on CT, lymphoma on biopsy",
    "not on blood thinners, clopidogrel for the stent",
    "No other surgery, spinal fusion 2016",
    "non smoker, drinks two bottles of wine a day",
    "Not pregnant, missed period",
    "38.7 °C this evening",
    "Temp at triage 102 F",
    "consent form not signed yet",
    "no bladder trouble, self-catheterises twice a day",
    "her husband has HIV, so has she",
    "mother had melanoma, patient had one too in 2023",
    "patient asked for more time to think",
    "Side marked left, right side injected",
    "No cough. Sputum with blood on Monday.",
    "Lost six kilos since June without trying.",
    "Swelled up after cefazolin at the last operation.",
    "Signed under pressure of her husband.",
    "Thinks of ending her life.",
    "The scan shown is of her sister.",
    "The levels in the report are one too high.",
    "Rods from a scoliosis operation in 1995.",
    "no surgery on the back (only a laminectomy in 2009)",
    "no medicines (only aspirin)",
    "no complaint besides dribbling of urine",
    "Denied any allergy to staff, told us of anaphylaxis to iodine",
    "No longer on warfarin since Monday",
    "no DVT on Doppler; PE on CT",
    "temp. 38,7",
    "Hb 7.1",
    "HbA1c 12.4 %",
    "MRC 2/5 dorsiflexion left",
    "Loss of anal tone",
    "both legs weak since Friday",
    "new cough with blood",
    "pump for baclofen",
    "pustule two cm beside the entry point",
    "No gait disorder, falls to the left, ataxic",
    "no infection, quantiferon positive",
    "No vascular disease, AAA of 4.8 cm",
    "No thrombus, PE in 2025",
    "No renal disease, eGFR 18",
    "Consents, but did not understand the risk",
    "not pregnant as far as known, period overdue",
    "no one stopped the warfarin",
    "no reason to stop apixaban",
    "neither warfarin nor apixaban was stopped",
    "denies missing doses of apixaban",
    "Warfarin not taken today",
    "apixaban not taken this morning",
    "Warfarin never taken as prescribed",
    "prasugrel not prescribed by us but by cardiology",
    "clopidogrel not taken since Friday",
    "Her daughter on Sunday noticed fever and rigors",
    "her brother on visiting found her incontinent of urine",
    "her mother has HIV, as does the patient",
    "neither antibiotic cured the osteomyelitis",
    "no anaemia, leukaemia in remission",
    "no cancer, breast lump biopsied in March",
    "no infection, pus from the drain site",
    "no pregnancy test done, she may be pregnant",
    "no fever with chills, endocarditis under treatment",
    "no HIV, hepatitis B carrier",
    "prophylaxis against DVT with enoxaparin 40 mg",
    "to prevent clots: rivaroxaban 20 mg",
    "prevention of stroke with apixaban",
    "could not prevent a spinal infection",
    "failed to prevent sepsis in May",
    "risk of stroke, so on warfarin",
    "no drugs, shoots heroin",
]
NOT_TOLD = [
    "allergies: none (latex, iodine, antibiotics asked)",
    "reactions: none to latex",
    "no red flags (fever, weight loss, incontinence)",
    "red flags (fever, weight loss, incontinence): none",
    "no history of cancer (breast, prostate)",
    "no implants (pacemaker, stimulator)",
    "no allergies (latex, iodine, penicillin)",
    "no fever (>38 °C)",
    "no infection (urinary, skin, teeth)",
    "no blood thinners (aspirin, clopidogrel, warfarin, apixaban)",
    "no anticoagulants (warfarin, DOAC) or antiplatelets",
    "no neurological deficit (weakness, numbness)",
    "no weakness (MRC 5/5), no numbness",
    "no trauma (fall, accident)",
    "no immune suppression (steroids, methotrexate, biologics, transplant)",
    "no bleeding disorder (haemophilia, von Willebrand)",
    "no cauda equina signs (saddle numbness, retention, incontinence)",
    "not on immunosuppressants (methotrexate or adalimumab)",
    "no prior surgery (fusion, discectomy)",
    "no fever just back pain",
    "no infection just now",
    "no allergy just a preference",
    "no late infection",
    "no fever, late or otherwise",
    "no fever, would like to proceed",
    "no infection, cancer, or fracture, would consider the injection",
    "advice on prevention of falls, fractures and infection",
    "prevention of infection, bleeding and clots explained",
    "for prevention of stroke, infection and bleeding see the leaflet",
    "risk of stroke, bleeding and infection discussed",
    "risk of infection under steroids explained in general: none taken",
    "risk of bleeding because of the needle explained",
    "risk of infection due to the injection explained",
    "risk of nerve injury, so consent is needed",
    "no doubtful lesion, no fracture",
    "no fracture, no doubt degenerative",
    "no latex or iodine allergy",
    "no latex, iodine, contrast or penicillin allergy",
    "wants to think about a brace",
    "no weekend work",
    "no alcohol on weekdays",
    "no drugs, no alcohol, smokes at weekends",
    "residual urine 20 ml",
    "retains good strength",
    "no residual weakness",
    "rather stiff in the morning",
    "no infection, late stiffness",
    "late for the appointment",
    "feels better after two cups of coffee",
    "no feeling of instability in the buttocks",
    "can feel the saddle normally",
    "prophylaxis against infection was discussed",
    "counselled on prevention of infection and bleeding",
    "the brace prevents fractures",
    "advised to call if fever with chills",
    "nerve roots not compressed",
    "saddle area not numb",
    "no incontinence, saddle numbness or weakness",
    "the thecal sac is not compressed",
    "abdominal aorta 2.4 cm in diameter",
    "the courier was not late",
    "gloves never gave her a rash",
    "no fever, chills, rigors, weight loss or night sweats",
    "no infection, CRP 2",
    "difficile to describe, she says",
    "no pads, no accidents, feels normally when wiping",
    "wears pads for cycling",
    "viral load is undetectable",
    "no pain at all in the legs",
    "works as a nurse on an infectious diseases ward",
    "her brother is on dialysis and she drives him there",
    "retired, volunteers for a cancer charity",
    "graft arrived frozen, log complete",
    "temperature 36.4 C",
    "systolic 128 mmHg",
    "last meal at 20:00 the evening before",
    "consent signed on Tuesday",
    "no chest pain, no shortness of breath",
    "consent read again, no questions",
    "lot and expiry checked by two persons",
    "nothing to eat since midnight",
    "breakfast is the best time of the day for her pain",
    "walks alone for 5 km",
    "no allergy, no weak leg",
    "skin clean, marked by the physician",
    "fasted since midnight, pulse 72, blood pressure 124/78, SpO2 98 %",
    "BP 158/94, heart rate 104, sats 96",
    "no alarm of the freezer since receipt, no recall of the lot",
    "lot number matches the label, seal intact",
    "husband will drive her home",
    "glucose this morning 92",
    "took her usual tablets this morning",
    "no rash over the entry site",
    "stopped the tablets as agreed",
    "eczema of the hands as a child",
    "no discitis, no abscess, no fever",
    "no GI bleeding, no bladder retention",
    "denies fever, chills or rigors",
    "without evidence of fracture, infection or tumour",
    "no saddle numbness, bladder and bowel normal",
    "mother had breast cancer",
    "her father died in 2010",
    "malignancy excluded",
    "fever: none",
    "conus and cauda equina nerve roots appear normal",
    "the cauda equina is unremarkable",
    "collapsed disc space with vacuum phenomenon",
    "persistent low back pain",
    "Lives with two children; works as a teacher.",
    "Modic type 1 change, broad-based central protrusion",
    "negative for cancer, infection, incontinence",
    "risk factors for infection discussed",
    "family history of cancer and stroke",
    "Sister with lymphoma",
    "no weight loss, fever or night sweats",
    "denies fever, chills, cancer",
    "no diabetes, cancer, infection",
    "never had surgery, cancer",
    "without bowel or bladder trouble, saddle numbness",
    "Consent: risks of infection, bleeding and nerve injury explained.",
    "Patient told to call if fever, new weakness or incontinence occurs.",
    "Advised to report any fever or rigors at once",
    "Advised to return in case of fever or saddle numbness.",
    "Antibiotic: cefazolin 2 g before the needle",
    "Antibiotic prophylaxis planned",
    "Antibiotics given before the needle",
    "Infection screen clear",
    "Red flags (cancer, infection, fracture, cauda equina) all absent",
    "hepatitis B: negative",
    "Hepatitis B and C negative",
    "Tumour markers normal",
    "pregnancy test negative",
    "Pregnancy: not applicable (male)",
    "work-up for inflammatory and infectious disease negative",
    "Patient with fear of cancer",
    "Red flags: cancer no, infection no, fracture no",
    "Cancer: denied. Infection: denied.",
    "Red flag questions (fever, cancer, trauma) negative",
    "Infection, tumour and fracture were excluded",
    "Cancer, infection, fracture: none",
    "Fracture and infection unlikely",
    "MRI shows no sign of fracture, infection or tumour",
    "bladder control normal, no incontinence",
    "Denies incontinence; saddle sensation intact",
    "reports no fever or rigors since discography",
    "sent to rule out fracture",
    "fever: none",
    "fever: no",
    "no fever and chills",
    "no fever and infection reported",
    "denies bowel and bladder incontinence",
    "no fracture and tumour seen",
    "no history of cancer and fracture in the past",
    "no fever, chills and signs of infection",
    "no fever and no abscess",
    "no fever and/or infection",
    "fever and infection denied",
    "Kein Fieber, keine Infektion",
    "Pas de fièvre, pas de cancer",
    "Sin fiebre ni infección",
    "Ohne Blutverdünner",
    "Lost 8 kg by dieting",
    "Intentional weight loss of 6 kg",
    "CRP 2, ESR 9, platelets 240, INR 1.0",
    "power 5/5 throughout",
    "Wishes to avoid back surgery",
    "Declined a further course of physiotherapy",
    "drinks a glass of wine at weekends",
    "Breast-fed two children until 2015",
    "Consent form handed out to read at home",
    "leg pain has resolved",
    "wrote the wrong date, corrected",
    "Mother uses insulin",
    "a can of beer at the weekend",
    "five lumbar vertebrae",
    "WBC 6.4",
    "white count 7,200",
    "weakness has not worsened",
    "follows the conversation well",
    "her ring is of gold",
    "no extra vertebra",
    "wears gloves when gardening",
    "aorta not enlarged",
    "aorta of normal width",
    "no chest pain, no angina",
    "no blood in the urine",
    "good balance, walks on heels and toes",
    "washes dishes standing",
    "no trouble passing urine",
    "empties the bladder without difficulty",
    "blood cultures: no growth",
    "cultures grew nothing",
    "no monoclonal band",
    "no compression of the L5 root",
    "microscopic decompression is not wanted",
    "without nerve root compression",
    # denied as a list
    "no fever, chills, night sweats or weight loss",
    "no history of cancer, infection, fracture, or bleeding disorder",
    "no fracture, infection on MRI",
    "no weakness, numbness, or incontinence with walking",
    "Denies fever, weight loss, incontinence on direct questioning",
    "no coagulopathy, bleeding disorder, or anticoagulation",
    "no infection, fever, or antibiotics during the last month",
    "Neither fever nor chills",
    "father on apixaban, mother well",
    "T 36.9, BP 122/76, flexion 40 degrees",
    "she will sign up for physiotherapy",
    "Rivaroxaban was never taken",
    "Pain fell from 8 to 1 after lidocaine into the disc.",
    "Vaccinations up to date",
    "No allergy to penicillin or other antibiotics",
    "Antibiotics half an hour before prevent infection",
    "reactive endplate changes, contrast in the collapsed disc",
    "epidural in 2019, no steroid since",
    "no medicines (only vitamin D)",
    "no illness (apart from hay fever)",
    "uncle on warfarin, patient on nothing",
    "temp. 36,7, Hb 13.6, HbA1c 5.4 %",
    "Normal anal tone, both legs strong",
    "Not on warfarin, never was",
    "not febrile, unsteady or confused",
    "eGFR 96, no dissection or aneurysm over 3 cm",
    "No thrombosis, embolism, or stroke",
    "understood the risks of infection and bleeding",
    "Her father, who died at 80, had diabetes",
    "no interpreter needed",
    "Brother has haemophilia, patient tested and clear of it",
    "",
    "Warfarin not taken",
    "Rivaroxaban: never prescribed.",
    "warfarin was never taken, nor was apixaban",
    "mother (72) on apixaban",
    "her sister on lifelong warfarin",
    "neither infection, cancer nor fracture",
    "no warfarin, stopped in 2019",
    "no fever, cough, or pain from the kidney",
    "no cancer, infection, or trauma under questioning",
]


def record(**keys: Any) -> dict[str, Any]:
    return {"schema_version": "1", "id": "r", "patient": {}} | keys


@each_row("text", TOLD)
def test_a_danger_in_free_text_becomes_a_fact_that_says_where_it_stands(text: str) -> None:
    assert list(told_in(text))
    case = candidacy.load_case(record(note=text))
    (fact,) = (fact for fact in case.facts.stated() if fact.element == ELEMENT)
    assert fact.provenance.words.startswith(tuple("abcdefghijklmnopqrstuvwxyz"))
    assert "note" in fact.provenance.words
    assert ELEMENT not in case.to_yaml()


@each_row("text", NOT_TOLD)
def test_what_is_denied_or_harmless_adds_nothing(text: str) -> None:
    assert list(told_in(text)) == []
    assert [fact.element for fact in candidacy.load_case(record(note=text)).facts.stated()] == []


def test_a_danger_that_is_recorded_as_a_fact_is_not_told_again() -> None:
    told = candidacy.load_case(record(note="On apixaban.", patient={"antithrombotic_use": "anticoagulant"}))
    assert ELEMENT not in {fact.element for fact in told.facts.stated()}
    denied = candidacy.load_case(record(note="On apixaban.", patient={"antithrombotic_use": "none"}))
    assert ELEMENT in {fact.element for fact in denied.facts.stated()}


@each_row(("note", "listed", "told"), [
    ("Apixaban was held.", "Apixaban 5 mg", False),
    ("Takes ASA 100 mg.", "aspirin", False),
    ("Takes ASA 100 mg.", "fluticasone nasal spray", True),
    ("Apixaban was changed to rivaroxaban.", "apixaban", True),
    ("On a blood thinner.", "apixaban", False),
    ("Factor V Leiden.", "apixaban", True),
    ("On apixaban.", None, False),
])  # fmt: skip
def test_a_blood_thinner_on_record_hides_no_other_one(note: str, listed: str | None, told: bool) -> None:
    medicines = {"medicines": {"entries": [{"medicine_name": listed}]}} if listed else {}
    case = candidacy.load_case(
        record(note=note, patient={"antithrombotic_use": "anticoagulant"}, **medicines)
    )
    assert (ELEMENT in {fact.element for fact in case.facts.stated()}) is told


@each_row(
    ("fact", "note", "told"),
    [
        ({"antibiotic_allergy": True}, "anaphylaxis to latex gloves", True),
        ({"antibiotic_allergy": True}, "collapse after lidocaine", True),
        ({"antibiotic_allergy": True}, "allergic to penicillin", False),
        ({"contrast_reaction": "mild"}, "mild reaction to contrast in 2010", False),
        ({"contrast_reaction": "mild"}, "allergic to chlorhexidine", True),
        ({"recent_systemic_steroid": True}, "methotrexate weekly", True),
        ({"recent_systemic_steroid": True}, "prednisone course in September", False),
        ({"renal_disease": True}, "cirrhosis Child B", True),
        ({"renal_disease": True}, "renal failure, stable", False),
        ({"diabetes": "type_2"}, "HbA1c 12.4 % in spring", True),
        ({"diabetes": "type_2"}, "diabetic on metformin", False),
        ({"substance_use": "past"}, "cocaine last weekend", True),
        ({"substance_use": "past"}, "heroin until 2005", False),
        ({"prior_cell_therapy": True}, "PRP injected into the disc at L4-L5", True),
        ({"injection_contained_steroid": True}, "epidural injection five days ago", True),
        ({"injection_contained_steroid": True}, "epidural injection in 2024", False),
        ({"prior_lumbar_surgery": True}, "pedicle screws L4-S1 in place", True),
        ({"prior_lumbar_surgery": True}, "discectomy L4-L5 in 2019", True),
        ({"prior_lumbar_surgery": True}, "laminectomy in 2008", False),
    ],
)
def test_a_fact_on_record_hides_no_graver_words_of_its_kind(
    fact: dict[str, Any], note: str, told: bool
) -> None:
    (name,) = fact
    facts = {name: {"value": fact[name]}}
    listed = (
        {"injections": {"complete": True, "entries": [facts]}}
        if name.startswith("injection")
        else {"patient": facts}
    )
    assert (ELEMENT in candidacy.load_case(record(note=note, **listed)).facts.patient) is told


def test_cancer_of_the_past_hides_no_spread_of_it() -> None:
    case = candidacy.load_case(record(note="New liver metastases.", patient={"cancer_history": True}))
    assert ELEMENT in {fact.element for fact in case.facts.stated()}


def test_an_injection_of_steroid_on_the_list_is_not_told_again() -> None:
    note = "Two epidural steroid injections did not help."
    for kind, told in (("epidural_steroid", False), ("facet", True)):
        case = candidacy.load_case(
            record(note=note, injections={"complete": True, "entries": [{"injection_kind": kind}]})
        )
        assert (ELEMENT in {fact.element for fact in case.facts.stated()}) is told


@pytest.mark.parametrize(
    "words", ["?", "n/a", "N/A", "not known", "Pending", "not asked", "Not mentioned", "unk", "tbc"]
)
def test_words_that_say_that_nothing_is_known_carry_no_value(words: str) -> None:
    with pytest.raises(CaseError) as refused:
        candidacy.load_case(record(patient={"fever": {"value": False, "words": words}}))
    (problem,) = refused.value.problems
    assert problem.code is Code.CONTRADICTION
    assert problem.found == words
    candidacy.load_case(record(patient={"fever": {"unknown": "not_asked", "words": words}}))


NAMES = [
    # given with opioids alone, so that no class here says what it tells
    ("naloxegol", "not_recognised"),
    ("methylnaltrexone", "not_recognised"),
    ("caplacizumab", "antiplatelet"),
    ("rapamycin", "other_immunosuppressant"),
    ("ocrelizumab infusion", "lasting_antibody"),
    ("teriflunomide", "lasting_immunosuppressant"),
    ("mitomycin", "other_immunosuppressant"),
    ("apixaban", "direct_oral_anticoagulant"),
    ("apixaban 5 mg twice daily", "direct_oral_anticoagulant"),
    ("Warfarin sodium", "vitamin_k_antagonist"),
    ("aspirin/dipyridamole", "antiplatelet"),
    ("baby ASA 81", "antiplatelet"),
    ("paracetamol and rivaroxaban", "direct_oral_anticoagulant"),
    ("tinzaparin", "low_molecular_weight_heparin"),
    ("fondaparinux", "injectable_factor_xa_inhibitor"),
    ("capecitabine", "other_immunosuppressant"),
    ("adalimumab", "biologic"),
    ("denosumab", "bone_medicine"),
    ("letrozole", "cancer_hormone"),
    ("co-amoxiclav", "antibiotic"),
    ("insulin glargine", "insulin"),
    ("vitamin D 1000 units", "no_weight"),
    ("levothyroxine sodium", "no_weight"),
    ("hydroxychloroquine", "conventional_dmard"),
    ("erenumab", "antibody_counted_apart"),
    ("metoprolol succinate", "no_weight"),
    ("atorvastatine", "no_weight"),
    ("gliclazide", "no_weight"),
    ("ranitidine", "no_weight"),
    # ends or begins as a harmless one does
    ("azacitidine", "other_immunosuppressant"),
    ("pentostatin", "other_immunosuppressant"),
    ("cilastatin", "not_recognised"),
    ("stanozolol", "not_recognised"),
    ("propranolol", "no_weight"),
    ("hypromellose eye drops", "no_weight"),
    ("glivamycol", "not_recognised"),
    ("nystatin", "no_weight_counted_apart"),
    ("nicotine patch", "no_weight_counted_apart"),
    ("clotrimazole cream", "no_weight_counted_apart"),
    ("oxcarbazepine", "no_weight"),
    ("trimethoprim-sulfamethoxazole", "antibiotic"),
    ("fingolimod", "other_immunosuppressant"),
    ("imiquimod cream", "not_recognised"),
    ("fish oil capsules", "herbal_that_thins"),
    # what acts where it is put, and what is swallowed all the same
    ("hydrocortisone 1% cream", "no_weight_counted_apart"),
    ("hydrocortisone 10 mg", "systemic_steroid"),
    ("diclofenac gel", "nsaid_on_a_surface"),
    ("ibuprofen liquid gel capsules", "nsaid"),
    ("prednisone 5 mg, hydrocortisone cream", "systemic_steroid"),
    ("prednisolone rectal foam", "systemic_steroid"),
    ("hydrocortisone foam enema", "systemic_steroid"),
    ("diclofenac 11.6 mg/g gel", "nsaid_on_a_surface"),
    ("hydrocortisone 1% w/w cream", "no_weight_counted_apart"),
    ("clindamycin gel", "antibiotic"),
    # a form that is of something else
    ("prednisolone 20 mg daily and moisturising cream", "systemic_steroid"),
    ("dexamethasone 4 mg (cream for eczema)", "systemic_steroid"),
    ("betamethasone depot; lotion", "systemic_steroid"),
    ("ibuprofen 400 mg and a cooling gel", "nsaid"),
    ("ketorolac nasal spray", "nsaid"),
    ("paracetamol (for the back)", "no_weight"),
    ("rivaroxiban", "not_recognised"),
    ("paracetamol and vka", "not_recognised"),
    ("metoprolol er 50 mg od", "no_weight"),
    ("paracetamol and rivaroxiban", "not_recognised"),
    ("mystery pill", "not_recognised"),
    # the same names in other languages
    ("fenprocumone", "vitamin_k_antagonist"),
    ("énoxaparine", "low_molecular_weight_heparin"),
    ("ácido acetilsalicílico 100 mg", "antiplatelet"),
    ("Acetylsalicylsäure", "antiplatelet"),
    ("ciprofloxacino", "antibiotic"),
    ("amoxicillina", "antibiotic"),
    ("Kortison", "systemic_steroid"),
    ("Prednisolon 20 mg", "systemic_steroid"),
    ("metotrexato", "other_immunosuppressant"),
    ("acide alendronique", "bone_medicine"),
    ("morfina", "opioid"),
    ("lévothyroxine", "no_weight"),
    ("amlodipino", "no_weight"),
    ("qwertium as needed", "not_recognised"),
]


@pytest.mark.parametrize(("name", "kind"), NAMES)
def test_a_written_name_tells_its_class_and_nothing_is_guessed(name: str, kind: str) -> None:
    assert class_of_name(name, shipped().tables()("medicine_names")) == kind


def test_names_sought_among_those_whose_letters_stand_there_are_the_names_sought_among_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    table = shipped().tables()("medicine_names")
    names = sorted({name for row in table.values() for name in row["names"]})
    rng = Random(7)
    texts = [
        rng.choice(("", " ", " and ", "-", "(", ", ")).join(
            rng.choice((name, name[:-1], name.split()[-1])) for name in rng.sample(names, 2)
        )
        + rng.choice(("", ")", "-s", " 5 mg"))
        for _ in range(200)
    ]
    quick = [class_of_name(text, table) for text in texts]
    monkeypatch.setattr(
        medicine_names._Names,
        "_names_in",
        lambda names, text: medicine_names._any_of(tuple(names._longest_first)),
    )
    medicine_names._class_of.cache_clear()
    assert quick == [class_of_name(text, table) for text in texts]
    assert len(set(quick)) > 3


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("This 71-year-old woman has had pain for two years.", True),
        ("A 42-year-old man with pain.", True),
        ("This 41-year-old woman has had pain for two years.", False),
        ("Her husband is a 71-year-old man.", False),
        ("Lives with a 12-year-old boy.", False),
        ("The prostate is enlarged.", True),
        ("Her father had cancer of the prostate.", False),
        ("No ovarian cyst, prostate not applicable.", False),
        ("Hysterectomy in 2019.", False),
    ],
)
def test_a_text_about_a_patient_of_another_age_or_sex_is_told(text: str, told: bool) -> None:
    patient = {"sex": "female", "birth_date": "1984-05-17"}
    case = candidacy.load_case(record(note=text, patient=patient, as_of="2026-11-25"))
    assert (ELEMENT in {fact.element for fact in case.facts.stated()}) is told


def said(note: str = "", words: str = "", value: Any = False, **more: Any) -> dict[str, Any]:
    fact = {"value": value, "note": note, "words": words, **more}
    return {"patient": {"fever": {key: each for key, each in fact.items() if each != ""}}}


def paper(**texts: str) -> dict[str, Any]:
    return {"documents": {"mri": {"kind": "imaging_report", **texts}}}


@pytest.mark.parametrize(
    ("place", "where"),
    [
        ({"note": "Prefers Thursdays."}, "note of the record"),
        (paper(note="Page 2 is not enclosed."), "note of the document mri"),
        (paper(title="MRI with addendum"), "title of the document mri"),
        (said("Felt warm on Sunday."), "note of fever"),
        (said(words="felt warm on Sunday, none since"), "words of fever, recorded as no"),
        # what says nothing more than the record does, or is the program's own
        (paper(title="MRI lumbar spine without contrast, 14"), ""),
        (paper(title="scan_17.pdf"), ""),
        (said("Checked at the source by the coordinator."), ""),
        (said("checked at the source: felt warm on Sunday"), "note of fever"),
        (said("checked at the source by phone, on holiday until June"), "note of fever"),
        (said("checked at the source by the nurse on 12 November 2026"), ""),
        (said(words="has not been asked"), "words of fever, recorded as no"),
        (said(words="not denied"), "words of fever, recorded as no"),
        (said(words="seen in the past"), "words of fever, recorded as no"),
        (said(words="no fever, denied"), ""),
        (said(words="none at any time"), ""),
        (said(words="38.6 since Sunday", value=True), ""),
        (said("said of the whole study", by=BY), ""),
        (said('sources conflict (fever): report "He had none."; addendum "fever"', by=BY), ""),
        (said("another day was given than the report states: the report says 14 Sept. 2026", by=BY), ""),
        # what a person adds to what the program read
        (said("I do not believe this.", by=BY), "note of fever"),
        (said("felt warm on sunday, no reading taken", by=BY), "note of fever"),
        (said("said of the whole study; and of the one before", by=BY), "note of fever"),
        (said("all described; approximate, by its own words", by=BY), ""),
        (said("said of the whole study; she felt warm on Sunday", by=BY), "note of fever"),
        (said("checked at the source: felt warm on Sunday", by=BY), "note of fever"),
        (said("checked at the source by the nurse", by=BY), ""),
        (said(words="38.6 since Sunday, though measured once", value=True), "words of fever"),
    ],
)
def test_a_remark_is_kept_with_its_place_for_a_reader(place: dict[str, Any], where: str) -> None:
    case = candidacy.load_case(record(**place))
    assert [each.where for each in case.facts.remarks] == [where] * bool(where)


def test_one_remark_beside_several_facts_is_shown_once() -> None:
    facts = {
        name: {"value": False, "note": "asked by phone"} for name in ("fever", "major_trauma", "scoliosis")
    }
    (remark,) = candidacy.load_case(record(patient=facts)).facts.remarks
    assert remark == ("note of major trauma, and 2 more", "asked by phone")


@pytest.mark.parametrize(
    "place",
    [
        paper(title="Preliminary report"),
        paper(note="Replaced by the report of 2 October."),
        {"documents": {"letter": {"kind": "referral_letter", "author": "physician, patient febrile"}}},
        {"patient": {"able_to_consent": {"value": True, "by": "nurse, on apixaban"}}},
        {"patient": {"diagnosis_code": "C79.5 bone metastases"}},
    ],
)
def test_every_place_that_takes_free_text_is_looked_through(place: dict[str, Any]) -> None:
    case = candidacy.load_case(record(**place))
    assert ELEMENT in {fact.element for fact in case.facts.stated()}


@each_row(
    ("title", "told"),
    [
        ("MRI cervical spine", True),
        ("CT abdomen with contrast", True),
        ("MRI thoracolumbar spine", False),
        ("MRI lumbar spine and hips", False),
        ("MRI whole spine, cervical part included", False),
        ("Notes on the knee", False),
    ],
)
def test_discs_told_by_a_study_of_another_part_of_the_body_are_a_danger(title: str, told: bool) -> None:
    study = {"mri": {"kind": "imaging_report", "date": "2026-09-14", "title": title}}
    grade = {"L4-L5": {"modified_pfirrmann_grade": {"value": 5, "source": "mri"}}}
    for discs, expected in ((grade, told), ({}, False)):  # one of a hip may lie in the record, too
        facts = candidacy.load_case(record(documents=study, discs=discs)).facts
        assert (ELEMENT in facts.patient) is expected


def test_an_allergy_that_is_taken_out_of_a_denial_is_a_danger() -> None:
    for note, told in (("no allergies (except to gentamicin)", True), ("no allergies except to cats", False)):
        patient = {"latex_allergy": {"value": False, "note": note}}
        assert (ELEMENT in candidacy.load_case(record(patient=patient)).facts.patient) is told


def test_results_of_a_spoilt_sample_are_a_danger() -> None:
    for note, told in (("sample haemolysed", True), ("samples taken fasting", False)):
        labs = {"labs": {"kind": "laboratory_report", "date": "2026-11-10", "note": note}}
        assert (ELEMENT in candidacy.load_case(record(documents=labs)).facts.patient) is told
