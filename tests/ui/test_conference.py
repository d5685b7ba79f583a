"""Work list and Conference: how a store is opened, what each person sees, what is refused, and that nothing is lost."""

import pytest

pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")

from candidacy.case.load import case_from_record
from candidacy.conference.deciding import Said, decide, rate
from candidacy.conference.queue import ask_about
from candidacy.records.store import open_store
from candidacy.ui.report.desk import new_report
from tests.conference.conftest import DAY, HEAVY, OLDER, made_seat, seat, seat_file  # noqa: F401
from tests.ui.conftest import demo

SEAT, WORK = "conference.page.conference", "work_list.work_list"


@pytest.fixture
def named(monkeypatch, seat_file):  # noqa: F811
    monkeypatch.setenv("CANDIDACY_STORE", str(seat_file))
    monkeypatch.setenv("CANDIDACY_PERSON", "physician-1")


@pytest.mark.parametrize("view", [SEAT, WORK])
def test_without_a_store_both_pages_say_how_one_is_opened(screen, monkeypatch, view):
    monkeypatch.delenv("CANDIDACY_STORE", raising=False)
    page = screen(view)
    assert "candidacy ui --store clinic.sqlite" in page.text
    assert "candidacy demo --store" in page.text


@pytest.mark.parametrize("view", [SEAT, WORK])
def test_whom_the_store_does_not_know_sees_nothing_of_it(screen, named, monkeypatch, view):
    monkeypatch.setenv("CANDIDACY_PERSON", "stranger-1")
    page = screen(view)
    assert "stranger-1 is not known to this store" in page.text
    assert HEAVY not in page.text
    page.type("store-person-field", "Jane Doe")
    assert "this is no local id of a person" in page.text
    page.type("store-person-field", "surgeon-1")
    assert "not known" not in page.text


def test_a_store_that_is_gone_is_told_and_is_not_made(screen, named, monkeypatch, tmp_path):
    gone = tmp_path / "gone.sqlite"
    monkeypatch.setenv("CANDIDACY_STORE", str(gone))
    assert "E701" in screen(SEAT).text
    assert not gone.exists()


def test_looking_twice_is_one_reading_and_what_others_rated_stays_hidden(screen, named, seat):  # noqa: F811
    rate(seat.of("surgeon-1"), seat.item, 2)
    page = screen(SEAT, **{"seat-view": "Case", "seat-item": seat.item})
    assert "Treat in spite of the weight?" in page.text
    assert "limit 35 kg/m2" in page.text
    assert "Awaited: physician-1, radiologist-1" in page.text
    assert "ratings;" not in page.text
    before = seat.entries()
    page.run()
    assert seat.entries() == before
    page.type("store-person-field", "surgeon-1")
    assert "You rated 2" in page.text
    page.type("store-person-field", "radiologist-1")
    assert "You rated" not in page.text
    page.tap(f"seat-rating-{seat.item}-1-radiologist-1", 8).press("seat-rate")
    page.type("store-person-field", "physician-1")
    page.tap(f"seat-rating-{seat.item}-1-physician-1", 8).press("seat-rate")
    assert "median 8 of 3 ratings" in page.text
    assert not page.has("button", "seat-rate")


def test_nothing_is_decided_that_nobody_chose_and_a_refused_decision_stays_in_its_form(screen, named, seat):  # noqa: F811
    page = screen(SEAT, **{"seat-view": "Case", "seat-item": seat.item})
    page.press("seat-sign")
    assert page.text.count("nobody chose it yet") == 3
    key = f"seat-d-{seat.item}-0"
    page.tap(f"{key}-decision", "treat")
    page.pick(f"{key}-responsible", "physician-1").pick(f"{key}-meaning", "approval")
    page.press("seat-sign")
    assert "a decision needs its reason" in page.text
    assert page.value("selectbox", f"{key}-responsible") == "physician-1"
    page._find("text_area", f"{key}-reason").set_value("Longer needles reach the disc.")
    page._find("multiselect", f"{key}-discs").set_value(["L4-L5"])
    page._find("multiselect", f"{key}-dissent").set_value(["surgeon-1"])
    page.run().type(f"{key}-dissent-surgeon-1", "the weight comes first")
    page.press("seat-sign")
    (decision,) = seat.store.decisions(HEAVY)
    assert decision.said.dissent[0].reason == "the weight comes first"
    assert (decision.said.discs, decision.said.meaning, decision.said.version) == (["L4-L5"], "approval", 1)
    assert "treat L4-L5" in page.text


