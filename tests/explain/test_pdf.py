"""The PDF says what the document says, on A4 and on Letter, and any text can be printed."""

import io
from datetime import UTC, date, datetime

import pytest

pytest.importorskip("reportlab", reason="PDF needs the ui extra")
pypdf = pytest.importorskip("pypdf", reason="the test reads the PDF back with pypdf")

from candidacy.assessment.assess import assess  # noqa: E402
from candidacy.case.edit import with_header  # noqa: E402
from candidacy.case.load import case_from_record, load_case  # noqa: E402
from candidacy.explain.build import build_document  # noqa: E402
from candidacy.explain.compare import compare  # noqa: E402
from candidacy.explain.labels import standing_words  # noqa: E402
from candidacy.explain.page import criterion_groups  # noqa: E402
from candidacy.explain.pdf import assessment_pdf, comparison_pdf, rule_set_pdf  # noqa: E402
from candidacy.explain.ruleset import describe_rule_set  # noqa: E402
from candidacy.foundation.shipped import demo_cases_folder  # noqa: E402
from candidacy.rules.libraries import load_rule_set  # noqa: E402

RULES = load_rule_set("practice_baseline")


def _document(name="one-disc-candidate", title=None, rules=RULES):
    record = load_case(demo_cases_folder() / f"{name}.yaml").record
    if title is not None:
        record = with_header(record, title=title)
    return build_document(assess(case_from_record(record), rules, date(2026, 11, 25)))


def _read(raw):
    reader = pypdf.PdfReader(io.BytesIO(raw))
    return reader, " ".join(" ".join((page.extract_text() or "").split()) for page in reader.pages)


# ISO 216 (A4: 210 x 297 mm) and ANSI Y14.1 (Letter: 8.5 x 11 in), in points of 1/72 inch.
@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 595.276, 841.890), ("Letter", 612, 792)])
def test_it_holds_the_assessment_on_the_paper_asked_for(paper, width, height):
    document = _document()
    reader, text = _read(assessment_pdf(document, paper))
    assert float(reader.pages[0].mediabox.width) == pytest.approx(width, abs=0.01)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height, abs=0.01)
    assert standing_words(document.standing, document.standing_name) in text
    assert "not a diagnosis, not an order, not a decision" in text
    for criterion in document.criteria:
        assert " ".join(criterion.found.split()) in text
        assert criterion.id in text.replace("- ", "")
    for source in document.sources:
        assert source.key in text
    assert f"{len(reader.pages)} of {len(reader.pages)}" in text
    headings = tuple(heading for heading, _ in criterion_groups(document))
    for page in reader.pages:
        body, _, foot = " ".join((page.extract_text() or "").split()).rpartition(
            "Decision support for licensed"
        )
        assert not body.strip().endswith(headings), "a heading stays behind at the end of a page"
        assert "as of 2026-11-25" in foot
        for name in (document.case.digest, document.rule_set.digest, document.rule_set.version):
            assert name in foot


def test_equal_documents_give_equal_bytes():
    made = datetime(2026, 11, 25, 12, tzinfo=UTC)
    assert assessment_pdf(_document(), made=made) == assessment_pdf(_document(), made=made)


def test_hostile_and_foreign_text_is_printed_as_text():
    document = _document(title="<b>x</b> <a href='http://x'>y</a> & 漢字 ≥ µ é Ω Ж")
    reader, text = _read(assessment_pdf(document))
    assert "<b>x</b> <a href='http://x'>y</a> &" in text
    assert "≥ µ é Ω Ж" in text
    assert "2 characters this type does not have are printed as" in text
    assert not any("/Annots" in page for page in reader.pages), "no link was made of foreign text"


def test_an_emergency_prints_its_act():
    document = _document("cauda-equina-signs")
    _, text = _read(assessment_pdf(document))
    assert "‼ Urgent" in text
    acts = [c.act for c in document.criteria if c.outcome == "fail" and c.force == "stop"]
    assert " ".join(acts[0].split()) in text


def test_comparisons_and_rule_sets_print_too():
    tried = RULES.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 45})
    both = compare(
        [_document("heavy-patient-for-conference"), _document("heavy-patient-for-conference", rules=tried)]
    )
    _, text = _read(comparison_pdf(both, "Letter"))
    assert "Criteria that differ" in text
    assert "bmi_upper_limit: 35 kg/m2 / 45 kg/m2" in text
    _, text = _read(rule_set_pdf(describe_rule_set(tried)))
    assert "Local trial" in text
    assert RULES.file.title in text


def test_another_paper_is_refused():
    with pytest.raises(ValueError, match="A4, Letter"):
        assessment_pdf(_document(), "A5")


def test_what_can_be_mended_bears_no_mark_of_a_refusal():
    text = " ".join(_read(assessment_pdf(_document("pregnant")))[1].split())
    assert "○ Not yet" in text
    assert "✗ Not yet" not in text
