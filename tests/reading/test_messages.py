"""Messages that bring reports: their standing, versions, batches, what is withdrawn; and a folder with bad files in it."""

import base64
import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.commands.read import read
from candidacy.foundation.errors import Code, ReportError
from candidacy.reading import batch
from candidacy.reading.inputs import load_bytes, load_bytes_each
from candidacy.reading.sent import ReportText

BULGE = "FINDINGS: L4-L5: Mild disc bulge."


# --- HL7 v2.5.1: OBR-25 by table 0123, OBX-11 by table 0085, batches by 2.10, MLLP framing


def message(
    *lines: tuple[str, str],
    obr: str = "F",
    number: str = "A1",
    changed: str = "",
    study: str = "72148",
    sent: str = "20260301",
) -> str:
    segments = [
        f"MSH|^~\\&|RIS|HOSP|APP|HOSP|{sent}||ORU^R01^ORU_R01|42|P|2.5.1",
        f"OBR|1||{number}|{study}^MRI LUMBAR^C4|||20260228101500|||||||||||||||{changed}|||{obr}",
        *(f"OBX|{n}|TX|IMP||{text}||||||{code}" for n, (text, code) in enumerate(lines, 1)),
    ]
    return "\r".join(segments) + "\r"


def one(raw: str | bytes) -> ReportText:
    (found,) = load_bytes(raw.encode() if isinstance(raw, str) else raw, "m.hl7")
    return found


def code_of(raw: str | bytes) -> Code:
    with pytest.raises(ReportError) as caught:
        one(raw)
    assert caught.value.problems[0].next_step
    return caught.value.problems[0].code


def kinds(report: ReportText) -> list[str]:
    return [m.kind for m in report.marks]


@pytest.mark.parametrize(("obr", "status"), [("F", "final"), ("P", "preliminary"), ("R", "preliminary"), ("A", "preliminary"),
                                             ("C", "amended"), ("", "")])  # fmt: skip
def test_request_status_is_taken_and_marked(obr: str, status: str) -> None:
    found = one(message((BULGE, ""), obr=obr))
    assert found.status == status
    assert kinds(found) == ([status] if status in ("preliminary", "amended") else [])


@pytest.mark.parametrize(("obr", "code"), [("X", Code.WITHDRAWN), ("O", Code.BAD_REPORT), ("I", Code.BAD_REPORT),
                                           ("S", Code.BAD_REPORT), ("Y", Code.BAD_REPORT), ("Z", Code.BAD_REPORT)])  # fmt: skip
def test_request_without_a_result_is_refused(obr: str, code: Code) -> None:
    assert code_of(message((BULGE, "F"), obr=obr)) is code


def test_status_the_standard_does_not_have_is_marked() -> None:
    assert kinds(one(message((BULGE, "F"), obr="Q"))) == ["status_unknown"]
    assert kinds(one(message((BULGE, "9")))) == ["status_unknown"]


def test_lines_deleted_or_posted_as_wrong_are_not_read() -> None:
    found = one(message((BULGE, "F"), ("L5-S1: Disc extrusion.", "W"), ("L3-L4: Disc extrusion.", "D")))
    assert found.text == BULGE
    assert kinds(found) == ["left_out", "left_out"]
    assert "L5-S1: Disc extrusion." in found.marks[0].about
    assert code_of(message((BULGE, "W"), ("IMPRESSION: Bulge.", "W"))) is Code.WITHDRAWN
    assert code_of(message((BULGE, "D"))) is Code.WITHDRAWN
    assert code_of(message((BULGE, "X"))) is Code.BAD_REPORT


def test_one_line_that_is_not_final_makes_the_report_preliminary() -> None:
    assert one(message((BULGE, "F"), ("IMPRESSION: Bulge.", "P"))).status == "preliminary"
    assert one(message((BULGE, "F"), ("IMPRESSION: Bulge.", "C"))).status == "amended"


