"""Every kind of letter for every demonstration case, in every form: whole, with the words of its standing and no other's."""

import io
import re
import zipfile
from datetime import UTC, date, datetime

import pytest

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_entry, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import FactEntry
from candidacy.explain.asked import asked_first
from candidacy.explain.missing_document import asked_together
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import InputError
from candidacy.letters.draft import Answered, answered
from candidacy.letters.frame import frame, words_of
from candidacy.letters.letter import Letter
from candidacy.letters.names import STATES
from candidacy.letters.text import letters_text
from candidacy.letters.values import state_of
from tests.explain.test_record import CONFLICT
from tests.letters.cases import DEMOS, KINDS, demo, letters_of

docx = pytest.importorskip("docx", reason="the letters need python-docx")
pytest.importorskip("reportlab", reason="the letters need reportlab")
pypdf = pytest.importorskip("pypdf", reason="the test reads the PDF back with pypdf")
from candidacy.letters.pdf import letters_pdf  # noqa: E402
from candidacy.letters.word_file import letters_docx  # noqa: E402

MADE = datetime(2026, 11, 28, tzinfo=UTC)
# One case of each state, read back from the PDF as well.
READ_BACK = ("suspected-spinal-infection", "extruded-disc", "pregnant", "anticoagulated", "heavy-patient-for-conference",
             "two-discs-candidate")  # fmt: skip
REFERRER = {
    "urgent": "waits until the emergency has been looked into",
    "not_candidate": "we do not offer this injection",
    "not_yet": "It is not yet the time for this injection",
    "incomplete": "We cannot answer yet, because facts are missing or have to be settled first",
    "borderline": "The referral goes to our case conference",
    "held": "a second check says stop or wait",
    "candidate": "We accept the referral for planning",
}
BEFORE = {
    "urgent": "Your care team wants to see you today",
    "not_candidate": "There is no plan for this shot now",
    "not_yet": "The time for this shot has not come",
    "incomplete": "does not have all the facts yet",
    "borderline": "A group of doctors will talk about your case first",
    "held": "still has to check one or more points",
    "candidate": "thinks that a shot can be planned",
}


def flat(text: str) -> str:
    return " ".join(text.split())


def _without(text: str, values: set[str]) -> str:
    """The words of the template alone."""
    for value in sorted(values, key=len, reverse=True):
        text = text.replace(value, " ")
    return text


def words(letter: Letter) -> list[str]:
    """Every text of a letter and of its notes."""
    lines = [line for section in letter.sections for line in section.lines]
    return [letter.title, *letter.notes, *(s.heading for s in letter.sections),
            *(t for line in lines for t in (line.text, *line.cells, *line.head)), letter.foot]  # fmt: skip


@pytest.mark.parametrize("name", DEMOS)
def test_every_kind_in_every_form(name: str) -> None:
    answer = demo(name)
    state = state_of(answer.document)
    from_the_record = {
        t for entries in answer.values.lists.values() for entry in entries for t in entry.values()
    }
    for kind in KINDS:
        if kind == "prescriber" and not any(m.group == "antithrombotic" for m in answer.plan.medicines):
            with pytest.raises(InputError, match="no letter to a prescriber"):
                letters_of(kind, answer)
            continue
        letters = letters_of(kind, answer)
        text = flat(letters_text(letters))
        forms = [text]
        # the packet is long, and slow to print; the last two say the same for most cases
        if name == READ_BACK[-1] or (
            kind != "payer" and (name in READ_BACK or kind not in ("patient_after", "addendum"))
        ):
            raw = letters_pdf(letters, made=MADE)
            if name in READ_BACK:
                pages = [flat(page.extract_text()) for page in pypdf.PdfReader(io.BytesIO(raw)).pages]
                assert all("DRAFT, not sent" in page for page in pages)
                forms.append(" ".join(pages))
            file = docx.Document(io.BytesIO(letters_docx(letters, MADE)))
            cells = [c.text for t in file.tables for c in t._cells]
            forms.append(flat(" ".join([*(p.text for p in file.paragraphs), *cells])))
            assert "DRAFT, not sent" in file.sections[0].header.paragraphs[0].text
            assert answer.case.digest in file.sections[0].footer.paragraphs[0].text
        for form in forms:
            assert not re.search(r"\{[a-z_]*\}", form), kind
            for section in letters[0].sections:
                assert flat(section.heading) in form
            for told in {"referrer": REFERRER, "patient_before": BEFORE}.get(kind, {}).items():
                assert (told[1] in form) is (told[0] == state), (kind, told)
        assert text.startswith("DRAFT, not sent")
        assert text.endswith(frame()["draft"])
        assert all(letter.state == state for letter in letters)
        for mark in (answer.as_of.isoformat(), answer.case.digest, answer.rule_set.digest, "candidacy 0."):
            assert mark in letters[0].foot
        for letter in letters if name in READ_BACK else ():
            assert [
                w for t in words(letter) for w in words_of("forbidden", _without(t, from_the_record))
            ] == []
        assert all(letter.open for letter in letters), "nothing is left to a person"