def test_a_case_changed_meanwhile_cannot_be_decided_from_the_old_page(screen, named, seat):  # noqa: F811
    page = screen(SEAT, **{"seat-view": "Case", "seat-item": seat.item})
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 90, unit="kg"), expected_version=1, reason="weighed"
    )
    key = f"seat-d-{seat.item}-0"
    page.tap(f"{key}-decision", "not").pick(f"{key}-responsible", "physician-1").pick(
        f"{key}-meaning", "approval"
    )
    page._find("text_area", f"{key}-reason").set_value("Too heavy.")
    page.press("seat-sign")
    assert "changed since it was looked at" in page.text
    assert "Something was entered since this was read" in page.text
    assert not seat.store.decisions(HEAVY)
    page.press("seat-again")
    assert "assess it again" in page.text
    assert "Something was entered" not in page.text
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    page.press("seat-again")
    seat.store.assess_and_keep(HEAVY, "wide_screen", as_of=DAY)
    page.press("seat-sign")
    assert "assessed again since it was looked at" in page.text
    assert not seat.store.decisions(HEAVY)


def test_the_work_list_filters_and_opens_a_referral_where_it_was_left(screen, named, seat):  # noqa: F811
    page = screen(WORK)
    table = page.at.dataframe[0].value
    assert set(table["referral"]) == {f"{each} (invented)" for each in (HEAVY, OLDER, "one-disc-candidate")}
    page._find("multiselect", "kept-work-standing").set_value(["borderline"])
    page.run()
    assert len(page.at.dataframe[0].value) == 2
    page.pick("work-referral-None", OLDER).press("work-open")
    assert page.desk.record.id == OLDER
    page.desk.take(page.desk.case().with_fact("body_weight", 71, unit="kg").record, "weighed")
    page.run().pick("work-referral-None", HEAVY).press("work-open")
    assert page.desk.record.id == HEAVY
    page.pick("work-referral-None", OLDER).press("work-open")
    assert "Your unfinished work" in page.text
    assert page.desk.entry("patient", "body_weight").value == 71
    page.press("work-save-go")
    assert "a correction needs its reason" in page.text
    page.type("work-why", "weighed at the visit").press("work-save-go")
    assert seat.store.versions(OLDER)[-1].reason == "weighed at the visit"


def test_who_saves_second_is_told_and_loses_nothing(screen, named, seat, seat_file):  # noqa: F811
    page = screen(WORK)
    page.pick("work-referral-None", OLDER).press("work-open")
    mine = page.desk.case().with_fact("body_weight", 71, unit="kg").record
    with open_store(seat_file, "physician-1") as other:
        theirs = other.load_case(OLDER).with_fact("body_weight", 75, unit="kg")
        other.save_case(OLDER, theirs, expected_version=1, reason="weighed by another")
    page.desk.take(mine, "weighed")
    page.run().type("work-why", "weighed").press("work-save-go")
    assert "somebody saved this referral meanwhile" in page.text
    assert "weighed by another" in page.text
    assert page.desk.record == mine
    assert seat.store.draft(OLDER) is not None
    page.press("work-newest")
    assert page.desk.case().digest == theirs.digest
    page.desk.undo()
    assert page.desk.record == mine
    page.run().type("work-why", "weighed").press("work-save-go")  # undone, it stands on the old version again
    assert "somebody saved this referral meanwhile" in page.text
    assert seat.store.versions(OLDER)[-1].reason == "weighed by another"


def test_another_referral_of_the_same_reference_does_not_stand_on_the_kept_one(screen, named, seat):  # noqa: F811
    page = screen(WORK)
    page.pick("work-referral-None", OLDER).press("work-open")
    stranger = page.desk.case().with_fact("age", 33, unit="years").record
    page.desk.open(stranger, "opened a file of the same reference")
    page.run().type("work-why", "seen").press("work-save-go")
    assert "somebody saved this referral meanwhile" in page.text
    assert len(seat.store.versions(OLDER)) == 1


