"""Notes and letters on the Report check page: read as what they are, each fact with its words, put in as `--into` does."""

import json
from pathlib import Path

import pytest

from candidacy.case.edit import empty_record, facts_of
from candidacy.case.record import Document
from candidacy.foundation.errors import ReportError
from candidacy.reading.as_kind import facts_of_note, placed, written_day
from candidacy.reading.dangers import note_of
from candidacy.reading.merge import merge
from candidacy.ui.desk import Desk
from candidacy.ui.kept.plain import from_plain, to_plain
from candidacy.ui.not_counted import not_counted
from candidacy.ui.report.adding import Unsettled
from candidacy.ui.report.desk import change, date_report, look_at, new_report, reports_of, rows
from candidacy.ui.report.marked_text import first_pieces, marked
from candidacy.ui.report.put import put
from candidacy.ui.report.queue import line_of
from tests.reading.test_messages import message
from tests.ui.conftest import TODAY, demo

VIEW = "report.page.report_check"
GOLD = Path(__file__).parents[1] / "reading" / "data"
LETTER = """March 14, 2026

Dear Colleague,

Thank you for seeing this 47-year-old female with low back pain for 18 months. She denies fever or chills.
She has saddle numbness. She takes naproxen 500 mg twice daily.

Sincerely,
Family Medicine
"""
NOTE = """PROVOCATION DISCOGRAPHY
Date of procedure: 2026-03-02
L3-4: opening pressure 10 psi, no pain at 50 psi.
L4-5: opening pressure 12 psi, exact pain 8/10 at 38 psi. Grade 4 fissure, no leak.
The needle whistled.
"""


def _gold(name: str) -> list[dict]:
    return [json.loads(line) for line in (GOLD / name).read_text("utf-8").splitlines()]


def _documents() -> list[tuple[str, str]]:
    found = [(row["text"], "letter") for row in _gold("letters_gold.jsonl")]
    return found + [(row["text"], row.get("kind", "discography")) for row in _gold("note_gold.jsonl")]


def _desk(text: str, kind: str = "", record=None) -> Desk:
    desk = Desk(today=lambda: TODAY)
    if record is not None:
        desk.open(record, "opened for a test")
    desk.kept["reports"] = [new_report("document", text, kind=kind)]
    return desk


def _accept(desk: Desk, *but: tuple[str, str]) -> None:
    report = reports_of(desk)[0]
    places = [row.place for row in rows(desk.record, report)]
    change(desk, 0, choices={p: "reject" if p in but else "accept" for p in places})


@pytest.mark.parametrize(("text", "kind"), _documents())
def test_all_of_a_document_accepted_is_what_the_command_puts_into_a_case(text, kind):
    desk = _desk(text, kind)
    report = reports_of(desk)[0]
    day = written_day(report.reading)
    change(desk, 0, day=day)
    _accept(desk)
    done = put(desk, 0)
    room, facts = placed(empty_record(), kind, facts_of_note(report.reading, kind, day))
    note = note_of(report.reading.text, report.reading.unread)
    document = Document(kind=reports_of(desk)[0].document_kind, date=day or None, title="document", note=note)
    wanted = merge(room, facts, kind, document).record
    assert desk.record.plain() == wanted.plain()
    assert (done.written, done.left) == (len(facts), 0)
    again = rows(desk.record, reports_of(desk)[0])
    assert {row.state for row in again} <= {"same"}, "put once, nothing is new"


def test_what_was_not_read_and_may_tell_of_danger_goes_with_the_record_until_it_is_looked_at():
    desk = _desk("L4-5: 4 mm protrusion. The endplates are moth-eaten beside fluid.", "imaging")
    _accept(desk)
    put(desk, 0)
    key = reports_of(desk)[0].taken
    assert "moth-eaten" in desk.record.documents[key].note
    assert "danger_in_text" in desk.case().facts.patient
    look_at(desk, 0)
    assert desk.record.documents[key].note == ""
    assert "danger_in_text" not in desk.case().facts.patient