def test_the_demonstration_cases_show_every_state_but_one() -> None:
    shown = {state_of(demo(name).document) for name in DEMOS}
    assert shown == set(STATES) - {"held"}


@pytest.mark.parametrize("kind", ["referrer", "patient_before"])
def test_a_candidate_under_a_companion_that_says_stop_is_not_accepted(kind: str) -> None:
    from candidacy.letters.values import values_of

    answer = demo("one-disc-candidate")
    stopped = answer.document.model_copy(update={"stops": ["Stop. Invented for a test."]})
    held = replace(answer, document=stopped, values=values_of(answer.assessment, stopped, answer.holds))
    text = flat(letters_text(letters_of(kind, held)))
    told = {"referrer": REFERRER, "patient_before": BEFORE}[kind]
    assert [state for state, said in told.items() if said in text] == ["held"]
    assert ("Invented for a test" in text) is (kind == "referrer")


def test_an_emergency_comes_before_everything_else() -> None:
    (letter,) = letters_of("referrer", demo("cauda-equina-signs"))
    first, second = letter.sections[:2]
    assert (first.heading, first.alarm, second.heading) == ("Act on this first", True, "Plan")
    act = next(
        c.act
        for c in demo("cauda-equina-signs").document.criteria
        if c.outcome == "fail" and c.force == "stop"
    )
    assert flat(act) in [line.text for line in first.lines]


def test_reasons_bear_values_documents_and_what_would_change_them() -> None:
    text = flat(letters_text(letters_of("referrer", demo("extruded-disc"))))
    assert "Source: imaging report, 2026-09-14, radiologist" in text
    assert "What would change this" in text
    assert "What we ask for" in text


def test_a_finding_outside_the_question_is_told() -> None:
    record = with_fact(demo("one-disc-candidate").case.record, "patient", "aortic_aneurysm_on_imaging",
                       FactEntry(value=True, source="mri"))  # fmt: skip
    answer = demo("one-disc-candidate")
    changed = answered(case_from_record(record), answer.rule_set, answer.as_of)
    (letter,) = letters_of("referrer", changed)
    section = next(s for s in letter.sections if s.heading == "A finding outside the question")
    assert "aneurysm" in " ".join(line.text for line in section.lines).lower()
    assert all(s.heading != section.heading for s in letters_of("referrer", answer)[0].sections)


# --- the prescriber


def medicine(name: str, **facts: object) -> Answered:
    """The demonstration case of an anticoagulant with other facts of that medicine."""
    record = demo("anticoagulated").case.record
    for element, value in facts.items():
        record = with_fact(record, "medicines[2]", element, FactEntry(value=value, source="meds"))
    return answered(case_from_record(record, name), demo("anticoagulated").rule_set, date(2026, 11, 25))


def test_the_prescriber_is_asked_with_guideline_edition_and_last_dose() -> None:
    (letter,) = letters_of("prescriber", demo("anticoagulated"))
    text = flat(letters_text([letter]))
    for said in ("apixaban", "atrial fibrillation", "second edition 2018", "3 days", "no later than: 2026-12-06", "24 h after",
                 "[ ] I agree", "[ ] Do not hold it", "No answer means no hold", "82.52 mL/min"):  # fmt: skip
        assert said in text
    assert "{" not in text


def test_another_proposed_day_moves_the_last_dose_and_is_named_in_the_foot() -> None:
    answer = demo("anticoagulated")
    moved = answered(answer.case, answer.rule_set, answer.as_of, date(2026, 12, 14))
    (letter,) = letters_of("prescriber", moved)
    text = flat(letters_text([letter]))
    assert "no later than: 2026-12-10" in text
    assert "proposed day 2026-12-14" in letter.foot
    assert answer.case.digest in letter.foot


