"""Documents read by their structure: HTML, RTF, Word, PDF with columns and tables, pages without text."""

import io
import zipfile

import docx
import pytest
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Frame,
    FrameBreak,
    PageTemplate,
    Paragraph,
    SimpleDocTemplate,
    Table,
)

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading.inputs import load_bytes
from candidacy.reading.page_layout import in_order
from candidacy.reading.sent import ReportText
from candidacy.reading.take import reading_of

STYLE = getSampleStyleSheet()["Normal"]


def one(raw: bytes | str) -> ReportText:
    (found,) = load_bytes(raw.encode() if isinstance(raw, str) else raw, "report.x")
    return found


def refused(raw: bytes | str) -> Code:
    with pytest.raises(ReportError) as caught:
        one(raw)
    return caught.value.problems[0].code


def outcome(raw: bytes) -> str | Code:
    """The text of a document, or the code of the error it is refused with."""
    try:
        return one(raw).text
    except ReportError as error:
        return error.problems[0].code


def kinds(report: ReportText) -> list[str]:
    return [m.kind for m in report.marks]


def said(report: ReportText) -> set[tuple[str, str, str]]:
    return {(f.disc, str(f.value), f.status) for f in reading_of(report).findings if f.kind == "displacement"}


# --- HTML (WHATWG HTML: del and s, hidden, script and style, tables)


def test_html_is_read_as_its_reader_sees_it() -> None:
    page = (
        "<!DOCTYPE html><html><head><title>x</title><style>.old{display:none} p{color:red}</style></head><body>"
        "<h1>MRI LUMBAR SPINE</h1><p>FINDINGS:</p><ul><li>L3-L4: normal disc<li>L4-L5: <del>disc extrusion</del> "
        "disc bulge</ul><p class='old'>L5-S1: disc extrusion</p><div style='display: none'>L2-L3 extrusion</div>"
        "<p hidden>L1-L2 extrusion</p><script>document.write('L5-S1 sequestration')</script>"
        "<p>L5&#8209;S1: &lt;3&nbsp;mm protrusion</p></body></html>"
    )
    found = one(page)
    assert found.form == "html"
    assert found.text == (
        "MRI LUMBAR SPINE\nFINDINGS:\n- L3-L4: normal disc\n- L4-L5: disc bulge\nL5‑S1: <3 mm protrusion"
    )
    assert kinds(found) == ["left_out"]
    assert "disc extrusion" in found.marks[0].about
    assert "sequestration" not in found.marks[0].about
    assert not [v for _, v, _ in said(found) if v in ("extrusion", "sequestration")]


def test_html_tables_are_rows_and_layout_tables_are_lines() -> None:
    rows = "<table><tr><th>Level<th>Disc<th>Canal<tr><td>L4-L5<td>Bulge<td>Patent<tr><td>L5-S1<td><td>Patent</table>"
    assert one(rows).text == "Level | Disc | Canal\nL4-L5 | Bulge | Patent\nL5-S1 | | Patent"
    page = "<table><tr><td><p>FINDINGS:</p><p>L4-L5: bulge.</p><p>IMPRESSION: bulge.</p></td></tr></table>"
    assert one(page).text == "FINDINGS:\nL4-L5: bulge.\nIMPRESSION: bulge."
    pairs = "<table><tr><td>L4-L5</td><td>Bulge.<br>No stenosis.</td></tr></table>"
    assert one(pairs).text == "L4-L5: Bulge. No stenosis."


def test_markup_inside_plain_text_keeps_its_lines() -> None:
    found = one("FINDINGS:\nL4-L5: <s>extrusion</s> <b>bulge</b>.\nL5-S1: < 3 mm protrusion, canal >10 mm.\n")
    assert found.text.splitlines() == [
        "FINDINGS:",
        "L4-L5: bulge.",
        "L5-S1: < 3 mm protrusion, canal >10 mm.",
    ]
    assert said(found) == {("L4-L5", "bulge", "present"), ("L5-S1", "protrusion", "present")}


