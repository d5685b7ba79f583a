"""A kept answer can be shown, and made again byte for byte, whatever became of the rules since."""

import json
import shutil
from pathlib import Path

import pytest

import candidacy
from candidacy.case.load import load_case
from candidacy.commands.records_text import referral_text
from candidacy.conference.case_page import case_page
from candidacy.conference.queue import ask_about, queue_of
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.errors import Code, RuleError, StoreError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.records import answers
from candidacy.records.decisions import rule_set_changed
from candidacy.records.reports import report_said
from candidacy.records.store import Store, open_store
from tests.records.kept import DAY, record
from tests.rules.own import write

R = "ref-1"
OWN = """id: ours
version: "0.1.0"
title: Ours
extends: practice_baseline
reason: Our table carries more.
criteria:
  - id: body_mass_index_limit
    parameters:
      bmi_upper_limit: {value: LIMIT, unit: kg/m2, reason: Longer needles., cites: [{source: ours_2026, supports: value, tag: local}]}
changes: [{version: "0.1.0", date: "2026-11-28", change: First draft.}]
"""
SOURCES = "sources:\n  ours_2026: {text: 'Our practice, 2026', kind: local, seen_as: local}\n"


def test_an_answer_is_kept_as_it_was_given_and_made_again_the_same(store: Store) -> None:
    case = candidacy.load_case(demo_cases_folder() / "heavy-patient-for-conference.yaml")
    store.save_case(case.record.id, case, expected_version=0)
    kept = store.assess_and_keep(case.record.id, as_of=DAY)
    given = candidacy.assess(case, "practice_baseline", as_of=DAY)
    assert kept.said.document == given.document.to_json()
    assert store.kept_answer(kept.seq).said == kept.said
    assert kept.document == given.document
    again = store.make_again(kept.seq)
    assert (again.same, again.same_program, again.document) == (True, True, given.document.to_json())
    row = store.list_referrals()[0]
    assert (row.standing, row.shown, row.stops, row.missing) == (
        given.standing, given.document.shown, len(given.stops), len(given.missing))  # fmt: skip
    store.save_case(
        case.record.id, case.with_fact("body_weight", 70, unit="kg"), expected_version=1, reason="scales"
    )
    assert store.list_referrals()[0].out_of_date
    assert store.make_again(kept.seq).same
    assert store.open_referral(case.record.id).answer == store.kept_answer(kept.seq)
    assert store.verify().sound


def own_rules(folder: Path, limit: int) -> Path:
    place = folder / "sets" / "ours"
    place.mkdir(parents=True, exist_ok=True)
    (place / "ruleset.yaml").write_text(OWN.replace("LIMIT", str(limit)), encoding="utf-8")
    return place / "ruleset.yaml"


@pytest.fixture
def ours(folder: Path) -> Path:
    shown = candidacy.load_rule_set("practice_baseline").sources
    source = next(iter(shown))
    path = own_rules(folder / "ours", 44)
    text = path.read_text(encoding="utf-8").replace("ours_2026", source)
    path.write_text(text, encoding="utf-8")
    return path


def test_rules_of_ones_own_are_kept_with_their_text(file_store: Store, ours: Path) -> None:
    file_store.save_case(R, record(), expected_version=0)
    kept = file_store.assess_and_keep(R, str(ours), as_of=DAY)
    assert kept.said.rules == "ours"
    text = ours.read_text(encoding="utf-8")
    ours.write_text(text.replace("44", "38"), encoding="utf-8")
    newer = file_store.assess_and_keep(R, str(ours), as_of=DAY)
    assert newer.said.rules_digest != kept.said.rules_digest
    shutil.rmtree(ours.parents[2])
    assert file_store.make_again(kept.seq).same
    assert file_store.make_again(newer.seq).same
    assert '"value": "44 kg/m2"' in kept.said.document or "44" in kept.said.document
    with pytest.raises(RuleError):
        file_store.assess_and_keep(R, str(ours), as_of=DAY)
    assert file_store.verify().sound


