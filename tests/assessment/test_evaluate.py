"""The direct evaluation: every operator on values that meet it, do not meet it, and leave it unknown."""

from math import inf
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.assessment.evaluate import Trace
from candidacy.case.catalogue import catalogue
from candidacy.foundation.truth import Truth, all_of, any_of, at_least, negate
from candidacy.foundation.values import Span, Why, point
from candidacy.rules.operators import OPERATORS, elapsed, possible_operators
from tests.reads import criterion, read, view_of
from tests.rows import each_row

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN


def fact(body: str, element: str) -> str:
    """One fact as the body of a case, of the patient or of L4-L5."""
    scope = catalogue()[element].scope
    return (
        f"patient:\n  {element}: {body}\n"
        if scope == "patient"
        else f"discs:\n  L4-L5:\n    {element}: {body}\n"
    )


# --- every operator: element, operator, operands, and facts that meet it, do not, and leave it unknown

TESTS: list[tuple[str, str, dict[str, Any], list[str], list[str], list[str]]] = [
    ("body_mass_index", "at_least", {"value": 30}, ["30", "30.1", ("at_least", 30)], ["29.9", ("less_than", 30)], [("more_than", 29), ("between", [29, 31])]),
    ("body_mass_index", "at_most", {"value": 30}, ["30", "29.9", ("at_most", 30)], ["30.1", ("more_than", 30)], [("at_least", 30), ("between", [29, 31])]),
    ("body_mass_index", "more_than", {"value": 30}, ["30.1", ("more_than", 30)], ["30", "29.9", ("at_most", 30)], [("at_least", 30)]),
    ("body_mass_index", "less_than", {"value": 30}, ["29.9", ("less_than", 30)], ["30", "30.1", ("at_least", 30)], [("at_most", 30)]),
    ("body_mass_index", "between", {"low": 20, "high": 30}, ["20", "30", ("between", [20, 30])], ["19.9", "30.1", ("less_than", 20), ("more_than", 30)], [("at_least", 20), ("between", [19, 21]), ("at_most", 30)]),
    ("odi_item1", "is", {"value": 3}, ["3"], ["2", ("at_least", 4), ("one_of", [4, 5])], [("at_least", 3), ("one_of", [2, 3])]),
    ("odi_item1", "is_not", {"value": 3}, ["2", ("at_least", 4)], ["3"], [("at_least", 3)]),
    ("odi_item1", "one_of", {"value": [2, 3]}, ["2", "3", ("one_of", [2, 3]), ("between", [2, 3])], ["1", ("at_least", 4)], [("one_of", [3, 4]), ("at_least", 3)]),
    ("odi_item1", "none_of", {"value": [2, 3]}, ["1", ("at_least", 4)], ["2", ("between", [2, 3])], [("at_least", 3)]),
    ("worse_sitting", "is", {"value": True}, ["true"], ["false"], []),
    ("worse_sitting", "is", {"value": False}, ["false"], ["true"], []),
    ("sex", "is", {"value": "female"}, ["female"], ["male"], [("one_of", ["female", "male"])]),
    ("sex", "is_not", {"value": "female"}, ["male"], ["female"], [("one_of", ["female", "male"])]),
    ("modic_type", "one_of", {"value": ["0", "1"]}, ['"0"', '"1"', ("one_of", ["0", "1"])], ['"2"', ("one_of", ["2", "3"])], [("one_of", ["1", "2"])]),
    ("modic_type", "none_of", {"value": ["0", "1"]}, ['"2"', ("one_of", ["2", "3"])], ['"0"', ("one_of", ["0", "1"])], [("one_of", ["1", "2"])]),
    # ordered codes: none < bulge < protrusion < extrusion < sequestration; I < II < III < IV < V
    ("displacement", "at_least", {"value": "extrusion"}, ["extrusion", "sequestration", ("one_of", ["extrusion", "sequestration"])], ["none", "bulge", "protrusion"], [("one_of", ["protrusion", "extrusion"])]),
    ("displacement", "more_than", {"value": "extrusion"}, ["sequestration"], ["extrusion", "protrusion"], [("one_of", ["extrusion", "sequestration"])]),
    ("pfirrmann_grade", "at_most", {"value": "III"}, ["I", "III"], ["IV", ("one_of", ["IV", "V"])], [("one_of", ["III", "IV"])]),
    ("pfirrmann_grade", "less_than", {"value": "III"}, ["II"], ["III", "V"], [("one_of", ["II", "III"])]),
    ("pfirrmann_grade", "between", {"low": "III", "high": "IV"}, ["III", "IV", ("one_of", ["III", "IV"])], ["II", "V", ("one_of", ["II", "V"])], [("one_of", ["II", "III"])]),
    ("antibiotic_allergies", "contains", {"value": "penicillin"}, ["[penicillin]", ("includes", ["penicillin"])], ["[]", "[vancomycin]"], [("includes", ["vancomycin"])]),
    ("antibiotic_allergies", "contains_any", {"value": ["penicillin", "vancomycin"]}, ["[vancomycin]"], ["[]", "[gentamicin]"], [("includes", ["gentamicin"])]),
    ("antibiotic_allergies", "empty", {}, ["[]"], ["[penicillin]", ("includes", ["penicillin"])], []),
    ("worse_sitting", "known", {}, ["true", "false"], [], []),
    ("birth_date", "known", {}, ['"1980"'], [], []),
    ("pfirrmann_grade", "known", {}, [("one_of", ["I", "V"])], [], []),
    ("medicine_name", "known", {}, [], [], []),
]  # fmt: skip