def test_an_answer_that_is_kept_says_when_the_desk_differs(screen, named, seat):  # noqa: F811
    page = screen(WORK)
    page.pick("work-referral-None", OLDER).press("work-open").press("work-assess")
    assert "kept as entry" in page.text
    assert "what was changed on the desk since" not in page.text
    page.desk.take(page.desk.case().with_fact("body_weight", 71, unit="kg").record, "weighed")
    assert "what was changed on the desk since is not in it" in page.press("work-assess").text


def test_an_open_meeting_takes_members_and_changes_and_makes_minutes(screen, named, seat):  # noqa: F811
    page = screen(SEAT, **{"seat-view": "Meetings"})
    assert "no number is published" in page.text
    page.pick("seat-member", "surgeon-1")
    interest = f"seat-interest-{seat.meeting}-surgeon-1"
    page._find("text_area", interest).set_value("took part in a study until 2025")
    next(b for b in page.at.button if b.label == "Enter this member").click()
    page.run()
    assert "took part in a study until 2025" in page.text
    # somebody else says more while this form is open, and the page is drawn again: that is not overwritten unseen
    seat.store.set_member(seat.meeting, "surgeon-1", "spine surgeon", interest="owns shares")
    page.run()
    page._find("text_area", interest).set_value("none")
    next(b for b in page.at.button if b.label == "Enter this member").click()
    page.run()
    assert "said something else of this member meanwhile" in page.text
    assert seat.store.meetings()[0].members[-1].interest == "owns shares"
    # what stands in the form of one meeting is not entered in another
    other = seat.store.set_meeting("2026-11-20", "Earlier", quorum=2)
    page.run()
    page.pick("kept-seat-meeting", other)
    assert "nobody; quorum NOT met" in page.text
    assert page.value("text_area", f"seat-interest-{other}-surgeon-1") == ""
    page.pick("kept-seat-meeting", seat.meeting)
    page.press("seat-minutes-show")
    assert "declared interest: owns shares" in " ".join(page.text.split())
    seat.store.set_member(seat.meeting, "surgeon-1", "spine surgeon", interest="sold them")
    page.run()
    assert "changed since they were shown" in page.text  # no minutes of before stand there
    assert "declared interest: owns shares" not in " ".join(page.text.split())
    page.press("seat-end")
    assert seat.store.meetings()[0].state == "closed"
    page.press("seat-end")
    assert "needs its reason" in page.text
    # an open page does not open a meeting again that somebody ended
    seat.store.set_meeting(
        "2026-11-26", "Disc conference", quorum=2, meeting=seat.meeting, why="one more case"
    )
    page.run()
    page.type(f"seat-quorum-{seat.meeting}", "3").type(f"seat-why-{seat.meeting}", "as agreed")
    page._find("button", "seat-quorum-go").click()
    seat.store.set_meeting("2026-11-26", "Disc conference", quorum=2, state="closed", meeting=seat.meeting)
    page.run()
    assert "somebody changed this meeting" in page.text
    assert (seat.store.meetings()[0].state, seat.store.meetings()[0].quorum) == ("closed", 2)
    page.pick("kept-seat-meeting", 0)
    page.type("seat-new-day", "2026-12-08").type("seat-new-title", "Disc conference").type(
        "seat-new-quorum", "many"
    )
    page.press("seat-new-go")
    assert "the quorum is a number of members" in page.text
    page.type("seat-new-quorum", "3").press("seat-new-go")
    assert [m.held_on for m in seat.store.meetings()] == ["2026-12-08", "2026-11-26", "2026-11-20"]