def versions(raw: str) -> dict[str, str]:
    """What became of each report of a file, by the status it was sent with."""
    out = {}
    for item in load_bytes_each(raw.encode(), "m.hl7"):
        what = "refused" if item.problems else "superseded" if item.superseded else "read"
        out[f"{item.status or 'none'} {item.issued}".strip()] = what
    return out


def test_final_holds_over_preliminary_and_corrected_over_final_in_any_order() -> None:
    parts = [message((BULGE, "P"), obr="P", changed="20260301"), message((BULGE + " Final.", "F"), changed="20260302"),
             message((BULGE + " Corrected.", "C"), obr="C", changed="20260303")]  # fmt: skip
    for order in ((0, 1, 2), (2, 1, 0), (1, 2, 0)):
        raw = "".join(parts[n] for n in order)
        assert versions(raw) == {
            "preliminary 20260301": "superseded",
            "final 20260302": "superseded",
            "amended 20260303": "read",
        }
        (found,) = load_bytes(raw.encode(), "m.hl7")
        assert kinds(found) == ["amended", "replaces"]
        assert "m.hl7#" in found.marks[1].about


def test_newest_of_equal_standing_holds_and_undated_ones_are_marked() -> None:
    two = message((BULGE, "F"), changed="20260301") + message((BULGE + " Again.", "F"), changed="20260302")
    assert versions(two) == {"final 20260301": "superseded", "final 20260302": "read"}
    same = message((BULGE, "F"), changed="20260302") + message((BULGE + " Again.", "F"), changed="20260302")
    assert [kinds(r) for r in load_bytes(same.encode())] == [["versions"], ["versions"]]
    copies = message((BULGE, "F")) + message((BULGE, "F"))
    assert len(load_bytes(copies.encode())) == 1


def test_lesser_standing_made_later_is_told() -> None:
    two = message((BULGE, "F"), changed="20260301") + message(
        (BULGE + " Again.", "P"), obr="P", changed="20260305"
    )
    (found,) = load_bytes(two.encode())
    assert (found.status, kinds(found)) == ("final", ["replaces", "versions"])


def test_withdrawal_takes_back_what_was_sent_before_it_and_not_what_came_after() -> None:
    wrong = message((BULGE, "W"), changed="20260302")
    before = message((BULGE, "F"), changed="20260301")
    after = message((BULGE + " New.", "F"), changed="20260303")
    assert versions(before + wrong) == {"final 20260301": "refused", "withdrawn 20260302": "refused"}
    assert versions(wrong + after) == {"withdrawn 20260302": "refused", "final 20260303": "read"}


def test_one_number_for_two_studies_is_two_reports() -> None:
    raw = message((BULGE, "F")) + message(("FINDINGS: L5-S1: Bulge.", "F"), study="72131")
    assert len(load_bytes(raw.encode())) == 2


@pytest.mark.parametrize(
    "frame", ["{}", "\x0b{}\x1c\r", "FHS|^~\\&|\rBHS|^~\\&|\r{}BTS|2\rFTS|1\r", "\r\n{}"]
)
def test_batch_goes_on_past_a_bad_message(frame: str) -> None:
    bad = "MSH|^~\\&|A|B|C|D|20260101||ADT^A01|1|P|2.5.1\rPID|1\r"
    parts = [message((BULGE, "F"), number="1"), bad, message(("L5-S1: Bulge.", "F"), number="2"), "MSH|\r"]
    if "\x0b" in frame:
        raw = "".join(frame.format(p) for p in parts)
    else:
        raw = frame.format("".join(parts))
    found = load_bytes_each(raw.encode(), "b.hl7")
    assert [bool(r.problems) for r in found] == [False, True, False, True]
    assert "message 2" in found[1].problems[0].file
    with pytest.raises(ReportError) as caught:
        load_bytes(raw.encode(), "b.hl7")
    assert len(caught.value.problems) == 2


