"""The seat: what waits, ratings that stay hidden, decisions with their reasons, what is to be looked at again, minutes."""

from datetime import date, datetime
from io import BytesIO

import pytest

import candidacy
from candidacy.case.load import load_case
from candidacy.conference.again import all_to_look_at
from candidacy.conference.case_page import case_page
from candidacy.conference.deciding import Said, decide, rate, recuse, second_round
from candidacy.conference.found import item_of
from candidacy.conference.letter import DRAFT, letter_of, letter_text
from candidacy.conference.minutes import LOOK, RATED_BEFORE, minutes_of
from candidacy.conference.minutes_pdf import letter_pdf, minutes_pdf
from candidacy.conference.minutes_text import minutes_text, page_text
from candidacy.conference.queue import ask_about, put_at, queue_of, take_up, withdraw
from candidacy.conference.rounds import rounds_of
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import StoreError
from candidacy.foundation.shipped import demo_cases_folder
from tests.conference.conftest import DAY, DISC, HEAVY, MEMBERS, OLDER

TREAT = Said("treat", "Longer needles reach the disc.", "physician-1", discs=("L4-L5",), conditions=("the table carries it",),
             dissent=(("surgeon-1", "the weight comes first"),), review_on="2027-01-12")  # fmt: skip
NOT = Said("not", "Too heavy.", "physician-1")


def refusals(caught) -> list[tuple[str, str]]:
    return [(problem.code.value, problem.field) for problem in caught.value.problems]


def rate_all(seat, *values):
    for who, value in zip(MEMBERS, values, strict=True):
        rate(seat.of(who), seat.item, value)


# --- how firm


def test_the_page_says_how_firm_a_measured_failure_is_while_record_and_rules_are_the_same(seat):
    body = load_case(demo_cases_folder() / f"{HEAVY}.yaml").record.model_dump(
        mode="json", by_alias=True, exclude_none=True
    )
    body["patient"]["odi_percent"] |= {"value": 26}
    case = candidacy.load_case(body)
    version = seat.store.open_referral(HEAVY).work.version
    seat.store.save_case(HEAVY, case, expected_version=version, reason="asked again")
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    item = item_of(seat.store, seat.item)
    failing = {f.id: f for f in case_page(seat.store, item).failing}
    assert failing["odi_minimum"].margins == ("26, limit 30%: -4",)
    assert failing["odi_minimum"].firm.startswith(
        "a repeat measurement would cross the limit about 1 time in 3 (SEM 6 %, Davidson and Keating 2002"
    )
    assert failing["body_mass_index_limit"].firm == ""
    body["patient"]["odi_percent"] |= {"value": 24}
    seat.store.save_case(HEAVY, candidacy.load_case(body), expected_version=version + 1, reason="again")
    changed = {f.id: f for f in case_page(seat.store, item_of(seat.store, seat.item)).failing}
    assert changed["odi_minimum"].firm == ""


# --- the queue


def test_the_queue_tells_what_fails_by_how_much_and_who_was_not_asked_about(seat):
    asked = ask_about(seat.store, DISC, "Both discs?")
    first, second = queue_of(seat.store)
    assert (first.reference, first.item.seq, first.failing) == (DISC, asked.seq, ())
    assert (second.reference, second.item) == (OLDER, None)
    assert second.failing == ("Age above the upper limit (74, limit 70 years: +4)",)
    assert second.standing == "≈ Borderline"


def test_the_queue_reads_each_referral_once_while_nothing_changes(seat):
    read = {}
    queue_of(seat.store, read)
    before = seat.entries()
    queue_of(seat.store, read)
    assert seat.entries() == before
    seat.store.add_note(OLDER, "called")
    queue_of(seat.store, read)
    assert seat.entries() == before + 2  # the note, and one reading


def test_items_are_put_in_order_by_hand(seat):
    items = [ask_about(seat.store, each, "What now?").seq for each in (OLDER, DISC, HEAVY)]
    put_at(seat.store, items[2], 1)
    assert [i.seq for i in seat.store.items(meeting=0)] == [items[2], items[0], items[1]]
    for place in (0, 4):
        with pytest.raises(StoreError, match="no such place"):
            put_at(seat.store, items[0], place)


