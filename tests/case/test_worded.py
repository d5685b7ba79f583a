"""Words of a source that plainly tell another code, disc, side or day than is recorded; all else tells nothing.

Passages are invented.
"""

import json
from typing import Any

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import doubt
from candidacy.case.facts import Fact
from candidacy.case.worded import words_tell_another
from tests.reads import case_of

OTHER = [
    ("displacement", "protrusion", "large extruded fragment"),
    ("smoking_status", "never", "20 cigarettes daily"),
    ("smoking_status", "former", "two to 3 packs a day"),
    ("axial_dominance", True, "leg pain clearly worse than back pain"),
    ("failed_conservative_care", True, "no treatment tried so far"),
    ("supervised_therapy_completed", True, "stopped after two sessions"),
    ("osteoporosis", False, "T-score -3.2 at the hip"),
    ("displacement", "bulge", "sequestrated disc behind the body"),
    ("displacement", "protrusion", "L5-S1: broad-based protrusion"),
    ("displacement", "protrusion", "L5-S1 broad-based protrusion"),
    ("displacement", "protrusion", "a protrusion at L5-S1 touches the root"),
    ("displacement", "protrusion", "broad-based protrusion at L2-L3"),
    ("displacement_site", "left_central", "right paracentral"),
    ("canal_stenosis", "none", "severe central canal stenosis"),
    ("foraminal_stenosis", "mild", "marked narrowing of the left foramen"),
    ("neural_compression", False, "compresses the right L5 root"),
    ("annular_fissure", True, "no annular fissure"),
    ("annular_fissure", False, "posterior annular fissure"),
    ("modified_pfirrmann_grade", 5, "modified grade 2"),
    ("modified_pfirrmann_grade", 5, "Pfirrmann grade V"),
    ("modic_type", "1", "Modic type 3"),
    ("discography_concordance", "exact", "discordant pain"),
    ("discography_concordance", "exact", "not her usual pain"),
    ("discography_concordance", "exact", "unlike his familiar pain"),
    ("discography_concordance", "similar", "pressure did not reproduce her usual pain"),
    ("discography_concordance", "exact", "not concordant"),
    ("discography_concordance", "exact", "usual pain not reproduced"),
    ("discography_concordance", "exact", "without reproduction of the familiar pain"),
    ("discography_concordance", "similar", "failed to reproduce her typical pain"),
    ("discography_concordance", "similar", "didn't reproduce the familiar pain"),
    ("discography_concordance", "exact", "no concordant pain"),
    ("discography_concordance", "none", "familiar pain"),
    ("sex", "female", "a 61-year-old man"),
    ("smoking_status", "never", "smokes 20 a day"),
    ("pregnancy_status", "not_pregnant", "pregnant"),
    ("pregnancy_status", "not_pregnant", "urine test positive"),
    ("pregnancy_status", "not_pregnant", "8 weeks of gestation"),
    ("contrast_reaction", "none", "severe reaction"),
    ("fever", False, "yes, 38.4 on Sunday"),
    ("motor_deficit", False, "has a motor deficit of the left foot"),
    ("discs_under_consideration", ["L4-L5"], "L5-S1"),
    ("lumbar_mri_date", "2026-09-14", "MRI of 14 September 2021"),
    ("planned_procedure_date", "2026-12-10", "10 January 2026"),
    ("consent_date", "2026-12-05", "signed 9 December 2026"),
    ("skin_at_entry_site", "intact", "abrasion of the skin"),
    ("planned_contrast", "iodinated_intrathecal", "gadolinium"),
    ("planned_antibiotic", "cefazolin", "vancomycin"),
    ("planned_sedation", "light", "general anaesthesia"),
    ("consent_signed", True, "form not yet signed"),
    ("time_out_planned", True, "no time-out"),
    ("vacuum_sign", False, "gas within the disc"),
    ("transitional_vertebra", False, "lumbosacral transitional vertebra, Castellvi IIa"),
    ("transitional_vertebra", False, "sacralised L5"),
    ("implant_at_level", False, "cage in the disc"),
    ("phq9_item9", 0, "nearly every day"),
    ("report_status", "final", "PRELIMINARY - not yet verified"),
    ("discography_end_point", "pain", "firm end point"),
    ("discs_under_consideration", ["L4-L5"], "L4-L5 and L5-S1 to be injected"),
]
SAME = [
    ("transitional_vertebra", False, "five lumbar vertebrae, none transitional"),
    ("transitional_vertebra", False, "normal lumbosacral transition"),
    ("smoking_status", "former", "10 pack-years, stopped smoking in 2015"),
    ("axial_dominance", True, "back pain worse than leg pain"),
    ("axial_dominance", True, "no leg pain, worse in the evening"),
    ("failed_conservative_care", True, "no treatment helped"),
    ("failed_conservative_care", True, "eight months of therapy without success"),
    ("supervised_therapy_completed", True, "18 sessions, stopped when no better"),
    ("osteoporosis", False, "T-score -1.9"),
    ("osteoporosis", False, "T-score 2.6"),
    ("displacement", "protrusion", "broad-based central protrusion"),
    ("displacement", "protrusion", "protrusion with an extruded part"),
    ("displacement", "protrusion", "no extrusion"),
    ("report_status", "final", "final report, no longer preliminary"),
    ("report_status", "final", "not preliminary any more"),
    ("numbering_method", "counted_from_c2", "counted from C2, not by the last rib"),
    ("displacement", "bulge", "L3-L4 to L5-S1: bulging discs"),
    ("displacement", "bulge", "Canal: moderate at L1-2; bulge"),
    ("displacement", "bulge", "L5-S1 is free, this one bulges"),
    ("displacement", "bulge", "a bulge like that at L5-S1 on the right"),
    ("displacement_site", "left_central", "left of the midline, right side free"),
    ("canal_stenosis", "mild", "mild to moderate canal stenosis"),
    ("canal_stenosis", "none", "canal patent, severe facet disease"),
    ("foraminal_stenosis", "none", "severe canal stenosis"),
    ("neural_compression", False, "contacts but does not compress the root"),
    ("annular_fissure", True, "no change of the annular fissure"),
    ("modified_pfirrmann_grade", 5, "modified Pfirrmann grade V"),
    ("modified_pfirrmann_grade", 5, "grade 4 to 5"),
    ("modic_type", "1-2", "Modic type 2"),
    ("discography_concordance", "none", "Concordance: none"),
    ("discography_concordance", "similar", "concordant, 8/10"),
    ("discography_concordance", "none", "did not reproduce her pain"),
    ("discography_concordance", "none", "no familiar pain"),
    ("discography_concordance", "exact", "reproduced without doubt the familiar pain"),
    ("discography_concordance", "unfamiliar", "did not reproduce the usual pain"),
    ("sex", "female", "woman"),
    ("smoking_status", "former", "stopped smoking in 2015"),
    ("contrast_reaction", "none", "no severe reaction"),
    ("fever", False, "afebrile"),
    ("failed_conservative_care", True, "no relief from nine months of care"),
    ("prior_lumbar_surgery", False, "has had physiotherapy only"),
    ("discs_under_consideration", ["L4-L5"], "L4-L5 rather than L5-S1, unlike before"),
    ("discs_under_consideration", ["L4-L5"], "disc of L4/5"),
    ("lumbar_mri_date", "2026-09-14", "14 September 2026, compared with 2021"),
    ("lumbar_mri_date", "2026-09", "September 2026"),
    ("lumbar_mri_date", "2026-09-14", "report of 16 September 2026"),
    ("consent_date", "2026-12-08", "signed Dec 8, 2026"),
    ("skin_at_entry_site", "intact", "skin intact, no rash"),
    ("planned_antibiotic", "cefazolin", "cefazolin, vancomycin if allergic"),
    ("consent_signed", True, "signed, copy not yet received"),
    ("phq9_item9", 0, "not at all"),
    ("discs_under_consideration", ["L4-L5"], "L4-L5 to be injected"),
]


def fact_of(element: str, value: Any, words: str, **more: str) -> Fact:
    entry = json.dumps({"value": value, "words": words, **more})
    disc = catalogue()[element].scope == "disc"
    case = case_of(
        f"discs: {{L4-L5: {{{element}: {entry}}}}}" if disc else f"patient: {{{element}: {entry}}}"
    )
    (found,) = (fact for fact in case.facts.stated() if fact.element == element)
    return found


@pytest.mark.parametrize(("element", "value", "words"), OTHER)
def test_words_that_plainly_tell_another_value_are_told_until_somebody_checked(
    element: str, value: Any, words: str
) -> None:
    assert words in doubt(fact_of(element, value, words))
    assert doubt(fact_of(element, value, words, note="Checked at the source")) == ""


@pytest.mark.parametrize(("element", "value", "words"), SAME)
def test_words_that_say_the_same_or_nothing_plain_tell_nothing(element: str, value: Any, words: str) -> None:
    assert not words_tell_another(catalogue()[element], fact_of(element, value, words))