def entry(element: str, given: str | tuple[str, Any]) -> str:
    unit = catalogue()[element].unit
    suffix = f', unit: "{unit}"' if unit else ""
    if isinstance(given, tuple):
        return f"{{{given[0]}: {given[1]}{suffix}}}"
    return f"{{value: {given}{suffix}}}"


def rows() -> list[tuple[str, str, dict[str, Any], str | tuple[str, Any], Truth]]:
    return [
        (element, op, operands, given, truth)
        for element, op, operands, met, not_met, unknown in TESTS
        for truth, some in ((M, met), (N, not_met), (U, unknown))
        for given in some
    ]


@each_row(("element", "op", "operands", "given_", "truth"), rows())
def test_operator(
    element: str, op: str, operands: dict[str, Any], given_: str | tuple[str, Any], truth: Truth
) -> None:
    subject = "patient" if catalogue()[element].scope == "patient" else "L4-L5"
    unit = catalogue()[element].unit
    named = {"value": "one", "low": "least", "high": "most"}
    item = criterion(
        f"{{element: {element}, op: {op}"
        + "".join(f", {key}: {{parameter: {named[key]}}}" for key in operands)
        + "}",
        parameters={named[key]: (value, unit) for key, value in operands.items()},
        subject="patient" if subject == "patient" else "disc",
    )
    evaluation = read(item, fact(entry(element, given_), element), subject)
    assert evaluation.truth is truth
    assert evaluation.outcome == {M: "pass", N: "fail", U: "undetermined"}[truth]
    trace = evaluation.trace
    assert (trace.kind, trace.element, trace.op, trace.subject) == ("test", element, op, subject)
    assert trace.parameters == tuple(named[key] for key in operands)
    assert trace.why is (Why.TOO_IMPRECISE if truth is U else None)


@pytest.mark.parametrize(("element", "op"), sorted({(row[0], row[1]) for row in TESTS}))
def test_operator_on_a_fact_that_is_missing_or_has_a_reason(element: str, op: str) -> None:
    operands = next(row[2] for row in TESTS if row[:2] == (element, op))
    subject = {"patient": "patient", "disc": "L4-L5"}.get(catalogue()[element].scope, "medicines[1]")
    literal = (
        "".join(f", {key}: {value!r}" for key, value in operands.items())
        .replace("True", "true")
        .replace("False", "false")
    )
    item = criterion(f"{{element: {element}, op: {op}{literal}}}")
    wanted = N if op == "known" else U
    missing = read(item, "", subject)
    assert (missing.truth, missing.trace.why) == (wanted, Why.NOT_RECORDED)
    if subject != "medicines[1]":
        told = read(item, fact("{unknown: uncertain_in_source}", element), subject)
        assert (told.truth, told.trace.why) == (wanted, Why.UNCERTAIN_IN_SOURCE)


