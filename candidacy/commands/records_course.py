"""The part of ``candidacy records`` that keeps what followed an injection."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day
from candidacy.commands.store_option import way_out, with_store
from candidacy.foundation.errors import InputError

if TYPE_CHECKING:
    from candidacy.records.store import Store


@click.command("save-course")
@click.argument("course_file", metavar="COURSE", type=click.Path(path_type=Path))
@click.option("--version", "expected", type=click.IntRange(0), default=0, show_default=True,
              help="The version of the course you worked on; 0 where none is kept.")  # fmt: skip
@click.option("--reason", default="", help="Why it was changed; needed from the second version on.")
@with_library()
@with_store
def save_course(store: "Store", course_file: Path, expected: int, reason: str) -> None:
    """Save COURSE, a course record, as a new version beside the referral that its case names."""
    from candidacy.course.load import load_course

    course = load_course(course_file)
    with way_out(f"candidacy records course {course.record.case}"):
        found = store.save_course(course.record.case, course, expected_version=expected, reason=reason)
    moment = found.at[:16].replace("T", " ")
    click.echo(f"{found.reference}: course version {found.version} of {moment} UTC by {found.person}")
    for notice in course.notices(date.today()):
        click.echo(f"! {notice}", err=True)


@click.command()
@click.argument("reference")
@click.option("--version", type=click.IntRange(1), help="Default: the present one.")
@out_options
@with_store
def course(store: "Store", reference: str, version: int | None, out: Path | None, replace: bool) -> None:
    """Print a kept course record as YAML, for example to work on it and save it again. This is entered as read."""
    check_out(out, replace)
    emit(store.course_text(reference, version), out, replace=replace)


@click.command()
@click.option("--on", metavar="DATE", callback=parse_day, help="The day looked at. Default: today.")
@with_library()
@with_store
def due(store: "Store", on: date | None) -> None:
    """List visits that are due or overdue in kept courses of open referrals. Each course is entered as read."""
    from candidacy.course.content import content
    from candidacy.course.text import due_text

    found = store.due_visits(on or date.today())
    emit(due_text(found.visits, found.on, content().of_ones_own), None)
    for reference, notice in found.notices:
        click.echo(f"! {reference}: {notice}")
    problems = [problem for _, some in found.unread for problem in some]
    if problems:
        raise InputError(problems, others_answered=True)


COMMANDS = (save_course, course, due)