def test_what_was_decided_or_withdrawn_is_over(seat):
    decide(seat.store, seat.item, TREAT, version=1)
    other = ask_about(seat.store, OLDER, "What now?").seq
    with pytest.raises(StoreError) as caught:
        withdraw(seat.store, other, "  ")
    assert refusals(caught) == [("E202", "why")]
    withdraw(seat.store, other, "asked twice")
    for act in (
        lambda: withdraw(seat.store, seat.item, "no"),
        lambda: take_up(seat.store, other, seat.meeting),
        lambda: rate(seat.store, seat.item, 7),
        lambda: decide(seat.store, seat.item, TREAT, version=1),
        lambda: recuse(seat.store, seat.item, "surgeon-1", "knows the patient"),
    ):
        with pytest.raises(StoreError, match="is over"):
            act()
    assert HEAVY not in [each.reference for each in queue_of(seat.store) if each.item]


# --- the page of a case


def test_the_page_shows_failing_relative_criteria_with_margin_source_spread_and_the_other_sets(seat):
    page = case_page(seat.store, item_of(seat.store, seat.item))
    (failing,) = page.failing
    assert failing.margins[0].startswith("42.7, limit 35 kg/m2: +7.7") or "limit 35" in failing.margins[0]
    assert "[seen]" in failing.cites
    assert "30 to 38 kg/m2" in failing.spread
    assert any("Body weight" in fact and "clinic note" in fact for fact in failing.facts)
    assert {s.kept for s in page.sets} == {True, False}
    assert any("trial_style_strict" in s.title and s.says == "✗ Not a candidate" for s in page.sets)
    words = page_text(page)
    assert "L3-L4: Disc not positive" not in words  # of a disc that is not considered
    assert "invented" in words


def test_no_assessment_or_one_of_an_earlier_version_is_told_first(seat):
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 90, unit="kg"), expected_version=1, reason="weighed"
    )
    page = case_page(seat.store, item_of(seat.store, seat.item), others=False)
    assert any("assess it again" in warning for warning in page.warnings)
    with pytest.raises(StoreError, match="no assessment of that version"):
        decide(seat.store, seat.item, TREAT, version=2)
    with pytest.raises(StoreError, match="changed since it was looked at"):
        decide(seat.store, seat.item, TREAT, version=1)


# --- ratings


def test_ratings_are_hidden_until_all_have_rated_and_then_bear_no_names(seat):
    rate(seat.of("surgeon-1"), seat.item, 2)
    rate(seat.of("radiologist-1"), seat.item, 8)
    rate(seat.of("radiologist-1"), seat.item, 7)
    item = item_of(seat.store, seat.item)
    for who, own in (("physician-1", {}), ("surgeon-1", {"": 2}), ("radiologist-1", {"": 7})):
        (one,) = rounds_of(seat.of(who), item)
        assert (one.own, one.seen, one.awaited) == (own, (), ("physician-1",))
        text = page_text(case_page(seat.of(who), item, others=False))
        assert "ratings (" not in text
    found = rate(seat.store, seat.item, 3)
    assert found.seen[0].tally.values == (2, 3, 7)
    text = page_text(case_page(seat.of("surgeon-1"), item, others=False))
    assert "median 3 of 3 ratings (2, 3, 7); 2 in 1-3, 0 in 4-6, 1 in 7-9" in text
    for word in ("appropriate", "recommend", "surgeon-1: 2"):
        assert word not in text.replace("inappropriate", "").split("Round 1:")[1]


def test_a_second_round_follows_a_whole_first_and_who_joins_later_hides_nothing(seat):
    with pytest.raises(StoreError, match=r"nobody has rated|not all have rated"):
        second_round(seat.store, seat.item)
    rate_all(seat, 7, 2, 8)
    with pytest.raises(StoreError, match="this round is complete"):
        rate(seat.store, seat.item, 1)
    second_round(seat.store, seat.item)
    seat.store.set_member(seat.meeting, "psychologist-1", "psychologist")
    first, second = rounds_of(seat.store, item_of(seat.store, seat.item))
    assert first.seen[0].tally.values == (2, 7, 8)
    assert set(second.awaited) == {*MEMBERS, "psychologist-1"}
    with pytest.raises(StoreError, match="second round already"):
        second_round(seat.store, seat.item)