def test_the_queue_is_ordered_taken_and_withdrawn_by_hand(screen, named, seat):  # noqa: F811
    ask_about(seat.store, "one-disc-candidate", "Both discs?")
    page = screen(SEAT)
    page.pick("seat-ask-reference", OLDER).press("seat-ask-go")
    assert "Refused" in page.text  # without a question
    page.type("seat-ask-question", "Treat at this age?").press("seat-ask-go")
    first, second = [item.seq for item in seat.store.items(meeting=0)]
    page.press("seat-queue-down")
    assert [item.seq for item in seat.store.items(meeting=0)] == [second, first]
    page.press("seat-withdraw-go")
    assert "a withdrawal needs its reason" in page.text
    page.type("seat-withdraw-why", "asked twice").press("seat-withdraw-go")
    assert len(seat.store.items(meeting=0, states=("queued",))) == 1
    page.press("seat-queue-take")
    assert page.desk.kept["seat-view"] == "Case"
    assert "Rating of physician-1, round 1" in [g.label for g in page.at.get("button_group")]


def test_a_rated_and_decided_case_shows_both(screen, named, seat):  # noqa: F811
    for who in ("physician-1", "surgeon-1", "radiologist-1"):
        rate(seat.of(who), seat.item, 7)
    decide(
        seat.store,
        seat.item,
        Said("not", "Too heavy.", "radiologist-1", dissent=(("surgeon-1", "no"),)),
        version=1,
    )
    page = screen(SEAT, **{"seat-view": "Case", "seat-item": seat.item})
    assert "do not treat" in page.text
    assert "Dissent surgeon-1: no" in page.text
    later = ask_about(seat.store, HEAVY, "Again?").seq
    again = screen(SEAT, **{"seat-view": "Case", "seat-item": later})
    assert "because Too heavy.; dissent: surgeon-1: no; responsible: radiologist-1" in " ".join(
        again.text.split()
    )
    assert "median 7 of 3 ratings" in page.text


def test_the_day_tells_a_kept_decision_whatever_a_person_names(screen, named, seat):  # noqa: F811
    def day(conference: str = ""):
        return screen(
            "day.page.the_day",
            demo(HEAVY),
            day={"discs": ["L4-L5"], "on": "2026-12-10", "conference": conference},
        )

    assert "no decision of a conference is known here" in day().text
    assert "Decision to treat that is known here: told by telephone" in day("told by telephone").text
    sign = seat.store.sign
    treat = sign(
        HEAVY,
        "treat",
        "approval",
        "It is borne.",
        responsible="physician-1",
        expected_version=1,
        discs=["L4-L5"],
    )
    alike = case_from_record(demo(HEAVY).model_copy(update={"id": f"{HEAVY}-2"}))
    seat.store.save_case(f"{HEAVY}-2", alike, expected_version=0)  # begins alike, and was changed later
    before = seat.entries()
    for other in ("plan.page.plan_page", "letters.page.letters"):
        assert (
            f"A signed decision on this referral is kept: treat (entry {treat.seq})"
            in screen(other, demo(HEAVY)).text
        )
        changed = screen(other, demo(HEAVY).model_copy(update={"note": "rang twice"})).text
        assert "The record used here differs from version 1, on which that decision was made." in changed
    assert seat.entries() == before
    page = day()
    assert f"Decision to treat that is known here: entry {treat.seq} " in page.text
    page.run()
    assert seat.entries() == before + 1  # drawn twice, read once
    sign(HEAVY, "not", "approval", "Changed mind.", responsible="physician-1", expected_version=1)
    assert "the last decision is not to treat" in day("told by telephone").text


def test_a_letter_is_kept_from_its_page_and_not_of_a_changed_record(screen, named, seat):  # noqa: F811
    page = screen("letters.page.letters", demo(HEAVY)).press("letter-keep")
    assert "with version 1 of heavy-patient-for-conference" in page.text
    (kept,) = seat.store.open_referral(HEAVY).letters
    assert "Reply about your referral" in kept.said.text
    changed = demo(HEAVY).model_copy(update={"note": "rang twice"})
    assert "drafted from another record" in screen("letters.page.letters", changed).press("letter-keep").text


