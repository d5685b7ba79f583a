"""Reports as they arrive: plain text in several codes, PDF, Word, HL7 v2, FHIR; and what is refused, with its reason."""

import base64
import io
import json
from pathlib import Path

import docx
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading import inputs
from candidacy.reading.inputs import load, load_bytes

TEXT = "FINDINGS:\nL4-L5: Mild disc bulge – no stenosis.\nIMPRESSION: Bulge."


def code_of(raw: bytes) -> Code:
    with pytest.raises(ReportError) as caught:
        load_bytes(raw, "report.x")
    assert caught.value.problems[0].file == "report.x"
    assert caught.value.problems[0].message
    return caught.value.problems[0].code


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_in_usual_codes_gives_the_same_report(encoding: str) -> None:
    assert load_bytes(TEXT.encode(encoding))[0].text == TEXT


def test_line_ends_are_kept_for_the_reader() -> None:
    assert load_bytes(TEXT.replace("\n", "\r\n").encode())[0].text.count("\r\n") == 2


def test_file_is_read_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "a report.txt"
    path.write_text(TEXT, "utf-8")
    (found,) = load(path)
    assert (found.text, found.form) == (TEXT, "text")


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", Code.EMPTY),
        (b"  \n\t ", Code.EMPTY),
        (bytes(range(256)) * 20, Code.NOT_TEXT),
        (b"\xff\xfe\x00", Code.NOT_TEXT),
        (b"%PDF-1.7 broken", Code.BAD_REPORT),
        (b"PK\x03\x04 broken", Code.BAD_REPORT),
        (b"{not json", Code.SYNTAX),
        (b'{"resourceType": "Patient"}', Code.BAD_REPORT),
        (b'{"resourceType": "DiagnosticReport"}', Code.BAD_REPORT),
        (b'{"resourceType": "DiagnosticReport", "presentedForm": [{"data": "%%%"}]}', Code.BAD_REPORT),
        (b"MSH|^~\\&|A|B|C|D|20260101||ADT^A01|1|P|2.5.1\r", Code.BAD_REPORT),
        (b"MSH|^~\\&|A|B|C|D|20260101||ORU^R01|1|P|2.5.1\rOBR|1\r", Code.BAD_REPORT),
    ],
)
def test_what_is_no_report_is_refused(raw: bytes, code: Code) -> None:
    assert code_of(raw) is code


def test_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inputs, "MAX_BYTES", 100)
    assert code_of(b"x" * 101) is Code.TOO_LARGE
    monkeypatch.setattr(inputs, "MAX_CHARACTERS", 50)
    assert code_of(b"x" * 60) is Code.TOO_LARGE


def test_missing_file_and_folder_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.txt", Path("a\x00b")):
        with pytest.raises(ReportError) as caught:
            load(path)
        assert caught.value.problems[0].code is Code.UNREADABLE


def pdf(with_text: bool, password: str = "") -> bytes:
    """Make a small PDF by hand, one page, with or without a text layer (PDF 1.7, 7.8 and 9.4)."""
    writer = pypdf.PdfWriter()
    page = writer.add_blank_page(300, 300)
    if with_text:
        from pypdf.generic import DecodedStreamObject, DictionaryObject, NameObject

        font = DictionaryObject(
            {NameObject("/Type"): NameObject("/Font"), NameObject("/Subtype"): NameObject("/Type1"),
             NameObject("/BaseFont"): NameObject("/Helvetica")}
        )  # fmt: skip
        fonts = DictionaryObject({NameObject("/F1"): writer._add_object(font)})
        page[NameObject("/Resources")] = DictionaryObject({NameObject("/Font"): fonts})
        stream = DecodedStreamObject()
        stream.set_data(b"BT /F1 12 Tf 20 200 Td (L4-L5: Mild disc bulge.) Tj ET")
        page[NameObject("/Contents")] = writer._add_object(stream)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


def test_pdf_with_text_layer() -> None:
    (found,) = load_bytes(pdf(True))
    assert "L4-L5: Mild disc bulge." in found.text
    assert found.form == "pdf"


def test_scanned_pdf_says_so() -> None:
    with pytest.raises(ReportError, match="no text layer: a scanned page"):
        load_bytes(pdf(False))


def test_protected_pdf_is_refused() -> None:
    assert code_of(pdf(True, "secret")) is Code.BAD_REPORT


def test_word_file_with_paragraphs_and_a_table() -> None:
    document = docx.Document()
    document.add_paragraph("FINDINGS:")
    table = document.add_table(rows=2, cols=2)
    table.cell(0, 0).text, table.cell(0, 1).text = "L4-L5:", "disc bulge"
    table.cell(1, 0).text, table.cell(1, 1).text = "L5-S1:", "disc protrusion"
    document.add_paragraph("IMPRESSION: none")
    buffer = io.BytesIO()
    document.save(buffer)
    (found,) = load_bytes(buffer.getvalue())
    assert found.text.split("\n") == [
        "FINDINGS:",
        "L4-L5: disc bulge",
        "L5-S1: disc protrusion",
        "IMPRESSION: none",
    ]


