"""The Report check page: findings are decided about one by one, and only accepted ones reach the referral."""

import re

from candidacy.case.edit import with_fact
from candidacy.case.record import FactEntry
from candidacy.ui.not_counted import not_counted
from candidacy.ui.report.desk import change, new_report, reports_of, rows
from tests.ui.conftest import demo

REPORT = """MRI LUMBAR SPINE
FINDINGS:
L4-5: Disc desiccation with 4 mm central protrusion and annular fissure. No canal stenosis.
L5-S1: Possible small extrusion. Grade 3 degeneration.
IMPRESSION: Lesion in the L3 vertebral body, metastasis not excluded.
"""
VIEW = "report.page.report_check"


def _read(screen, record=None):
    page = screen(VIEW, record or demo("first-letter-only"))
    page.desk.kept["reports"] = [new_report("report", REPORT, "2026-10-01")]
    return page.run()


def _queue(page):
    """The names in the queue, from above downwards."""
    table = next(body for body in page.bodies if "c-queue" in body)
    return re.findall(r'<th scope="row">(.*?)(?: <span|</th>)', table)


def test_a_pasted_report_is_read_and_nothing_reaches_the_referral_unasked(screen):
    page = screen(VIEW, demo("first-letter-only"))
    page.at.text_area[0].set_value(REPORT)
    page.at.text_input[0].set_value("2026-10-01")
    page.press("report-read")
    assert "4 mm" in page.text
    assert "Look at first" in page.text
    assert "scale not stated" in page.text
    assert page.desk.record == demo("first-letter-only")


def test_accepted_findings_enter_with_their_words_and_can_be_undone(screen):
    page = _read(screen)
    before = page.desk.record
    page.press("all-new-0").press("take-0")
    entry = page.desk.record.discs["L4-L5"]["displacement"]
    assert entry.value == "protrusion"
    assert "protrusion" in (entry.words or "")
    assert page.desk.record.documents[entry.source].date == "2026-10-01"
    assert page.desk.record.discs["L5-S1"]["displacement"].unknown == "uncertain_in_source"
    page.press("undo")
    assert page.desk.record == before


def test_a_rejected_finding_stays_out_and_a_corrected_one_says_so(screen):
    page = _read(screen)
    page.press("all-0")
    page.tap("choice-0-L4-L5-annular_fissure", "reject")
    page.type("value-0-L4-L5-displacement_size", "5 to 6")
    page.press("take-0")
    disc = page.desk.record.discs["L4-L5"]
    assert "annular_fissure" not in disc
    assert disc["displacement_size"].between == (5, 6)
    assert disc["displacement_size"].by == "corrected by reader"
    assert "4" in disc["displacement_size"].note


def test_an_impossible_correction_is_refused_with_the_reason(screen):
    page = _read(screen)
    page.type("value-0-L4-L5-displacement_size", "900")
    assert "outside the possible range" in page.text
    page.press("all-0").press("take-0")
    assert page.desk.record.discs["L4-L5"]["displacement"].value == "protrusion", "the others went in"
    assert "displacement_size" not in page.desk.record.discs["L4-L5"], "nor the value that a person gainsaid"
    assert "its correction was refused" in page.text
    page.type("value-0-L4-L5-displacement_size", "9").press("take-0")
    assert page.desk.record.discs["L4-L5"]["displacement_size"].value == 9
    assert "its correction was refused" not in page.text


def test_a_finding_that_differs_from_the_referral_is_named_and_not_taken_as_new(screen):
    page = _read(screen, demo("one-disc-candidate"))
    page.type("value-0-L4-L5-displacement_size", "9")
    assert "differs from the referral" in page.text


def test_the_request_asks_only_for_what_the_report_lacks(screen):
    page = _read(screen)
    letter = page.at.code[0].value
    assert "Dear colleague" in letter
    assert "L5-S1" in letter
    assert "differs" not in letter


def test_many_reports_are_listed_and_one_is_chosen(screen):
    page = screen(VIEW)
    page.desk.kept["reports"] = [new_report("first", REPORT), new_report("second", "L3-4: normal.")]
    page.run()
    assert _queue(page) == ["first", "second"]
    (told,) = re.findall("([0-9]+) findings read here count only once put into the referral", page.text)
    to_decide = re.findall("([0-9]+) to decide", page.text)
    assert int(told) == sum(map(int, to_decide))
    assert len(to_decide) == 2
    page.pick("kept-report", 1)
    assert "L3-4" in page.text
    assert "4 mm" not in page.text