def test_kept_letters_are_read_as_text_where_their_referral_is_open_and_only_when_asked(screen, named, seat):  # noqa: F811
    record = demo(HEAVY)
    digest = case_from_record(record).digest
    seat.store.keep_letter(
        HEAVY, "reply", "Dear <b>all</b>\n<script>alert(1)</script>\x1b[2J", record_digest=digest
    )
    before = seat.entries()
    page = screen("letters.page.letters", record)
    assert "Dear" not in page.text
    assert seat.entries() == before
    page.press("kept-letters-go").run()
    assert "Dear <b>all</b> <script>alert(1)</script>\ufffd[2J" in page.text
    assert "Dear &lt;b&gt;all&lt;/b&gt;\n&lt;script&gt;alert(1)&lt;/script&gt;\ufffd[2J" in " ".join(
        page.bodies
    )
    assert "by physician-1 at" in page.text
    assert "another record than the one that is open" not in page.text
    assert seat.entries() == before + 1
    assert not screen("letters.page.letters", demo("pregnant")).has("button", "kept-letters-go")
    changed = screen("letters.page.letters", record.model_copy(update={"note": "rang twice"})).press(
        "kept-letters-go"
    )
    assert "another record than the one that is open" in changed.text


def test_a_report_is_kept_from_its_page_read_when_asked_and_put_on_the_desk_again(screen, named, seat):  # noqa: F811
    text = "MRI LUMBAR SPINE\nL4-5: 9 mm protrusion. Modic type 1.\n<b>End</b> of report.\x1b[2J\n"
    page = screen("report.page.report_check", demo(HEAVY))
    assert page.has("button", "kept-reports-go")
    page.desk.kept["reports"] = [new_report("mri", text)]
    page.run()
    page.tap("choice-0-L4-L5-displacement_size", "accept").tap("choice-0-L4-L5-modic_type", "reject")
    page.press("report-keep-0")
    assert f"with {HEAVY}" in page.text
    (kept,) = seat.store.kept_reports(HEAVY)
    assert (kept.said.kind, kept.said.text) == ("imaging_report", text)
    assert kept.said.accepted == ["displacement size of L4-L5: 9 mm"]
    assert [words.partition(":")[0] for words in kept.said.refused] == ["Modic type of L4-L5"]
    before = seat.entries()
    page = screen("report.page.report_check", demo(HEAVY))
    assert "protrusion" not in page.text
    assert seat.entries() == before
    page.press("kept-reports-go").run()
    assert seat.entries() == before + 1
    assert "&lt;b&gt;End&lt;/b&gt; of report.\ufffd[2J" in " ".join(page.bodies)
    assert "displacement size of L4-L5: 9 mm" in page.text
    page.press("kept-report-again")
    (report,) = page.desk.kept["reports"]
    assert (report.text, report.kind, report.kept) == (
        text,
        "imaging",
        f"kept as entry {kept.seq} with {HEAVY}",
    )
    assert "the same text is in the queue already" in page.press("kept-report-again").text
    assert not screen("report.page.report_check", demo("pregnant")).has("button", "kept-reports-go")


def test_a_decision_half_written_is_found_again_by_its_writer_until_it_is_signed(screen, named, seat):  # noqa: F811
    for who in ("physician-1", "surgeon-1", "radiologist-1"):
        rate(seat.of(who), seat.item, 6)
    page = screen(SEAT, **{"seat-view": "Case", "seat-item": seat.item})
    key = f"seat-d-{seat.item}-0"
    page.tap(f"{key}-decision", "not")
    page._find("text_area", f"{key}-reason").set_value("Too heavy for the table.")
    page.run().tap("kept-seat-view", "Queue").tap(
        "kept-seat-view", "Case"
    )  # the toolkit forgets what is not drawn
    assert page.value("text_area", f"{key}-reason") == "Too heavy for the table."
    page.type("store-person-field", "surgeon-1")
    assert page.value("text_area", f"{key}-reason") == ""
    page.type("store-person-field", "physician-1")
    assert page.value("text_area", f"{key}-reason") == "Too heavy for the table."
    page.pick(f"{key}-responsible", "physician-1").pick(f"{key}-meaning", "approval").press("seat-sign")
    assert "Signed and kept." in page.text
    (decision,) = seat.store.open_referral(HEAVY).decisions
    assert (decision.said.decision, decision.said.reason) == ("not", "Too heavy for the table.")
    assert not page.desk.kept["seat-typed"]
