"""Discography: what is missing leaves a class open, what spoils the test is said, and nothing is read as negative."""

from typing import Any

import pytest

from candidacy.derive import work_out
from candidacy.foundation.errors import CaseError, Code
from candidacy.foundation.values import Members, Why
from tests.views import case_of, fact_of, told, view_of

PATIENT = {"discography_sedation": "light", "discography_levels": ["L3-L4", "L4-L5"]}
CONTROL = {
    "discography_concordance": "none",
    "discography_pain_nrs": 0,
    "discography_leak": False,
    "discography_opening_pressure": {"value": 25, "unit": "psi"},
    "discography_peak_pressure": {"value": 75, "unit": "psi"},
}
TEXTBOOK = {"discography_definition": "manometric_textbook"}


def psi(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "psi"}


def disc(**changes: Any) -> dict[str, Any]:
    facts = {
        "discography_concordance": "exact",
        "discography_pain_nrs": 8,
        "discography_opening_pressure": psi(20),
        "discography_pain_pressure": psi(32),
        "discography_leak": False,
        **changes,
    }
    return {name: value for name, value in facts.items() if value is not None}


def fact(target: dict[str, Any], control: dict[str, Any] | None = None, patient: dict[str, Any] | None = None,
         control_level: str = "L3-L4", **settings: Any) -> Any:  # fmt: skip
    discs = {"L4-L5": target, control_level: CONTROL if control is None else control}
    return fact_of(
        "discography_class", case_of({**PATIENT, **(patient or {})}, discs=discs), "L4-L5", **settings
    )


def test_all_marks_together_are_positive_and_say_so() -> None:
    found = fact(disc())
    assert told(found) == "positive"
    assert "negative control" in found.note


@pytest.mark.parametrize("leak", [{"discography_leak": True}, {"discography_leak": None, "discography_end_point": "leak"},
                                  {"discography_leak": None, "discography_fissure_grade": 5}])  # fmt: skip
def test_a_leak_however_recorded_makes_the_test_indeterminate(leak: dict[str, Any]) -> None:
    found = fact(disc(**leak))
    assert told(found) == "indeterminate"
    assert "contrast left the disc" in found.note


@pytest.mark.parametrize("sign", [{"discography_end_point": "leak"}, {"discography_fissure_grade": 5}])
def test_a_leak_denied_and_shown_is_a_contradiction(sign: dict[str, Any]) -> None:
    assert fact(disc(**sign)).why is Why.CONFLICTING
    relief = {"anaesthetic_pain_before": 8, "anaesthetic_pain_after": 1}
    case = case_of(disc=disc(**sign, **relief))
    assert fact_of("anaesthetic_relief", case, "L4-L5").why is Why.CONFLICTING


def test_deep_sedation_makes_it_not_valid_unless_the_setting_leaves_that_to_a_criterion() -> None:
    deep = {"discography_sedation": "deep"}
    assert told(fact(disc(), patient=deep)) == "not_valid"
    assert told(fact(disc(), patient=deep, discography_deep_sedation_invalidates=False)) == "positive"


def test_unknown_sedation_leaves_the_class_open() -> None:
    case = case_of(
        {"discography_levels": PATIENT["discography_levels"]}, discs={"L4-L5": disc(), "L3-L4": CONTROL}
    )
    assert told(fact_of("discography_class", case, "L4-L5")) == {"positive", "not_valid"}


def test_no_manometer_means_no_positive_under_a_pressure_limit() -> None:
    blind = disc(discography_opening_pressure=None, discography_pain_pressure=None)
    assert told(fact(blind, patient={"discography_manometry": False})) == "indeterminate"
    case_without_limit = fact(
        blind, patient={"discography_manometry": False}, discography_definition="fusion_selection_series"
    )
    assert told(case_without_limit) == "positive"


def test_more_volume_than_the_definition_allows_is_indeterminate() -> None:
    much = disc(discography_volume={"value": 3.6, "unit": "mL"})
    enough = disc(discography_volume={"value": 3.5, "unit": "mL"})
    later = {"discography_definition": "society_later_form"}
    assert told(fact(much, **later)) == "indeterminate"
    assert told(fact(enough, **later)) == "positive"
    assert told(fact(disc(), **later)) == {"positive", "indeterminate"}
    assert told(fact(much)) == "positive"  # the textbook definition has no volume limit


@pytest.mark.parametrize(
    ("pressure", "expected"),
    [(34.9, "positive"), (35, "positive"), (49.9, "positive"), (50, "indeterminate")],
)
def test_either_limit_of_the_textbook_is_enough(pressure: float, expected: str) -> None:
    # opening 20: below 50 absolute, or below 15 above opening
    assert told(fact(disc(discography_pain_pressure=psi(pressure)), **TEXTBOOK)) == expected