@pytest.mark.parametrize(
    ("text", "kind"),
    [*_documents(), *((row["text"], "imaging") for row in _gold("dictation_gold_3.jsonl")[:20])],
)
def test_the_marked_text_is_the_text_and_every_fact_with_words_has_a_piece(text, kind):
    report = new_report("document", text, kind=kind)
    facts = rows(empty_record(), report)
    assert report.reading.text == text, "spans of the reading are places in the text that is shown"
    pieces = marked(report, facts)
    assert "".join(piece.text for piece in pieces) == text
    leads = first_pieces(pieces)
    for at, row in enumerate(facts):
        assert (at in leads) == bool(row.fact.spans)
        if row.fact.spans:
            assert at in pieces[leads[at]].facts


def test_a_letter_is_read_as_one_and_each_fact_waits_with_its_words(screen):
    page = screen(VIEW, demo("report-only"))
    before = page.desk.record
    page.at.text_area[0].set_value(LETTER)
    page.press("report-read")
    assert "Referral letter" in " ".join(h.value for h in page.at.subheader)
    assert "“She denies fever”" in page.text
    assert "medicine 1: naproxen" in page.text
    assert page.desk.record == before
    page.tap("choice-0-patient-fever", "accept").tap("choice-0-patient-saddle_numbness", "accept")
    page.type("study-day-0", "2026-03-14").press("study-day-go-0").press("take-0")
    fever = page.desk.record.patient["fever"]
    assert (fever.value, fever.words) == (False, "She denies fever")
    document = page.desk.record.documents[fever.source]
    assert (document.kind, document.date) == ("referral_letter", "2026-03-14")
    assert page.desk.record.medicines is None, "what nobody accepted stays out, and makes no empty entry"
    page.press("undo")
    assert page.desk.record == before


def test_a_note_is_read_as_one_and_asks_its_author(screen):
    page = screen(VIEW, demo("report-only"))
    page.at.text_area[0].set_value(NOTE)
    page.press("report-read")
    assert "The needle whistled" in page.text
    page.press("all-new-0").press("take-0")
    disc = page.desk.record.discs["L4-L5"]
    assert disc["discography_opening_pressure"].value == 12
    assert page.desk.record.documents[disc["discography_concordance"].source].kind == "discography_record"
    assert page.desk.record.patient["discography_date"].value == "2026-03-02"
    assert "Dear colleague" in page.at.code[0].value


def test_a_sign_of_danger_in_a_letter_is_not_counted_until_it_is_in_or_looked_at():
    desk = _desk(LETTER, record=demo("report-only"))
    (line,) = [line for line in not_counted(desk) if line.kind == "report"]
    assert "saddle numbness: yes" in line.words
    _accept(desk)
    put(desk, 0)
    assert [line for line in not_counted(desk) if line.kind == "report"] == []


@pytest.mark.parametrize(
    ("text", "danger"),
    [
        (
            LETTER.replace(
                "She has saddle numbness.", "Saddle numbness was perhaps never so clear to her cousin."
            ),
            "saddle",
        ),
        (LETTER.replace("She has saddle numbness.", "The warfarin story is a long one."), "warfarin"),
        ("FINDINGS:\nThe disc frobs at L4-5.\n\nTECHNIQUE: T1. Marrow metastasis in L2.", "tumour"),
    ],
)
def test_a_word_of_danger_in_what_was_not_read_is_not_counted_until_it_is_looked_at(text, danger):
    desk = _desk(text, record=demo("report-only"))
    (line,) = [line for line in not_counted(desk) if line.kind == "report"]
    assert "not read, and holds a word of: " in line.words
    assert danger in line.words
    assert line_of(reports_of(desk)[0], desk.record, ()).signs
    change(desk, 0, seen=True)
    assert [line for line in not_counted(desk) if line.kind == "report"] == []


def test_an_illness_of_the_family_is_no_danger_of_the_patient():
    text = LETTER.replace("She has saddle numbness.", "Her mother had breast cancer.")
    assert [line for line in not_counted(_desk(text)) if line.kind == "report"] == []


