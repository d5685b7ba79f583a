"""What the record itself calls for stands in every output, before or beside the standing.

The assessments are constructed: a real one with conflicts and unread facts put in, so that only the showing is tested.
"""

import io
import json
from collections import Counter
from collections.abc import Callable
from datetime import date

import pytest
from rich.console import Console

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.record_grounds import ground_name
from candidacy.assessment.results import UnreadFact
from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.element import Danger
from candidacy.case.facts import Fact, Provenance
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import EntryList, FactEntry
from candidacy.explain.brief import print_brief
from candidacy.explain.build import build_document
from candidacy.explain.compare import compare
from candidacy.explain.compare_text import print_comparison
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import standing_words
from candidacy.explain.page import comparison_page, page
from candidacy.explain.record import conflict_info, flags
from candidacy.explain.text import print_document
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.values import FALSE, TRUE, Options, Span, Why
from candidacy.rules.libraries import load_rule_set

DAY = date(2026, 11, 25)
LETTER = Provenance(
    "letter", "referral_letter", Span(1, 1), "2026-10-05", "no blood thinners", "referring physician"
)
LIST = Provenance("meds", "medication_list", Span(1, 1), "2026-11-12", "apixaban 5 mg", "coordinator")
NURSE = Provenance("day", "clinic_note", Span(1, 1), "2026-11-25", "T 39.0", "nurse", "39 Cel")
DENIAL = Fact("antithrombotic_use", "patient", Options(frozenset(("none",))), None, LETTER)
AGENT = Fact("medicine_agent", "medicines[1]", Options(frozenset(("apixaban",))), None, LIST)
CONFLICT = Fact("antithrombotic_use", "patient", None, Why.CONFLICTING, derived_from=(DENIAL, AGENT),
                note="The letter denies antithrombotics; the list of medicines holds apixaban")  # fmt: skip
FEVER = Fact("body_temperature", "patient", Span(39, 39), None, NURSE)
DANGER = Danger(op="at_least", value=38, why="Fever may be an infection", source="common_practice", at="x", tag="common practice")  # fmt: skip
QUIET = Fact("worse_sitting", "patient", TRUE, None, LETTER)
SIGN = Fact("saddle_numbness", "patient", TRUE, None, NURSE,
            disputed=(Fact("cauda_equina_signs", "patient", FALSE, None, LETTER),))  # fmt: skip
# What a reader must find of each: both values, their sources and dates, the question, and why a danger matters.
CONFLICT_WORDS = (
    "The letter denies antithrombotics; the list of medicines holds apixaban",
    "referral letter, 2026-10-05, referring physician: “no blood thinners”",
    "medicine 1: apixaban (medication list, 2026-11-12, coordinator: “apixaban 5 mg”)",
    "Settle at the source which is right: ",
)
DANGER_WORDS = (
    "Recorded, but not read by this rule set",
    "Body temperature: 39 °C (clinic note, 2026-11-25, nurse: “T 39.0”)",
    "Fever may be an infection (is at least 38 °C; common_practice, x [common practice])",
)
DISPUTED_WORDS = ("acts in spite of a denial", "no (referral letter, 2026-10-05")


def assessment(advisory: bool = False, rules: str = "practice_baseline") -> Assessment:
    case = load_case(demo_cases_folder() / "one-disc-candidate.yaml")
    return replace(
        assess(case, load_rule_set(rules), DAY),
        conflicts=(CONFLICT, SIGN),
        unread=(UnreadFact(FEVER, (DANGER,), advisory), UnreadFact(QUIET, (), False)),
    )


@pytest.fixture(scope="module")
def document() -> AssessmentDocument:
    return build_document(assessment())


def text_of(
    document: AssessmentDocument, form: Callable[[Console, AssessmentDocument], None] = print_document
) -> str:
    buffer = io.StringIO()
    form(Console(file=buffer, width=400, no_color=True), document)
    return buffer.getvalue()


def plain(html: str) -> str:
    import html as entities
    import re

    body = html.split("<body", 1)[-1]
    return " ".join(entities.unescape(re.sub(r"<[^>]+>", " ", body)).replace("( ", "(").split())


def pdf_text(raw: bytes) -> str:
    pypdf = pytest.importorskip("pypdf")
    pages = pypdf.PdfReader(io.BytesIO(raw)).pages
    return " ".join(" ".join((page.extract_text() or "").split()) for page in pages)


def comparison_text(documents: list[AssessmentDocument]) -> str:
    buffer = io.StringIO()
    print_comparison(Console(file=buffer, width=400, no_color=True), compare(documents))
    return buffer.getvalue()


