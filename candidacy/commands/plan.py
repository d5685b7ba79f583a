"""``candidacy plan``."""

import importlib.util
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.assess import DEFAULT_RULES, STANDARD_INPUT, read_case
from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, rule_files
from candidacy.commands.store_option import needs_extra, place, tell
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import Code, InputError, Problem, shorten

if TYPE_CHECKING:
    from candidacy.plan.changes import Earlier
    from candidacy.plan.document import PlanDocument

_FORMS = ("text", "json", "html", "pdf", "ics", "csv")


def _day(name: str, text: str) -> date:
    try:
        return day(text)
    except DateError as error:
        raise InputError([Problem(Code.BAD_DATE, str(error), name, field=name.lstrip("-"), found=shorten(text),
                                  expected="a date, YYYY-MM-DD")]) from None  # fmt: skip


@click.command(
    epilog="""
\b
Examples:
  candidacy plan case.yaml --on 2026-12-14
  candidacy plan case.yaml --on 2026-12-14 --full --calendar practice.yaml --entries entries.yaml
  candidacy plan case.yaml --on 2026-12-21 --moved-from 2026-12-14
  candidacy plan case.yaml --on 2026-12-21 --moved-from plan.json --format ics --out plan.ics
  candidacy plan case.yaml --on 2026-12-14 --store clinic.sqlite

\b
Exit status: 0 done; 2 bad input or usage; 3 a fault of the program.
"""
)
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--on", "on", metavar="DATE", required=True, help="Proposed day of injection (YYYY-MM-DD).")
@click.option(
    "--rules", default=DEFAULT_RULES, show_default=True, metavar="ID_OR_PATH", help="Rule set by id or path."
)
@click.option(
    "--as-of",
    metavar="DATE",
    help="Day on which the plan is made. Default: the case's own as_of, else today.",
)
@click.option(
    "--plan", "plan_id", metavar="ID", help="Plan file of the library by id. Default: around_injection."
)
@click.option(
    "--calendar",
    "calendar_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Holidays and weekend days of the practice.",
)
@click.option("--entries", "entries_file", metavar="FILE", type=click.Path(path_type=Path),
              help="What is no fact of the case: hour, order lead, cost, discography, decision, log of the material.")  # fmt: skip
@click.option(
    "--moved-from",
    metavar="DATE_OR_FILE",
    help="Day of the earlier plan, or its JSON or calendar: says what changed.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(_FORMS),
    default="text",
    show_default=True,
    help="Form of the plan; pdf needs --out.",
)
@click.option(
    "--with-facts", is_flag=True, help="With ics: put facts of the patient into titles and descriptions."
)
@click.option(
    "--full",
    is_flag=True,
    help="With text: everything that belongs to each step, every missing fact, form, sources.",
)
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="With pdf."
)
@click.option(
    "--store",
    metavar="FILE_OR_URL",
    help="Put the steps into the work list of this store; doing it twice adds nothing twice.",
)
@click.option(
    "--person",
    envvar="CANDIDACY_PERSON",
    show_envvar=True,
    metavar="ID",
    help="With --store: your local id in the store.",
)
@out_options
@with_library("rules")
def plan(
    case_file: Path,
    on: str,
    rules: str,
    as_of: str | None,
    plan_id: str | None,
    calendar_file: Path | None,
    entries_file: Path | None,
    moved_from: str | None,
    form: str,
    with_facts: bool,
    full: bool,
    paper: str,
    store: str | None,
    person: str | None,
    out: Path | None,
    replace: bool,
) -> None:
    """Lay out what must happen when around one proposed day of injection of CASE, a case record (- for standard input).

    It supports the people who plan and orders nothing. What stands against the day comes first, with the earliest day that
    known dates allow; criteria that depend on the day are assessed as of it.
    """
    wanted = _day("--on", on)
    made_on = _day("--as-of", as_of) if as_of is not None else None
    _check(form, out, with_facts, full)
    earlier_file = Path(moved_from) if moved_from is not None and Path(moved_from).is_file() else None
    earlier_day = (
        _day("--moved-from", moved_from) if moved_from is not None and earlier_file is None else None
    )
    given = [
        file
        for file in (case_file, calendar_file, entries_file, earlier_file)
        if file is not None and file != STANDARD_INPUT
    ]
    inputs = [*given, *rule_files(rules)]
    check_out(out, replace, inputs)
    from candidacy.plan.changes import load_earlier
    from candidacy.plan.content import DEFAULT_PLAN, load_plan
    from candidacy.plan.entries import load_entries
    from candidacy.plan.make import plan as make
    from candidacy.plan.working_days import working_days
    from candidacy.rules.libraries import library_in_use, library_of, load_rule_set, rule_set_path

    case = read_case(case_file)
    path = rule_set_path(rules)
    file = load_plan(library_in_use() if path is None else library_of(path), plan_id or DEFAULT_PLAN)
    calendar = working_days(file.setting("weekend_days"), calendar_file)
    entries = load_entries(entries_file, case.record.id) if entries_file is not None else None
    earlier: Earlier | date | None = (
        load_earlier(earlier_file, case.record.id) if earlier_file is not None else earlier_day
    )
    chosen = made_on or (day(case.record.as_of) if case.record.as_of else date.today())
    found = make(
        case, load_rule_set(rules), file, wanted, chosen, calendar=calendar, entries=entries, earlier=earlier
    )
    emit(_render(found, form, full, with_facts, paper), out, replace=replace, inputs=inputs)
    if store is not None:
        _into_work(found, store, person)


def _check(form: str, out: Path | None, with_facts: bool, full: bool) -> None:
    problem = None
    if form == "pdf" and out is None:
        problem = ("a PDF is no text for a terminal", "--format", form, "add --out FILE.pdf")
    elif with_facts and form != "ics":
        problem = ("--with-facts is for ics", "--with-facts", form, "leave it out, or use --format ics")
    elif full and form != "text":
        problem = ("--full is for text", "--full", form, "leave it out: this form is full")
    elif form == "pdf" and importlib.util.find_spec("reportlab") is None:
        problem = (
            "PDF needs an extra",
            "--format",
            form,
            "pip install 'candidacy[plan]', or use --format html",
        )
    if problem is not None:
        message, option, found, step = problem
        raise InputError([Problem(Code.USAGE, message, option, found=found, next_step=step)])


def _render(found: "PlanDocument", form: str, full: bool, with_facts: bool, paper: str) -> str | bytes:
    if form == "json":
        return found.to_json()
    if form == "html":
        from candidacy.plan.page import plan_page

        return plan_page(found)
    if form == "pdf":
        from candidacy.plan.pdf import plan_pdf

        return plan_pdf(found, paper)  # type: ignore[arg-type]
    if form == "ics":
        from candidacy.plan.ics import plan_calendar

        return plan_calendar(found, with_facts=with_facts).decode("utf-8")
    if form == "csv":
        from candidacy.plan.table import plan_csv

        return plan_csv(found)
    from candidacy.plan.text import plan_text

    return plan_text(found, full=full)


def _into_work(found: "PlanDocument", store: str, person: str | None) -> None:
    with needs_extra():
        from candidacy.conference.deciding import kept_decision_words
        from candidacy.records.plan_work import put_into_work
        from candidacy.records.store import open_store

        with open_store(place(store), person, create=False) as opened:
            click.echo(put_into_work(opened, found).words, err=True)
            tell(kept_decision_words(opened, found.case.id, found.case.digest))
