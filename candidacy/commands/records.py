"""``candidacy records``: kept referrals at work."""

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from candidacy.commands import records_course, records_keep
from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day
from candidacy.commands.store_option import way_out, with_place, with_store
from candidacy.foundation.visible import clean
from candidacy.rules.vocabulary import Standing

if TYPE_CHECKING:
    from candidacy.records.store import Store

_REFERENCE = click.argument("reference")
_DAY: dict[str, Any] = {"metavar": "DATE", "callback": parse_day}


@click.group(
    epilog="""
\b
Examples:
  candidacy records open
  candidacy records save case.yaml
  candidacy records assess case-17
  candidacy records list --standing borderline --order waiting
  candidacy records verify --head 1204:6b1f...
  candidacy records backup kept.sqlite
"""
)
def records() -> None:
    """Keep referrals: versions, answers, notes, decisions, and a trail that shows tampering.

    Nothing is overwritten. The file is private to you; encrypt the disk it lies on. Whoever may open the file may act as
    anybody in it, so on one machine your account is the guard.
    """


@records.command("open")
@click.option("--role", default="local user", show_default=True, help="What you are; no name.")
@with_place
def open_(role: str, store: Path | str | None, person: str | None) -> None:
    """Make a store where there is none, with you as the one who may do everything, and say where it is."""
    from candidacy.records.store import open_store

    with open_store(store, person, role=role) as opened:
        known = {each.person: each for each in opened.people()}
        you = known[opened.person]
        click.echo(
            f"{opened.name}\nYou are {you.person} ({clean(you.role)}) and may {', '.join(you.access)}."
        )


@records.command("list")
@click.option(
    "--standing",
    multiple=True,
    type=click.Choice(get_args(Standing)),
    help="Only of this standing; may be repeated.",
)
@click.option("--owner", help="Only those a person has in hand; '' for those nobody has.")
@click.option("--state", type=click.Choice(["open", "closed", "all"]), default="open", show_default=True)
@click.option("--waiting", is_flag=True, help="Only those that wait for something.")
@click.option("--asked", is_flag=True, help="Only those that a conference is asked about.")
@click.option("--due-by", help="Only those of which an act is due by this day.", **_DAY)
@click.option("--starts", default="", metavar="TEXT", help="Only references that begin so.")
@click.option(
    "--order",
    type=click.Choice(["changed", "reference", "waiting", "due"]),
    default="changed",
    show_default=True,
)
@click.option("--limit", type=click.IntRange(1, 100_000), default=50, show_default=True)
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True
)
@out_options
@with_store
def list_(store: "Store", standing: tuple[Standing, ...], owner: str | None, state: str, waiting: bool, asked: bool,
          due_by: date | None, starts: str, order: Any, limit: int, form: str, out: Path | None, replace: bool) -> None:  # fmt: skip
    """List referrals: standing, what they wait for and since when, next act, owner."""
    from candidacy.commands.records_text import work_list

    check_out(out, replace)
    rows = store.list_referrals(
        standing=standing,
        owner=owner,
        state=None if state == "all" else state,  # type: ignore[arg-type]
        waiting=True if waiting else None,
        asked=True if asked else None,
        due_by=due_by.isoformat() if due_by else None,
        text=starts,
        order=order,
        limit=limit,
    )
    emit(work_list(rows, form, out is not None), out, replace=replace)


@records.command()
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--version", "expected", type=click.IntRange(0), default=0, show_default=True,
              help="The version you worked on; 0 for a new referral.")  # fmt: skip
@click.option("--reason", default="", help="Why it was changed; needed from the second version on.")
@with_library()
@with_store
def save(store: "Store", case_file: Path, expected: int, reason: str) -> None:
    """Save CASE, a case record, as a new version of the referral that its id names."""
    from candidacy.commands.assess import read_case

    case = read_case(case_file)
    with way_out(f"candidacy records case {case.record.id}"):
        found = store.save_case(case.record.id, case, expected_version=expected, reason=reason)
    click.echo(
        f"{found.reference}: version {found.version} of {found.at[:16].replace('T', ' ')} UTC by {found.person}"
    )


@records.command()
@_REFERENCE
@click.option("--rules", default="practice_baseline", show_default=True, metavar="ID_OR_PATH")
@click.option("--as-of", help="Day for which it is assessed. Default: today.", **_DAY)
@with_library("rules")
@with_store
def assess(store: "Store", reference: str, rules: str, as_of: date | None) -> None:
    """Assess the present version of a referral and keep the answer, with the text of its rules."""
    from candidacy.commands.assess import text_of

    found = store.assess_and_keep(reference, rules, as_of=as_of or date.today())
    emit(text_of([found.document], False), None)
    click.echo(f"kept as entry {found.seq}", err=True)


