"""The day of the study: taken only from words of its own, asked about where it is in doubt."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from candidacy.case.load import load_case
from candidacy.commands.read import read
from candidacy.reading import read_text
from candidacy.reading.elements import facts
from candidacy.reading.exam_date import with_day
from candidacy.reading.show import as_data, as_html, as_text

BODY = "\n\nFINDINGS: MRI of the lumbar spine. L4-5: disc bulge."
STATED = [
    "EXAM DATE: 03/14/2026",
    "Exam Date/Time: 03/14/2026 14:32",
    "**Date of Exam:** 03/14/2026",
    "DATE OF EXAM:\n03/14/2026",
    "Exam date: Sat, Mar 14, 2026",
    "Date of service: March 14, 2026",
    "DOS 14-Mar-2026",
    "DOS: 3/14/2026\nDOB: 1/2/1960",
    "Study date: 20260314",
    "Study performed on 2026-03-14 at 14:32",
    "Exam performed: 2026-03-14T14:32:00",
    "TECHNIQUE: MRI was performed on 3/14/2026 at 1.5T.",
    "MRI LUMBAR SPINE 3/14/26",
    "RADIOLOGY REPORT\nMRI LUMBAR SPINE (3/14/2026)",
    "MRI lumbar spine without contrast - 14 March 2026",
    "Exam: MRI L-spine w/o contrast 03.14.2026",
    "EXAM: MRI OF THE LUMBAR SPINE WITHOUT CONTRAST, March 14th, 2026",
    "DOB: 01/02/1960   EXAM DATE: 03/14/2026  Signed: 03/15/2026",
    "Exam date: 03/14/2026 COMPARISON: None.",
    "Electronically signed by A on 3/15/2026\nEXAM DATE: 3-14-26",
    "EXAM DATE: 03/14/2026\nCOMPARISON: MRI lumbar spine 1/2/2020\nDictated 03/15/2026",
]


@pytest.mark.parametrize("words", STATED)
def test_day_is_read_in_the_usual_forms(words: str) -> None:
    reading = read_text(words + BODY)
    assert reading.stated_day == "2026-03-14"
    assert reading.exam_date is not None
    assert "14" in reading.words(reading.exam_date.span)
    assert not [q for q in reading.questions if "day of the study" in q.about]


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("EXAM DATE: 05/03/2026", "2026-05-03"),
        ("EXAM DATE: 05/03/2026 (dd/mm/yyyy)", "2026-03-05"),
        ("EXAM DATE (DD-MM-YYYY): 05-03-2026", "2026-03-05"),
        ("EXAM DATE (mm/dd/yyyy): 05/03/2026", "2026-05-03"),
        ("EXAM DATE (mm/dd/yyyy): 05/03/2026\nFINDINGS: Endplate oedema is noted.", "2026-05-03"),
        ("EXAM DATE: 14/03/2026", "2026-03-14"),
        ("EXAM DATE: 14.03.2026", "2026-03-14"),
    ],
)
def test_order_of_day_and_month_is_as_the_report_tells(words: str, day: str) -> None:
    reading = read_text(words + BODY)
    assert reading.stated_day == day
    assert not [q for q in reading.questions if "day of the study" in q.about]


@pytest.mark.parametrize(
    "words",
    [
        "DOB: 03/14/1986",
        "Date of birth: March 14, 1986",
        "Dictated: 3/14/2026",
        "Dictated by A. on 3/14/2026",
        "Dictation date: 3/14/2026",
        "Transcribed 3/14/26",
        "Electronically signed by B. at 3/14/2026 10:11",
        "Printed 3/14/2026 10:11",
        "Report date: 3/14/2026",
        "Ordered 3/14/2026",
        "COMPARISON: MRI lumbar spine 3/14/2024",
        "COMPARISON:\nMRI lumbar spine 3/14/2024\n",
        "HISTORY: Fusion performed on 3/14/2020.",
        "PRIOR REPORT:\nExam date: 3/14/2024",
        "FINDINGS: Unchanged since the study performed on 3/14/2024.",
        "FINDINGS: Compared with the study\nperformed on 3/14/2024 the bulge is larger.",
        "FINDINGS: There is no change since\nMRI lumbar spine 3/14/2024.",
        "FINDINGS: The MRI of the lumbar spine dated 3/14/2024 is available.",
        "CT performed on 3/14/2026 is used for comparison.",
        "Date of exam   Date of birth\n3/14/2026   1/2/1960",
        "Exam date: pending",
        "Accession 03-14-2026",
        "Disc measures 3/14/2026ths",
    ],
)
def test_day_of_anything_else_is_never_taken(words: str) -> None:
    assert read_text(words + BODY).exam_date is None


@pytest.mark.parametrize(
    ("words", "asks"),
    [
        ("EXAM DATE: 02/30/2026", "no day of the calendar"),
        ("EXAM DATE (MM/DD/YYYY): 14/03/2026", "no day of the calendar"),
        ("EXAM DATE: 31/04/2026", "no day of the calendar"),
        ("EXAM DATE: 3/14/1926", "no day of the calendar"),
        ("Exam: MRI lumbar spine 03.04.2026", "month first or day first"),
        ("EXAM DATE: 05/03/2026\nDOB: 14/02/1960", "month first or day first"),
        ("EXAM DATE: 05/03/2026\nFINDINGS: Endplate oedema is noted.", "month first or day first"),
        ("EXAM DATE: 05/03/2026\nREQUESTED BY: General Practitioner", "month first or day first"),
        ("EXAM DATE: 3/14/2026\nStudy date: 3/15/2026", "more than one: 3/14/2026, 3/15/2026"),
        ("Exam date: 3/14/2026 - 3/16/2026", "more than one"),
        ("Date: 3/14/2026", "is this the day of the study"),
        ("Exam date: 3/14/2026 (prior)", "is this the day of the study"),
    ],
)
def test_doubtful_day_is_a_question_and_no_fact(words: str, asks: str) -> None:
    reading = read_text(words + BODY)
    assert reading.exam_date is None
    assert [q for q in reading.questions if asks in q.about]
    assert not [f for f in facts(reading) if f.element == "lumbar_mri_date"]


def test_day_stated_dates_the_study_with_its_words() -> None:
    reading = read_text("EXAM DATE: 03/14/2026" + BODY)
    (dated,) = [f for f in facts(reading) if f.element == "lumbar_mri_date"]
    assert (dated.entry.value, dated.entry.words) == ("2026-03-14", "03/14/2026")
    assert 'Day of the study, by the report: 2026-03-14 "03/14/2026"' in as_text(reading)
    assert "2026-03-14 &#34;03/14/2026&#34;" in as_html(reading)
    told = json.loads(json.dumps(as_data(reading)))["exam_date"]
    assert told == {"day": "2026-03-14", "start": 11, "end": 21, "words": "03/14/2026"}


def test_another_day_given_is_used_and_asked_about() -> None:
    reading = read_text("EXAM DATE: 03/14/2026" + BODY)
    (dated,) = [f for f in facts(reading, day="2026-03-13") if f.element == "lumbar_mri_date"]
    assert dated.entry.value == "2026-03-13"
    assert "03/14/2026" in (dated.entry.note or "")
    asked = with_day(reading, "2026-03-13").questions[0].about
    assert "2026-03-13 was given" in asked
    assert "03/14/2026" in asked
    assert with_day(reading, "2026-03-14") == reading == with_day(reading, "")


@pytest.mark.parametrize(("given", "used"), [((), "2026-03-14"), (("--date", "2026-03-13"), "2026-03-13")])
def test_day_goes_into_the_case(tmp_path: Path, given: tuple[str, ...], used: str) -> None:
    report, case = tmp_path / "report.txt", tmp_path / "case.yaml"
    report.write_text("EXAM DATE: 03/14/2026" + BODY, "utf-8")
    case.write_text('schema_version: "1"\nid: demo\ninvented: true\n', "utf-8")
    result = CliRunner().invoke(read, [str(report), "--into", str(case), *given])
    assert result.exit_code == 0, result.output
    record = load_case(case).record
    assert record.patient["lumbar_mri_date"].value == used
    assert {d.date for d in record.documents.values()} == {used}
    assert ("was given, but the report says" in result.output) is bool(given)


@pytest.mark.parametrize(
    ("title", "shown"),
    [
        ("MRI LUMBAR SPINE 14 March 2026", ""),
        ("MRI LUMBAR SPINE 14 May 2026", ""),
        ("MRI LUMBAR SPINE March 14, 2026, 14:32", ""),
        ("MRI LUMBAR SPINE 14 March 2026, grade 3", "grade 3"),
        ("MRI LUMBAR SPINE 14 March 2026, with a former fusion", "former fusion"),
    ],
)
def test_a_title_is_read_where_its_day_was_taken(title: str, shown: str) -> None:
    reading = read_text(title + "\n\nFINDINGS: L4-5: disc bulge.")
    unread = [reading.words_missed(a) for a in reading.unread]
    assert bool(unread) == bool(shown)
    assert shown in " ".join(unread)
