"""Words that exports of practices usually have: headers for elements, and cells for codes. Each is only proposed."""

# header, in lower case without units and brackets -> element
HEADERS = {
    "gender": "sex",
    "birthdate": "birth_date",
    "date of birth": "birth_date",
    "ht": "body_height",
    "wt": "body_weight",
    "height": "body_height",
    "weight": "body_weight",
    "a1c": "hba1c",
    "hga1c": "hba1c",
    "hgba1c": "hba1c",
    "hemoglobin a1c": "hba1c",
    "haemoglobin a1c": "hba1c",
    "oswestry": "odi_percent",
    "oswestry/odi": "odi_percent",
    "oswestry score": "odi_percent",
    "oswestry disability index": "odi_percent",
    "odi score": "odi_percent",
    "smoker": "smoking_status",
    "smoking": "smoking_status",
    "tobacco": "smoking_status",
    "pregnant": "pregnancy_status",
    "pregnancy": "pregnancy_status",
    "target level": "discs_under_consideration",
    "target levels": "discs_under_consideration",
    "target disc": "discs_under_consideration",
    "target discs": "discs_under_consideration",
    "disc level": "discs_under_consideration",
    "level treated": "discs_under_consideration",
    "vas back": "back_pain_vas",
    "back vas": "back_pain_vas",
    "back pain vas": "back_pain_vas",
    "vas leg": "leg_pain_vas",
    "leg vas": "leg_pain_vas",
    "nrs back": "back_pain_nrs_average",
    "back pain": "back_pain_nrs_average",
    "nrs leg": "leg_pain_nrs_average",
    "leg pain": "leg_pain_nrs_average",
    "pt": "supervised_therapy_duration",
    "physical therapy": "supervised_therapy_duration",
    "blood thinner": "antithrombotic_use",
    "blood thinners": "antithrombotic_use",
    "mri date": "lumbar_mri_date",
    "date of mri": "lumbar_mri_date",
    "symptoms": "pain_duration",
    "pain duration": "pain_duration",
    "platelets": "platelet_count",
    "plt": "platelet_count",
    "diabetic": "diabetes",
    "dm": "diabetes",
}
IGNORED_WORDS = ("y/n", "yes/no")

TICKS = ("x", "✓", "✔", "☑", "yes", "y", "true", "1", "present", "positive", "pos")
CROSSES = ("no", "n", "false", "0", "absent", "negative", "neg", "☐")
# element -> what yes and no may mean in a column that asks for it; a no leaves open what it leaves open
ANSWERS = {
    "smoking_status": ("current", "never|former"),
    "pregnancy_status": ("pregnant", "not_pregnant"),
    "diabetes": ("type_1|type_2|other", "none"),
    "antithrombotic_use": ("antiplatelet|anticoagulant|both", "none"),
}
CODES = {
    "sex": {"m": "male", "f": "female", "man": "male", "woman": "female"},
    "smoking_status": {
        "never smoker": "never", "former smoker": "former", "ex-smoker": "former", "ex smoker": "former", "quit": "former",
        "current smoker": "current", "smoker": "current", "nonsmoker": "never|former", "non-smoker": "never|former",
    },
    "diabetes": {"type 1": "type_1", "t1dm": "type_1", "type 2": "type_2", "t2dm": "type_2", "dm2": "type_2"},
}  # fmt: skip
NOT_STATED = (
    "unknown", "unk", "unk.", "n/a", "na", "n.a.", "#n/a", "not known", "not stated", "not recorded", "not available",
    "nr", "nk", "-", "--", "–", "—", ".", "?", "pending", "tbd", "missing", "null", "declined", "refused",
)  # fmt: skip