def test_document_inside_a_message_is_read() -> None:
    rtf = base64.b64encode(rb"{\rtf1 FINDINGS: L4-L5: {\strike extrusion}bulge.}").decode()
    raw = message().rstrip("\r") + f"\rOBX|1|ED|IMP||APP^TEXT^RTF^Base64^{rtf}||||||F\r"
    found = one(raw)
    assert found.text == "FINDINGS: L4-L5: bulge."
    assert kinds(found) == ["left_out"]
    assert (
        code_of_any(message().rstrip("\r") + "\rOBX|1|ED|IMP||APP^TEXT^RTF^Base64^%%%||||||F\r")
        is Code.BAD_REPORT
    )


def code_of_any(raw: str) -> Code:
    with pytest.raises(ReportError) as caught:
        one(raw)
    return caught.value.problems[0].code


@pytest.mark.parametrize("cut", range(4, 160, 12))
def test_message_that_is_cut_off_is_read_or_told(cut: int) -> None:
    raw = message((BULGE, "F"))[:cut].encode()
    try:
        found = load_bytes(raw)
    except ReportError as error:
        found, told = (), error.problems
    else:
        told = ()
    assert found or told


# --- FHIR R4: DiagnosticReport.status, DocumentReference.status and docStatus


def fhir(status: str | None = "final", text: str = BULGE, **more: object) -> dict[str, object]:
    data = {"contentType": "text/plain", "data": base64.b64encode(text.encode()).decode()}
    return {"resourceType": "DiagnosticReport", "status": status, "presentedForm": [data], **more}


def reference(status: str, doc: str | None, text: str = BULGE, **more: object) -> dict[str, object]:
    attachment = {"contentType": "text/plain", "data": base64.b64encode(text.encode()).decode()}
    return {
        "resourceType": "DocumentReference",
        "status": status,
        "docStatus": doc,
        "content": [{"attachment": attachment}],
        **more,
    }


