"""``candidacy follow``: visits after an injection, their forms, adverse events and triage."""

import csv
import io
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day, write_whole
from candidacy.foundation.errors import CandidacyError, Code, InputError, Problem
from candidacy.foundation.spreadsheet import guarded
from candidacy.foundation.visible import clean

if TYPE_CHECKING:
    from candidacy.course.checks import Notice
    from candidacy.course.due import DueVisit

_COURSE = click.argument("course_file", metavar="COURSE", type=click.Path(path_type=Path))
_ON = click.option("--on", metavar="DATE", callback=parse_day, help="The day looked at. Default: today.")
_FILE = click.option(
    "--course", "course_file", required=True, type=click.Path(path_type=Path), metavar="FILE",
    help="The course record; it is changed in place, its comments stay.",
)  # fmt: skip
_ANSWERS = click.Choice(["yes", "no", "not_known"])
_SERIOUS = (
    "death", "life_threatening", "hospital_stay", "disability", "birth_defect", "intervention_to_prevent_harm",
    "other_important", "none", "not_judged",
)  # fmt: skip


@click.group(
    epilog="""
\b
Examples:
  candidacy follow due courses/ --on 2026-12-14
  candidacy follow form months_3 --case case-17 > filled.yaml
  candidacy follow take filled.yaml --course course.yaml
  candidacy follow triage course.yaml
"""
)
def follow() -> None:
    """Follow patients after an injection: visits due, forms, adverse events, triage. Nothing is reported or ordered."""


@follow.command()
@click.argument("courses", metavar="COURSE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@_ON
@click.option("--all", "every", is_flag=True, help="Every visit, also those done and not yet due.")
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True
)
@out_options
@with_library()
def due(
    courses: tuple[Path, ...], on: date | None, every: bool, form: str, out: Path | None, replace: bool
) -> None:
    """List visits that are due or overdue in course records: files, or folders of them.

    Where files of a folder are named NAME.course.yaml, only these are read.
    A record that cannot be used is told at the end, after the others were answered.
    """
    from candidacy.course.content import content
    from candidacy.course.due import due as due_of
    from candidacy.course.due import due_order, visits_of
    from candidacy.course.load import load_course
    from candidacy.course.text import COLUMNS, due_cells, due_text

    check_out(out, replace, courses)
    today = on or date.today()
    rows: list[DueVisit] = []
    notices: list[tuple[str, Notice]] = []
    problems: list[Problem] = []
    for path in _files(courses):
        try:
            course = load_course(path)
        except InputError as error:
            problems += error.problems
            continue
        rows += visits_of(course, today) if every else due_of(course, today)
        notices += [(course.record.case, notice) for notice in course.notices(today)]
    rows.sort(key=due_order)
    if form == "json":
        told = [{"case": case, "id": each.id, "words": str(each)} for case, each in notices]
        text = json.dumps(
            {"on": today.isoformat(), "visits": [row.as_dict() for row in rows], "notices": told},
            indent=2, ensure_ascii=False,
        )  # fmt: skip
    elif form == "csv":
        text = _csv(COLUMNS, [due_cells(row) for row in rows])
    else:
        text = due_text(rows, today, content().of_ones_own)
        text += "".join(f"! {case}: {clean(str(notice))}\n" for case, notice in notices)
    emit(text, out, replace=replace)
    if form == "csv":
        for case, notice in notices:
            click.echo(f"! {case}: {clean(str(notice))}", err=True)
    if problems:
        raise InputError(problems, others_answered=True)


@follow.command("form")
@click.argument("visit", metavar="VISIT")
@click.option("--case", default="", metavar="REF", help="Reference of the case record.")
@click.option(
    "--injection", type=click.IntRange(1), default=1, show_default=True, help="Number of the session."
)
@click.option("--format", "form", type=click.Choice(["yaml", "pdf"]), default="yaml", show_default=True)
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Of a PDF."
)
@out_options
@with_library()
def form_(
    visit: str, case: str, injection: int, form: str, paper: Any, out: Path | None, replace: bool
) -> None:
    """Write the blank form of VISIT: a visit of the schedule, baseline or unplanned. Nothing is preselected."""
    from candidacy.course.filled import blank

    check_out(out, replace)
    if form == "yaml":
        emit(blank(visit, case, injection), out, replace=replace)
        return
    if out is None:
        raise click.UsageError("a PDF is written to a file; name it with --out")
    from candidacy.course.blank_pdf import blank_pdf

    emit(blank_pdf(visit, case, injection, paper), out, replace=replace)


@follow.command()
@click.argument("form_file", metavar="FORM", type=click.Path(path_type=Path))
@_FILE
@with_library()
def take(form_file: Path, course_file: Path) -> None:
    """Check FORM, a filled form, and add its visit to a course record. The same visit is not taken twice."""
    from candidacy.course.filled import read_form, with_form

    form, name = read_form(form_file)
    course, text = _read(course_file)
    added = with_form(course, form, name)
    _write(course_file, text, added)
    click.echo(f"{course_file}: {form.visit} of {form.date} added")
    for measure, value in added.worked_out.items():
        click.echo(f"worked out: {measure} {value:g}")
    _told(added.course)
    _triage_told(added.course, form.date)


