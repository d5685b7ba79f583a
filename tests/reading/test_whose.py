"""A document that tells of another patient than the record: refused, or written down as a conflict, never taken over."""

from datetime import date

import pytest
from click.testing import CliRunner

from candidacy.case.load import load_case
from candidacy.commands.read import read
from candidacy.foundation.errors import CaseError
from candidacy.reading.whose import apart, person_recorded, person_told

DAY, TODAY = "2026-03-10", date(2026, 12, 1)
REPORT = """MRI LUMBAR SPINE
{who}
Exam date: 2026-03-10
FINDINGS: L4-L5: Protrusion of 4 mm. No canal stenosis. L5-S1: Normal.
"""
RECORD = """schema_version: "1"
id: case-41
patient:
  birth_date: 1985-05-03
  sex: female
  discs_under_consideration: [L4-L5]
"""


@pytest.mark.parametrize(
    ("text", "sex", "born"),
    [
        ("Sex: M", "male", None),
        ("SEX : F  AGE: 041Y", "female", (1984, 1985)),
        ("Gender|Male", "male", None),
        ("Patient: female, 47 years", "female", None),
        ("Age/Sex: 67 Y / M", "male", (1958, 1959)),
        ("Sex/Age: F/67", "female", (1958, 1959)),
        ("67 years / F", "female", (1958, 1959)),
        ("A 67-year-old retired man", "male", (1958, 1959)),
        ("67 y.o. woman", "female", (1958, 1959)),
        ("67yo M", "male", (1958, 1959)),
        ("DOB: 02/11/1959", "", (1959, 1959)),
        ("D.O.B. 11 Feb 1959", "", (1959, 1959)),
        ("Date of birth: February 11, 1959", "", (1959, 1959)),
        ("born on 1959-02-11", "", (1959, 1959)),
        ("DOB: 11/02/59", "", (1959, 1959)),
        ("DOB 11 FEB 1959", "", (1959, 1959)),
        ("DOB: 19590211", "", (1959, 1959)),
        ("DOB: 1959/02/11", "", (1959, 1959)),
        ("DOB: 11th February 1959", "", (1959, 1959)),
        ("Name  X    Sex  F    MRN 1", "female", None),
        ("This 67-year-old right-handed, retired gentleman", "male", (1958, 1959)),
        ("Referred by her partner. 41-year-old woman", "female", (1984, 1985)),
        ("Mr A, a 67-year-old man whose wife reports", "male", (1958, 1959)),
        ("Sex: F. DOB: 1985-05-03. Emergency contact: husband, DOB 02/11/1959", "female", (1985, 1985)),
        # told in two ways, of a relative or a donor, or of something else
        ("Sex: F. A 41-year-old male.", "", (1984, 1985)),
        ("Her father, a 67-year-old man, had a fusion.", "", None),
        ("Donor: 24-year-old man", "", None),
        ("She lives with a 67-year-old man, her husband.", "", None),
        ("a 67-year-old man, her husband.", "", None),
        ("She cares for a 67-year-old man with dementia", "", None),
        ("Mother's age: 70", "", None),
        ("Husband DOB: 02/11/1959", "", None),
        ("Her daughter was born on 3 May 2010.", "", None),
        ("compared with a 30-year-old man", "", None),
        ("67-year-old patient seen by lady doctor", "", None),
        ("Sex: M/F", "", None),
        ("Sex: male / female", "", None),
        ("same sex female partner", "", None),
        ("41 y.o. f/u after fall", "", None),
        ("Age: 38 at onset", "", None),
        ("Age: 40-50", "", None),
        ("DOB: 05/03/12", "", None),
        ("Fracture age: 20", "", None),
        ("Fracture, age: 3 weeks", "", None),
        ("Bone age: 40", "", None),
        ("Age: indeterminate", "", None),
        ("Sex: not stated", "", None),
        ("pain for 3 years, male", "", None),
        ("as is typical of a 67-year-old patient", "", None),
        ("Date of birth: unknown. Exam 2026-01-02", "", None),
        ("T12/L1 F, seen 12/M, MRN 67 / M, TE 15/M", "", None),
    ],
)
def test_whom_a_text_tells_of(text, sex, born):
    found = person_told(text, DAY, TODAY)
    assert (found.sex, found.born) == (sex, born)