def test_a_high_opening_pressure_passes_by_the_limit_above_opening_alone() -> None:
    high = disc(discography_opening_pressure=psi(45), discography_pain_pressure=psi(59))
    assert told(fact(high, **TEXTBOOK)) == "positive"
    assert (
        told(fact(disc(discography_opening_pressure=psi(45), discography_pain_pressure=psi(60))))
        == "indeterminate"
    )


def test_a_painless_disc_is_negative_only_when_pressed_far_enough() -> None:
    painless = disc(discography_concordance="none", discography_pain_nrs=0, discography_pain_pressure=None)
    assert told(fact({**painless, "discography_peak_pressure": psi(70)})) == "negative"
    assert told(fact({**painless, "discography_peak_pressure": psi(69)})) == "indeterminate"
    assert told(fact(painless)) == {"negative", "indeterminate"}


def test_score_and_answer_that_contradict_give_no_class() -> None:
    assert fact(disc(discography_pain_nrs=0)).why is Why.CONFLICTING


def test_a_neighbour_with_discordant_pain_counts_as_control_only_at_high_pressure() -> None:
    def control(above: float) -> dict[str, Any]:
        return disc(
            discography_concordance="unfamiliar",
            discography_pain_nrs=4,
            discography_pain_pressure=psi(20 + above),
        )

    assert told(fact(disc(), control(16))) == "positive"
    assert told(fact(disc(), control(15))) == "not_valid"
    series = {"discography_definition": "pressure_controlled_series"}
    assert told(fact(disc(), control(16), **series)) == "not_valid"


SOCIETY = {"discography_definition": "society_later_form"}
SPOILT = [
    ({"discography_leak": True}, "contrast left the disc"),
    ({"discography_leak": None, "discography_end_point": "leak"}, "contrast left the disc"),
    ({"discography_peak_pressure": psi(74.9)}, "not pressed as far"),
    ({"discography_concordance": "exact", "discography_pain_nrs": 8, "discography_pain_pressure": psi(40)}, "painful"),
    ({"discography_concordance": "unfamiliar", "discography_pain_nrs": 2, "discography_pain_pressure": psi(75)}, "painful"),
    ({"discography_concordance": "similar", "discography_pain_nrs": 3, "discography_pain_pressure": psi(70)}, "painful"),
]  # fmt: skip


def enough(**changes: Any) -> dict[str, Any]:
    return disc(discography_volume={"value": 2, "unit": "mL"}, **changes)


def control_of(**changes: Any) -> dict[str, Any]:
    return {name: value for name, value in {**CONTROL, **changes}.items() if value is not None}


@pytest.mark.parametrize(("changes", "reason"), SPOILT)
def test_a_control_that_is_not_itself_negative_and_valid_is_none_and_the_reason_is_said(
    changes: dict[str, Any], reason: str
) -> None:
    # the same definition for the control: common practice; pressed to 50 psi above opening: patient page [seen]
    found = fact(enough(), control_of(**changes), **SOCIETY)
    assert told(found) == "not_valid"
    assert "L3-L4" in found.note
    assert reason in found.note


@pytest.mark.parametrize(
    "changes",
    [
        {"discography_leak": None},
        {"discography_peak_pressure": None},
        {"discography_opening_pressure": None},
        {"discography_peak_pressure": {"between": [70, 80], "unit": "psi"}},
        {"discography_concordance": None, "discography_pain_nrs": {"between": [0, 2]}},
        {"discography_concordance": {"one_of": ["none", "unfamiliar"]}, "discography_pain_nrs": None},
    ],
)
def test_a_control_of_which_something_is_open_leaves_the_class_open(changes: dict[str, Any]) -> None:
    assert told(fact(enough(), control_of(**changes), **SOCIETY)) == {"positive", "not_valid"}


def test_a_control_without_a_limit_of_pressure_needs_none() -> None:
    bare = control_of(discography_opening_pressure=None, discography_peak_pressure=None)
    assert told(fact(disc(), bare, discography_definition="fusion_selection_series")) == "positive"


def test_one_good_control_is_enough_beside_a_spoilt_or_contradictory_one() -> None:
    patient = {"discography_levels": ["L2-L3", "L3-L4", "L4-L5"]}
    for other in (control_of(discography_leak=True), control_of(discography_pain_nrs=5)):
        discs = {"L4-L5": enough(), "L3-L4": CONTROL, "L2-L3": other}
        found = fact_of("discography_class", case_of({**PATIENT, **patient}, discs=discs), "L4-L5", **SOCIETY)
        assert told(found) == "positive"