def test_every_operator_of_the_language_is_in_the_table_for_every_kind_it_fits() -> None:
    tested = {(catalogue()[row[0]].kind, row[1]) for row in TESTS}
    possible = {(e.kind, op) for e in catalogue().all for op in possible_operators(e)}
    assert {op for _, op in tested} == set(OPERATORS)
    # numbers and whole numbers share their comparisons, and so do all kinds their test of presence
    shared = {("integer", op) for op in ("at_least", "at_most", "more_than", "less_than", "between")}
    assert {pair for pair in possible - tested if pair[1] != "known"} == shared


# --- inclusion and exclusion, and criteria that apply to some only


@pytest.mark.parametrize(
    ("body", "inclusion", "exclusion"),
    [("{worse_sitting: true}", "pass", "fail"), ("{worse_sitting: false}", "fail", "pass"), ("{}", "undetermined", "undetermined")],
)  # fmt: skip
def test_an_inclusion_passes_when_met_and_an_exclusion_when_not(
    body: str, inclusion: str, exclusion: str
) -> None:
    when = "{element: worse_sitting, op: is, value: true}"
    assert read(criterion(when), f"patient: {body}\n").outcome == inclusion
    assert read(criterion(when, kind="exclusion"), f"patient: {body}\n").outcome == exclusion


# whether it applies, whether it is met -> outcome of an inclusion
APPLIES = [
    ("female", "true", "pass"), ("female", "false", "fail"), ("female", None, "undetermined"),
    ("male", "true", "pass"), ("male", "false", "pass"), ("male", None, "pass"),
    (None, "true", "pass"), (None, "false", "undetermined"), (None, None, "undetermined"),
]  # fmt: skip


@pytest.mark.parametrize(("sex", "met", "outcome"), APPLIES)
def test_a_criterion_that_is_known_not_to_apply_passes_and_says_so(
    sex: str | None, met: str | None, outcome: str
) -> None:
    item = criterion(
        "{element: worse_sitting, op: is, value: true}", applies_when="{element: sex, op: is, value: female}"
    )
    facts = ", ".join(x for x in (f"sex: {sex}" if sex else "", f"worse_sitting: {met}" if met else "") if x)
    evaluation = read(item, f"patient: {{{facts}}}\n")
    assert evaluation.outcome == outcome
    assert evaluation.applies is {"female": M, "male": N, None: U}[sex]
    assert evaluation.applies_trace is not None


# --- joins, against the tables of Kleene

SIGNS = ["worse_sitting", "worse_flexion", "axial_dominance", "pregnancy_possible"]


def signs(truths: list[Truth]) -> str:
    facts = [
        f"{s}: {'true' if t is M else 'false'}" for s, t in zip(SIGNS, truths, strict=False) if t is not U
    ]
    return f"patient: {{{', '.join(facts)}}}\n"


def parts_of(number: int) -> str:
    return "[" + ", ".join(f"{{element: {s}, op: is, value: true}}" for s in SIGNS[:number]) + "]"


@given(st.lists(st.sampled_from([M, N, U]), min_size=1, max_size=4), st.integers(1, 4))
def test_joins_are_those_of_the_truth_tables(truths: list[Truth], needed: int) -> None:
    body, parts = signs(truths), parts_of(len(truths))

    def truth_of(when: str, **more: Any) -> Truth:
        return read(criterion(when, **more), body).truth

    assert truth_of(f"all: {parts}") is all_of(truths)
    assert truth_of(f"any: {parts}") is any_of(truths)
    assert truth_of(f"none: {parts}") is negate(any_of(truths))
    assert truth_of(f"not: {parts_of(1)[1:-1]}") is negate(truths[0])
    counted = f"at_least_of: {{count: {{parameter: needed}}, conditions: {parts}}}"
    assert truth_of(counted, parameters={"needed": needed}) is at_least(needed, truths)