@records.command()
@_REFERENCE
@with_library()
@with_store
def show(store: "Store", reference: str) -> None:
    """Show a referral as it stands: list row, last answer, decisions, notes, open acts. This is entered as read."""
    from candidacy.commands.records_text import referral_text

    emit(referral_text(store.open_referral(reference)), None)


@records.command()
@_REFERENCE
@with_store
def history(store: "Store", reference: str) -> None:
    """Show everything entered of a referral, who read it among it."""
    from candidacy.commands.records_text import history_text

    emit(history_text(store.history(reference)), None)


@records.command()
@_REFERENCE
@click.option("--version", type=click.IntRange(1), help="Default: the present one.")
@out_options
@with_library()
@with_store
def case(store: "Store", reference: str, version: int | None, out: Path | None, replace: bool) -> None:
    """Print a kept case record as YAML, for example to work on it and save it again."""
    check_out(out, replace)
    emit(store.load_case(reference, version).to_yaml(), out, replace=replace)


@records.command()
@click.argument("entry", type=click.IntRange(1))
@with_library()
@with_store
def again(store: "Store", entry: int) -> None:
    """Make a kept answer again from its kept record and rules, and say whether it is the same."""
    found = store.make_again(entry)
    click.echo(found.words)
    if not found.same:
        sys.exit(1)


@records.command()
@click.argument("entry", type=click.IntRange(1))
@out_options
@with_store
def letter(store: "Store", entry: int, out: Path | None, replace: bool) -> None:
    """Print a kept letter, as it was drafted. "candidacy letter KIND CASE --keep" keeps one."""
    check_out(out, replace)
    emit(store.kept_letter(entry).said.text, out, replace=replace)


@records.command()
@click.argument("entry", type=click.IntRange(1))
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
              help="The text as it was read, or with what was read from it and what of that was taken over.")  # fmt: skip
@out_options
@with_store
def report(store: "Store", entry: int, form: str, out: Path | None, replace: bool) -> None:
    """Print a kept report, note or letter, as it was read. "candidacy read FILE --into CASE --keep" keeps one."""
    from candidacy.commands.records_text import report_json, report_text

    check_out(out, replace)
    kept = store.kept_report(entry)
    emit(report_json(kept) if form == "json" else report_text(kept), out, replace=replace)


@records.command()
@_REFERENCE
@click.argument("text")
@with_store
def note(store: "Store", reference: str, text: str) -> None:
    """Add a note."""
    click.echo(f"entry {store.add_note(reference, text).seq}")


@records.command()
@_REFERENCE
@click.argument("what")
@click.option("--owner", default="", metavar="ID")
@click.option("--due", **_DAY)
@with_store
def act(store: "Store", reference: str, what: str, owner: str, due: date | None) -> None:
    """Add something that somebody has to do."""
    click.echo(f"act {store.add_act(reference, what, owner=owner, due=due.isoformat() if due else '').seq}")


@records.command()
@click.argument("number", type=click.IntRange(1))
@click.option("--dropped", is_flag=True, help="Nobody will do it.")
@click.option("--why", default="")
@with_store
def done(store: "Store", number: int, dropped: bool, why: str) -> None:
    """Say that act NUMBER is done."""
    found = store.end_act(number, "dropped" if dropped else "done", why)
    click.echo(f"{found.reference}: {clean(found.what)}: {found.state}")


@records.command()
@_REFERENCE
@click.option("--owner", metavar="ID", help="Who has it in hand; '' for nobody.")
@click.option("--waiting-for", help="What it waits for; '' for nothing.")
@click.option("--close/--reopen", "close", default=None, help="Nothing, or something, is still to be done.")
@click.option("--why", default="")
@with_store
def work(
    store: "Store", reference: str, owner: str | None, waiting_for: str | None, close: bool | None, why: str
) -> None:
    """Say who has a referral in hand, what it waits for, whether it is closed."""
    state: Any = None if close is None else "closed" if close else "open"
    store.set_work(reference, owner=owner, waiting_for=waiting_for, state=state, why=why)


for _command in (*records_keep.COMMANDS, *records_course.COMMANDS):
    records.add_command(_command)