def bundle(*rows: dict[str, object]) -> str:
    return json.dumps(
        {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": r} for r in rows]}
    )


def test_fhir_status_is_taken_marked_or_refused() -> None:
    said = {s: one(json.dumps(fhir(s))).status for s in ("registered", "partial", "preliminary", "final", "amended",
                                                         "corrected", "appended", "unknown", "odd")}  # fmt: skip
    assert said == {"registered": "preliminary", "partial": "preliminary", "preliminary": "preliminary", "final": "final",
                    "amended": "amended", "corrected": "amended", "appended": "amended", "unknown": "", "odd": ""}  # fmt: skip
    assert kinds(one(json.dumps(fhir("odd")))) == ["status_unknown"]
    for status in ("entered-in-error", "cancelled"):
        assert code_of(json.dumps(fhir(status))) is Code.WITHDRAWN


def test_document_reference_is_read_by_its_standing() -> None:
    assert one(json.dumps(reference("current", "final"))).status == "final"
    assert one(json.dumps(reference("current", "preliminary"))).status == "preliminary"
    assert kinds(one(json.dumps(reference("superseded", "final")))) == ["versions"]
    for status, doc in (("entered-in-error", "final"), ("current", "entered-in-error")):
        assert code_of(json.dumps(reference(status, doc))) is Code.WITHDRAWN


def test_bundle_goes_on_past_a_bad_report_and_settles_versions() -> None:
    number = [{"system": "urn:x", "value": "77"}]
    rows = [fhir("preliminary", identifier=number, issued="2026-03-01T08:00:00Z"),
            fhir("final", BULGE + " Final.", identifier=number, issued="2026-03-01T12:00:00Z"),
            {"resourceType": "DiagnosticReport", "status": "final", "presentedForm": [{"data": "%%%"}]},
            fhir("cancelled", identifier=[{"value": "78"}])]  # fmt: skip
    found = load_bytes_each(bundle(*rows).encode(), "b.json")
    assert [(bool(r.problems), bool(r.superseded)) for r in found] == [
        (False, True),
        (False, False),
        (True, False),
        (True, False),
    ]
    assert found[0].superseded == "b.json#2"


def test_second_attachment_with_other_words_is_told() -> None:
    more = fhir()
    forms = more["presentedForm"]
    assert isinstance(forms, list)
    forms.append({"contentType": "text/plain", "data": base64.b64encode(b"L5-S1: extrusion.").decode()})
    assert kinds(one(json.dumps(more))) == ["left_out"]
    forms[1] = {"contentType": "text/html", "data": base64.b64encode(f"<p>{BULGE}</p>".encode()).decode()}
    assert kinds(one(json.dumps(more))) == []
    forms[1] = {"url": "https://example.org/r.pdf"}
    assert "linked" in one(json.dumps(more)).marks[0].about


# --- C-CDA R2.1 Diagnostic Imaging Report; CDA R2 narrative block


def cda(*sections: str, head: str = "", root: str = "ClinicalDocument") -> str:
    body = "".join(f"<component>{s}</component>" for s in sections)
    return (f'<?xml version="1.0" encoding="UTF-8"?><{root} xmlns="urn:hl7-org:v3" xmlns:sdtc="urn:hl7-org:sdtc">{head}'
            f"<component><structuredBody>{body}</structuredBody></component></{root}>")  # fmt: skip


def section(code: str, text: str, title: str = "", more: str = "") -> str:
    return f'<section{more}><code code="{code}"/><title>{title}</title><text>{text}</text></section>'


def test_cda_is_read_by_its_sections() -> None:
    head = ('<setId root="1.2" extension="9"/><versionNumber value="2"/><effectiveTime value="20260301"/>'
            '<documentationOf><serviceEvent><effectiveTime><low value="20260228"/></effectiveTime></serviceEvent></documentationOf>')  # fmt: skip
    table = ("<table><thead><tr><th>Level</th><th>Disc</th><th>Canal</th></tr></thead><tbody><tr><td>L4-L5</td>"
             "<td><content styleCode='Bold'>Bulge</content></td><td>Patent</td></tr></tbody></table>")  # fmt: skip
    found = one(cda(
        section("55115-0", "Evaluate for disc extrusion at L5-S1.", "Request"),
        section("59776-5", f"<paragraph>L3-L4: Normal <content revised='delete'>extruded</content> disc.</paragraph>{table}", "Findings"),
        section("19005-8", "<list><item>L4-L5 bulge.</item><item>No fracture.</item></list>", "Impression"),
        section("10160-0", "Disc extrusion medication", "Medications"),
        section("18782-3", "L2-L3 extrusion", "Findings", ' nullFlavor="NI"'),
        head=head,
    ))  # fmt: skip
    assert found.text == (
        "INDICATION:\nEvaluate for disc extrusion at L5-S1.\n\nFINDINGS:\nL3-L4: Normal disc.\nLevel | Disc | Canal\n"
        "L4-L5 | Bulge | Patent\n\nIMPRESSION:\n- L4-L5 bulge.\n- No fracture."
    )
    assert (found.form, found.day, found.key) == ("cda", "2026-02-28", "1.2 9")
    assert [m.about.split(": ")[-1] for m in found.marks] == ["Medications", "extruded"]


def test_cda_sections_inside_sections_keep_their_headings() -> None:
    inner = section("121070", "L4-L5: Bulge.", "Findings")
    outer = f'<section><code code="121064"/><text>Sagittal T2.</text><component>{inner}</component></section>'
    assert one(cda(outer)).text == "TECHNIQUE:\nSagittal T2.\n\nFINDINGS:\nL4-L5: Bulge."


def test_cda_that_was_withdrawn_replaces_or_holds_a_document() -> None:
    findings = section("121070", "L4-L5: Bulge.")
    assert code_of(cda(findings, head='<sdtc:statusCode code="nullified"/>')) is Code.WITHDRAWN
    found = one(cda(findings, head='<relatedDocument typeCode="RPLC"/>'))
    assert (found.status, kinds(found)) == ("amended", ["amended"])
    rtf = base64.b64encode(rb"{\rtf1 L4-L5: bulge.}").decode()
    inside = (f'<ClinicalDocument xmlns="urn:hl7-org:v3"><component><nonXMLBody><text mediaType="text/rtf" representation="B64">'
              f"{rtf}</text></nonXMLBody></component></ClinicalDocument>")  # fmt: skip
    assert one(inside).text == "L4-L5: bulge."


BOMB = ('<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)) + ']><ClinicalDocument xmlns="urn:hl7-org:v3">&j;</ClinicalDocument>')  # fmt: skip


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (BOMB, Code.ALIAS),
        (cda(section("121070", "L4")).replace("?>", '?><!DOCTYPE x SYSTEM "other.dtd">', 1), Code.ALIAS),
        (cda(section("10160-0", "L4-L5 bulge")), Code.BAD_REPORT),
        (cda(section("121070", "L4"), root="Other"), Code.BAD_REPORT),
        (cda(section("121070", "<content>" * 900 + "</content>" * 900)), Code.TOO_DEEP),
        *((cda(section("121070", "L4-L5: Bulge."))[:cut], Code.SYNTAX) for cut in range(60, 300, 40)),
    ],
)  # fmt: skip
def test_xml_that_is_dangerous_broken_or_no_report_is_refused(raw: str, code: Code) -> None:
    with pytest.raises(ReportError) as caught:
        load_bytes(raw.encode(), "d.xml")
    assert caught.value.problems[0].code is code


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(
    ["<section>", "</section>", "<text>", "</text>", "<table>", "</table>", "<tr>", "</tr>", "<td>", "</td>", "<br/>", "L4-L5 bulge",
     '<code code="121070"/>', "<title>", "</title>", "<list>", "</list>", "<content revised='delete'>", "</content>"]), max_size=20))  # fmt: skip