@follow.command()
@_FILE
@click.option("--what", required=True, help="A term of the forms, or words; no name of a person.")
@click.option("--began", required=True, metavar="DATE", help="YYYY-MM-DD, YYYY-MM or YYYY.")
@click.option("--learned", required=True, metavar="DATE", help="The day the practice learned of it.")
@click.option(
    "--grade", required=True, type=click.Choice(["1", "2", "3", "4", "5", "not_graded"]), help="Severity."
)
@click.option("--serious", required=True, multiple=True, type=click.Choice(_SERIOUS),
              help="Why it is serious; none where it was judged not serious. May be repeated.")  # fmt: skip
@click.option("--expected", type=_ANSWERS, default="not_known", show_default=True)
@click.option(
    "--relation", type=click.Choice(["related", "possibly_related", "not_related", "not_known"]), default="not_known",
    show_default=True, help="To the injection, as judged.",
)  # fmt: skip
@click.option("--communicable", type=_ANSWERS, default="not_known", show_default=True,
              help="Whether a communicable disease may have come with the material.")  # fmt: skip
@click.option(
    "--injection", type=click.IntRange(1), default=1, show_default=True, help="Number of the session."
)
@click.option("--ended", default="", metavar="DATE")
@click.option("--outcome", default="not_known", show_default=True, type=click.Choice(
    ["resolved", "recovering", "ongoing", "resolved_with_sequelae", "fatal", "not_known"]))  # fmt: skip
@click.option("--note", default="")
@with_library()
def event(course_file: Path, grade: str, serious: tuple[str, ...], **given: Any) -> None:
    """Add an adverse event to a course record. Grade is severity; seriousness is another question, asked apart."""
    from candidacy.course.filled import with_event
    from candidacy.course.text import event_lines

    if len(serious) > 1 and {"none", "not_judged"} & set(serious):
        raise InputError(
            [
                Problem(
                    Code.USAGE,
                    "a reason, none and not_judged exclude each other",
                    "--serious",
                    found=", ".join(serious),
                )
            ]
        )
    course, text = _read(course_file)
    judged = None if serious == ("not_judged",) else [] if serious == ("none",) else list(serious)
    entry = {"grade": None if grade == "not_graded" else int(grade), "serious": judged, **given}
    added = with_event(course, entry)
    _write(course_file, text, added)
    made = added.course.record.events[added.at]
    click.echo("\n".join([f"{course_file}: event {made.id} added", *event_lines(made, date.today())]))
    _told(added.course)


@follow.command()
@_COURSE
@_ON
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@with_library()
def triage(course_file: Path, on: date | None, form: Literal["text", "json"]) -> None:
    """Advice from the danger signs in COURSE, by declared criteria. A normal temperature does not rule out discitis."""
    from candidacy.course.load import load_course
    from candidacy.course.text import triage_text
    from candidacy.course.triage import triage as triage_of

    found = triage_of(load_course(course_file), on or date.today())
    emit(
        json.dumps(found.as_dict(), indent=2, ensure_ascii=False) if form == "json" else triage_text(found),
        None,
    )


@follow.command()
@_COURSE
@_ON
@with_library()
def show(course_file: Path, on: date | None) -> None:
    """Show COURSE as it stands on a day: what does not fit, sessions, visits, events, time limits, triage."""
    from candidacy.course.load import load_course
    from candidacy.course.text import course_text

    emit(course_text(load_course(course_file), on or date.today()), None)


def _files(places: tuple[Path, ...]) -> list[Path]:
    found: list[Path] = []
    for place in places:
        inside = (
            sorted(p for p in place.iterdir() if p.suffix in (".yaml", ".yml", ".json"))
            if place.is_dir()
            else [place]
        )
        named = [
            path for path in inside if path.stem.endswith(".course")
        ]  # beside case records they are named so
        found += named or inside
    if not found:
        raise InputError(
            [
                Problem(
                    Code.EMPTY,
                    "there is no course record in it",
                    str(places[0]),
                    expected="files ending in .yaml or .json",
                )
            ]
        )
    return list(dict.fromkeys(found))


def _read(path: Path) -> tuple[Any, str]:
    from candidacy.course.load import parse_course
    from candidacy.foundation.errors import CourseError
    from candidacy.foundation.files import read_text

    try:
        raw = read_text(path)
        with path.open(encoding="utf-8", newline="") as file:
            text = file.read()
    except InputError as error:
        raise CourseError(error.problems) from None
    return parse_course(raw, str(path)), text


def _write(path: Path, text: str, added: Any) -> None:
    from candidacy.course.append import with_entry

    made = with_entry(text, added.course.record, added.kind, added.at, str(path))
    write_whole(path, made, replace=True)


def _told(course: Any) -> None:
    """What does not fit in the record as it now stands, as wherever it is used: until then it does not count."""
    for notice in course.notices(date.today()):
        click.echo(f"! {notice}")


def _triage_told(course: Any, asked: str) -> None:
    from candidacy.course.triage import triage as triage_of

    try:
        found = triage_of(course, date.fromisoformat(asked))
    except CandidacyError as error:  # the visit is kept; what could not be read is told
        click.echo(str(error), err=True)
        return
    for each in found.answers[:1]:
        if each.asked == asked:
            click.echo(f"{each.title}: {each.words}")
    click.echo(found.always.strip())


def _csv(columns: tuple[str, ...], rows: list[list[str]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([[guarded(cell) for cell in row] for row in rows])
    return stream.getvalue()