def every_form(document: AssessmentDocument) -> dict[str, str]:
    """All outputs that show an assessment, as text."""
    pytest.importorskip("reportlab")
    pytest.importorskip("streamlit")
    from candidacy.explain.pdf import assessment_pdf, comparison_pdf
    from candidacy.ui.show import fill

    both = compare([document, document])
    counts = Counter(c.outcome for c in document.criteria)
    return {
        "text": text_of(document),
        "page": plain(page(document)),
        "pdf": pdf_text(assessment_pdf(document)),
        "comparison": comparison_text([document, document]),
        "comparison page": plain(comparison_page(both)),
        "comparison pdf": pdf_text(comparison_pdf(both)),
        "standing panel": plain(fill("standing.html", d=document, counts=counts)),
        "standing line": plain(fill("standing_line.html", d=document)),
        "side by side": plain(fill("side_by_side.html", c=both)),
    }


def test_every_output_shows_both_sides_of_a_contradiction_and_the_question(
    document: AssessmentDocument,
) -> None:
    for form, text in every_form(document).items():
        for words in ("Facts that contradict each other", *CONFLICT_WORDS, *DISPUTED_WORDS):
            assert words in text, (form, words)


def test_an_unread_danger_stands_before_any_standing(document: AssessmentDocument) -> None:
    standing = standing_words(document.standing)
    for form, text in every_form(document).items():
        for words in DANGER_WORDS:
            assert words in text, (form, words)
        upper = text.upper()
        for green in (standing.upper(), "✓"):
            assert upper.index(DANGER_WORDS[0].upper()) < upper.index(green), (form, green)


def test_only_advisory_reading_is_said_and_not_called_unread_in_silence() -> None:
    words = "Only advisory criteria read it, and these decide nothing."
    assert words in text_of(build_document(assessment(advisory=True)))
    assert words not in text_of(build_document(assessment(advisory=False)))


def test_the_other_unread_facts_are_counted_and_listed_in_full(document: AssessmentDocument) -> None:
    line = "Other recorded facts that no criterion of this rule set reads"
    assert "Recorded facts that no criterion reads: 1." in text_of(document, print_brief)
    assert line in text_of(document)
    assert "Worse sitting: yes (referral letter" in text_of(document)
    assert "Worse sitting: yes (referral letter" not in text_of(document, print_brief)
    forms = every_form(document)
    for form in ("page", "pdf", "standing panel", "side by side"):
        assert "Worse sitting: yes (referral letter" in forms[form], form


def test_json_holds_them_in_the_order_given_and_reads_back_equal(document: AssessmentDocument) -> None:
    found = json.loads(document.to_json())
    (conflict,) = found["conflicts"]
    assert [(f["element"], f["subject"]) for f in conflict["facts"]] == [
        ("antithrombotic_use", "patient"),
        ("medicine_agent", "medicines[1]"),
    ]
    assert [(u["fact"]["element"], len(u["dangers"])) for u in found["unread"]] == [
        ("body_temperature", 1),
        ("worse_sitting", 0),
    ]
    (disputed,) = found["disputed"]
    assert disputed["fact"]["value"] == "yes"
    assert [d["element"] for d in disputed["denials"]] == ["cauda_equina_signs"]
    assert AssessmentDocument.model_validate_json(document.to_json()) == document
    assert build_document(assessment()).to_json() == document.to_json()


def test_the_source_of_a_danger_is_among_the_sources() -> None:
    danger = DANGER.model_copy(update={"source": "jabfm_oral_anticoagulants"})
    found = replace(assessment(rules="report_completeness"), unread=(UnreadFact(FEVER, (danger,), False),))
    assert "jabfm_oral_anticoagulants" in {source.key for source in build_document(found).sources}


def test_a_table_counts_what_must_be_looked_at_first(document: AssessmentDocument) -> None:
    assert flags(document) == [
        "1 recorded sign of danger not read",
        "1 disputed sign of danger",
        "1 fact to settle first",
    ]


def test_a_remark_that_no_rule_read_stands_in_every_output_and_behind_the_name_of_a_candidate() -> None:
    record = load_case(demo_cases_folder() / "one-disc-candidate.yaml").record
    mri = record.documents["mri"].model_copy(update={"note": "Page 2 is not enclosed."})
    case = case_from_record(record.model_copy(update={"documents": record.documents | {"mri": mri}}))
    found = build_document(assess(case, load_rule_set("practice_baseline"), DAY))
    assert (found.standing, flags(found)) == ("candidate", ["1 remark not read"])
    for name, text in every_form(found).items():
        assert "Note of the document mri: “Page 2 is not enclosed.”" in text, name
        assert "1 remark not read" in text.lower(), name
    note = "Prefers Thursdays.\n" * 20 + "Very drowsy."
    long = build_document(
        assess(
            case_from_record(record.model_copy(update={"note": note})),
            load_rule_set("practice_baseline"),
            DAY,
        )
    )
    assert ("(cut: --full)" in text_of(long, print_brief), "Thursdays. Very drowsy.”" in text_of(long)) == (
        True,
        True,
    )