def test_any_sections_give_a_report_or_a_told_error(parts: list[str]) -> None:
    try:
        found = load_bytes(cda("".join(parts)).encode())
    except ReportError as error:
        found, told = (), error.problems
    else:
        told = ()
    assert found or told


# --- a folder


def run(*arguments: object):
    return CliRunner().invoke(read, [str(a) for a in arguments], catch_exceptions=True)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    files = {
        "a.txt": BULGE, "b.txt": "L4-L5 : sans hernie discale.", "c.hl7": message((BULGE, "P"), obr="P", number="9", changed="20260301"),
        "d.hl7": message((BULGE + " Final.", "F"), number="9", changed="20260302"), "e.xml": BOMB, "f.txt": "VOID\n" + BULGE,
        "g.rtf": "{\\rtf1 L4-L5: bulge", "h.txt": "PRELIMINARY REPORT\n" + BULGE, "i.docx": "PK\x03\x04 no archive", "j.txt": "",
    }  # fmt: skip
    for name, text in files.items():
        (tmp_path / name).write_text(text, "utf-8")
    return tmp_path


def test_folder_lists_what_was_read_refused_set_aside_and_marked(folder: Path) -> None:
    result = run(folder)
    assert isinstance(result.exception, ReportError)
    assert result.exception.others_answered
    assert "3 reports read, 6 refused, 1 set aside as superseded, 2 read with a mark" in result.output
    rows = {
        line.split()[0].rsplit("/", 1)[-1]: line
        for line in result.output.splitlines()
        if str(folder)[-8:] in line or "…" in line
    }
    assert "E402" in rows["b.txt"]
    assert "E404" in rows["f.txt"]
    assert "superseded by" in rows["c.hl7"]
    assert "d.hl7" in rows["c.hl7"]
    data = json.loads(run(folder, "--format", "json").output)
    assert [Path(r["name"]).name for r in data["reports"]] == ["a.txt", "d.hl7", "h.txt"]
    assert [Path(r["name"]).name for r in data["superseded"]] == ["c.hl7"]
    assert len(data["not_read"]) == 6
    assert [[m["kind"] for m in r["marks"]] for r in data["reports"]] == [[], ["replaces"], ["preliminary"]]