def test_every_part_of_a_join_is_read_even_where_the_first_settles_it() -> None:
    trace = read(criterion(f"all: {parts_of(3)}"), signs([N, M, U])).trace
    assert [part.truth for part in trace.parts] == [N, M, U]


# --- discs

GRADED = """patient: {discs_under_consideration: [L4-L5, L5-S1]}
discs:
  L1-L2: {pfirrmann_grade: I}
  L2-L3: {pfirrmann_grade: II}
  L3-L4: {pfirrmann_grade: III}
  L4-L5: {pfirrmann_grade: IV}
"""


def over(head: str, that: str, where: str = "", **more: Any) -> Trace:
    inside = f"that: {that}" + (f", where: {where}" if where else "")
    return read(criterion(f"{head}: {{{inside}}}"), GRADED, **more).trace


def test_a_quantifier_over_discs_settles_where_one_disc_settles_it() -> None:
    # L5-S1 is not graded
    assert over("any_disc", "{element: pfirrmann_grade, op: at_least, value: IV}").truth is M
    assert over("any_disc", "{element: pfirrmann_grade, op: is, value: V}").truth is U
    assert over("every_disc", "{element: pfirrmann_grade, op: at_most, value: IV}").truth is U
    assert over("every_disc", "{element: pfirrmann_grade, op: at_most, value: III}").truth is N


def test_a_quantifier_ranges_over_the_five_usual_discs_and_any_other_that_is_named() -> None:
    trace = over("any_disc", "{element: pfirrmann_grade, op: known}")
    assert [part.subject for part in trace.parts] == ["L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1"]
    view = view_of("discs: {L6-S1: {}, L5-L6: {}}\n")
    assert view.levels() == ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1", "L5-L6", "L6-S1")
    assert view.named_levels() == ("L5-L6", "L6-S1")


CONSIDERED = "{element: considered_for_treatment, op: is, value: true}"


def test_where_narrows_a_quantifier_to_some_discs() -> None:
    grade = "{element: pfirrmann_grade, op: at_most, value: III}"
    assert over("every_disc", grade, CONSIDERED).truth is N  # L4-L5
    assert (
        over("every_disc", "{element: pfirrmann_grade, op: at_least, value: IV}", CONSIDERED).truth is U
    )  # L5-S1
    assert over("any_disc", "{element: pfirrmann_grade, op: is, value: I}", CONSIDERED).truth is U
    nowhere = "{element: pfirrmann_grade, op: is, value: V}"
    assert (
        read(
            criterion(f"any_disc: {{that: {nowhere}, where: {CONSIDERED}}}"),
            "patient: {discs_under_consideration: []}\n",
        ).truth
        is N
    )
    assert (
        read(
            criterion(f"every_disc: {{that: {nowhere}, where: {CONSIDERED}}}"),
            "patient: {discs_under_consideration: []}\n",
        ).truth
        is M
    )


@pytest.mark.parametrize(
    ("op", "operands", "truth"),
    [
        # grade at least III is certain for two discs and possible for a third
        ("at_least", "value: {parameter: two}", M), ("at_least", "value: {parameter: three}", U), ("at_least", "value: {parameter: four}", N),
        ("at_most", "value: {parameter: one}", N), ("at_most", "value: {parameter: two}", U), ("at_most", "value: {parameter: three}", M),
        ("more_than", "value: {parameter: one}", M), ("more_than", "value: {parameter: two}", U), ("less_than", "value: {parameter: two}", N), ("less_than", "value: {parameter: four}", M),
        ("is", "value: {parameter: two}", U), ("is", "value: {parameter: four}", N), ("between", "low: {parameter: two}, high: {parameter: three}", M), ("between", "low: {parameter: one}, high: {parameter: two}", U),
    ],
)  # fmt: skip
def test_a_count_of_discs_is_a_range_while_a_disc_is_open(op: str, operands: str, truth: Truth) -> None:
    item = criterion(
        f"count_discs: {{that: {{element: pfirrmann_grade, op: at_least, value: III}}, op: {op}, {operands}}}",
        parameters={"one": (1, "1"), "two": (2, "1"), "three": (3, "1"), "four": (4, "1")},
    )
    trace = read(item, GRADED).trace
    assert trace.tally == Span(2, 3)
    assert trace.truth is truth