def test_a_refusal_is_not_asked_again() -> None:
    (letter,) = letters_of("prescriber", medicine("refused", medicine_prescriber_agrees_to_hold=False))
    text = flat(letters_text([letter]))
    assert "You decided that apixaban goes on" in text
    assert "last dose would be" not in text
    assert "[ ]" not in text


def test_an_agreement_is_confirmed_to_the_prescriber() -> None:
    agreed = medicine("agreed", medicine_prescriber_agrees_to_hold=True)
    assert "Our record says that you, or whoever prescribes it, agreed in writing" in flat(
        letters_text(letters_of("prescriber", agreed))
    )


def test_the_patient_sheet_tells_of_a_pause_only_where_it_is_agreed_and_planned() -> None:
    answer = demo("morning-of-the-procedure")
    assert state_of(answer.document) == "candidate"
    (hold,) = answer.values.lists["agreed_holds"]
    assert f"A pause is agreed for {hold['medicine']}." in flat(
        letters_text(letters_of("patient_before", answer))
    )
    agreed = medicine("agreed", medicine_prescriber_agrees_to_hold=True)
    assert agreed.values.lists["agreed_holds"]
    for waiting in (agreed, demo("anticoagulated")):
        text = flat(letters_text(letters_of("patient_before", waiting)))
        assert "There is no set plan yet, so there is no pause yet" in text
        assert "2026-12-06" not in text
    assert "no pause is agreed for any of your medicines" in flat(
        letters_text(letters_of("patient_before", demo("one-disc-candidate")))
    )


@pytest.mark.parametrize(
    ("facts", "said", "unsaid"),
    [
        (("aspirin", "antiplatelet", "aspirin", "coronary_stent"), "the decision is yours", "would be no later than"),
        (("warfarin", "vitamin_k_antagonist", "warfarin", "venous_thromboembolism"), "No such INR is on record yet", "we propose none"),
        (("enoxaparin", "low_molecular_weight_heparin", "enoxaparin", "atrial_fibrillation"), "12 hours before the procedure", "Days mean"),
        (("blood thinner", "direct_oral_anticoagulant", None, None), "so we propose nothing", "would be no later than"),
    ],
)  # fmt: skip
def test_what_the_table_says_is_put_as_a_question(
    facts: tuple[str | None, ...], said: str, unsaid: str
) -> None:
    record = demo("anticoagulated").case.record
    route = (
        {"medicine_route": "subcutaneous", "medicine_intensity": "prophylactic"}
        if facts[0] == "enoxaparin"
        else {}
    )
    names = ("medicine_name", "medicine_class", "medicine_agent", "medicine_indication")
    for element, value in {**dict(zip(names, facts, strict=True)), **route}.items():
        record = with_fact(
            record, "medicines[2]", element, FactEntry(value=value, source="meds") if value else None
        )
    answer = answered(case_from_record(record), demo("anticoagulated").rule_set, date(2026, 11, 25))
    text = flat(letters_text(letters_of("prescriber", answer)))
    assert said in text
    assert unsaid not in text
    assert "Without your written answer it goes on as it is" in text


def test_nobody_is_written_to_about_an_antidepressant() -> None:
    answer = demo("morning-of-the-procedure")
    assert "antidepressant" in {m.group for m in answer.plan.medicines}
    assert [letter.about.split(" ")[0] for letter in letters_of("prescriber", answer)] == [
        m.name for m in answer.plan.medicines if m.group == "antithrombotic"
    ]


def test_what_the_record_lacks_is_said_as_not_recorded() -> None:
    record = demo("anticoagulated").case.record
    for element in ("medicine_indication", "medicine_dose", "medicine_last_dose_date"):
        record = with_fact(record, "medicines[2]", element, None)
    bare = answered(case_from_record(record), demo("anticoagulated").rule_set, date(2026, 11, 25))
    text = flat(letters_text(letters_of("prescriber", bare)))
    for label in ("Dose", "Why it is taken", "Last dose on record"):
        assert re.search(rf"{label}: (not recorded|2 times a day)", text), label


def test_the_referrer_is_asked_once_for_what_several_medicines_lack() -> None:
    answer = listed_as(*({"medicine_name": f"drug {n}"} for n in range(20)))
    (letter,) = letters_of("referrer", answer)
    text = flat(letters_text([letter]))
    wanted = asked_together(asked_first(answer.document))
    several = [each for each in wanted if each.facts >= 20]
    assert several
    assert "(medicines 3 to 22 (20 entries))" in text
    shown = wanted[:15]
    assert all(each.row.ask in text for each in shown)
    told = re.search(r"And (\d+) more, which weigh less", text)
    left = sum(each.facts for each in wanted) - sum(each.facts for each in shown)
    assert int(told[1] if told else 0) == left