def test_a_file_that_cannot_be_read_is_refused_and_the_others_are_kept(screen):
    page = screen(VIEW)
    upload = page.at.get("file_uploader")[0]
    upload.set_value(
        [("ok.txt", REPORT.encode(), "text/plain"), ("scan.pdf", b"%PDF-1.4 broken", "application/pdf")]
    )
    page.run()
    assert "scan.pdf: refused" in page.text
    assert [r.name for r in page.desk.kept["reports"]] == ["ok.txt"]


def test_what_was_not_read_stands_grey_with_its_reason_and_nothing_is_lost(screen):
    page = screen(VIEW, demo("first-letter-only"))
    text = (
        "HISTORY: Old L4-5 disc herniation.\nFINDINGS:\nL4-5: Bulge, with crowding of the margin.\n\n"
        "L3-4: Crowding of the cauda equina.\n\n"
        "Incidental 4 cm left renal mass.\n\nThere is a disc extrusion."
    )
    page.desk.kept["reports"] = [new_report("report", text)]
    page.run()
    assert "Seen, outside the discs: tell someone" in page.text
    assert "kidney: mass" in page.text
    assert "which disc?" in page.text
    assert "words that no rule knows: crowding" in page.text
    shown = next(body for body in page.bodies if "c-report" in body)
    assert (
        '<mark class="unread" title="not read: words that no rule knows: crowding, margin">with crowding of the margin'
        in shown
    )
    assert '<mark class="danger"' in shown
    assert '<mark class="flag"' in shown


def test_a_refused_report_is_not_put_on_the_desk_and_says_why(screen):
    page = screen(VIEW)
    for text, reason in (
        ("L4-L5 : sans hernie discale.", "written in French"),
        ("*** ENTERED IN ERROR ***\n" + REPORT, "does not count"),
        ("MRI CERVICAL SPINE\nC5-C6: disc protrusion.", "another part of the body"),
    ):
        page.at.text_area[0].set_value(text)
        page.press("report-read")
        assert reason in page.text
        assert page.desk.kept["reports"] == []


def test_marks_stand_before_what_was_read(screen):
    page = screen(VIEW)
    page.desk.kept["reports"] = [
        new_report(
            "report", "PRELIMINARY REPORT\n" + REPORT + "ADDENDUM: L4-5 should read: L4-5 extrusion.\n"
        )
    ]
    text = page.run().text
    assert text.index("Before you read") < text.index("Look at first")
    assert "preliminary" in text
    assert "Replaced by an addendum" in text


def test_the_day_of_a_study_is_proposed_from_its_text_and_counts_once_confirmed(screen):
    page = screen(VIEW, demo("first-letter-only"))
    page.desk.kept["reports"] = [new_report("report", "Date of exam: 2026-09-30\n" + REPORT)]
    page.run()
    assert page.value("text_input", "study-day-0") == "2026-09-30"
    assert "nobody has confirmed it" in page.text
    assert page.desk.kept["reports"][0].day == ""
    page.press("all-new-0").press("take-0")
    source = page.desk.record.discs["L4-L5"]["displacement"].source
    assert page.desk.record.documents[source].date is None
    page.type("study-day-0", "soon").press("study-day-go-0")
    assert "Refused; nothing was changed" in page.text
    assert page.value("text_input", "study-day-0") == "soon"
    page.type("study-day-0", "2026-09-29").press("study-day-go-0")
    assert page.desk.kept["reports"][0].day == "2026-09-29"
    assert page.desk.record.documents[source].date == "2026-09-29"
    assert "nobody has confirmed it" not in page.text


def test_taking_findings_back_by_undo_makes_the_report_open_again(screen):
    page = _read(screen)
    page.press("all-new-0").press("take-0")
    assert page.desk.kept["reports"][0].is_taken(page.desk.record)
    assert "from report: " in page.text
    page.press("undo")
    assert not page.desk.kept["reports"][0].is_taken(page.desk.record)


def test_a_refused_correction_stays_with_its_report_when_another_is_taken_off(screen):
    page = screen(VIEW)
    page.desk.kept["reports"] = [new_report("first", "L3-4: normal."), new_report("second", REPORT)]
    page.desk.kept["report"] = 1
    page.run().type("value-1-L4-L5-displacement_size", "900")
    assert "outside the possible range" in page.text
    page.pick("kept-report", 0).press("report-drop-0")
    assert list(page.desk.drafts) == [("report 0 L4-L5", "displacement_size")]
    page.press("report-drop-0")
    assert page.desk.drafts == {}