def test_a_fact_of_an_entry_that_nobody_named_stays_with_the_reason():
    desk = _desk(LETTER)
    _accept(desk, ("medicines[1]", "medicine_name"), ("medicines[1]", "medicine_agent"))
    done = put(desk, 0)
    report = reports_of(desk)[0]
    assert done.left == len(report.left) > 0
    assert {subject for subject, _ in report.left} == {"medicines[1]"}
    assert all("what it belongs to is not accepted" in p.message for ps in report.left.values() for p in ps)
    assert desk.record.medicines is None
    change(desk, 0, choices={**report.choices, ("medicines[1]", "medicine_agent"): "accept"})
    assert put(desk, 0).left == 0
    assert facts_of(desk.record, "medicines[1]")["medicine_dose"].value == 500
    assert len(desk.record.documents) == 1, (
        "one report is one document, however often facts are taken from it"
    )


def test_a_letter_is_read_again_when_its_day_is_given():
    desk = _desk(LETTER.replace("March 14, 2026\n", ""), "letter")
    assert "pain_duration" not in {row.place[1] for row in rows(desk.record, reports_of(desk)[0])}
    date_report(desk, 0, "2026-03-14")
    found = {row.place[1]: row.fact.entry for row in rows(desk.record, reports_of(desk)[0])}
    assert found["pain_duration"].value == 18
    assert "2026-03-14" in found["pain_duration"].note


def test_a_document_of_no_telling_kind_waits_for_a_person(screen):
    page = screen(VIEW)
    page.at.text_area[0].set_value("She came in March and went home happy.")
    page.press("report-read")
    assert page.desk.kept["reports"] == []
    assert [type(u) for u in page.desk.kept["unsettled"]] == [Unsettled]
    assert "what kind of document is it?" in page.text
    page.press("settle-0-letter")
    assert page.desk.kept["reports"][0].kind == "letter"
    assert page.desk.kept["unsettled"] == []


def test_another_kind_may_be_chosen_and_drops_the_former_decisions(screen):
    page = screen(VIEW)
    page.desk.kept["reports"] = [new_report("report", "MRI LUMBAR SPINE\nL4-5: 4 mm protrusion.\n")]
    page.run().press("all-0")
    assert page.desk.kept["reports"][0].choices
    page.pick("kind-0", "letter")
    report = page.desk.kept["reports"][0]
    assert (report.kind, report.why, dict(report.choices)) == ("letter", "chosen by you", {})


def test_a_withdrawn_letter_is_refused():
    with pytest.raises(ReportError):
        new_report("letter", "*** ENTERED IN ERROR ***\n" + LETTER)


def test_the_same_text_is_in_the_queue_once(screen):
    page = screen(VIEW)
    for _ in range(2):
        page.at.text_area[0].set_value(LETTER)
        page.press("report-read")
    assert len(page.desk.kept["reports"]) == 1
    assert "in the queue already" in page.text


@pytest.mark.parametrize(
    ("text", "kind"), [(LETTER, "letter"), (NOTE, "discography"), ("L4-5: 4 mm bulge.", "imaging")]
)
def test_a_document_of_any_kind_is_kept_as_it_is_with_its_decisions_and_reasons(text, kind):
    desk = _desk(text, kind)
    _accept(desk, ("medicines[1]", "medicine_name"), ("medicines[1]", "medicine_agent"))
    put(desk, 0)
    change(desk, 0, unticked=frozenset({("pars_defect",)}))
    waiting = Unsettled(reports_of(desk)[0].sent, "its words fit none")
    kept = json.loads(json.dumps(to_plain([*reports_of(desk), waiting])))
    assert from_plain(kept) == [*reports_of(desk), waiting]


def test_an_earlier_version_of_a_report_is_told_and_not_dropped(screen):
    first = message(("L4-5: bulge.", "P"), obr="P", changed="20260301")
    last = message(("L4-5: bulge, final.", "F"), changed="20260302")
    page = screen(VIEW)
    page.at.get("file_uploader")[0].set_value([("m.hl7", (first + last).encode(), "text/plain")])
    page.run()
    assert [r.sent.status for r in page.desk.kept["reports"]] == ["final"]
    assert "an earlier version; m.hl7#2 holds in its place" in page.text