def test_who_is_recused_neither_rates_nor_counts_for_the_quorum(seat):
    recuse(seat.store, seat.item, "surgeon-1", "treats the patient")
    with pytest.raises(StoreError, match="takes no part"):
        rate(seat.of("surgeon-1"), seat.item, 5)
    page = case_page(seat.store, item_of(seat.store, seat.item), others=False)
    assert page.recusals == (("surgeon-1", "treats the patient"),)
    rate(seat.store, seat.item, 5)
    with pytest.raises(StoreError, match="has rated"):
        recuse(seat.store, seat.item, "physician-1", "late thought")
    with pytest.raises(StoreError, match="no member of the meeting"):
        recuse(seat.store, seat.item, "nobody-1", "unknown")
    seat.store.set_meeting(
        "2026-11-26", "Disc conference", quorum=3, meeting=seat.meeting, why="a full panel is wanted"
    )
    rate(seat.of("radiologist-1"), seat.item, 5)
    with pytest.raises(StoreError, match="fewer take part than the quorum"):
        decide(seat.store, seat.item, replace(TREAT, dissent=()), version=1)


def test_votes_are_counted_and_nothing_is_made_of_them(seat):
    seat.store.set_meeting("2026-11-26", "Disc conference", quorum=2, scale="vote", meeting=seat.meeting)
    with pytest.raises(StoreError, match="another scale"):
        rate(seat.store, seat.item, 7)
    rate_all(seat, "for", "against", "for")
    text = page_text(case_page(seat.store, item_of(seat.store, seat.item), others=False))
    assert "for 2, against 1, defer 0" in text


# --- decisions


@pytest.mark.parametrize("quorum", [0, 2])
def test_minutes_of_a_meeting_with_nobody_present_say_so_and_nothing_is_decided_there(seat, quorum):
    meeting = seat.store.set_meeting("2026-11-27", "Empty", quorum=quorum)
    empty = minutes_text(minutes_of(seat.store, meeting))
    assert "Present: nobody; quorum NOT met" in empty
    assert "Cases:\nnone\n" in empty
    assert minutes_pdf(minutes_of(seat.store, meeting)).startswith(b"%PDF")
    item = ask_about(seat.store, OLDER, "At this age?").seq
    take_up(seat.store, item, meeting)
    with pytest.raises(StoreError, match="nobody takes part"):
        decide(seat.store, item, replace(TREAT, dissent=()), version=1)
    said = minutes_text(minutes_of(seat.store, meeting))
    assert "Took part: nobody; quorum NOT met" in said
    assert "not decided" in said
    seat.store.set_member(meeting, "surgeon-1", "spine surgeon", present=False)
    assert "Present: nobody" in minutes_text(minutes_of(seat.store, meeting))
    for who in list(MEMBERS)[: max(quorum, 1)]:
        seat.store.set_member(meeting, who, MEMBERS[who], present=True)
    assert "Present:" not in minutes_text(minutes_of(seat.store, meeting))


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        (replace(TREAT, reason="  "), [("E202", "reason")]),
        (replace(TREAT, discs=()), [("E202", "discs")]),
        (replace(TREAT, discs=("L4-L5", "L4-L5")), [("E208", "discs")]),
        (replace(TREAT, until="2027-01-01"), [("E208", "until")]),
        (replace(TREAT, after="a new MRI", tests=("MRI",)), [("E208", "after"), ("E208", "tests")]),
        (replace(TREAT, decision="not", discs=(), tests=("MRI",)), [("E208", "tests")]),
        (
            replace(TREAT, decision="more_tests", discs=(), after="rest"),
            [("E202", "tests"), ("E208", "after")],
        ),
        (replace(TREAT, discs=("L4-L5", "L3-L4")), [("E211", "discs")]),
        (replace(TREAT, discs=("L9",)), [("E209", "discs")]),
        (replace(TREAT, decision="not"), [("E208", "discs")]),
        (replace(TREAT, decision="not_yet", discs=()), [("E202", "until")]),
        (replace(TREAT, decision="more_tests", discs=()), [("E202", "tests")]),
        (
            replace(TREAT, dissent=(("nobody-1", "x"), ("surgeon-1", " "))),
            [("E208", "dissent"), ("E202", "dissent")],
        ),
        (replace(TREAT, review_on="2026-11-25"), [("E205", "review_on")]),
        (replace(TREAT, review_on="tomorrow"), [("E203", "review_on")]),
        (replace(TREAT, responsible=""), [("E203", "responsible")]),
    ],
)
def test_a_decision_that_lacks_something_is_refused_and_nothing_is_entered(seat, said, refused):
    with pytest.raises(StoreError) as caught:
        decide(seat.store, seat.item, said, version=1)
    assert refusals(caught) == refused
    assert item_of(seat.store, seat.item).state == "rating"
    assert not seat.store.decisions(HEAVY)