def test_rules_with_data_elements_of_ones_own_are_kept_and_made_again_while_their_library_is_in_use(
    file_store: Store, folder: Path
) -> None:
    # only a library without data elements of its own could be kept under, so no own fact could be kept at all
    ours = write(folder / "mine")
    with candidacy.use_library(ours):
        case = record().with_fact("needle_path_depth", 20, unit="cm")
        file_store.save_case(R, case, expected_version=0)
        kept = file_store.assess_and_keep(R, "our_practice", as_of=DAY)
        assert "Needle path too deep" in kept.said.document
        assert file_store.make_again(kept.seq).same
    assert file_store.make_again(kept.seq).same
    element = ours / "elements" / "needle.yaml"
    element.write_text(
        element.read_text(encoding="utf-8").replace("high: 200", "high: 190"), encoding="utf-8"
    )
    with candidacy.use_library(ours):
        other = file_store.make_again(kept.seq)
        assert (other.same, "other data elements" in other.problem) == (False, True)
    assert file_store.verify().sound


def test_a_decision_tells_that_its_rule_set_was_changed(file_store: Store, ours: Path) -> None:
    file_store.save_case(R, record(), expected_version=0)
    file_store.assess_and_keep(R, str(ours), as_of=DAY)
    made = file_store.sign(R, "not", "approval", "x", responsible="ana-1", expected_version=1)
    assert made.changed == ()
    assert "cannot be loaded" in rule_set_changed(made.said)  # its library is not in use
    with candidacy.use_library(ours.parents[2]):
        assert rule_set_changed(made.said) == ""
    ours.write_text(ours.read_text(encoding="utf-8").replace("44", "38"), encoding="utf-8")
    with candidacy.use_library(ours.parents[2]):
        assert "was changed" in rule_set_changed(made.said)
    file_store.assess_and_keep(R, str(ours), as_of=DAY)
    assert file_store.decisions(R)[0].changed == ("The rule set ours was changed.",)