def test_an_element_that_is_never_closed_loses_no_word_in_silence() -> None:
    found = one("<p>L4-L5: bulge. <del>L5-S1: extrusion.<p>L3-L4: protrusion.")
    assert "L3-L4: protrusion." in found.marks[0].about
    assert said(found) == {("L4-L5", "bulge", "present")}


def test_check_boxes_of_a_form_keep_their_ticks() -> None:
    text = one("<p>L4-L5: <input type=checkbox checked>bulge <input type=checkbox>extrusion</p>").text
    assert text == "L4-L5: [x] bulge [ ] extrusion"


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(
    ["<p>", "</p>", "<table>", "<tr>", "<td>", "</td>", "</tr>", "</table>", "<del>", "</del>", "<li>", "<ul>", "</ul>", "<br>", "<pre>", "</pre>", "<style>", "</style>", "<script>", "</script>", "<div", "hidden>", "</div>", "<h1>", "</h1>", "L4-L5", "bulge", "&amp;", "&lt;", "<!--", "-->", "<![CDATA[", "]]>", "<td", "<"]), max_size=30))  # fmt: skip
def test_any_markup_gives_text_or_a_told_error(parts: list[str]) -> None:
    assert outcome(("<html>" + " ".join(parts)).encode())


# --- RTF (Rich Text Format Specification 1.9.1)

RTF = (
    r"{\rtf1\ansi\ansicpg1252\deff0{\fonttbl{\f0 Arial;}}{\colortbl;\red0\green0\blue0;}{\*\generator X;}"
    r"{\info{\title L5-S1 extrusion}}{\header L4-L5 extrusion\par}\pard FINDINGS:\par "
    r"L4-L5: {\strike disc extrusion} disc bulge\line L5-S1: 3\'a0mm protrusion \u8211?left\par "
    r"{\v hidden sequestration}{\deleted old}\trowd\intbl L3-L4\cell normal\cell\row }"
)


def test_rtf_leaves_out_what_is_struck_hidden_or_no_text() -> None:
    found = one(RTF)
    assert found.form == "rtf"
    assert found.text.splitlines() == [
        "FINDINGS:", "L4-L5: disc bulge", "L5-S1: 3 mm protrusion –left", "L3-L4 | normal |",
    ]  # fmt: skip
    assert kinds(found) == ["left_out"]
    assert all(w in found.marks[0].about for w in ("disc extrusion", "hidden sequestration", "old"))
    assert said(found) >= {("L4-L5", "bulge", "present"), ("L5-S1", "protrusion", "present")}


def test_rtf_in_other_code_pages_and_unicode() -> None:
    assert one(rb"{\rtf1\ansi\ansicpg1250 \'9akoda L4-L5}").text == "škoda L4-L5"
    assert one(rb"{\rtf1\uc2 a\u176 xyb L4-L5}").text == "a°b L4-L5"


@pytest.mark.parametrize("cut", [12, 90, 150, 250, len(RTF) - 2])
def test_rtf_that_is_cut_off_is_refused(cut: int) -> None:
    assert refused(RTF[:cut]) is Code.BAD_REPORT


def test_rtf_of_too_many_groups_or_binary_is_refused() -> None:
    assert refused("{\\rtf1" + "{" * 5000) is Code.TOO_DEEP
    assert refused(rb"{\rtf1 {\pict\bin5 abcde}L4-L5 bulge}") is Code.BAD_REPORT
    assert refused(rb"{\rtf1\ansicpg9999 L4}") is Code.NOT_TEXT
    assert refused(rb"{\rtf1 }") is Code.EMPTY


# --- Word (ISO/IEC 29500-1 WordprocessingML)


def word(document) -> bytes:
    buffer = io.BytesIO()
    document.save(buffer)
    return buffer.getvalue()