def test_a_contradiction_in_the_only_control_leaves_the_class_unknown_and_is_named() -> None:
    found = fact(enough(), control_of(discography_pain_nrs=5), **SOCIETY)
    assert (found.value, found.why) == (None, Why.CONFLICTING)
    assert "L3-L4" in found.note
    assert (
        told(fact(enough(discography_concordance="unfamiliar"), control_of(discography_pain_nrs=5)))
        == "negative"
    )


@pytest.mark.parametrize("definition", ["society_later_form", "manometric_textbook", "pressure_controlled_series",
                                        "pressure_controlled_series_low_pressure", "fusion_selection_series"])  # fmt: skip
def test_whatever_counts_as_control_is_negative_by_the_same_definition(definition: str) -> None:
    # every combination of what a control may show; the class of the control is worked out on its own
    answers = [("none", 0), ("unfamiliar", 4), ("similar", 5), ("exact", 8)]
    counted = 0
    for concordance, pain in answers:
        for leak in (True, False):
            for peak in (30, 74, 75):
                for depth in ("light", "deep"):
                    other = control_of(
                        discography_concordance=concordance,
                        discography_pain_nrs=pain,
                        discography_leak=leak,
                        discography_peak_pressure=psi(peak),
                        discography_pain_pressure=psi(30) if pain else None,
                    )
                    case = case_of({**PATIENT, "discography_sedation": depth}, disc=other, level="L3-L4")
                    ask = {"discography_definition": definition}
                    counts = told(fact_of("discography_counts_as_control", case, "L3-L4", **ask))
                    if counts:
                        counted += 1
                        assert told(fact_of("discography_class", case, "L3-L4", **ask)) == "negative"
                        assert (leak, depth) == (False, "light")
    assert counted


def test_a_disc_that_was_not_injected_is_no_control_and_an_unlisted_one_stays_open() -> None:
    case = case_of(PATIENT, discs={"L3-L4": CONTROL})
    assert fact_of("discography_counts_as_control", case, "L5-S1").why is Why.DOES_NOT_APPLY
    case = case_of({"discography_sedation": "light"}, discs={"L3-L4": CONTROL})
    assert fact_of("discography_counts_as_control", case, "L5-S1").value is None
    assert told(fact_of("discography_counts_as_control", case, "L3-L4")) is True


def test_the_textbook_wants_a_neighbour_and_the_series_any_disc() -> None:
    patient = {"discography_levels": ["L1-L2", "L4-L5"]}
    assert told(fact(disc(), patient=patient, control_level="L1-L2")) == "not_valid"
    series = {"discography_definition": "pressure_controlled_series"}
    assert told(fact(disc(), patient=patient, control_level="L1-L2", **series)) == "positive"


def test_a_disc_that_was_not_injected_has_no_class() -> None:
    case = case_of(PATIENT, discs={"L4-L5": disc(), "L3-L4": CONTROL})
    assert fact_of("discography_class", case, "L5-S1").why is Why.DOES_NOT_APPLY


def test_findings_at_a_level_that_was_not_injected_are_a_contradiction() -> None:
    case = case_of({**PATIENT, "discography_levels": ["L3-L4"]}, discs={"L4-L5": disc(), "L3-L4": CONTROL})
    assert fact_of("discography_class", case, "L4-L5").why is Why.CONFLICTING


def test_only_exact_reproduction_counts_where_the_rule_set_says_so() -> None:
    similar = disc(discography_concordance="similar")
    assert told(fact(similar)) == "positive"
    assert told(fact(similar, discography_concordant=("exact",))) == "negative"


def test_an_imprecise_score_across_the_cut_leaves_the_class_open() -> None:
    assert told(fact(disc(discography_pain_nrs={"between": [6, 8]}))) == {"positive", "negative"}


# --- pressures and bands


def band(**changes: Any) -> Any:
    return fact_of("pressure_category", case_of(disc=disc(**changes)), "L4-L5")


def test_a_painless_disc_is_normal() -> None:
    assert told(band(discography_concordance="none", discography_pain_nrs=0)) == "normal"


def test_discordant_pain_and_pressure_above_every_band_have_no_category() -> None:
    assert band(discography_concordance="unfamiliar").why is Why.DOES_NOT_APPLY
    assert band(discography_pain_pressure=psi(111)).why is Why.DOES_NOT_APPLY
    assert told(band(discography_pain_pressure=psi(110))) == "indeterminate"