def test_fault_of_ours_in_one_report_stops_no_other(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = batch.take

    def broken(item: ReportText):
        if item.name.endswith("a.txt"):
            raise ZeroDivisionError
        return whole(item)

    monkeypatch.setattr(batch, "take", broken)
    result = run(folder)
    assert "2 reports read, 7 refused" in result.output
    assert "E901" in result.output


def test_versions_of_a_text_are_told_by_its_accession_number(tmp_path: Path) -> None:
    text = "MRI LUMBAR SPINE\nAccession number: 4711-22\n{}\n" + BULGE
    (tmp_path / "1.txt").write_text(text.format("PRELIMINARY REPORT"), "utf-8")
    (tmp_path / "2.txt").write_text(text.format("FINAL REPORT"), "utf-8")
    (tmp_path / "3.txt").write_text(text.format("FINAL REPORT").replace("4711-22", "4711-23"), "utf-8")
    result = run(tmp_path)
    assert result.exit_code == 0
    assert "2 reports read, 1 set aside as superseded" in result.output


def test_single_file_with_one_bad_message_is_read_and_told(tmp_path: Path) -> None:
    path = tmp_path / "b.hl7"
    path.write_text(
        message((BULGE, "F"), number="1") + message((BULGE, "W"), number="2"), "utf-8", newline=""
    )
    result = run(path)
    assert "disc displacement" in result.output
    assert isinstance(result.exception, ReportError)
    assert result.exception.problems[0].code is Code.WITHDRAWN
    case = tmp_path / "case.yaml"
    case.write_text('schema_version: "1"\nid: demo\ninvented: true\n', "utf-8")
    before = case.read_bytes()
    assert isinstance(run(path, "--into", case).exception, ReportError)
    assert case.read_bytes() == before


@pytest.mark.parametrize("text", ["L4-L5 : sans hernie discale.", "VOID\n" + BULGE, "MRI CERVICAL SPINE\nC5-6: bulge.",
                                  "L4-5: [ ] bulge [ ] extrusion"])  # fmt: skip
@pytest.mark.parametrize("option", [(), ("--into",), ("--ask",), ("--format", "json"), ("--format", "html")])
def test_refused_report_gives_nothing_in_any_form(text: str, option: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / "r.txt"
    path.write_text(text, "utf-8")
    case = tmp_path / "case.yaml"
    case.write_text('schema_version: "1"\nid: demo\ninvented: true\n', "utf-8")
    before = case.read_bytes()
    result = run(path, *option, *([case] if option == ("--into",) else []))
    assert isinstance(result.exception, ReportError)
    assert result.output == ""
    assert case.read_bytes() == before


def test_marks_head_text_page_and_case(tmp_path: Path) -> None:
    path = tmp_path / "r.txt"
    path.write_text(
        "PRELIMINARY REPORT\n" + BULGE + "\nADDENDUM: L4-L5 should read: L4-L5 protrusion.\n", "utf-8"
    )
    text = run(path).output
    assert text.index("BEFORE YOU READ") < text.index("preliminary") < text.index("\nL4-L5\n")
    assert "REPLACED BY AN ADDENDUM" in text
    assert "(addendum)" in text
    page = run(path, "--format", "html").output
    assert "Before you read" in page
    assert "Replaced by an addendum" in page
    case = tmp_path / "case.yaml"
    case.write_text('schema_version: "1"\nid: demo\ninvented: true\n', "utf-8")
    assert "before you read: the report calls itself preliminary" in run(path, "--into", case).output
