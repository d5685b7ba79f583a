"""Page one is one page, says what must be said first, and is the same from the program and from a browser."""

import io
import re
import unicodedata
from datetime import UTC, date, datetime

import pytest

pytest.importorskip("reportlab", reason="PDF needs the ui extra")
pypdf = pytest.importorskip("pypdf", reason="the test reads the PDF back with pypdf")

from candidacy.assessment.assess import assess  # noqa: E402
from candidacy.case.edit import with_header  # noqa: E402
from candidacy.case.load import case_from_record, load_case  # noqa: E402
from candidacy.explain.build import build_document  # noqa: E402
from candidacy.explain.compare import compare  # noqa: E402
from candidacy.explain.first_page import ANNEX, BOXES, LABEL_BOX, first_page, sources  # noqa: E402
from candidacy.explain.headline import headline  # noqa: E402
from candidacy.explain.page import page as html_page  # noqa: E402
from candidacy.explain.pdf import assessment_pdf, comparison_pdf  # noqa: E402
from candidacy.explain.pdf_first_page import put_first_page  # noqa: E402
from candidacy.explain.pdf_parts import Sheets  # noqa: E402
from candidacy.foundation.shipped import demo_cases_folder  # noqa: E402
from candidacy.rules.libraries import load_rule_set  # noqa: E402
from tests.deep import only_deep  # noqa: E402
from tests.explain.printed import printed_text  # noqa: E402

RULES = load_rule_set("practice_baseline")
CASES = sorted(file.stem for file in demo_cases_folder().glob("*.yaml") if file.stem != "mixed-scales")
MADE = datetime(2026, 11, 28, 20, 15, 30, tzinfo=UTC)
LONG = "A reason that goes on and on, with every circumstance told at length. " * 60


def document(name, rules=RULES, title=None):
    record = load_case(demo_cases_folder() / f"{name}.yaml").record
    if title is not None:
        record = with_header(record, title=title)
    return build_document(assess(case_from_record(record), rules, date.fromisoformat(record.as_of)))


def crowded():
    """An assessment with more alarms, reasons and texts than any page holds."""
    found = document("morning-with-reasons-to-wait", title="T" * 60 + " " + "long title " * 12)
    return found.model_copy(
        update={
            "grounds": [LONG] * 30,
            "stops": [f"Stop. {LONG}"] * 3,
            "unread": found.unread * 4,
            "notices": [LONG] * 20,
            "next_step": LONG,
            "facts": [f.model_copy(update={"document": f"d{n}"}) for n, f in enumerate(found.facts)],
        }
    )


def only_page_one(of, paper):
    sheets = Sheets("title", "foot")
    put_first_page(sheets, first_page(of))
    return pypdf.PdfReader(io.BytesIO(sheets.to_bytes(paper, MADE)))


def squeezed(text):
    return re.sub(r"[\s•]+", "", unicodedata.normalize("NFKC", text))


def said(page):
    """Every text of page one, in order."""
    yield page.title
    yield page.of
    yield LABEL_BOX
    for block in page.before:
        yield from filter(None, (block.title, *block.lines))
    yield page.standing
    for name, words, _ in page.strip:
        yield f"{name}: {words}"
    for block in page.blocks:
        yield from filter(None, (block.title, *block.lines))
    for box in BOXES:
        yield from box


@pytest.mark.parametrize("name", CASES)
def test_page_one_of_every_case_is_one_page(name):
    """On the smaller paper, and in type that is read without a glass."""
    found = document(name)
    reader = only_page_one(found, "Letter")
    assert len(reader.pages) == 2
    text = squeezed(reader.pages[0].extract_text())
    for words in said(first_page(found)):
        assert squeezed(words) in text, words
    assert squeezed(reader.pages[1].extract_text()).startswith(ANNEX)
    assert _smallest(reader.pages[0]) >= 5.5


def _smallest(page):
    """The smallest type on a page, in points, the foot left out."""
    sizes = []

    def visit(text, cm, tm, font, size):
        if text.strip() and size and "foot" not in text and " of " not in text:
            sizes.append(abs(size * tm[0] * cm[0]))

    page.extract_text(visitor_text=visit)
    return min(sizes)