@pytest.mark.parametrize(
    ("standings", "tally", "outcome"),
    [
        ({"L4-L5": {"candidate"}, "L5-S1": {"candidate"}}, Span(2, 2), "pass"),
        ({"L4-L5": {"candidate"}, "L5-S1": {"not_candidate"}}, Span(1, 1), "pass"),
        ({"L4-L5": {"candidate"}, "L5-S1": {"incomplete", "candidate"}}, Span(1, 2), "pass"),
        ({"L4-L5": {"not_candidate"}, "L5-S1": {"incomplete", "candidate"}}, Span(0, 1), "undetermined"),
        ({"L4-L5": {"not_candidate"}, "L5-S1": {"not_candidate", "urgent"}}, Span(0, 0), "fail"),
        (
            {"L4-L5": {"candidate", "borderline"}, "L5-S1": {"candidate"}, "L3-L4": {"candidate"}},
            Span(2, 2),
            "pass",
        ),
    ],
)
def test_standings_of_discs_are_counted_as_far_as_they_are_settled(
    standings: dict[str, set[str]], tally: Span, outcome: str
) -> None:
    item = criterion(
        f"count_discs: {{that: {{all: [{CONSIDERED}, {{element: disc_standing, op: one_of, value: [candidate, borderline]}}]}}, "
        "op: between, low: {parameter: one}, high: {parameter: two}}",
        parameters={"one": (1, "1"), "two": (2, "1")},
    )
    evaluation = read(item, GRADED, standings=standings)
    assert (evaluation.trace.tally, evaluation.outcome) == (tally, outcome)


def test_a_disc_sees_the_patients_facts_and_not_those_of_its_neighbours() -> None:
    item = criterion("{element: back_pain_nrs_average, op: at_least, value: 4}", subject="disc")
    assert read(item, "patient: {back_pain_nrs_average: 6}\ndiscs: {L4-L5: {}}\n", "L4-L5").outcome == "pass"
    item = criterion("{element: pfirrmann_grade, op: is, value: IV}", subject="disc")
    assert read(item, GRADED, "L5-S1").outcome == "undetermined"


# --- lists

BLOOD_THINNERS = "{element: medicine_class, op: one_of, value: [antiplatelet, direct_oral_anticoagulant]}"


@pytest.mark.parametrize(
    ("medicines", "any_of_them", "each_of_them", "count"),
    [
        (None, U, U, Span(0, inf)),
        ("{complete: true}", N, M, Span(0, 0)),
        ("{complete: false}", U, U, Span(0, inf)),
        ("{entries: [{medicine_class: opioid}]}", U, N, Span(0, inf)),
        ("{entries: [{medicine_class: antiplatelet}]}", M, U, Span(1, inf)),
        ("{complete: true, entries: [{medicine_class: opioid}]}", N, N, Span(0, 0)),
        ("{complete: true, entries: [{medicine_class: antiplatelet}]}", M, M, Span(1, 1)),
        ("{complete: true, entries: [{medicine_class: antiplatelet}, {medicine_name: x}]}", M, U, Span(1, 2)),
        ("{complete: true, entries: [{medicine_class: {one_of: [opioid, antiplatelet]}}]}", U, U, Span(0, 1)),
        ("{complete: true, entries: [{medicine_class: {unknown: not_readable}}, {medicine_class: opioid}]}", U, N, Span(0, 1)),
    ],
)  # fmt: skip
def test_a_list_not_stated_to_be_complete_may_hold_more(
    medicines: str | None, any_of_them: Truth, each_of_them: Truth, count: Span
) -> None:
    body = f"medicines: {medicines}\n" if medicines else ""
    over = f"of: medicines, that: {BLOOD_THINNERS}"
    assert read(criterion(f"any_entry: {{{over}}}"), body).truth is any_of_them
    assert read(criterion(f"every_entry: {{{over}}}"), body).truth is each_of_them
    counted = criterion(
        f"count_entries: {{{over}, op: at_least, value: {{parameter: one}}}}", parameters={"one": (1, "1")}
    )
    assert read(counted, body).trace.tally == count
    assert read(counted, body).truth is count.at_least(1)