def test_nothing_is_decided_while_somebody_has_still_to_rate(seat):
    rate(seat.store, seat.item, 7)
    with pytest.raises(StoreError, match="some have still to rate"):
        decide(seat.store, seat.item, TREAT, version=1)
    rate(seat.of("surgeon-1"), seat.item, 7)
    rate(seat.of("radiologist-1"), seat.item, 7)
    second_round(seat.store, seat.item)
    with pytest.raises(StoreError, match="nobody has rated in the second round"):
        decide(seat.store, seat.item, TREAT, version=1)


def test_a_decision_is_kept_with_its_reason_and_dissent_and_a_correction_keeps_both(seat):
    first = decide(seat.store, seat.item, TREAT, version=1)
    page = case_page(seat.store, item_of(seat.store, seat.item), others=False)
    assert page.decision[0].said.dissent[0].reason == "the weight comes first"
    said = Said("not_yet", "The table was measured.", "physician-1", after="a table is found")
    second = decide(seat.store, seat.item, said, version=1, corrects=first.seq)
    page = case_page(seat.store, item_of(seat.store, seat.item), others=False)
    assert page.decision[0].seq == second.seq
    assert [d.corrected_by for d, _ in page.decisions] == [second.seq, 0]
    with pytest.raises(StoreError, match="corrected already"):
        decide(seat.store, seat.item, said, version=1, corrects=first.seq)


def test_a_change_of_record_assessment_or_rule_set_or_the_review_day_asks_to_look_again(seat, monkeypatch):
    decide(seat.store, seat.item, TREAT, version=1)

    def reasons(today=date(2026, 11, 27)):
        return [reason for _, again in all_to_look_at(seat.store, today) for reason in again.reasons]

    def of_page():
        return case_page(seat.store, item_of(seat.store, seat.item), others=False).decision[1].reasons

    assert reasons() == []
    assert reasons(date(2027, 1, 12)) == ["Its review day, 2027-01-12, has come."]
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 90, unit="kg"), expected_version=1, reason="weighed"
    )
    assert reasons() == ["The record was version 1 and is version 2."]
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    assert reasons()[-1] == "It was assessed again since, with another answer."
    assert any("with another answer: " in reason for reason in of_page())
    import candidacy.conference.again as again
    import candidacy.records.decisions as decisions

    class Other:
        digest = "sha256:other"
        file = type("File", (), {"version": "9.9.9"})

    monkeypatch.setattr(again, "load_rule_set", lambda name: Other)
    monkeypatch.setattr(decisions, "load_rule_set", lambda name: Other)
    assert "The rule set practice_baseline was changed." in reasons()
    assert any("version 9.9.9" in reason for reason in of_page())
    assert f"{LOOK}: The record was version 1" in minutes_text(minutes_of(seat.store, seat.meeting))
    assert "Do not send before it was looked at again" in letter_text(letter_of(seat.store, seat.item))


# --- minutes


def test_minutes_are_a_page_for_the_meeting_and_one_for_each_case_as_it_was_decided(seat):
    pypdf = pytest.importorskip("pypdf")
    rate_all(seat, 7, 2, 8)
    decide(seat.store, seat.item, TREAT, version=1)
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 60, unit="kg"), expected_version=1, reason="weighed"
    )
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    found = minutes_of(seat.store, seat.meeting)
    pages = minutes_text(found).split("\f")
    assert len(pages) == 2
    assert "≈ Borderline" in pages[1]  # as it was decided, though it is a candidate now
    for words in (
        "Quorum: 2 members",
        "no number is published",
        "spine surgeon; declared interest: none declared",
        "treat L4-L5",
    ):
        assert words in " ".join(pages[0].split())
    for words in ("Reason: Longer needles reach the disc.", "Condition: the table carries it", "Dissent: surgeon-1: the weight",
                  "Responsible: physician-1", "median 7 of 3 ratings", LOOK):  # fmt: skip
        assert words in " ".join(pages[1].split())
    first, again = (minutes_pdf(found, made=datetime(2026, 11, 26)) for _ in range(2))
    assert first == again
    reader = pypdf.PdfReader(BytesIO(first))
    assert len(reader.pages) == 2
    assert "the weight comes first" in reader.pages[1].extract_text()


