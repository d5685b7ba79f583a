"""``candidacy day``: the checklist of the day of injection, the form of what was done, and tracing of tissue."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.assess import DEFAULT_RULES, STANDARD_INPUT, read_case
from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day, rule_files
from candidacy.commands.store_option import with_place
from candidacy.foundation.errors import Code, InputError, Problem

if TYPE_CHECKING:
    from candidacy.day.checklist import Checklist
    from candidacy.day.sheet import DaySheet

_PAPER = click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Paper of a PDF.")  # fmt: skip
_DISC = click.option("--disc", "discs", metavar="LEVEL", multiple=True, required=True,
                     help="The planned disc, such as L4-L5; repeat it for a second one.")  # fmt: skip
_ON = click.option("--on", "on", metavar="DATE", required=True, callback=parse_day, help="Day of the injection, YYYY-MM-DD.")  # fmt: skip
_RULES = click.option("--rules", "rules", metavar="ID_OR_PATH", default=DEFAULT_RULES, show_default=True,
                      help="Rule set that says who is a candidate.")  # fmt: skip


class _CaseFirst(click.Group):
    """A group whose first word may be a case: then it is the checklist that is asked for."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        first = next((each for each in args if not each.startswith("-") or each == "-"), None)
        named = first in self.commands or any(each in ("-h", "--help") for each in args[:1])
        return super().parse_args(ctx, args if named or not args else ["sheet", *args])


@click.group(
    cls=_CaseFirst,
    epilog="""
\b
Examples:
  candidacy day case.yaml --disc L4-L5 --on 2026-12-10
  candidacy day case.yaml --disc L4-L5 --on 2026-12-10 --format pdf --paper Letter --out day.pdf
  candidacy day form case.yaml --disc L4-L5 --on 2026-12-10 --out day.yaml
  candidacy day take day.yaml --course course.yaml
  candidacy day tracking course.yaml
""",
)
def day() -> None:
    """The day of the injection: CASE --disc LEVEL --on DATE gives the checklist for the planned disc."""


@day.command("sheet", epilog="\b\nExamples:\n  candidacy day case.yaml --disc L4-L5 --on 2026-12-10\n"
             "  candidacy day case.yaml --disc L4-L5 --disc L5-S1 --on 2026-12-10 --format pdf --out day.pdf")  # fmt: skip
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@_DISC
@_ON
@_RULES
@click.option("--conference", metavar="WORDS", default="", help="Day or number of the decision of a case conference, asked for "
              "where the standing is borderline.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "html", "pdf", "json"]), default="text", show_default=True,
              help="Form of the checklist; the PDF is the one page for the room.")  # fmt: skip
@_PAPER
@out_options
@with_library("rules")
@with_place
def sheet(
    case_file: Path,
    discs: tuple[str, ...],
    on: date,
    rules: str,
    conference: str,
    form: str,
    paper: str,
    out: Path | None,
    replace: bool,
    store: Path | str | None,
    person: str | None,
) -> None:
    """The checklist for the planned disc as of the day: what people check, and what the record says beside each line.

    Nothing is ticked in advance. Nothing of another disc is on it. In an emergency, and for a patient who is not a
    candidate as of the day, there is no checklist but the reason. With --store the last signed decision on the referral of
    this id is told; reading it is entered there.
    """
    if form == "pdf" and out is None:
        raise InputError([Problem(Code.USAGE, "a PDF is no text for a terminal", "--format", found="pdf",
                                  next_step="add --out FILE.pdf")])  # fmt: skip
    inputs = [*([] if case_file == STANDARD_INPUT else [case_file]), *rule_files(rules)]
    check_out(out, replace, inputs)
    from candidacy.day.checklist import checklist
    from candidacy.day.sheet import conference_told, day_sheet
    from candidacy.rules.libraries import load_rule_set

    lines, case = checklist(), read_case(case_file)
    decided = conference_told(lines, " ".join(conference.split()))
    if store is not None:
        from candidacy.conference.for_the_day import kept_for_the_day, named_or_kept
        from candidacy.records.store import open_store

        with open_store(store, person, create=False) as opened:
            decided = named_or_kept(decided, kept_for_the_day(opened, case, discs, lines.words))
    made = day_sheet(case, load_rule_set(rules), discs, on, decided, asked=lines)
    emit(_render(made, lines, form, paper), out, replace=replace, inputs=inputs)


def _render(made: "DaySheet", lines: "Checklist", form: str, paper: str) -> str | bytes:
    if form == "json":
        return made.to_json()
    if form == "html":
        from candidacy.day.sheet_page import sheet_page

        return sheet_page(made, lines)
    if form == "pdf":
        _with_reportlab()
        from candidacy.day.sheet_pdf import sheet_pdf

        return sheet_pdf(made, lines, "Letter" if paper == "Letter" else "A4")
    from candidacy.day.sheet_text import sheet_text

    return sheet_text(made, lines)