def test_a_note_is_asked_for_only_where_it_settles_the_doubt() -> None:
    asked = {
        value: conflict_info(
            Fact("body_height", "patient", Span(value, value), None, Provenance(), note="Please check")
        ).question
        for value in (120, 170)  # one by itself unusual, one only beside others
    }
    assert ["begin the note" in question for question in asked.values()] == [True, False]


def test_nothing_of_it_is_shown_where_there_is_nothing() -> None:
    document = build_document(replace(assessment(), conflicts=(), unread=()))
    assert flags(document) == []
    for form, text in every_form(document).items():
        for words in ("contradict", "not read by", "in spite of a denial", "that no criterion"):
            assert words not in text, (form, words)


def test_hostile_text_in_a_conflict_is_only_text() -> None:
    bad = "<script>x</script>[bold]\n\x1b[31m"
    hostile = replace(
        CONFLICT, note=bad, derived_from=(replace(DENIAL, provenance=replace(LETTER, words=bad)), AGENT)
    )
    found = build_document(replace(assessment(), conflicts=(hostile,), unread=(UnreadFact(hostile.derived_from[0], (DANGER,), False),)))  # fmt: skip
    assert "<script>x" not in page(found)
    assert "\x1b" not in text_of(found)
    assert "[bold]" in text_of(found)


# --- the reason names what the record itself says


def _recorded(changes: dict[str, object], medicines: list[dict[str, object]] | None = None) -> Assessment:
    record = load_case(demo_cases_folder() / "one-disc-candidate.yaml").record
    for element, value in changes.items():
        record = with_fact(
            record, "patient", element, FactEntry.model_validate({"value": value, "source": "clinic"})
        )
    if medicines is not None:
        entries = [
            {
                name: FactEntry.model_validate({"value": value, "source": "clinic"})
                for name, value in entry.items()
            }
            for entry in medicines
        ]
        record = record.model_copy(update={"medicines": EntryList(complete=True, entries=entries)})
    return assess(case_from_record(record), load_rule_set("practice_baseline"), DAY, "direct")


APART = "antithrombotic use is recorded as none, but an anticoagulant"


def test_a_contradiction_is_named_in_the_reason_whichever_rule_decides() -> None:
    listed = _recorded({"antithrombotic_use": "none"}, [{"medicine_agent": "apixaban"}])
    # criteria wait for more facts besides, and the contradiction is named all the same
    assert listed.standing == "incomplete"
    assert APART in build_document(listed).reason[0]
    source = assess(listed.case, load_rule_set("disc_source"), DAY, "direct")
    assert source.decision.rule == "record_contradicts_itself"
    assert APART in build_document(source).reason[0]
    assert "every deciding criterion passes" not in build_document(source).reason[0]


def test_what_is_open_because_of_a_contradiction_is_mended_by_settling_it_at_its_source() -> None:
    listed = _recorded({"antithrombotic_use": "none"}, [{"medicine_agent": "apixaban"}])
    row = next(
        c for c in build_document(listed).criteria if c.id == "antithrombotic_plan_agreed_with_prescriber"
    )
    assert row.outcome == "undetermined"
    assert row.mendable is not None
    assert row.mendable.how == "settle"
    assert row.mendable.words.startswith(f"Settle at the source which is right: {APART}")


def test_a_sign_of_danger_that_decides_unread_is_named_in_the_reason() -> None:
    found = _recorded({"planned_contrast": "gadolinium"})
    assert found.decision.rule == "danger_not_read"
    (why, _) = build_document(found).reason
    assert "planned contrast (gadolinium) is on record, and no deciding criterion reads it" in why


def test_a_fact_among_the_reasons_is_never_taken_for_a_criterion_of_the_same_name() -> None:
    """Elements and criteria share names, such as prior_cell_therapy; a decision names its grounds by either."""
    criteria = {item.id for item in load_rule_set("practice_baseline").criteria}
    shared = sorted(criteria & {element.name for element in catalogue().all})
    assert shared
    for name in shared:
        assert ground_name(replace(CONFLICT, element=name)) not in criteria
