"""``candidacy read``: every form of output, merging, the request for an addendum, many files, and refusals."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_fact
from candidacy.case.load import load_case
from candidacy.case.reader_notes import is_own
from candidacy.case.record import FactEntry
from candidacy.case.rewrite import rewritten
from candidacy.commands.read import read
from candidacy.foundation.errors import CaseError, InputError, ReportError
from candidacy.foundation.values import Why
from candidacy.rules.libraries import load_rule_set
from tests.reads import AS_OF

REPORT = """MRI LUMBAR SPINE
FINDINGS:
L4-L5: Pfirrmann grade IV. Moderate loss of disc height. 4 mm left paracentral protrusion. Possible annular fissure.
L5-S1: Grade 4 degeneration. Broad-based bulge. Disc looks odd at L5-S1.
Possible discitis at L3-L4.
IMPRESSION: L4-L5 extrusion.
"""
CASE = 'schema_version: "1"\nid: demo\ninvented: true\ndiscs: {L4-L5: {disc_height_loss_words: mild}, L5-S1: {}}\n'
DEMO = Path(__file__).parents[2] / "demo_cases"


@pytest.fixture
def report(tmp_path: Path) -> Path:
    path = tmp_path / "report <1>.txt"
    path.write_text(REPORT, "utf-8")
    return path


def run(*arguments: object) -> Result:
    return CliRunner().invoke(read, [str(a) for a in arguments], catch_exceptions=True)


def test_text_shows_red_flags_first_and_open_points(report: Path) -> None:
    out = run(report).output
    order = [
        "LOOK AT FIRST",
        "QUESTIONS",
        "\nL3-L4\n",
        "\nL4-L5\n",
        "\nL5-S1\n",
        "NOT READ",
        "Not a diagnosis",
    ]
    assert [out.index(part) for part in order] == sorted(out.index(part) for part in order)
    assert "sign of infection at L3-L4" in out or "sign of infection (possible)" in out
    assert "scale not stated" in out
    assert "\x1b[" not in out


def test_json_holds_spans_that_fit_the_text(report: Path) -> None:
    data = json.loads(run(report, "--format", "json").output)
    assert data["text"] == REPORT
    for finding in data["findings"]:
        for span in (finding["evidence"], *finding["modifiers"]):
            assert data["text"][span["start"] : span["end"]] == span["words"]
    assert run(report, "--format", "json").output == run(report, "--format", "json").output


def test_page_stands_alone_and_escapes(report: Path, tmp_path: Path) -> None:
    report.write_text(REPORT + "<applet onload=alert(1)> L2-L3: bulge & tear\n", "utf-8")
    out = tmp_path / "page.html"
    assert run(report, "--format", "html", "--out", out).exit_code == 0
    page = out.read_text("utf-8")
    assert "<script" not in page
    unmarked = re.sub(r"</?u>|<sup[^>]*>[^<]*</sup>", "", page)  # what was not read is marked within it
    assert "<applet" not in page
    assert "&lt;applet onload=alert(1)&gt;" in unmarked
    assert "http://" not in page
    assert "https://" not in page
    assert "src=" not in page
    assert "<mark>" in page
    assert "@media print" in page
    assert "not read" in page.lower()


def test_findings_go_into_a_case_with_their_words(report: Path, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE.replace("mild", "moderate"), "utf-8")
    result = run(report, "--into", case, "--date", "2026-01-05")
    assert result.exit_code == 0, result.output
    record = load_case(case).record
    fact = record.discs["L4-L5"]["pfirrmann_grade"]
    assert (fact.value, fact.words, fact.by) == ("IV", "Pfirrmann grade IV", "report reader")
    assert record.documents[fact.source or ""].date == "2026-01-05"
    disputed = record.discs["L4-L5"]["displacement"]
    assert disputed.one_of == ("protrusion", "extrusion")
    assert disputed.note == (
        'sources conflict (findings and impression differ): findings "protrusion"; impression "extrusion"'
    )
    assert record.discs["L4-L5"]["disc_height_loss_words"].source is None  # the same value is left as it was
    assert "look at first: sign of infection" in result.output
    assert "question: L4-L5, disc displacement: findings and impression differ" in result.output


def test_a_differing_value_is_refused_until_accepted(report: Path, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE, "utf-8")
    result = run(report, "--into", case)
    assert isinstance(result.exception, CaseError)
    (problem,) = result.exception.problems
    assert problem.field == "L4-L5.disc_height_loss_words"
    assert case.read_text("utf-8") == CASE
    assert run(report, "--into", case, "--accept").exit_code == 0
    assert load_case(case).record.discs["L4-L5"]["disc_height_loss_words"].value == "moderate"


LETTER = """Dear colleague,
Thank you for seeing this 44-year-old woman. Her BMI is 27. She takes naproxen 500 mg twice daily.
"""


def test_documents_go_in_together_each_with_what_is_told_of_it(report: Path, tmp_path: Path) -> None:
    letter, case = tmp_path / "letter.txt", tmp_path / "case.yaml"
    letter.write_text(LETTER, "utf-8")
    case.write_text(CASE.replace("disc_height_loss_words: mild", ""), "utf-8")
    alone = [run(path, "--into", case, "--out", tmp_path / f"{path.stem}.yaml") for path in (letter, report)]
    result = run(letter, report, "--into", case)
    assert result.exit_code == 0, result.output
    for path, each in zip((letter, report), alone, strict=True):
        head, *told = each.output.splitlines()
        assert (
            f"{path}: {head.split(': ', 1)[1]}\n" + "".join(f"  {line}\n" for line in told) in result.output
        )
    assert result.output.endswith(f"written: {case}\n")
    record = load_case(case).record
    assert set(record.documents) == {"letter", "report__1"}
    assert record.patient["body_mass_index"].source == "letter"
    assert record.discs["L4-L5"]["disc_height_loss_words"].source == "report__1"


@pytest.mark.parametrize("accept", [[], ["--accept"]])
def test_documents_that_differ_are_never_settled_by_their_order(
    report: Path, tmp_path: Path, accept: list[str]
) -> None:
    other, case = tmp_path / "other.txt", tmp_path / "case.yaml"
    other.write_text("MRI LUMBAR SPINE\nL4-L5: Severe loss of disc height. Pfirrmann grade IV.\n", "utf-8")
    text = CASE.replace("disc_height_loss_words: mild", "")
    case.write_text(text, "utf-8")
    for order in ((report, other), (other, report)):
        result = run(*order, "--into", case, *accept)
        assert isinstance(result.exception, CaseError)
        (problem,) = result.exception.problems
        assert problem.field == "L4-L5.disc_height_loss_words"
        assert "severe" in problem.found
        assert "moderate" in problem.found
        assert case.read_text("utf-8") == text


def test_one_document_that_cannot_be_read_leaves_the_record_as_it_was(report: Path, tmp_path: Path) -> None:
    bad, case = tmp_path / "bad.pdf", tmp_path / "case.yaml"
    bad.write_bytes(b"%PDF-1.4 nothing")
    text = CASE.replace("disc_height_loss_words: mild", "")
    case.write_text(text, "utf-8")
    result = run(report, bad, "--into", case)
    assert isinstance(result.exception, ReportError)
    assert case.read_text("utf-8") == text


def test_of_two_values_that_agree_the_more_precise_one_stays(tmp_path: Path) -> None:
    report, other, case = tmp_path / "r.txt", tmp_path / "s.txt", tmp_path / "case.yaml"
    report.write_text("MRI LUMBAR SPINE\nL4-L5: no herniation.\n", "utf-8")
    other.write_text("MRI LUMBAR SPINE\nL4-L5: no disc bulge or herniation.\n", "utf-8")
    case.write_text(CASE.replace("disc_height_loss_words: mild", "displacement: bulge"), "utf-8")
    result = run(report, "--into", case)
    assert result.exit_code == 0, result.output
    assert load_case(case).record.discs["L4-L5"]["displacement"].value == "bulge"
    case.write_text(CASE.replace("disc_height_loss_words: mild", "displacement: protrusion"), "utf-8")
    assert isinstance(run(report, "--into", case).exception, CaseError)
    for order in ((report, other), (other, report)):
        case.write_text(CASE.replace("disc_height_loss_words: mild", ""), "utf-8")
        assert run(*order, "--into", case).exit_code == 0
        fact = load_case(case).record.discs["L4-L5"]["displacement"]
        assert (fact.value, "no disc bulge" in (fact.words or "")) == ("none", True)


def test_what_differs_is_written_down_as_a_conflict_where_that_is_asked(report: Path, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE, "utf-8")
    result = run(report, "--into", case, "--conflict")
    assert result.exit_code == 0, result.output
    assert "1 in conflict, to be settled" in result.output
    loaded = load_case(case)
    fact = loaded.record.discs["L4-L5"]["disc_height_loss_words"]
    assert (fact.value, fact.unknown) == (None, "conflicting")
    assert fact.note == (
        'sources conflict (documents differ): record "mild"; report__1 "moderate (Moderate loss of disc height)"'
    )
    assert is_own(fact.note)  # no remark of a person
    before = case.read_text("utf-8")
    # the same document again tells nothing new, and no value that is read settles a conflict
    assert " 0 in conflict" not in run(report, "--into", case).output
    kept = load_case(case).record.discs["L4-L5"]["disc_height_loss_words"]
    assert kept == fact
    case.write_text(before, "utf-8")
    other = tmp_path / "other.txt"
    other.write_text("MRI LUMBAR SPINE\nL4-L5: Severe loss of disc height.\n", "utf-8")
    assert isinstance(run(other, "--into", case).exception, CaseError)
    assert run(other, "--into", case, "--conflict").exit_code == 0
    note = load_case(case).record.discs["L4-L5"]["disc_height_loss_words"].note
    assert note == f'{fact.note}; other "severe (Severe loss of disc height)"'
    assert run(other, "--into", case, "--accept").exit_code == 0


def test_a_sign_of_danger_in_conflict_is_told(tmp_path: Path) -> None:
    letter, case = tmp_path / "letter.txt", tmp_path / "case.yaml"
    letter.write_text("Dear colleague,\nThank you for seeing this man. He denies fever.\n", "utf-8")
    case.write_text((DEMO / "two-discs-candidate.yaml").read_text("utf-8"), "utf-8")
    record = with_fact(load_case(case).record, "patient", "fever", FactEntry(value=True))
    case.write_text(rewritten(case.read_text("utf-8"), load_case(case).record, record), "utf-8")
    result = run(letter, "--into", case, "--kind", "letter", "--conflict")
    assert "in conflict" in result.output
    found = assess(load_case(case), load_rule_set("practice_baseline"), AS_OF)
    assert found.standing != "candidate"
    assert ("fever", Why.CONFLICTING) in {(each.element, each.why) for each in found.missing}


def test_what_a_report_doubts_is_told_where_the_record_holds_it(report: Path, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE.replace("disc_height_loss_words: mild", "annular_fissure: true"), "utf-8")
    assert run(report, "--into", case).exit_code == 0
    assert load_case(case).record.discs["L4-L5"]["annular_fissure"].value is True


@pytest.mark.parametrize(
    ("held", "element"),
    [
        ("annular_fissure: false", "annular_fissure"),  # the report doubts it: "possible"
        ("displacement: protrusion", "displacement"),  # the report says protrusion, and extrusion
    ],
)
def test_what_a_report_doubts_or_says_both_ways_is_no_value_and_not_lost(
    report: Path, tmp_path: Path, held: str, element: str
) -> None:
    case = tmp_path / "case.yaml"
    text = CASE.replace("disc_height_loss_words: mild", held)
    case.write_text(text, "utf-8")
    refused = run(report, "--into", case)
    assert isinstance(refused.exception, CaseError)
    assert [p.field for p in refused.exception.problems] == [f"L4-L5.{element}"]
    for wish in ("--accept", "--conflict"):
        case.write_text(text, "utf-8")
        assert run(report, "--into", case, wish).exit_code == 0
        fact = load_case(case).record.discs["L4-L5"][element]
        assert (fact.value, fact.unknown) == (None, "conflicting")


@pytest.mark.parametrize("wish", ["--accept", "--conflict"])
def test_a_possible_danger_beside_a_denial_lets_no_case_pass(tmp_path: Path, wish: str) -> None:
    """A later report that doubts what the record denies was read, told on the terminal, and lost from the record."""
    report, case = tmp_path / "later.txt", tmp_path / "case.yaml"
    case.write_text((DEMO / "two-discs-candidate.yaml").read_text("utf-8"), "utf-8")
    report.write_text("MRI LUMBAR SPINE\nPossible discitis at L3-L4.\nDiscs otherwise unchanged.\n", "utf-8")
    assert isinstance(run(report, "--into", case).exception, CaseError)
    result = run(report, "--into", case, wish)
    assert result.exit_code == 0, result.output
    found = assess(load_case(case), load_rule_set("practice_baseline"), AS_OF)
    assert found.standing == "incomplete"
    assert "infection_sign_on_imaging" in {each.element for each in found.missing}


FEVERS = {"denies": "She denies fever.", "has": "She has fever.", "again": "There is no fever."}


def _letters(tmp_path: Path, *names: str) -> list[Path]:
    paths = [tmp_path / f"{name}.txt" for name in names]
    for path in paths:
        path.write_text(f"{LETTER}{FEVERS[path.stem]}\n", "utf-8")
    return paths


@pytest.mark.parametrize("wish", [[], ["--accept"], ["--conflict"]])
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Possible discitis at L3-L4.", "No evidence of discitis."),
        ("No discitis.", "Discitis at L3-L4."),
    ],
)
def test_no_document_of_a_run_overrules_another_in_either_order(
    tmp_path: Path, wish: list[str], first: str, second: str
) -> None:
    """A denial that came behind a doubt replaced it; before it, the doubt was told."""
    case, paths = tmp_path / "case.yaml", [tmp_path / "a.txt", tmp_path / "b.txt"]
    for path, said in zip(paths, (first, second), strict=True):
        path.write_text(f"MRI LUMBAR SPINE\n{said}\n", "utf-8")
    made = []
    for order in (paths, paths[::-1]):
        case.write_text(CASE, "utf-8")
        result = run(*order, "--into", case, *wish)
        fact = load_case(case).record.patient.get("infection_sign_on_imaging")
        made.append((result.exit_code, fact and fact.unknown))
        if result.exit_code:
            assert isinstance(result.exception, CaseError)
            assert case.read_text("utf-8") == CASE
    assert made[0] == made[1]
    assert made[0][1] in (None, "conflicting")
    assert "--conflict" not in wish or made[0][1] == "conflicting"


@pytest.mark.parametrize("held", ["true", "false"])
def test_accepting_one_document_leaves_what_another_of_the_run_confirmed(tmp_path: Path, held: str) -> None:
    case = tmp_path / "case.yaml"
    text = CASE + f"patient: {{fever: {held}}}\n"
    denies, has = _letters(tmp_path, "denies", "has")
    for order in ((denies, has), (has, denies)):
        case.write_text(text, "utf-8")
        assert isinstance(run(*order, "--into", case, "--accept").exception, CaseError)
        assert case.read_text("utf-8") == text


@pytest.mark.parametrize("why", ["uncertain_in_source", "not_readable"])
def test_a_danger_that_was_left_open_is_denied_by_a_person_only(tmp_path: Path, why: str) -> None:
    case, (denies, has) = tmp_path / "case.yaml", _letters(tmp_path, "denies", "has")
    text = CASE + f"patient: {{fever: {{unknown: {why}}}}}\n"
    told = []
    for path, wish in ((denies, []), (denies, ["--conflict"]), (denies, ["--accept"]), (has, [])):
        case.write_text(text, "utf-8")
        refused = run(path, "--into", case, *wish).exit_code
        fact = load_case(case).record.patient["fever"]
        told.append("refused" if refused else fact.unknown or fact.value)
    assert told == ["refused", "conflicting", False, True]


@pytest.mark.parametrize("together", [True, False])
def test_a_denial_in_part_is_no_doubt_and_a_whole_one_settles_it(tmp_path: Path, together: bool) -> None:
    """ "No acute fracture" leaves an old one open, which nobody suspects."""
    case, part, whole = tmp_path / "case.yaml", tmp_path / "part.txt", tmp_path / "whole.txt"
    part.write_text("MRI LUMBAR SPINE\nNo acute fracture.\n", "utf-8")
    whole.write_text("MRI LUMBAR SPINE\nNo fracture.\n", "utf-8")
    for order in ((part, whole), (whole, part)):
        case.write_text(CASE, "utf-8")
        for some in (order,) if together else [(each,) for each in order]:
            assert run(*some, "--into", case).exit_code == 0
        assert load_case(case).record.patient["fracture_on_imaging"].value is False


def test_a_doubt_takes_the_place_of_what_nobody_told(tmp_path: Path) -> None:
    report, case = tmp_path / "r.txt", tmp_path / "case.yaml"
    report.write_text("MRI LUMBAR SPINE\nPossible discitis at L3-L4.\n", "utf-8")
    case.write_text(CASE + "patient: {infection_sign_on_imaging: {unknown: not_asked}}\n", "utf-8")
    assert run(report, "--into", case).exit_code == 0
    fact = load_case(case).record.patient["infection_sign_on_imaging"]
    assert (fact.unknown, fact.source) == ("uncertain_in_source", "r")


@pytest.mark.parametrize(
    ("held", "wish"),
    [("unknown: not_asked", []), ("value: true", ["--conflict"]), ("unknown: conflicting", ["--conflict"])],
)
def test_what_a_person_noted_beside_a_fact_stays(tmp_path: Path, held: str, wish: list[str]) -> None:
    case, (denies,) = tmp_path / "case.yaml", _letters(tmp_path, "denies")
    case.write_text(CASE + f"patient: {{fever: {{{held}, note: chills at night}}}}\n", "utf-8")
    assert run(denies, "--into", case, *wish).exit_code == 0
    note = load_case(case).record.patient["fever"].note or ""
    assert note.endswith("noted before: chills at night")
    assert not is_own(note)


@pytest.mark.parametrize(
    "said",
    [
        "L4-L5: protrusion, possibly extrusion.",  # a part of a range is doubted
        "FINDINGS: L4-L5: protrusion.\nIMPRESSION: L4-L5: extrusion.",  # the report says both
    ],
)
def test_a_report_that_gives_a_range_may_be_read_again(tmp_path: Path, said: str) -> None:
    report, case = tmp_path / "r.txt", tmp_path / "case.yaml"
    report.write_text(f"MRI LUMBAR SPINE\n{said}\n", "utf-8")
    case.write_text(CASE, "utf-8")
    assert run(report, "--into", case).exit_code == 0
    held = load_case(case).record.discs
    assert held["L4-L5"]["displacement"].one_of == ("protrusion", "extrusion")
    assert run(report, "--into", case).exit_code == 0
    assert load_case(case).record.discs == held


def test_a_key_of_any_form_makes_no_remark_of_a_conflict(tmp_path: Path) -> None:
    case, (denies,) = tmp_path / "case.yaml", _letters(tmp_path, "denies")
    held = "documents: {ward-note.1: {kind: clinic_note}}\npatient: {fever: {value: true, source: ward-note.1}}\n"
    case.write_text(CASE + held, "utf-8")
    assert run(denies, "--into", case, "--conflict").exit_code == 0
    assert is_own(load_case(case).record.patient["fever"].note or "")


def test_a_discogram_that_doubts_what_the_record_states_is_not_lost(tmp_path: Path) -> None:
    note, case = tmp_path / "disco.txt", tmp_path / "case.yaml"
    note.write_text(
        "PROVOCATIVE LUMBAR DISCOGRAPHY\nL4-L5: Pain 8/10 at 20 psi above opening, possibly concordant.\n"
    )
    text = CASE.replace("disc_height_loss_words: mild", "discography_concordance: exact")
    case.write_text(text, "utf-8")
    assert isinstance(run(note, "--into", case).exception, CaseError)
    assert run(note, "--into", case, "--conflict").exit_code == 0
    assert load_case(case).record.discs["L4-L5"]["discography_concordance"].unknown == "conflicting"


def test_request_lists_only_what_is_needed_and_lacking(report: Path) -> None:
    ask = ("--ask", "--rules", "report_completeness", "--date", "2026-01-05")
    letter = run(report, *ask, "--disc", "L4-5").output
    assert "Dear colleague" in letter
    assert "2026-01-05" in letter
    asked, pointed_out = letter.split("addendum?")[1].split("Not asked, because the report speaks of it")
    assert "Possible annular fissure" in pointed_out
    assert "annular fissure" not in asked
    assert "canal stenosis" in asked.lower()
    assert "Disc height loss" not in asked
    assert "L5-S1" not in asked
    assert "Degeneration grade" not in asked
    more = run(report, *ask, "--disc", "L5-S1").output
    assert "Degeneration grade" in more


def test_request_knows_what_the_case_record_rules_out(report: Path) -> None:
    out = run(report, "--ask", "--case", DEMO / "extruded-disc.yaml").output
    assert "Nothing to ask" in out
    open_case = run(report, "--ask", "--case", DEMO / "first-letter-only.yaml").output
    assert "Dear colleague" in open_case
    assert "practice baseline" in open_case.lower()


def test_a_complete_report_is_asked_less_than_an_empty_one(report: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty.txt"
    empty.write_text("MRI LUMBAR SPINE: degenerative.", "utf-8")
    count = [sum(line[:1].isdigit() for line in run(p, "--ask").output.splitlines()) for p in (report, empty)]
    assert count[0] <= count[1]


def test_folder_gives_a_table_and_what_is_missing_most(report: Path, tmp_path: Path) -> None:
    (report.parent / "b.txt").write_text("L4-L5: bulge.", "utf-8")
    (report.parent / "notes.md").write_text("not a report", "utf-8")
    out = run(report.parent).output
    assert "2 reports read" in out
    assert "Not stated, most often first" in out
    assert out.index("b.txt") < out.index("report <1>.txt")


def test_a_bad_file_is_told_and_the_others_are_read(report: Path) -> None:
    (report.parent / "bad.pdf").write_bytes(b"%PDF-1.4 nothing")
    result = run(report.parent)
    assert isinstance(result.exception, ReportError)
    assert "1 reports read, 1 refused" in result.output
    data = json.loads(run(report.parent, "--format", "json").output)
    assert (len(data["reports"]), len(data["not_read"])) == (1, 1)


def test_many_files_in_several_processes_give_the_same_table(tmp_path: Path) -> None:
    for n in range(45):
        (tmp_path / f"{n:02}.txt").write_text(REPORT if n % 2 else "L4-L5: bulge.", "utf-8")
    assert run(tmp_path, "--jobs", "2").output == run(tmp_path, "--jobs", "1").output


def test_standard_input_is_read() -> None:
    result = CliRunner().invoke(read, ["-"], input="L4-L5: disc bulge.")
    assert "disc displacement" in result.output


@pytest.mark.parametrize(
    "arguments",
    [
        ["--accept"],
        ["--conflict"],
        ["--accept", "--conflict", "--into", "x.yaml"],
        ["--ask", "--into", "x.yaml"],
        ["--date", "yesterday"],
        ["--ask", "--disc", "C5-6"],
        ["--disc", "L4-5"],
    ],
)
def test_options_that_do_not_fit_are_refused(report: Path, arguments: list[str]) -> None:
    result = run(report, *arguments)
    assert result.exit_code != 0 or isinstance(result.exception, InputError)


def test_empty_folder_and_missing_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert isinstance(run(tmp_path / "empty").exception, InputError)
    assert isinstance(run(tmp_path / "none.txt").exception, InputError)