# --- the payer


def test_the_packet_names_codes_evidence_and_missing_pages() -> None:
    text = flat(letters_text(letters_of("payer", demo("two-discs-candidate"))))
    assert text.index("0627T") < text.index("0628T")
    record = demo("one-disc-candidate").case.record
    record = with_fact(record, "patient", "body_weight", FactEntry(value=71, unit="kg"))
    loose = answered(case_from_record(record), demo("one-disc-candidate").rule_set, date(2026, 11, 25))
    assert "Body weight: no document is named for this value" in flat(
        letters_text(letters_of("payer", loose))
    )
    assert "no code is named" in flat(letters_text(letters_of("payer", demo("first-letter-only"))))


# --- what comes from outside


HOSTILE = (
    "a\x1b[31m{discs}{{x}}<b>&amp;</w:t>]]>\u202egnol\ufffe \u2028 \U0001f600 =1+1 ${x} {% if %} "
    + "long " * 900
)


def test_hostile_text_is_data_in_every_form() -> None:
    record = demo("anticoagulated").case.record
    record = record.model_copy(update={"id": "x{discs}<b>", "title": HOSTILE})
    record = with_fact(
        record, "medicines[2]", "medicine_name", FactEntry(value=HOSTILE, source="meds", words=HOSTILE)
    )
    record = with_fact(
        record, "patient", "body_weight", FactEntry(value=171, unit="kg", source="clinic", words=HOSTILE)
    )
    answer = answered(case_from_record(record), demo("anticoagulated").rule_set, date(2026, 11, 25))
    for kind in KINDS:
        letters = letters_of(kind, answer)
        text = letters_text(letters)
        assert not re.search("[\x00-\x09\x0b-\x1f\u202e\ufffe\u2028]", text)
        assert len(max(words(letters[0]), key=len)) < 3500
        assert letters_pdf(letters).endswith(b"%%EOF\n")
        raw = letters_docx(letters)
        paragraphs = " ".join(p.text for p in docx.Document(io.BytesIO(raw)).paragraphs)
        if kind == "prescriber":
            assert "{discs}{{x}}<b>" in text
            assert "{discs}{{x}}<b>" in paragraphs
        names = zipfile.ZipFile(io.BytesIO(raw)).namelist()
        assert not [n for n in names if "vba" in n.lower() or "macro" in n.lower() or "embed" in n.lower()]


def test_a_word_file_has_headings_lists_and_a_language() -> None:
    raw = letters_docx(letters_of("referrer", demo("extruded-disc")), MADE)
    file = docx.Document(io.BytesIO(raw))
    styles = {p.style.name for p in file.paragraphs}
    assert {"Heading 1", "Heading 2", "List Bullet"} <= styles
    assert file.core_properties.created == MADE
    assert 'w:lang w:val="en-US"' in file.styles["Normal"].element.xml