def test_what_no_page_holds_is_cut_and_says_so_and_every_alarm_is_named():
    found = crowded()
    one = first_page(found)
    for paper in ("A4", "Letter"):
        reader = only_page_one(found, paper)
        assert len(reader.pages) == 2
        text = squeezed(reader.pages[0].extract_text())
        for words in said(one):
            assert squeezed(words) in text
        for unread in found.unread:
            if unread.dangers:
                assert squeezed(unread.fact.value) in text
        assert squeezed("(whole in the annex)") in text
        assert squeezed("more: see the annex") in text
    stops = [line for block in one.before for line in block.lines if line.startswith("‼")]
    assert len(stops) == 3


def test_it_gives_three_reasons_what_is_missing_discs_sources_with_dates_and_cautions():
    one = first_page(document("first-letter-only"))
    blocks = {block.title: block.lines for block in one.blocks}
    assert len(blocks["Why"]) == 4
    assert re.fullmatch(r"and \d+ more: see the annex", blocks["Why"][3])
    assert blocks["Considered discs"] == ("No disc is known to be considered.",)
    assert blocks["Sources and dates"] == ("Referral letter, 2026-10-05 (4 facts)",)
    assert blocks["What is missing"][0].startswith("Whether imaging shows")
    assert "not a decision" in " ".join(blocks["Cautions"])
    assert "draft" in " ".join(blocks["Cautions"])


def test_no_text_of_page_one_says_that_the_program_decides():
    words = " ".join(" ".join(box) for box in BOXES)
    assert "By hand: the program decides nothing" in words
    for name in ("one-disc-candidate", "extruded-disc"):
        text = " ".join(said(first_page(document(name)))).lower()
        assert not re.search(r"\b(approved|cleared for|we recommend|decided that|must be injected)\b", text.replace(
            "it has not been approved", ""))  # fmt: skip


def test_an_emergency_stands_first_and_its_act_on_page_one():
    one = first_page(document("cauda-equina-signs"))
    assert one.before == ()
    assert "local emergency pathway" in " ".join(line for block in one.blocks for line in block.lines)


def test_sources_tell_undated_facts():
    found = document("one-disc-candidate")
    bare = [
        f.model_copy(update={"date": ""}) if f.document_kind == "questionnaire" else f for f in found.facts
    ]
    told = sources(found.model_copy(update={"facts": bare}))
    assert any(line.startswith("Questionnaire, no date (") for line in told)
    assert told.index(next(line for line in told if "no date" in line)) == len(told) - 1


# --- the file


def _operators(page, reader):
    return pypdf.generic.ContentStream(page.get_contents(), reader).operations


def _roles(reader):
    """Roles of the structure in reading order, and the marked content that each page's tree names."""
    found, pieces = [], {}
    places = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)}

    def walk(element):
        element = element.get_object()
        found.append(element["/S"])
        for part in element["/K"]:
            part = part.get_object()
            if part.get("/Type") == "/MCR":
                pieces.setdefault(places[part.raw_get("/Pg").idnum], []).append(int(part["/MCID"]))
            else:
                walk(part)

    root = reader.trailer["/Root"]["/StructTreeRoot"]
    for element in root["/K"]:
        walk(element)
    return found, pieces


@pytest.fixture(scope="module")
def pdf():
    tried = RULES.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
    found = document("heavy-patient-for-conference", tried)
    raw = assessment_pdf(found, "A4", MADE)
    assert raw == assessment_pdf(found, "A4", MADE), "equal content made at one moment gives equal bytes"
    return found, pypdf.PdfReader(io.BytesIO(raw))