def test_files_changed_while_the_program_runs_are_not_kept_for_what_was_read(
    file_store: Store, ours: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file_store.save_case(R, record(), expected_version=0)
    with candidacy.use_library(ours.parents[2]):
        candidacy.load_rule_set("ours")
        read = candidacy.load_rule_set("ours")
        monkeypatch.setattr(answers, "load_rule_set", lambda name: read)
        ours.write_text(ours.read_text(encoding="utf-8").replace("44", "38"), encoding="utf-8")
        with pytest.raises(StoreError) as caught:
            file_store.assess_and_keep(R, "ours", as_of=DAY)
    assert [problem.code for problem in caught.value.problems] == [Code.CHANGED_MEANWHILE]
    assert file_store.list_referrals()[0].standing == ""


def test_an_answer_of_another_program_says_so(file_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    file_store.save_case(R, record(), expected_version=0)
    kept = file_store.assess_and_keep(R, as_of=DAY)
    monkeypatch.setattr(answers, "program_digest", lambda: "0" * 64)
    again = file_store.make_again(kept.seq)
    assert (again.same, again.same_program) == (True, False)
    assert "not the one that made it" in again.words
    monkeypatch.setattr(answers, "build_document", lambda assessment: _Other())
    assert "NOT the same" in file_store.make_again(kept.seq).words


class _Other:
    def to_json(self) -> str:
        return "{}"


def test_an_answer_for_a_version_that_somebody_replaced_is_not_kept(
    file_store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file_store.save_case(R, record(), expected_version=0)
    real = answers.assess

    def meanwhile(*given: object) -> object:
        with open_store(folder / "records.sqlite", "ana-1") as other:
            other.save_case(R, record(pain=1), expected_version=1, reason="meanwhile")
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(answers, "assess", meanwhile)
    with pytest.raises(StoreError) as caught:
        file_store.assess_and_keep(R, as_of=DAY)
    assert [problem.code for problem in caught.value.problems] == [Code.CHANGED_MEANWHILE]
    assert file_store.list_referrals()[0].standing == ""


def test_a_report_is_kept_with_what_was_taken_over(store: Store) -> None:
    store.save_case(R, record(), expected_version=0)
    kept = store.keep_report(R, "imaging_report", "L4-5: 5 mm protrusion.\n", reading="{}", accepted=("L4-L5: 5 mm",),
                            refused=("L5-S1",), document="mri", day="2026-03", why="read aloud with the radiologist")  # fmt: skip
    event = next(event for event in store.history(R) if event.entry.seq == kept.seq)
    assert event.said["text"] == "L4-5: 5 mm protrusion.\n"
    assert event.said["accepted"] == ["L4-L5: 5 mm"]
    assert (event.entry.person, event.why) == ("ana-1", "read aloud with the radiologist")
    assert store.kept_reports(R) == (store.kept_report(kept.seq),) == (kept,)
    (row,) = store.open_referral(R).reports
    assert (row.seq, row.kind, row.accepted, row.person) == (kept.seq, "imaging_report", 1, "ana-1")
    assert [event.entry.what for event in store.history(R)][-4:] == ["read"] * 4
    assert store.verify().sound


def test_reports_that_arrive_together_are_kept_together_or_not_at_all(store: Store) -> None:
    store.save_case(R, record(), expected_version=0)
    letter = report_said("referral_letter", "Dear colleague,\n", document="letter")
    spoiled = report_said("imaging_report", "L4-5: 5 mm protrusion.\n").model_copy(update={"text": object()})
    with pytest.raises(Exception, match="object"):
        store.keep_reports(R, [letter, spoiled])
    assert store.kept_reports(R) == ()
    kept = store.keep_reports(R, [letter, report_said("imaging_report", "L4-5: 5 mm protrusion.\n")])
    assert store.kept_reports(R) == kept
    assert store.verify().sound


def test_a_report_that_is_none_or_of_no_referral_is_not_kept(store: Store) -> None:
    store.save_case(R, record(), expected_version=0)
    for given in (
        {"kind": "imaging_report", "text": ""},
        {"kind": "imaging_report", "text": "x", "day": "yesterday"},
    ):
        with pytest.raises(StoreError) as refused:
            store.keep_report(R, **given)
        assert refused.value.problems[0].field in ("text", "day")
    with pytest.raises(StoreError, match="no such referral is kept"):
        store.keep_report("nobody-2", "imaging_report", "L4-5: 5 mm protrusion.")
    with pytest.raises(StoreError, match="no entry of this number is of the kind report_kept"):
        store.kept_report(2)
    assert store.kept_reports(R) == ()


def test_an_answer_of_an_earlier_form_says_so_in_lists_and_where_it_is_read(
    file_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = load_case(demo_cases_folder() / "one-disc-candidate.yaml")
    reference = case.record.id
    file_store.save_case(reference, case, expected_version=0)
    file_store.assess_and_keep(reference, as_of=DAY)
    assert file_store.list_referrals()[0].standing_name == "Candidate, no remarks"
    with monkeypatch.context() as earlier:
        earlier.setattr(answers, "NO_REMARKS", "")
        whole = AssessmentDocument.to_json
        earlier.setattr(
            AssessmentDocument,
            "to_json",
            lambda d: json.dumps({k: v for k, v in json.loads(whole(d)).items() if k != "remarks"}),
        )
        kept = file_store.assess_and_keep(reference, as_of=DAY)
    assert file_store.list_referrals()[0].standing_name == "Candidate, remarks not counted"
    assert kept.readable is None
    with pytest.raises(StoreError) as caught:
        _ = kept.document
    assert caught.value.problems[0].next_step == f"candidacy records assess {reference}"
    asked = ask_about(file_store, reference, "Treat?")
    assert "assess it again" in case_page(file_store, asked, others=False).warnings[0]
    assert "assess it again" in queue_of(file_store)[0].failing[0]
    assert "does not read" in referral_text(file_store.open_referral(reference))
