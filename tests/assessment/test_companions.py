"""Companion rule sets: when they apply, what is shown, when the whole answer says stop, and what cannot be assessed."""

import io
import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml
from rich.console import Console

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.companions import CompanionResult, companions_of
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.check.library import check_library, check_rule_set
from candidacy.explain.build import build_document
from candidacy.explain.cautions import EMERGENCY
from candidacy.explain.companions import companion_strip, companions_line, stop_sentences
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.page import page
from candidacy.explain.text import print_document
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, RuleError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.library import Library
from candidacy.rules.rule_set_file import Companion
from tests.explain.test_forms import parsed
from tests.rules.builder import Builder

DAY = date(2026, 11, 25)
CITE = {"source": "common_practice", "supports": "value", "tag": "common practice"}
WITHIN = {"value": 14, "unit": "day", "meaning": "Days", "cites": [CITE]}


def demo(name: str = "one-disc-candidate") -> CaseRecord:
    return load_case(demo_cases_folder() / f"{name}.yaml").record


def planned(entry: dict[str, Any] | None) -> CaseRecord:
    return with_fact(
        demo(), "patient", "planned_procedure_date", FactEntry.model_validate(entry) if entry else None
    )


def assessed(record: CaseRecord, rules: str = "practice_baseline", day: date = DAY, engine: str = "durable-rules") -> Assessment:  # fmt: skip
    return assess(case_from_record(record), load_rule_set(rules), day, engine)


def applying(found: Assessment) -> dict[str, bool]:
    return {c.declared.id: c.applies for c in companions_of(found)}


# The rule sets ask 14 days before a planned procedure, from the pathway of the reference sheet (T - 14, T - 1, T).
@pytest.mark.parametrize(
    ("entry", "applies"),
    [
        ({"value": "2026-12-09"}, True),
        ({"value": "2026-12-10"}, False),
        ({"value": "2026-11-25"}, True),
        ({"value": "2026-11-24"}, False),
        ({"value": "2026-12"}, True),
        ({"value": "2027-01"}, False),
        ({"not_before": "2026-12-20"}, False),
        ({"not_after": "2026-12-20"}, True),
        ({"unknown": "not_stated"}, False),
        (None, False),
    ],
)
def test_the_safety_set_applies_near_a_planned_procedure(entry: dict[str, Any] | None, applies: bool) -> None:
    assert applying(assessed(planned(entry)))["procedural_safety"] is applies


def test_source_and_report_sets_apply_where_the_record_holds_what_they_are_about() -> None:
    assert applying(assessed(demo())) == {
        "disc_source": True,
        "procedural_safety": False,
        "report_completeness": True,
    }
    bare = CaseRecord(schema_version="1", id="bare")
    assert not any(applying(assessed(bare)).values())
    leaked = with_fact(bare, "L4-L5", "discography_leak", FactEntry(value=False))
    assert applying(assessed(leaked))["disc_source"] is True


def test_the_standing_is_that_of_an_assessment_under_the_companion_itself() -> None:
    for name in ("morning-of-the-procedure", "morning-with-reasons-to-wait", "leaking-disc"):
        for engine in ("durable-rules", "direct"):
            day = date(2026, 12, 10)
            for companion in companions_of(assessed(demo(name), day=day, engine=engine)):
                assert companion.assessment is not None
                alone = assessed(demo(name), companion.declared.id, day, engine)
                assert companion.assessment.standing == alone.standing
                assert companion.assessment.engine == alone.engine


def test_one_line_names_every_companion_of_the_day() -> None:
    document = build_document(assessed(demo("morning-of-the-procedure"), day=date(2026, 12, 10)))
    line = companions_line(document)
    assert "\n" not in line
    for companion in document.companions:
        assert companion.title in line
    said = " ".join(parsed(page(document)).text.split())
    for title, words, tone in companion_strip(document):
        assert f"{title}: {words}" in line
        assert f"{title}: {words}" in said
        assert f'{title}: <strong class="{tone}">{words}</strong>' in page(document)
    assert [c["id"] for c in json.loads(document.to_json())["companions"]] == [
        "disc_source",
        "procedural_safety",
        "report_completeness",
    ]


def test_what_fails_already_under_a_companion_that_waits_for_facts_is_named() -> None:
    """An NSAID of yesterday two days before the procedure: five days are asked for, and much else is not recorded yet."""
    near = with_fact(
        planned({"value": "2026-11-27"}), "patient", "nsaid_last_dose_date", FactEntry(value="2026-11-24")
    )
    document = build_document(assessed(near))
    assert document.standing == "candidate"
    assert "Wait, facts are missing; already: NSAID taken too recently before a biologic" in companions_line(
        document
    )