def test_an_imprecise_pressure_has_every_band_in_it() -> None:
    wide = {"between": [30, 40], "unit": "psi"}
    assert told(band(discography_pain_pressure=wide)) == {"chemical", "mechanical"}
    assert band(discography_pain_pressure={"between": [100, 120], "unit": "psi"}).value is None


def test_pressure_at_pain_below_the_opening_pressure_is_a_contradiction() -> None:
    view = view_of(case_of(disc=disc(discography_pain_pressure=psi(19))))
    assert work_out("discography_pressure_above_opening", view, "L4-L5").why is Why.CONFLICTING


# --- anaesthetic


def relief(**changes: Any) -> Any:
    facts = {"anaesthetic_pain_before": 8, "anaesthetic_pain_after": 2, "discography_leak": False, **changes}
    known = {name: value for name, value in facts.items() if value is not None}
    return fact_of("anaesthetic_relief", case_of(disc=known), "L4-L5")


def test_relief_in_percent_and_negative_when_worse() -> None:
    assert told(relief()) == 75
    assert told(relief(anaesthetic_pain_after=10)) == -25


def test_relief_is_not_given_while_a_leak_is_possible() -> None:
    found = relief(discography_leak=None)
    assert found.value is None
    assert "discography_leak" in {part.element for part in found.derived_from if part.value is None}


def test_no_pain_before_means_no_relief_to_judge() -> None:
    assert relief(anaesthetic_pain_before=0).why is Why.DOES_NOT_APPLY


def test_grade_five_alone_tells_of_a_leak() -> None:
    found = relief(discography_leak=None, discography_fissure_grade=5)
    assert found.why is Why.NOT_INTERPRETABLE
    assert relief(discography_leak=None, discography_fissure_grade=4).why is Why.INPUT_MISSING


def reported(**changes: Any) -> Any:
    given = {"anaesthetic_relief_reported": {"value": 75, "unit": "%"}, "discography_leak": False, **changes}
    return fact_of(
        "anaesthetic_relief", case_of(disc={k: v for k, v in given.items() if v is not None}), "L4-L5"
    )


def test_reported_relief_counts_only_once_a_leak_is_excluded() -> None:
    assert told(reported()) == 75
    assert reported(discography_leak=None).value is None
    assert reported(discography_leak=True).why is Why.NOT_INTERPRETABLE
    assert reported(discography_leak=None, discography_end_point="leak").why is Why.NOT_INTERPRETABLE


def test_reported_relief_without_any_pain_before_is_a_contradiction() -> None:
    assert told(reported(anaesthetic_pain_before=8)) == 75
    assert reported(anaesthetic_pain_before=0).why is Why.CONFLICTING


def test_relief_itself_cannot_be_stated_and_a_report_beside_both_scores_must_agree_with_them() -> None:
    """From 8 to 2 is a fall of 75 %: arithmetic."""
    with pytest.raises(CaseError) as refusal:
        case_of(disc={"anaesthetic_relief": {"value": 75, "unit": "%"}})
    assert refusal.value.problems[0].code is Code.UNKNOWN_ELEMENT
    assert told(reported(anaesthetic_pain_before=8, anaesthetic_pain_after=2)) == 75
    assert reported(anaesthetic_pain_before=8, anaesthetic_pain_after=6).why is Why.CONFLICTING


# --- the discs injected


def test_discs_with_findings_were_injected_and_the_list_stays_open() -> None:
    found = {
        "L3-L4": {"discography_pain_nrs": 0},
        "L4-L5": {"discography_role": "suspect"},
        "L5-S1": {"slip": {"value": 0, "unit": "mm"}},
    }
    levels = fact_of("discography_levels", case_of(discs=found))
    assert levels.value == Members(frozenset(("L3-L4", "L4-L5")), None)
    assert {part.subject for part in levels.derived_from} == {"L3-L4", "L4-L5"}


def test_a_stated_list_of_discs_injected_stands() -> None:
    case = case_of({"discography_levels": ["L4-L5"]}, disc={"discography_pain_nrs": 8})
    assert fact_of("discography_levels", case).value == Members(frozenset(("L4-L5",)), frozenset(("L4-L5",)))


def test_without_any_finding_it_is_not_recorded_which_discs_were_injected() -> None:
    levels = fact_of("discography_levels", case_of(disc={"discography_pain_nrs": {"unknown": "not_stated"}}))
    assert (levels.value, levels.why) == (None, Why.NOT_RECORDED)


def test_a_pressure_without_a_manometer_is_a_contradiction() -> None:
    found = fact(disc(), patient={"discography_manometry": False})
    assert found.why is Why.CONFLICTING