def run_xml(inner: str) -> object:
    return parse_xml(f"<w:p {nsdecls('w')}>{inner}</w:p>")


def test_word_tracked_changes_are_read_as_accepted_and_told() -> None:
    document = docx.Document()
    body = document.element.body
    body.insert(0, run_xml(
        "<w:r><w:t xml:space='preserve'>L4-L5: </w:t></w:r><w:ins w:id='1' w:author='a'><w:r>"
        "<w:t xml:space='preserve'>no </w:t></w:r></w:ins><w:del w:id='2' w:author='a'><w:r><w:delText>severe </w:delText>"
        "</w:r></w:del><w:r><w:t>disc herniation</w:t></w:r>"))  # fmt: skip
    found = one(word(document))
    assert found.text == "L4-L5: no disc herniation"
    assert "severe" in found.marks[0].about
    assert ("L4-L5", "herniation", "absent") in said(found)


def test_word_content_controls_are_read_and_hidden_or_struck_runs_are_not() -> None:
    document = docx.Document()
    body = document.element.body
    body.insert(
        0,
        parse_xml(
            f"<w:sdt {nsdecls('w')}><w:sdtContent><w:p><w:r><w:t>L4-L5: disc bulge</w:t></w:r></w:p></w:sdtContent></w:sdt>"
        ),
    )
    body.insert(1, run_xml(
        "<w:r><w:rPr><w:strike/></w:rPr><w:t>L5-S1 extrusion</w:t></w:r><w:r><w:rPr><w:vanish/></w:rPr>"
        "<w:t>L3-L4 extrusion</w:t></w:r><w:r><w:rPr><w:strike w:val='0'/></w:rPr><w:t>L5-S1: protrusion</w:t></w:r>"))  # fmt: skip
    document.sections[0].header.paragraphs[0].text = "Patient X"
    found = one(word(document))
    assert found.text == "L4-L5: disc bulge\nL5-S1: protrusion"
    assert kinds(found) == ["left_out"]


def test_word_table_rows_keep_merged_levels() -> None:
    document = docx.Document()
    table = document.add_table(rows=4, cols=3)
    for row, cells in zip(table.rows, (("Level", "Disc", "Canal"), ("L4-L5", "bulge", "patent"), ("", "annular fissure", ""),
                                       ("L5-S1", "normal", "patent")), strict=True):  # fmt: skip
        for cell, text in zip(row.cells, cells, strict=True):
            cell.text = text
    table.cell(1, 0).merge(table.cell(2, 0))
    lines = one(word(document)).text.splitlines()
    assert lines == [
        "Level | Disc | Canal",
        "L4-L5 | bulge | patent",
        "L4-L5 | annular fissure |",
        "L5-S1 | normal | patent",
    ]


def archive(content: bytes, name: str = "word/document.xml", more: tuple[str, ...] = ()) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr(name, content)
        for other in more:
            made.writestr(other, b"x")
    return buffer.getvalue()


BODY = "<w:document xmlns:w='http://schemas.openxmlformats.org/wordprocessingml/2006/main'><w:body>{}</w:body></w:document>"