def test_a_companion_that_stops_says_so_at_the_head_whatever_the_standing() -> None:
    found = assessed(demo("morning-with-reasons-to-wait"), day=date(2026, 12, 10))
    # what only the safety set decides on is a danger that the practice set does not read
    assert found.standing == "borderline"
    document = build_document(found)
    assert [c.id for c in document.companions if c.stops] == ["procedural_safety"]
    (stop,) = document.stops
    # everything that keeps it from going ahead can be mended, so the word is wait, in the set's own names
    assert stop.startswith("Wait under Procedural safety")
    assert "No date can be given: wait until " in stop
    assert "other care" not in stop
    assert "Procedural safety: ○ WAIT" in companions_line(document)
    # none of it where the day is clear
    clear = build_document(assessed(demo("morning-of-the-procedure"), day=date(2026, 12, 10)))
    assert clear.stops == []
    assert "STOP" not in companions_line(clear)
    assert "WAIT" not in companions_line(clear)


def test_what_nothing_mends_under_a_companion_stops_in_the_names_of_its_set() -> None:
    record = with_fact(
        demo("morning-of-the-procedure"),
        "patient",
        "bleeding_disorder",
        FactEntry(value=True, source="clinic"),
    )
    document = build_document(assessed(record, day=date(2026, 12, 10)))
    assert any(stop.startswith("Stop. Do not go ahead under Procedural safety") for stop in document.stops)
    assert "Procedural safety: STOP, ✗ Do not go ahead" in companions_line(document)
    assert "Not a candidate" not in companions_line(document)


def test_the_same_emergency_is_told_once_and_the_case_itself_says_it_first() -> None:
    record = demo("cauda-equina-signs")
    document = build_document(assessed(record))
    assert document.standing == "urgent"
    assert document.stops == ["Stop. The same emergency under Is the disc the source of the pain."]
    for told, itself in ((page(document), "‼ Urgent"), (_text(document), "Urgent under Practice baseline")):
        assert told.index(itself) < told.index("The same emergency under")
    # two companions that see it share one sentence where the set itself has nothing to say about it
    (stop,) = build_document(assessed(record, "report_completeness")).stops
    assert stop.startswith(
        "Stop. Urgent under Practice baseline and Is the disc the source of the pain as of "
    )
    assert stop.count("emergency pathway") == 1


def test_an_emergency_that_the_case_itself_does_not_see_is_told_in_full() -> None:
    declared = load_rule_set("practice_baseline").companions[0]
    main = assessed(demo("cauda-equina-signs"))
    more = with_fact(
        demo("cauda-equina-signs"), "patient", "suicidal_thoughts", FactEntry(value=True, source="clinic")
    )

    def told(first: Assessment, beside: Assessment) -> list[str]:
        return stop_sentences(first, [CompanionResult(declared, True, "", beside.rule_set, beside)])

    (stop,) = told(main, assessed(more, "disc_source"))
    assert stop.startswith("Stop. Urgent under Is the disc the source of the pain")
    assert "thoughts of self-harm voiced" in stop
    # the other way round the case says more than the companion, which is only named
    assert told(assessed(more, "disc_source"), main) == ["Stop. The same emergency under Practice baseline."]


def _text(document: AssessmentDocument) -> str:
    out = io.StringIO()
    print_document(Console(file=out, width=500), document)
    return out.getvalue()


def test_an_emergency_under_a_companion_brings_its_act_and_the_caution() -> None:
    """`report_completeness` has no criterion about emergencies; the practice set beside it does."""
    document = build_document(assessed(demo("cauda-equina-signs"), "report_completeness"))
    assert document.standing != "urgent"
    assert document.cautions[0] == EMERGENCY
    assert {c.id for c in document.companions if c.stops} >= {"practice_baseline"}
    practice = assessed(demo("cauda-equina-signs"))
    acts = [
        r.resolved.criterion.act
        for r in practice.results
        if r.outcome == "fail" and r.resolved.force == "stop"
    ]
    assert acts
    assert any(acts[0] in stop for stop in document.stops)


@pytest.mark.parametrize("name", sorted(shipped().rule_set_files()))
def test_every_shipped_rule_set_names_the_practice_source_safety_and_report_sets(name: str) -> None:
    four = {"practice_baseline", "disc_source", "procedural_safety", "report_completeness"}
    companions = load_rule_set(name).companions
    assert {c.id for c in companions} == four - {name}
    # a set by which someone goes ahead is stopped by the day's safety
    assert all("not_candidate" in c.stops_on for c in companions if c.id == "procedural_safety")


def test_the_companions_of_a_companion_are_not_followed() -> None:
    found = companions_of(assessed(demo(), "procedural_safety"))
    assert {c.declared.id for c in found} == {"practice_baseline", "disc_source", "report_completeness"}


def test_a_plain_assessment_does_not_touch_companions() -> None:
    rule_set = replace(load_rule_set("practice_baseline"), library=_refuse)
    found = assess(case_from_record(demo()), rule_set, DAY)
    assert found.standing == "candidate"
    with pytest.raises(AssertionError):
        companions_of(found)


def test_equal_rule_sets_of_two_libraries_have_the_companions_of_their_own(tmp_path: Path) -> None:
    for name in ("here", "there"):
        own_set(tmp_path / name, [{"id": "beside_me", "when": "always", "says": "Test."}])
        own_set(tmp_path / name, [], "beside_me", title=f"Beside {name}")
    titles = [build_document(under(tmp_path / name)).companions[0].title for name in ("here", "there")]
    assert titles == ["Beside here", "Beside there"]