def test_facts_stand_in_groups_what_decides_first(screen):
    page = _read(screen, demo("report-only"))
    heads = re.findall(r'class="c-group">(.*?) \((\d+)\)</h4>', " ".join(page.bodies))
    assert [name for name, _ in heads] == [
        "Decides now",
        "Differs from the referral",
        "Unclear in the report",
        "The rest",
    ]
    bodies = " ".join(page.bodies)
    differs = bodies[bodies.index("Differs from the referral (") : bodies.index("Unclear in the report (")]
    assert differs.count("c-differs") == differs.count('class="c-finding"') == int(heads[1][1])
    unclear = bodies[bodies.index("Unclear in the report (") : bodies.index("The rest (")]
    assert "Possible small extrusion" in unclear


def test_a_finding_leads_to_its_words_and_the_words_to_the_finding(screen):
    page = _read(screen)
    bodies = " ".join(page.bodies)
    there = re.findall(r'<a id="(words-0-\d+)" href="#(finding-0-\d+)">(.*?)</a>', bodies)
    finding = dict(re.findall(r'id="(finding-0-\d+)".*?class="c-words" href="#(words-0-\d+)"', bodies))
    size = next((words, target) for words, target, text in there if text == "4 mm")
    assert finding[size[1]] == size[0]
    ids = re.findall(r' id="([^"]+)"', bodies)
    assert len(ids) == len(set(ids))
    assert {target for _, target, _ in there} | set(finding.values()) <= set(ids)


def test_what_the_referral_cannot_take_stays_with_its_reason_and_the_rest_goes_in(screen):
    record = with_fact(demo("first-letter-only"), "L4-L5", "modified_pfirrmann_grade", FactEntry(value=5))
    page = screen(VIEW, record)
    text = "MRI LUMBAR SPINE\nFINDINGS:\nL4-5: Pfirrmann grade III. Annular fissure. 4 mm protrusion.\n"
    page.desk.kept["reports"] = [new_report("report", text, "2026-10-01")]
    page.run().press("all-0").press("take-0")
    put = page.desk.record.discs["L4-L5"]
    assert put["displacement_size"].value == 4
    assert put["annular_fissure"].value is True
    assert "pfirrmann_grade" not in put
    assert "Not put into the referral" in page.text
    assert "1 stayed here" in page.text
    page.tap("choice-0-L4-L5-pfirrmann_grade", "reject")
    assert "Not put into the referral" not in page.text


def test_a_report_that_leaves_open_what_the_referral_holds_replaces_nothing(screen):
    page = screen(VIEW, demo("one-disc-candidate"))
    held = page.desk.record.discs["L4-L5"]["displacement"]
    text = (
        "MRI LUMBAR SPINE\nFINDINGS:\nL4-5: Possible small extrusion. Annular fissure.\nL2-3: 2 mm bulge.\n"
    )
    page.desk.kept["reports"] = [new_report("report", text, "2026-10-01")]
    page.run().press("all-0").press("take-0")
    assert page.desk.record.discs["L4-L5"]["displacement"] == held
    assert page.desk.record.discs["L2-L3"]["displacement"].value == "bulge"
    assert "the report leaves this open" in page.text
    assert "1 stayed here" in page.text


def test_a_conflict_of_the_referral_is_shown_beside_what_a_report_says(screen):
    """It is settled by a person alone: a report that states a value is not new to it."""
    conflict = FactEntry(
        unknown="conflicting", note='sources conflict (documents differ): a "none"; b "bulge"'
    )
    page = screen(VIEW, with_fact(demo("one-disc-candidate"), "L4-L5", "displacement", conflict))
    report = new_report("report", "MRI LUMBAR SPINE\nFINDINGS:\nL4-5: Bulge.\n", "2026-10-01")
    states = {row.place: row.state for row in rows(page.desk.record, report)}
    assert states["L4-L5", "displacement"] == "differs"
    page.desk.kept["reports"] = [report]
    assert "differs from the referral" in page.run().text


def test_a_denial_is_not_new_to_a_danger_that_was_left_open(screen):
    """Taking over all that is new would settle it."""
    doubt = FactEntry(unknown="uncertain_in_source", words="possible discitis")
    page = screen(VIEW, with_fact(demo("one-disc-candidate"), "patient", "infection_sign_on_imaging", doubt))
    told = {}
    for said in ("No discitis.", "L3-4: Discitis."):
        report = new_report("report", f"MRI LUMBAR SPINE\nFINDINGS:\n{said}\n", "2026-10-01")
        states = {row.place: row.state for row in rows(page.desk.record, report)}
        told[said] = states["patient", "infection_sign_on_imaging"]
    assert told == {"No discitis.": "differs", "L3-4: Discitis.": "new"}