def test_an_open_list_is_the_reason_where_nothing_else_is() -> None:
    item = criterion(f"any_entry: {{of: medicines, that: {BLOOD_THINNERS}}}")
    assert read(item, "medicines: {entries: [{medicine_class: opioid}]}\n").trace.why is Why.LIST_INCOMPLETE
    assert read(item, "medicines: {complete: true, entries: [{}]}\n").trace.why is None


@pytest.mark.parametrize(
    ("body", "truth"),
    [
        ("", N),
        ("medicines: {}\n", N),
        ("medicines: {complete: false}\n", N),
        ("medicines: {complete: true}\n", M),
    ],
)
def test_whether_a_list_is_stated_to_be_complete_is_always_settled(body: str, truth: Truth) -> None:
    assert read(criterion("complete_list: medicines"), body).truth is truth


# --- age of facts

LABORATORY = {
    "when": "{element: platelet_count, op: at_least, value: {parameter: least}}",
    "recency": "{max_age: {parameter: oldest}, elements: [platelet_count]}",
}


def platelets(age: tuple[int, str], date: str | None, kind: str = "date") -> tuple[str, Why | None]:
    item = criterion(
        LABORATORY["when"],
        recency=LABORATORY["recency"],
        parameters={"least": (100, "10*9/L"), "oldest": age},
    )
    dated = f", {kind}: '{date}'" if date else ""
    evaluation = read(item, f"patient:\n  platelet_count: {{value: 200, unit: 10*9/L{dated}}}\n")
    return evaluation.outcome, evaluation.trace.why


# as of 2026-11-25
@pytest.mark.parametrize(
    ("age", "date", "outcome", "why"),
    [
        ((30, "day"), "2026-10-26", "pass", None),  # exactly 30 days
        ((30, "day"), "2026-10-25", "undetermined", Why.OUT_OF_DATE),
        ((4, "week"), "2026-10-28", "pass", None),  # exactly 28 days
        ((4, "week"), "2026-10-27", "undetermined", Why.OUT_OF_DATE),
        ((12, "month"), "2025-11-25", "pass", None),
        ((12, "month"), "2025-11-24", "undetermined", Why.OUT_OF_DATE),
        ((1, "year"), "2025-11-25", "pass", None),
        ((1, "year"), "2025-11-24", "undetermined", Why.OUT_OF_DATE),
        ((30, "day"), None, "undetermined", Why.UNDATED),
        ((12, "month"), "2026", "pass", None),  # the whole of that year is recent enough
        ((12, "month"), "2025-12", "pass", None),
        ((12, "month"), "2025-11", "undetermined", Why.OUT_OF_DATE),  # straddles the limit
        ((12, "month"), "2025", "undetermined", Why.OUT_OF_DATE),
        ((30, "day"), "2026-11-25", "pass", None),  # the as-of date itself
        # a day after it is never recent, however near
        ((30, "day"), "2026-11-26", "undetermined", Why.AFTER_AS_OF),
        ((12, "month"), "2199-12-31", "undetermined", Why.AFTER_AS_OF),
    ],
)
def test_a_fact_older_than_allowed_or_undated_is_unknown(
    age: tuple[int, str], date: str | None, outcome: str, why: Why | None
) -> None:
    assert platelets(age, date) == (outcome, why)