def _with_reportlab() -> None:
    import importlib.util

    if importlib.util.find_spec("reportlab") is None:
        raise InputError([Problem(Code.USAGE, "PDF needs an extra", "--format", found="pdf",
                                  next_step="pip install 'candidacy[plan]', or use --format html")])  # fmt: skip


@day.command(
    "form", epilog="\b\nExample:\n  candidacy day form case.yaml --disc L4-L5 --on 2026-12-10 --out day.yaml"
)
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@_DISC
@_ON
@_RULES
@out_options
@with_library("rules")
def form(
    case_file: Path, discs: tuple[str, ...], on: date, rules: str, out: Path | None, replace: bool
) -> None:
    """A form of what was checked and done on the day, as YAML with every answer blank."""
    inputs = [*([] if case_file == STANDARD_INPUT else [case_file]), *rule_files(rules)]
    check_out(out, replace, inputs)
    from candidacy.day.form import blank_form
    from candidacy.rules.libraries import load_rule_set

    emit(
        blank_form(read_case(case_file), load_rule_set(rules), discs, on), out, replace=replace, inputs=inputs
    )


@day.command("take", epilog="\b\nExample:\n  candidacy day take day.yaml --course course.yaml")
@click.argument("filled_file", metavar="FILLED", type=click.Path(path_type=Path))
@click.option("--course", "course_file", metavar="FILE", required=True, type=click.Path(path_type=Path),
              help="The course record: changed in place, its comments stay; begun where there is none.")  # fmt: skip
@with_library()
def take(filled_file: Path, course_file: Path) -> None:
    """Check a filled form whole and set the session into the course record: all of it, or nothing and every reason why.

    Another disc than planned, a container past its expiry, contrast in the injectate and lines answered with no are told
    loudly; the first two are entered as events to be looked into.
    """
    from candidacy.commands.output import write_whole
    from candidacy.course.load import load_course, parse_course
    from candidacy.day.take import read_filled, take_day, with_session
    from candidacy.foundation.files import read_text

    filled, tree = read_filled(read_text(filled_file), str(filled_file))
    text = read_text(course_file) if course_file.exists() else ""
    former = parse_course(text, str(course_file)) if text else None
    taken = take_day(filled, tree, str(filled_file), former)
    made = with_session(text, taken, str(course_file))
    write_whole(course_file, made, replace=bool(text), inputs=[filled_file])
    for words in taken.loud:
        click.echo(f"‼ {words}")
    session = taken.course.record.injections[taken.at]
    click.echo(
        f"Session {session.id} of {session.date} ({', '.join(d.level for d in session.discs)}) is in {course_file}."
    )
    if taken.events:
        click.echo(
            f"{taken.events} event{'s' if taken.events > 1 else ''} entered, not graded: judge and report them."
        )
    for notice in load_course(course_file).notices(date.today()):
        click.echo(f"! {notice}")


@day.command("tracking", epilog="\b\nExamples:\n  candidacy day tracking course.yaml\n"
             "  candidacy day tracking courses/ --format csv --out tissue.csv")  # fmt: skip
@click.argument("courses", metavar="COURSE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["text", "csv", "json", "pdf"]), default="text", show_default=True,
              help="Form of the record.")  # fmt: skip
@_PAPER
@out_options
@with_library()
def tracking(courses: tuple[Path, ...], form: str, paper: str, out: Path | None, replace: bool) -> None:
    """The tissue tracking record of course records: files, or folders of them. From code to recipient and back."""
    if form == "pdf" and out is None:
        raise InputError([Problem(Code.USAGE, "a PDF is no text for a terminal", "--format", found="pdf",
                                  next_step="add --out FILE.pdf")])  # fmt: skip
    files = [each for given in courses for each in (_records_in(given) if given.is_dir() else [given])]
    if not files:
        raise InputError([Problem(Code.EMPTY, "there is no course record", ", ".join(map(str, courses)),
                                  expected="files ending in .yaml, .yml or .json")])  # fmt: skip
    check_out(out, replace, files)
    from candidacy.course.load import load_course

    records, problems = [], list[Problem]()
    for file in files:
        try:
            records.append(load_course(file).record)
        except InputError as error:
            problems += error.problems
    if problems:  # a container that is left out is one that nobody finds
        raise InputError(problems)
    if form == "pdf":
        _with_reportlab()
    from candidacy.day import tracking as made

    rows = made.tracking(records)
    if form == "pdf":
        emit(
            made.tracking_pdf(rows, "Letter" if paper == "Letter" else "A4"),
            out,
            replace=replace,
            inputs=files,
        )
    else:
        words = {"text": made.tracking_text, "csv": made.tracking_csv, "json": made.tracking_json}[form](rows)
        emit(words, out, replace=replace, inputs=files)


def _records_in(folder: Path) -> list[Path]:
    """The course records of a folder, whatever form they are written in."""
    return sorted(
        each for each in folder.iterdir() if each.suffix in (".yaml", ".yml", ".json") and each.is_file()
    )