def test_a_case_of_which_much_was_said_still_is_one_page(seat):
    pypdf = pytest.importorskip("pypdf")
    decide(
        seat.store,
        seat.item,
        replace(TREAT, conditions=tuple(f"condition {n}, at some length" for n in range(80))),
        version=1,
    )
    reader = pypdf.PdfReader(BytesIO(minutes_pdf(minutes_of(seat.store, seat.meeting))))
    assert len(reader.pages) == 2
    assert "condition 79" in reader.pages[1].extract_text()


def test_the_reply_is_marked_a_draft_on_every_page_and_needs_a_decision(seat):
    pypdf = pytest.importorskip("pypdf")
    with pytest.raises(StoreError, match="nothing is decided"):
        letter_of(seat.store, seat.item)
    decide(seat.store, seat.item, TREAT, version=1)
    letter = letter_of(seat.store, seat.item)
    text = letter_text(letter)
    assert text.startswith(DRAFT)
    assert text.rstrip().endswith(DRAFT)
    assert [name for name, _ in letter.parts][:2] == ["To", "Plan"]
    assert "physician (physician-1)" in text
    assert "Opinions differed: spine surgeon: the weight comes first" in text
    for page in pypdf.PdfReader(BytesIO(letter_pdf(letter))).pages:
        assert "DRAFT, not sent" in page.extract_text()


def test_hostile_words_start_no_line_and_steer_no_terminal(seat):
    said = replace(TREAT, reason="\x1b[31mred\nDecision: do not treat", dissent=())
    decide(seat.store, seat.item, said, version=1)
    text = minutes_text(minutes_of(seat.store, seat.meeting))
    assert "\x1b" not in text
    assert not any(line.startswith("Decision: do not treat") for line in text.splitlines())


# --- two at once, and what changes afterwards


def test_a_decision_is_refused_where_another_answer_was_kept_since_it_was_looked_at(seat):
    page = case_page(seat.store, seat.store.items(meeting=seat.meeting)[0], others=False)
    looked = page.standing.seq
    seat.store.assess_and_keep(HEAVY, "wide_screen", as_of=DAY)
    with pytest.raises(StoreError, match="assessed again since it was looked at"):
        decide(seat.store, seat.item, NOT, version=1, answer=looked)
    seat.store.assess_and_keep(HEAVY, as_of=DAY)  # the answer that was looked at, once more
    assert decide(seat.store, seat.item, NOT, version=1, answer=looked).said.rules == "practice_baseline"


def test_two_who_sign_at_once_do_not_both_decide_an_item(seat):
    decide(seat.store, seat.item, NOT, version=1)
    with pytest.raises(StoreError, match="item is over"):
        seat.of("surgeon-1").sign(HEAVY, "treat", "approval", "x", responsible="surgeon-1", expected_version=1, discs=("L4-L5",),
                                  item=seat.item)  # fmt: skip
    with pytest.raises(StoreError, match="item is over"):
        seat.store.set_item(seat.item, state="rating", place=1)
    assert len(seat.store.in_force()) == 1


def test_a_correction_is_of_a_decision_on_the_same_item_so_that_no_other_goes_without_its_quorum(seat):
    first = decide(seat.store, seat.item, NOT, version=1)
    empty = seat.store.set_meeting("2026-11-27", "Empty", quorum=5)
    item = ask_about(seat.store, HEAVY, "Again?").seq
    take_up(seat.store, item, empty)
    with pytest.raises(StoreError, match="answers another item"):
        decide(
            seat.store, item, replace(NOT, decision="treat", discs=("L4-L5",)), version=1, corrects=first.seq
        )
    with pytest.raises(StoreError, match="answers another item"):
        seat.store.sign(
            HEAVY, "not", "approval", "x", responsible="surgeon-1", expected_version=1, corrects=first.seq
        )