@pytest.mark.parametrize(
    ("force", "value", "date", "outcome"),
    [
        # a sign of an emergency acts however old it is; its denial grows too old
        ("stop", "true", None, "fail"),
        ("stop", "true", "2020-01-01", "fail"),
        ("stop", "true", "2026-12-24", "fail"),
        ("stop", "false", None, "undetermined"),
        ("stop", "false", "2020-01-01", "undetermined"),
        ("stop", "false", "2026-11-20", "pass"),
        ("absolute", "true", None, "undetermined"),
        ("absolute", "true", "2020-01-01", "undetermined"),
        ("absolute", "true", "2026-11-20", "fail"),
    ],
)
def test_only_the_denial_of_a_sign_of_an_emergency_has_an_age(
    force: str, value: str, date: str | None, outcome: str
) -> None:
    item = criterion(
        "{element: fever, op: is, value: true}",
        kind="exclusion",
        force=force,
        act="Test.",
        recency="{max_age: {parameter: oldest}, elements: [fever]}",
        parameters={"oldest": (30, "day")},
    )
    dated = f", date: '{date}'" if date else ""
    assert read(item, f"patient: {{fever: {{value: {value}{dated}}}}}\n").outcome == outcome


def test_a_fact_without_a_date_of_its_own_may_take_that_of_the_study() -> None:
    item = criterion(
        "{element: pfirrmann_grade, op: is, value: IV}",
        subject="disc",
        recency="{max_age: {parameter: oldest}, elements: [pfirrmann_grade], dated_by: lumbar_mri_date}",
        parameters={"oldest": (12, "month")},
    )

    def outcome(mri: str, grade: str = "IV") -> tuple[str, Why | None]:
        evaluation = read(
            item, f"patient: {{{mri}}}\ndiscs: {{L4-L5: {{pfirrmann_grade: {grade}}}}}\n", "L4-L5"
        )
        return evaluation.outcome, evaluation.trace.why

    assert outcome("lumbar_mri_date: 2026-01-01") == ("pass", None)
    assert outcome("lumbar_mri_date: 2025-01-01") == ("undetermined", Why.OUT_OF_DATE)
    assert outcome("") == ("undetermined", Why.UNDATED)
    assert outcome('lumbar_mri_date: {not_before: "2026-01-01"}') == ("pass", None)
    assert outcome('lumbar_mri_date: {not_after: "2026-01-01"}') == ("undetermined", Why.OUT_OF_DATE)
    # its own date outranks that of the study
    assert outcome("lumbar_mri_date: 2026-01-01", "{value: IV, date: 2025-01-01}") == (
        "undetermined",
        Why.OUT_OF_DATE,
    )


def test_a_worked_out_fact_is_as_old_as_the_oldest_it_was_worked_out_from() -> None:
    item = criterion(
        "{element: body_mass_index, op: at_most, value: {parameter: most}}",
        recency="{max_age: {parameter: oldest}, elements: [body_mass_index]}",
        parameters={"most": (35, "kg/m2"), "oldest": (6, "month")},
    )

    def of(height: str, weight: str) -> tuple[str, float | None]:
        evaluation = read(
            item,
            f"patient:\n  body_height: {{value: 180, unit: cm{height}}}\n  body_weight: {{value: 80, unit: kg{weight}}}\n",
        )
        return evaluation.outcome, evaluation.trace.age.low if evaluation.trace.age else None

    assert of(", date: 2026-11-20", ", date: 2026-11-15") == ("pass", 10)
    assert of(", date: 2020-11-20", ", date: 2026-11-15") == ("undetermined", 2196)
    assert of("", ", date: 2026-11-15") == ("undetermined", None)
    # a part of a day after the as-of date is never recent, beside one however old
    assert of(", date: 2026-10-01", ", date: 2026-12-20") == ("undetermined", -25)


# --- time between dates