# HL7 v2.5.1 chapter 2: separators (2.5.4), escape sequences (2.7.1), chapter 7: OBR-7, OBX-2, OBX-5.
def test_hl7_observation_text_with_escapes_and_repetitions() -> None:
    message = "\r".join(
        [
            "MSH|^~\\&|RIS|HOSP|APP|HOSP|20260301||ORU^R01^ORU_R01|42|P|2.5.1",
            "PID|1||123||DOE^J",
            "OBR|1|||72148^MRI LUMBAR^C4|||20260228101500",
            "OBX|1|TX|IMP||FINDINGS:~L4-L5: bulge \\T\\ annular tear.||||||F",
            "OBX|2|FT|IMP||L5-S1: 4 mm protrusion\\.br\\Canal \\F\\ patent \\E\\||||||F",
            "OBX|3|NM|CTDI||12|mGy|||||F",
        ]
    )
    (found,) = load_bytes(message.encode())
    assert found.text == "FINDINGS:\nL4-L5: bulge & annular tear.\nL5-S1: 4 mm protrusion\nCanal | patent \\"
    assert (found.form, found.day, found.status) == ("hl7", "2026-02-28", "")


def test_hl7_with_other_separators_and_two_requests() -> None:
    message = (
        "MSH#*!?@#A#B#C#D#1##ORU*R01#1#P#2.5\nOBR#1\nOBX#1#TX#a##First.\nOBR#2\nOBX#1#ST#a##Second?F?.\n"
    )
    assert [r.text for r in load_bytes(message.encode())] == ["First.", "Second#."]


# FHIR R4 DiagnosticReport: presentedForm 0..* Attachment, conclusion, text.div, effectiveDateTime.
def test_fhir_attached_text_comes_first() -> None:
    report = {
        "resourceType": "DiagnosticReport",
        "status": "final",
        "effectiveDateTime": "2026-02-28T10:15:00Z",
        "conclusion": "Bulge.",
        "presentedForm": [{"contentType": "text/plain", "data": base64.b64encode(TEXT.encode()).decode()}],
    }
    (found,) = load_bytes(json.dumps(report).encode())
    assert (found.text, found.form, found.day, found.status) == (TEXT, "fhir", "2026-02-28", "final")


def test_fhir_narrative_and_conclusion_inside_a_bundle() -> None:
    report = {
        "resourceType": "DiagnosticReport",
        "text": {
            "div": "<div><p>L4-L5: bulge &lt;4 mm&gt;</p><script>x()</script><p>L5-S1: normal</p></div>"
        },
        "conclusion": "Bulge at L4-L5.",
    }
    bundle = {
        "resourceType": "Bundle",
        "entry": [{"resource": {"resourceType": "Patient"}}, {"resource": report}],
    }
    (found,) = load_bytes(json.dumps(bundle).encode())
    assert found.text.startswith("L4-L5: bulge <4 mm>\nL5-S1: normal\n")
    assert found.text.endswith("IMPRESSION:\nBulge at L4-L5.")
    assert "x()" not in found.text


def test_fhir_attached_pdf_is_read() -> None:
    form = {"contentType": "application/pdf", "data": base64.b64encode(pdf(True)).decode()}
    (found,) = load_bytes(json.dumps({"resourceType": "DiagnosticReport", "presentedForm": [form]}).encode())
    assert "disc bulge" in found.text


def test_deeply_nested_message_is_refused() -> None:
    assert code_of(b'{"a":' * 200_000) in (Code.SYNTAX, Code.TOO_DEEP)


@settings(max_examples=400, deadline=None)
@given(
    st.one_of(
        st.binary(max_size=200),
        st.text(max_size=200).map(lambda t: t.encode("utf-8", "surrogatepass")),
        st.text(max_size=120).map(lambda t: ("MSH|^~\\&|" + t).encode("utf-8", "surrogatepass")),
        st.binary(max_size=120).map(lambda b: b"%PDF-1.4" + b),
        st.binary(max_size=120).map(lambda b: b"PK\x03\x04" + b),
        st.recursive(st.text(max_size=8) | st.integers() | st.none(), lambda c: st.lists(c, max_size=3) |
                     st.dictionaries(st.sampled_from(["text", "div", "presentedForm", "data", "conclusion", "entry", "resource"]), c,
                                     max_size=4), max_leaves=12)
        .map(lambda d: json.dumps({"resourceType": "DiagnosticReport", **(d if isinstance(d, dict) else {})}).encode()),
    )
)  # fmt: skip
def test_any_bytes_give_reports_or_a_told_error(raw: bytes) -> None:
    try:
        found = load_bytes(raw, "any")
    except ReportError as error:
        found = ()
        told = error.problems
    else:
        told = ()
    assert found or told
    for report in found:
        assert report.text.strip()
        report.text.encode("utf-8")