@pytest.mark.parametrize(
    ("who", "other"),
    [
        ("Sex: M   Age: 40", True),
        ("DOB: 03/05/1958   Sex: F", True),
        ("Clinical history: 67-year-old woman", True),
        ("Sex: F   Age: 40", False),
        ("Clinical history: 41 year old lady, her father a 67-year-old man with cancer", False),
        ("DOB: 03/05/1986", False),  # a year may be a slip
        ("", False),
    ],
)
def test_a_document_of_another_patient_goes_into_no_record(tmp_path, who, other):
    case, report = tmp_path / "case.yaml", tmp_path / "report.txt"
    case.write_text(RECORD)
    report.write_text(REPORT.format(who=who))
    assert (
        apart(person_told(report.read_text(), DAY, TODAY), person_recorded(load_case(case).record, TODAY))
        is other
    )
    for more in ([], ["--accept"]):
        case.write_text(RECORD)
        run = CliRunner().invoke(read, [str(report), "--into", str(case), *more])
        assert isinstance(run.exception, CaseError) is other
        assert ("tells of another patient" in str(run.exception)) is other
        assert (case.read_text() == RECORD) is other


def test_where_a_person_insists_the_record_says_that_its_sources_conflict(tmp_path):
    case, report = tmp_path / "case.yaml", tmp_path / "report.txt"
    case.write_text(RECORD)
    report.write_text(REPORT.format(who="Sex: M   Age: 67"))
    assert CliRunner().invoke(read, [str(report), "--into", str(case), "--conflict"]).exit_code == 0
    patient = load_case(case).record.patient
    assert (patient["sex"].unknown, patient["birth_date"].unknown) == ("conflicting", "conflicting")
    assert 'record "female"; report "male (Sex: M)"' in (patient["sex"].note or "")


def test_two_documents_of_one_run_are_of_one_patient(tmp_path):
    case, one, two = tmp_path / "case.yaml", tmp_path / "one.txt", tmp_path / "two.txt"
    bare = RECORD.replace("  birth_date: 1985-05-03\n  sex: female\n", "")
    case.write_text(bare)
    one.write_text(REPORT.format(who="Sex: F   Age: 41"))
    two.write_text(REPORT.format(who="Sex: M   Age: 67"))
    run = CliRunner().invoke(read, [str(one), str(two), "--into", str(case), "--conflict"])
    assert isinstance(run.exception, CaseError)
    assert "Sex: M / Age: 67" in str(run.exception)
    assert case.read_text() == bare


def test_a_record_without_sex_and_birth_remembers_whom_its_documents_tell_of(tmp_path):
    case, one, two = tmp_path / "case.yaml", tmp_path / "one.txt", tmp_path / "two.txt"
    case.write_text(RECORD.replace("  birth_date: 1985-05-03\n  sex: female\n", ""))
    one.write_text(REPORT.format(who="Sex: F   Age: 41"))
    two.write_text(REPORT.format(who="Sex: M   Age: 67"))
    assert CliRunner().invoke(read, [str(one), "--into", str(case)]).exit_code == 0
    was = case.read_text()
    assert "tells of a patient: female, born 1984 to 1985" in was
    run = CliRunner().invoke(read, [str(two), "--into", str(case), "--accept"])
    assert isinstance(run.exception, CaseError)
    assert "tells of another patient" in str(run.exception)
    assert case.read_text() == was
    two.write_text(REPORT.format(who="Sex: F   Age: 40"))
    assert CliRunner().invoke(read, [str(two), "--into", str(case)]).exit_code == 0


def test_a_document_that_is_there_already_is_not_listed_twice(tmp_path):
    case, report = tmp_path / "case.yaml", tmp_path / "report.txt"
    case.write_text(RECORD)
    report.write_text(REPORT.format(who=""))
    assert CliRunner().invoke(read, [str(report), "--into", str(case)]).exit_code == 0
    was = case.read_text()
    run = CliRunner().invoke(read, [str(report), "--into", str(case)])
    assert (run.exit_code, case.read_text()) == (0, was)
    assert "lists this document already, as report" in run.output
    report.write_text(REPORT.format(who="") + "L3-L4: Extrusion of 3 mm.\n")
    assert CliRunner().invoke(read, [str(report), "--into", str(case)]).exit_code == 0
    assert list(load_case(case).record.documents) == ["report", "report_2"]


def test_a_folder_names_what_it_passes_over(tmp_path):
    (tmp_path / "report.txt").write_text(REPORT.format(who=""))
    (tmp_path / "scan.jpg").write_bytes(b"")
    (tmp_path / "older").mkdir()
    run = CliRunner().invoke(read, [str(tmp_path)])
    assert "2 passed over, not read" in run.output
    assert f"{tmp_path / 'scan.jpg'}" in run.output
    assert f"{tmp_path / 'older'}/" in run.output
    (tmp_path / "report.txt").unlink()
    assert "scan.jpg" in str(CliRunner().invoke(read, [str(tmp_path)]).exception)