@pytest.mark.parametrize(
    ("unit", "op", "limit", "since", "truth"),
    [
        ("day", "at_least", 14, "2026-11-11", M), ("day", "at_least", 14, "2026-11-12", N), ("day", "less_than", 14, "2026-11-12", M),
        ("week", "at_least", 2, "2026-11-11", M), ("week", "at_least", 2, "2026-11-12", N),  # 13 days are less than two weeks
        ("month", "at_least", 3, "2026-08-25", M), ("month", "at_least", 3, "2026-08-26", N), ("month", "more_than", 3, "2026-08-25", N),
        ("year", "at_most", 5, "2020-11-26", M), ("year", "at_most", 5, "2020-11-25", N),
        ("month", "at_least", 3, "2026-08", U), ("month", "at_least", 3, "2026-07", M), ("year", "at_least", 1, "2026", N),
        ("day", "at_least", 14, "2026-12-01", N),
    ],
)  # fmt: skip
def test_elapsed_time_in_each_unit(unit: str, op: str, limit: int, since: str, truth: Truth) -> None:
    item = criterion(
        f"elapsed: {{since: discography_date, unit: {unit}, op: {op}, value: {{parameter: wait}}}}",
        parameters={"wait": (limit, unit)},
    )
    evaluation = read(item, f"patient: {{discography_date: '{since}'}}\n")
    assert evaluation.truth is truth
    assert evaluation.trace.why is (Why.TOO_IMPRECISE if truth is U else None)


def test_elapsed_time_between_two_dates_waits_for_both() -> None:
    item = criterion(
        "elapsed: {since: discography_date, until: planned_procedure_date, unit: week, op: between, low: {parameter: a}, high: {parameter: b}}",
        parameters={"a": (2, "week"), "b": (12, "week")},
    )

    def of(body: str) -> Trace:
        return read(item, f"patient: {{{body}}}\n").trace

    both = of("discography_date: '2026-11-01', planned_procedure_date: '2026-12-06'")
    assert (both.truth, both.tally, both.margin) == (M, point(5), (3, 3))
    one = of("discography_date: '2026-11-01'")
    assert (one.truth, one.why, [part.truth for part in one.parts]) == (U, Why.INPUT_MISSING, [M, U])
    assert (
        of("discography_date: {unknown: not_asked}, planned_procedure_date: '2026-12-06'").parts[0].why
        is Why.NOT_ASKED
    )


@given(st.dates().map(lambda d: point(d.toordinal())), st.dates().map(lambda d: point(d.toordinal())))
def test_elapsed_time_runs_backwards_as_it_runs_forwards(a: Span, b: Span) -> None:
    for unit in ("day", "week", "month", "year"):
        assert elapsed(a, b, unit).low == -elapsed(b, a, unit).low


# --- margin to the limit


@pytest.mark.parametrize(
    ("op", "operands", "given_", "margin"),
    [
        ("at_least", "value: 30", "32", (2, 2)), ("at_least", "value: 30", "29.9", (-0.1, -0.1)), ("at_most", "value: 30", "29.9", (0.1, 0.1)),
        ("more_than", "value: 30", "30", (0, 0)), ("less_than", "value: 30", "33", (-3, -3)), ("between", "low: 20, high: 30", "21", (1, 1)),
        ("between", "low: 20, high: 30", "29", (1, 1)), ("between", "low: 20, high: 30", "33", (-3, -3)), ("at_least", "value: 30", ("between", [28, 33]), (-2, 3)),
        ("at_most", "value: 30", ("at_least", 28), (-90, 2)), ("between", "low: 20, high: 30", ("between", [15, 40]), (-10, 5)), ("between", "low: 20, high: 30", ("between", [22, 40]), (-10, 5)),
    ],
)  # fmt: skip
def test_margin_is_the_distance_to_the_nearest_limit_positive_where_the_test_is_met(
    op: str, operands: str, given_: str | tuple[str, Any], margin: tuple[float, float]
) -> None:
    item = criterion(f"{{element: body_mass_index, op: {op}, {operands}}}")
    trace = read(item, fact(entry("body_mass_index", given_), "body_mass_index")).trace
    assert trace.margin == margin
    low, high = margin
    assert (low >= 0) is (trace.truth is M) or low == 0 or (trace.truth is U and low < 0 <= high)