def test_minutes_reply_and_correction_tell_who_took_part_when_it_was_decided(seat):
    dissent = replace(NOT, dissent=(("surgeon-1", "it is the source"),))
    first = decide(seat.store, seat.item, dissent, version=1)
    seat.store.set_member(seat.meeting, "surgeon-1", MEMBERS["surgeon-1"], present=False)
    seat.store.set_member(seat.meeting, "nurse-1", "nurse")
    seat.store.set_meeting("2026-11-26", "Disc conference", quorum=4, meeting=seat.meeting, why="as agreed")
    decide(seat.store, seat.item, dissent, version=1, corrects=first.seq)
    said = minutes_text(minutes_of(seat.store, seat.meeting)).split("\f")[1]
    assert "Took part: physician-1, radiologist-1, surgeon-1; quorum met (2;" in said
    reply = letter_text(letter_of(seat.store, seat.item))
    assert "- physician, radiologist, spine surgeon\n" in reply
    assert "- Opinions differed: spine surgeon: it is the source\n" in reply


def test_who_is_recused_does_not_sign(seat):
    recuse(seat.store, seat.item, "surgeon-1", "owns shares")
    with pytest.raises(StoreError, match="surgeon-1 is recused"):
        decide(seat.of("surgeon-1"), seat.item, NOT, version=1)
    assert decide(seat.store, seat.item, NOT, version=1).said.took_part == ["physician-1", "radiologist-1"]


def test_a_declared_interest_stays_until_somebody_says_otherwise_and_none_is_entered_after_the_meeting(seat):
    seat.store.set_member(seat.meeting, "surgeon-1", "spine surgeon", interest="owns shares", present=False)
    seat.store.set_member(seat.meeting, "surgeon-1", "surgeon")
    kept = next(m for m in seat.store.meetings()[0].members if m.person == "surgeon-1")
    assert (kept.role, kept.interest, kept.present) == ("surgeon", "owns shares", False)
    seat.store.set_meeting("2026-11-26", "Disc conference", quorum=2, state="closed", meeting=seat.meeting)
    with pytest.raises(StoreError, match="meeting is over"):
        seat.store.set_member(seat.meeting, "surgeon-1", "surgeon", interest="none")
    with pytest.raises(StoreError, match="needs its reason"):
        seat.store.set_meeting("2026-11-26", "Disc conference", quorum=2, meeting=seat.meeting)


def test_ratings_of_a_record_that_was_changed_since_say_so_up_to_the_decision(seat):
    def told() -> str:
        return minutes_text(minutes_of(seat.store, seat.meeting))

    rate(seat.store, seat.item, 7)
    seat.store.assess_and_keep(HEAVY, as_of=DAY)  # the same answer once more
    assert RATED_BEFORE not in " ".join(told().split())
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 131, unit="kg"), expected_version=1, reason="weighed"
    )
    assert RATED_BEFORE in " ".join(told().split())
    rate(seat.of("surgeon-1"), seat.item, 7)
    rate(seat.of("radiologist-1"), seat.item, 7)
    second_round(seat.store, seat.item)
    rate_all(seat, 7, 7, 7)
    assert [each.changed for each in rounds_of(seat.store, item_of(seat.store, seat.item))] == [True, False]
    with pytest.raises(StoreError, match="another round was begun"):
        rate(seat.store, seat.item, 1, looked_at=1)
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    assert [each.changed for each in rounds_of(seat.store, item_of(seat.store, seat.item))] == [True, True]


def test_ratings_do_not_become_old_by_what_is_changed_after_the_decision(seat):
    rate_all(seat, 7, 7, 7)
    decide(seat.store, seat.item, NOT, version=1)
    case = seat.store.load_case(HEAVY)
    seat.store.save_case(
        HEAVY, case.with_fact("body_weight", 131, unit="kg"), expected_version=1, reason="weighed"
    )
    seat.store.assess_and_keep(HEAVY, as_of=DAY)
    assert not any(each.changed for each in rounds_of(seat.store, item_of(seat.store, seat.item)))