def test_word_bombs_and_broken_archives_are_refused() -> None:
    assert refused(archive(b" " * 60_000_000)) is Code.TOO_LARGE
    assert refused(archive(b"x", "other.txt")) is Code.BAD_REPORT
    whole = archive(BODY.format("<w:p><w:r><w:t>L4-L5</w:t></w:r></w:p>").encode())
    assert one(whole).text == "L4-L5"
    for cut in (10, 40, len(whole) // 2, len(whole) - 10):
        assert refused(whole[:cut]) is Code.BAD_REPORT
    entity = (
        b"<!DOCTYPE d [<!ENTITY a 'L4-L5 extrusion'>]>"
        + BODY.format("<w:p><w:r><w:t>&a;</w:t></w:r></w:p>").encode()
    )
    assert refused(archive(entity)) is Code.ALIAS
    assert refused(archive(BODY.format("<w:p>").encode())) is Code.SYNTAX
    assert refused(archive(BODY.format("<w:sdt>" * 2000 + "</w:sdt>" * 2000).encode())) is Code.TOO_DEEP
    assert (
        refused(archive(BODY.format("<w:p/>").encode(), more=("word/media/image1.png",))) is Code.BAD_REPORT
    )


# --- PDF

LEFT = [
    "FINDINGS:",
    "L1-L2: No disc bulge or herniation. No canal stenosis or foraminal narrowing.",
    "L2-L3: Mild disc desiccation without loss of height. No herniation.",
    "L3-L4: Broad-based disc bulge with mild canal stenosis. The neural foramina are patent.",
]
RIGHT = [
    "L4-L5: Left paracentral disc protrusion measuring 5 mm with moderate canal stenosis.",
    "L5-S1: Moderate loss of disc height. Small central annular fissure. No stenosis.",
    "IMPRESSION:",
    "1. Left paracentral protrusion at L4-L5. 2. Annular fissure at L5-S1 without herniation.",
]


def two_columns() -> bytes:
    buffer = io.BytesIO()
    made = BaseDocTemplate(buffer, pagesize=letter)
    wide = made.width / 2 - 12
    frames = [Frame(made.leftMargin + x, made.bottomMargin, wide, made.height) for x in (0, wide + 24)]
    made.addPageTemplates(PageTemplate(frames=frames))
    made.build([*(Paragraph(x, STYLE) for x in LEFT), FrameBreak(), *(Paragraph(x, STYLE) for x in RIGHT)])
    return buffer.getvalue()


def drawn(pages: list[list[tuple[float, float, str]]], picture: set[int] = frozenset()) -> bytes:
    """Draw words at places, page by page, in the order given; a page in ``picture`` holds one large picture."""
    buffer = io.BytesIO()
    paper = canvas.Canvas(buffer, pagesize=letter)
    image = ImageReader(Image.new("RGB", (900, 900), "white"))
    for number, words in enumerate(pages, 1):
        if number in picture:
            paper.drawImage(image, 0, 0, 600, 780)
        for x, y, text in words:
            paper.drawString(x, y, text)
        paper.showPage()
    paper.save()
    return buffer.getvalue()


def test_pdf_columns_are_read_one_after_the_other() -> None:
    found = one(two_columns())
    assert " ".join(found.text.split()) == " ".join([*LEFT, *RIGHT])
    assert ("L4-L5", "protrusion", "present") in said(found)
    across = [
        [
            w
            for n in range(6)
            for w in ((60, 700 - 14 * n, LEFT[1 + n % 3][:45]), (330, 700 - 14 * n, RIGHT[n % 2][:45]))
        ]
    ]
    text = one(drawn(across)).text.splitlines()
    assert text == [LEFT[1 + n % 3][:45].strip() for n in range(6)] + [
        RIGHT[n % 2][:45].strip() for n in range(6)
    ]


def test_pdf_tables_are_rows() -> None:
    buffer = io.BytesIO()
    rows = [
        ["Level", "Disc", "Canal"],
        ["L4-L5", "Protrusion", "Moderate stenosis"],
        ["L5-S1", "Bulge", "Patent"],
    ]
    SimpleDocTemplate(buffer, pagesize=letter).build([Paragraph("FINDINGS:", STYLE), Table(rows)])
    found = one(buffer.getvalue())
    assert [line for line in found.text.splitlines() if line] == ["FINDINGS:", *(" | ".join(r) for r in rows)]
    assert said(found) == {("L4-L5", "protrusion", "present"), ("L5-S1", "bulge", "present")}


def test_pdf_table_with_labels_at_half_height_is_read_by_row() -> None:
    rows = [
        (
            "L3-L4",
            "Normal disc. No canal stenosis or foraminal narrowing is seen at this level, and facets are normal.",
        ),
        (
            "L4-L5",
            "Left paracentral disc protrusion with moderate canal stenosis and mild left foraminal narrowing here.",
        ),
        ("L5-S1", "Mild bulge."),
    ]
    buffer = io.BytesIO()
    SimpleDocTemplate(buffer, pagesize=letter).build(
        [
            Paragraph("FINDINGS:", STYLE),
            Table([[Paragraph(a, STYLE), Paragraph(b, STYLE)] for a, b in rows], colWidths=[80, 300]),
        ]
    )
    found = one(buffer.getvalue())
    assert found.text.splitlines() == ["FINDINGS:", *(f"{a}: {b}" for a, b in rows)]
    assert found.marks == ()


def test_rows_that_cannot_be_told_apart_are_not_read_but_told() -> None:
    page = "\n".join(["FINDINGS:", "            moderate stenosis and", "L4-L5       facet hypertrophy", "            no narrowing of the",
                      "L5-S1       canal or foramina"])  # fmt: skip
    found = in_order(page, "FINDINGS:\nnothing alike")
    assert found.text == "FINDINGS:"
    assert "facet hypertrophy" in found.unordered[0]


def test_pdf_page_without_text_is_told_and_a_file_of_them_is_refused() -> None:
    page = [(60, 700, "FINDINGS: L4-L5: Mild disc bulge. No canal stenosis is seen at this level of the lumbar spine,"),
            (60, 686, "and the neural foramina are patent on both sides. L5-S1: Normal disc.")]  # fmt: skip
    found = one(drawn([page, []], picture={2}))
    assert kinds(found) == ["page_without_text"]
    assert "page 2 holds no text (a scan)" in found.marks[0].about
    assert found.marks[0].next_step
    assert kinds(one(drawn([page, []]))) == []  # an empty sheet hides nothing
    assert refused(drawn([[], []], picture={1, 2})) is Code.BAD_REPORT
    assert refused(drawn([[(60, 770, "FAX 03/02/2026 P. 1/1")]], picture={1})) is Code.BAD_REPORT


def test_pdf_running_heads_are_dropped_once_said() -> None:
    pages = [
        [(60, 760, f"Valley Imaging, page {n}"), (60, 700, f"L{n}-L{n + 1}: Mild disc bulge.")]
        for n in (1, 2, 3)
    ]
    assert one(drawn(pages)).text.splitlines() == [
        "Valley Imaging, page 1", "L1-L2: Mild disc bulge.", "L2-L3: Mild disc bulge.", "L3-L4: Mild disc bulge.",
    ]  # fmt: skip


def test_pdf_that_is_cut_off_is_refused_or_read_whole() -> None:
    raw = two_columns()
    whole = one(raw).text
    for cut in range(20, len(raw), max(1, len(raw) // 15)):
        assert outcome(raw[:cut]) in (whole, Code.BAD_REPORT)


# --- names that lie, and what is no document


def test_the_form_is_told_from_the_bytes_not_the_name() -> None:
    assert load_bytes(two_columns(), "report.txt")[0].form == "pdf"
    assert load_bytes(b"L4-L5: bulge.", "report.pdf")[0].form == "text"
    assert load_bytes(RTF.encode(), "report.docx")[0].form == "rtf"


@pytest.mark.parametrize(
    "raw",
    [
        b"\x89PNG\r\n\x1a\n" + b"\x00" * 50, b"\xff\xd8\xff\xe0" + b"\x00" * 50, b"\x00" * 128 + b"DICM" + b"\x00" * 20,
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600,
    ],
)  # fmt: skip
def test_pictures_and_old_word_files_are_refused_with_the_way_out(raw: bytes) -> None:
    with pytest.raises(ReportError) as caught:
        one(raw)
    assert caught.value.problems[0].code is Code.BAD_REPORT
    assert caught.value.problems[0].next_step