def _refuse(identifier: str) -> Any:
    raise AssertionError(f"{identifier} was loaded")


def test_a_companion_is_resolved_once() -> None:
    library = shipped()
    assert library.companion("disc_source") is library.companion("disc_source")
    own = Library(Path("nowhere"), base=library)
    assert own.companion("disc_source") is library.companion("disc_source")


# --- rule sets of one's own


def own_set(folder: Path, companions: list[dict[str, Any]] | None, name: str = "mine", **more: Any) -> Path:
    builder = Builder(folder)
    data = yaml.safe_load((shipped().folder / "sets/wide_screen/ruleset.yaml").read_text("utf-8"))
    data |= {"id": name, "criteria": [{"id": "able_to_consent"}], "settings": {}, **more}
    data.pop("companions")
    if companions is not None:
        data["companions"] = companions
    return builder.write(f"sets/{name}/ruleset.yaml", data)


def under(folder: Path, name: str = "mine") -> Assessment:
    rule_set = Library(folder, base=shipped()).rule_set(name)
    return assess(case_from_record(demo()), rule_set, DAY)


@pytest.mark.parametrize("broken", [False, True], ids=["missing", "damaged"])
def test_a_companion_that_cannot_be_loaded_is_shown_as_such(tmp_path: Path, broken: bool) -> None:
    own_set(tmp_path, [{"id": "beside_me", "when": "always", "says": "Test."}])
    if broken:
        own_set(tmp_path, None, "beside_me", decisions="no_such_order")
    document = build_document(under(tmp_path))
    (companion,) = document.companions
    assert companion.applies
    assert companion.standing is None
    assert companion.problem
    assert str(tmp_path) not in document.to_json()
    assert "Beside me: could not be assessed (E" in companions_line(document)


def test_a_companion_comes_from_the_same_library_before_the_shipped_one(tmp_path: Path) -> None:
    own_set(tmp_path, [{"id": "disc_source", "when": "always", "says": "Test."}])
    version = shipped().rule_set("disc_source").file.version
    replaced = {"version": version, "reason": "For a test."}
    own_set(tmp_path, [], "disc_source", title="My own source set", replaces=replaced)
    (companion,) = build_document(under(tmp_path)).companions
    assert companion.title == "My own source set"


def test_companions_are_inherited_unless_written(tmp_path: Path) -> None:
    base = [c.id for c in load_rule_set("practice_baseline").companions]
    for written, expected in ((None, base), ([], [])):
        own_set(tmp_path, written, extends="practice_baseline", reason="For a test.", criteria=[])
        found = Library(tmp_path, base=shipped()).rule_set("mine")
        assert [c.id for c in found.companions] == expected


def test_companions_are_part_of_the_digest(tmp_path: Path) -> None:
    digests = set()
    for written in ([], [{"id": "disc_source", "when": "always", "says": "Test."}]):
        own_set(tmp_path, written)
        digests.add(Library(tmp_path, base=shipped()).rule_set("mine").digest)
    assert len(digests) == 2


@pytest.mark.parametrize(
    ("companions", "code"),
    [
        ([{"id": "mine", "when": "always", "says": "T"}], Code.CYCLE),
        ([{"id": "disc_source", "when": "always", "says": "T"}] * 2, Code.DUPLICATE_KEY),
        ([{"id": "no_such_set", "when": "always", "says": "T"}], Code.UNKNOWN_RULE_SET),
        ([{"id": "disc_source", "when": "near_procedure", "says": "T",
           "within": {**WITHIN, "cites": [{**CITE, "source": "nobody_2020"}]}}], Code.UNKNOWN_SOURCE),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_companion_is_found(
    tmp_path: Path, companions: list[dict[str, Any]], code: Code
) -> None:
    path = own_set(tmp_path, companions)
    assert code in {p.code for p in check_rule_set(Library(tmp_path, base=shipped()), path)}


@pytest.mark.parametrize(
    "wrong",
    [
        {"when": "near_procedure"},
        {"when": "always", "within": WITHIN},
        {"when": "near_procedure", "within": {**WITHIN, "unit": "week"}},
        {"when": "near_procedure", "within": {**WITHIN, "value": -1}},
        {"when": "near_procedure", "within": {**WITHIN, "value": True}},
        {"when": "always", "stops_on": ["not_candidate"]},
        {"when": "sometimes"},
    ],
)
def test_a_companion_of_the_wrong_shape_is_refused(tmp_path: Path, wrong: dict[str, Any]) -> None:
    own_set(tmp_path, [{"id": "disc_source", "says": "T", **wrong}])
    with pytest.raises(RuleError):
        Library(tmp_path, base=shipped()).rule_set("mine")
    Companion.model_validate({"id": "disc_source", "says": "T", "when": "always"})


def test_nothing_is_wrong_with_the_shipped_companions() -> None:
    assert not [p for p in check_library(shipped()) if "companions" in p.field]