def test_it_is_tagged_with_language_title_headings_and_real_dates(pdf):
    found, reader = pdf
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata.title == f"heavy-patient-for-conference: {headline(found)}"
    assert reader.metadata.creation_date == reader.metadata.modification_date == MADE
    roles, pieces = _roles(reader)
    assert roles[:3] == ["/Document", "/H1", "/P"]
    assert roles.count("/H1") == 1
    one = first_page(found)
    titles = [block for block in (*one.before, *one.blocks) if block.title]
    assert roles.count("/H2") == len(titles) + 2, "the standing and the annex are headings, too"
    assert roles.count("/H3") > 10
    assert {"/Table", "/TR", "/TH", "/TD", "/L", "/LI", "/LBody", "/H4"} <= set(roles)
    assert roles.index("/H2") < roles.index("/H3") < roles.index("/H4")
    numbers = root["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    for number, page in enumerate(reader.pages):
        assert page["/StructParents"] == number
        assert page["/Tabs"] == "/S"
        marks = sorted(pieces[number])
        assert marks == list(range(len(marks))), "each piece of a page has its element, once"
        assert len(numbers[2 * number + 1]) == len(marks)


def test_every_word_is_tagged_or_an_artifact(pdf):
    _, reader = pdf
    shown = 0
    for page in reader.pages:
        depth = 0
        for operands, operator in _operators(page, reader):
            if operator in (b"BDC", b"BMC"):
                depth += 1
                assert depth == 1, "marked content is not nested"
                assert operator == b"BDC" or operands[0] == "/Artifact"
            elif operator == b"EMC":
                depth -= 1
            elif operator in (b"Tj", b"TJ", b"'", b'"'):
                shown += 1
                assert depth == 1
            elif operator in (b"S", b"f", b"B", b"f*"):
                assert depth == 1, "a rule or a frame is an artifact"
    assert shown > 500


def test_a_trial_stands_in_the_foot_of_every_page(pdf):
    _, reader = pdf
    for page in reader.pages:
        assert (
            "Localtrial,validonlyif“bodymassindexthatisitselftoohigh”were40kg/m2(shipped35kg/m2)."
            in squeezed(page.extract_text())
        )
    both = compare(
        [
            document("pregnant"),
            document("pregnant", RULES.with_trial({("age_upper_limit", "highest_age"): 80})),
        ]
    )
    reader = pypdf.PdfReader(io.BytesIO(comparison_pdf(both, "A4", MADE)))
    for page in reader.pages:
        assert "Localtrial,validonlyif" in squeezed(page.extract_text())


def test_without_a_moment_the_file_bears_the_present_one():
    before = datetime.now(UTC).replace(microsecond=0)
    sheets = Sheets("title", "foot")
    sheets.add("text")
    made = pypdf.PdfReader(io.BytesIO(sheets.to_bytes("A4"))).metadata.creation_date
    assert before <= made <= datetime.now(UTC)


# --- a browser


@pytest.mark.parametrize(("name", "paper"), [
    ("trial", "A4"), ("emergency", "A4"), ("crowded", "Letter"), pytest.param("trial", "Letter", marks=only_deep),
    pytest.param("emergency", "Letter", marks=only_deep), pytest.param("crowded", "A4", marks=only_deep),
])  # fmt: skip
def test_a_browser_prints_the_same(browser, name, paper):
    tried = RULES.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
    found = {
        "trial": lambda: document("heavy-patient-for-conference", tried),
        "emergency": lambda: document("cauda-equina-signs"),
        "crowded": crowded,
    }[name]()
    sheet = browser.new_page()
    sheet.set_content(html_page(found))
    assert not sheet.locator(".paper").first.is_visible(), "the boxes are for paper"
    printed = pypdf.PdfReader(io.BytesIO(sheet.pdf(format=paper)))
    sheet.close()
    pages = [squeezed(printed_text(page)) for page in printed.pages]
    assert pages[0] == squeezed(printed.pages[0].extract_text()), "as a general reader reads it"
    for words in said(first_page(found)):
        assert squeezed(words) in pages[0], words
    assert squeezed(f"{ANNEX}") in pages[1]
    assert squeezed(BOXES[0][0]) not in pages[1]
    for number, foot in enumerate(pages, 1):
        assert f"{number}of{len(pages)}" in foot
        assert squeezed(found.case.digest) in foot
        if name == "trial":
            assert "Localtrial,validonlyif" in foot
    if name == "trial" and paper == "A4":
        whole = "".join(pages)
        own = pypdf.PdfReader(io.BytesIO(assessment_pdf(found, paper, MADE)))
        ours = squeezed(" ".join(page.extract_text() for page in own.pages))
        for row in found.criteria:
            for words in (row.found, row.rule, *row.because):
                assert (squeezed(words) in whole) is (squeezed(words) in ours), words