def test_an_unticked_point_is_not_in_the_letter_and_no_point_is_no_letter(screen):
    page = _read(screen)
    boxes = [box for box in page.at.checkbox if box.key.startswith("ask-0-")]
    assert len(boxes) > 1
    numbered = re.findall(r"^\d+\. (.*)", page.at.code[0].value, re.MULTILINE)
    assert len(numbered) == len(boxes)
    boxes[0].uncheck()
    page.run()
    left = re.findall(r"^\d+\. (.*)", page.at.code[0].value, re.MULTILINE)
    assert left == numbered[1:]
    page.pick("kept-rules", page.desk.rules)
    assert re.findall(r"^\d+\. (.*)", page.at.code[0].value, re.MULTILINE) == left
    for key in [box.key for box in page.at.checkbox if box.key.startswith("ask-0-") and box.value]:
        next(box for box in page.at.checkbox if box.key == key).uncheck()
        page.run()
    assert not page.at.code
    assert "there is no letter" in page.text
    assert "Nothing that this report lacks" not in page.text


def test_the_queue_puts_first_what_needs_a_person_and_leads_on(screen):
    page = screen(VIEW, demo("first-letter-only"))
    page.desk.kept["reports"] = [
        new_report("plain", "MRI LUMBAR SPINE\nL3-4: 2 mm bulge."),
        new_report("flagged", REPORT),
        new_report("last", "MRI LUMBAR SPINE\nL2-3: 3 mm bulge."),
    ]
    page.desk.kept["report"] = 0
    page.run()
    assert _queue(page) == ["flagged", "plain", "last"]
    page.press("all-0").press("take-0")
    assert _queue(page) == ["flagged", "last", "plain"]
    assert "in the referral" in page.text
    page.press("report-next")
    assert page.desk.kept["report"] == 1


def test_a_report_of_another_patient_is_told_first_and_nothing_of_it_is_put_until_a_person_says_whose_it_is(
    screen,
):
    record = with_fact(demo("one-disc-candidate"), "patient", "sex", FactEntry(value="female"))
    page = screen(VIEW, record)
    page.desk.kept["reports"] = [
        new_report("a.txt", "MRI lumbar spine. Sex: M. L5-S1: Protrusion of 4 mm.", "2026-09-14")
    ]
    page.run().press("all-0").press("take-0")
    assert "Whose report is this?" in page.text
    assert "tells of another patient" in page.text
    assert page.desk.record == record
    change(page.desk, 0, seen=True)  # that its signs were looked at says nothing of whose it is
    assert "tells of another patient" in not_counted(page.desk)[-1].words
    page.run().press("ours-0").press("take-0")
    assert page.desk.record != record
    assert "of this patient as a person said" in page.desk.steps[-1].label


def test_once_a_report_is_put_another_one_is_held_against_it(screen):
    page = screen(VIEW)
    texts = ("Sex: F. Age: 41", "Sex: M. Age: 67")
    page.desk.kept["reports"] = [
        new_report(f"{n}.txt", f"MRI lumbar spine. {who}. L4-L5: Protrusion of 4 mm.", "2026-09-14")
        for n, who in enumerate(texts)
    ]
    page.run()
    assert "Whose report" not in page.text
    page.press("all-0").press("take-0")
    page.desk.kept["report"] = 1
    page.run()
    assert "document: Sex: M / Age: 67; 0.txt: female, born 1984 to 1985" in page.text
    page.press("undo")
    assert "Whose report" not in page.text


def test_the_day_of_one_pasted_text_is_not_that_of_the_next_and_days_typed_for_other_reports_stay(screen):
    page = screen(VIEW)
    for number, day in enumerate(("2026-09-14", "")):
        page._find("text_area", "kept-report-text").set_value(
            f"MRI lumbar spine. L4-L5: Protrusion of {number + 3} mm."
        )
        if day:
            page._find("text_input", "kept-report-day").set_value(day)
        page.press("report-read")
    assert [report.day for report in reports_of(page.desk)] == ["2026-09-14", ""]
    page.desk.kept["report"] = 0
    page.run().type("study-day-0", "2026-09-15")
    page.desk.kept["report"] = 1
    page.run().type("study-day-1", "2026-09-20").press("study-day-go-1")
    page.desk.kept["report"] = 0
    assert page.run().value("text_input", "study-day-0") == "2026-09-15"