def test_the_pdf_is_tagged_and_the_same_twice() -> None:
    letters = letters_of("referrer", demo("extruded-disc"))
    raw = letters_pdf(letters, made=MADE)
    assert raw == letters_pdf(letters, made=MADE)
    root = pypdf.PdfReader(io.BytesIO(raw)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    kinds = [kid.get_object()["/S"] for kid in root["/StructTreeRoot"]["/K"][0].get_object()["/K"]]
    assert kinds.count("/H1") == 1
    assert {"/H2", "/L", "/P"} <= set(kinds)


# --- what may mislead


def listed_as(*medicines: dict[str, object]) -> Answered:
    """The demonstration case of an anticoagulant with further medicines."""
    record = demo("anticoagulated").case.record
    for place, facts in enumerate(medicines, 3):
        record = with_entry(record, "medicines")
        for element, value in facts.items():
            record = with_fact(record, f"medicines[{place}]", element, FactEntry(value=value, source="meds"))
    return answered(case_from_record(record), demo("anticoagulated").rule_set, date(2026, 11, 25))


def test_each_medicine_without_a_letter_is_named_with_the_reason() -> None:
    answer = listed_as({"medicine_name": "mystery drops"}, {"medicine_name": "Veltoris", "medicine_agent": "apixaban",
                       "medicine_class": "direct_oral_anticoagulant"})  # fmt: skip
    (letter,) = letters_of("prescriber", answer, medicine="medicines[2]")
    notes = flat(" ".join(letter.notes))
    assert "medicines[1], paracetamol" in notes
    assert re.search(r"medicines\[3\], [^:]*mystery drops[^:]*: no letter, for it is not known which", notes)
    assert re.search(r"medicines\[4\], [^:]*: an antithrombotic for which no letter was asked", notes)
    assert "medicines[2], medicines[4]: the list names apixaban more than once" in notes
    unknown = medicine("unknown", medicine_name="mystery")
    record = with_fact(
        with_fact(unknown.case.record, "medicines[2]", "medicine_agent", None), "medicines[2]", "medicine_class", None
    )  # fmt: skip
    with pytest.raises(InputError) as refused:
        letters_of("prescriber", answered(case_from_record(record), answer.rule_set, answer.as_of))
    assert "mystery" in str(refused.value)
    assert "if it is a blood thinner" in str(refused.value)


def test_a_medicine_that_is_not_taken_is_not_called_taken() -> None:
    text = flat(letters_text(letters_of("prescriber", medicine("stopped", medicine_held=True))))
    assert "By our record it is not taken at present" in text
    for unsaid in ("Your patient takes", "it goes on as it is", "told nobody"):
        assert unsaid not in text


def test_a_last_dose_that_is_past_is_not_proposed_as_if_it_lay_ahead() -> None:
    answer = demo("anticoagulated")
    soon = answered(answer.case, answer.rule_set, answer.as_of, date(2026, 11, 26))
    assert "no later than: 2026-11-22 (already past on 2026-11-25" in flat(
        letters_text(letters_of("prescriber", soon))
    )


def test_the_packet_counts_what_fails_and_tells_what_a_companion_says() -> None:
    from candidacy.letters.values import values_of

    answer = demo("one-disc-candidate")
    stopped = answer.document.model_copy(update={"stops": ["Stop. Invented for a test."]})
    held = replace(answer, document=stopped, values=values_of(answer.assessment, stopped, answer.holds))
    text = flat(letters_text(letters_of("payer", held)))
    assert "What stands against it - Stop. Invented for a test." in text
    assert "Standing: Candidate, and a second check says stop or wait" in text
    failing = demo("extruded-disc")
    rows = [e["answer"] for e in failing.values.lists["evidence"]]
    assert failing.values.texts["criteria_failed"] == str(rows.count("did not meet the rule")) != "0"
    assert failing.values.texts["criteria_open"] == str(sum(r.startswith("not settled") for r in rows))


def test_remarks_that_no_rule_read_are_quoted_to_referrer_and_payer() -> None:
    plain = demo("two-discs-candidate")
    record = plain.case.record.model_copy(update={"note": "prefers to wait until spring"})
    answer = answered(case_from_record(record), plain.rule_set, date(2026, 11, 25))
    assert state_of(answer.document) == "candidate"
    for kind in ("referrer", "payer"):
        text = flat(letters_text(letters_of(kind, answer)))
        assert "“prefers to wait until spring”" in text
        assert "Candidate, 1 remark not read" in text
        assert "that no rule read" not in flat(letters_text(letters_of(kind, plain)))


def test_no_letter_says_that_a_stopped_medicine_stays_as_it_is_or_that_a_day_is_meant_before_a_plan() -> None:
    stopped = medicine("stopped", medicine_held=True)
    referrer = flat(letters_text(letters_of("referrer", stopped)))
    assert "a medicine below is no longer taken, without the agreement that it needs" in referrer
    assert "leave every blood thinner as it is" not in referrer
    for kind in ("patient_before", "patient_after"):
        (letter,) = letters_of(kind, stopped)
        assert any("not taken any more" in note for note in letter.notes)
    before = flat(letters_text(letters_of("patient_before", stopped)))
    assert "One day was put down: 2026-12-10. It is not a set day." in before
    assert "The day we have in mind" not in before


def test_beside_an_acceptance_stands_that_the_record_contradicts_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A decision order of one's own need not look at what the record itself says."""
    (plain,) = letters_of("referrer", demo("one-disc-candidate"))
    monkeypatch.setattr(
        "candidacy.letters.draft.assess", lambda *given: replace(assess(*given), conflicts=(CONFLICT,))
    )
    (twice,) = letters_of("referrer", demo.__wrapped__("one-disc-candidate"))  # answered anew
    said = "Until that is settled this answer can still change."
    plans = [next(s for s in letter.sections if s.heading == "Plan") for letter in (plain, twice)]
    assert [any(said in line.text for line in plan.lines) for plan in plans] == [False, True]
