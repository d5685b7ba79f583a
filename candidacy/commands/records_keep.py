"""The part of ``candidacy records`` that keeps the store itself: verifying, copies, people, removal."""

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.output import check_out, emit, out_options, parse_day
from candidacy.commands.store_option import needs_extra, with_place, with_store
from candidacy.foundation.visible import clean

if TYPE_CHECKING:
    from candidacy.records.store import Store
    from candidacy.records.verify import Verified

_FILE = click.Path(path_type=Path)


@click.command()
@click.option(
    "--head",
    "heads",
    multiple=True,
    metavar="SIZE:ROOT",
    help="A head that was printed before; may be repeated.",
)
@with_store
def verify(store: "Store", heads: tuple[str, ...]) -> None:
    """Find any row that was altered, removed, reordered or inserted, and say which; exit status 1 if there is one.

    Who can rewrite the whole store can make it fit itself again: only a head that was printed and kept elsewhere shows that.
    """
    found = store.verify(heads)
    click.echo(_verified(found))
    if not found.sound:
        sys.exit(1)


@click.command()
@with_store
def head(store: "Store") -> None:
    """Print the head of the trail, to be kept where nobody can alter it."""
    click.echo(store.head().words)


@click.command()
@click.argument("reference")
@click.option("--format", "form", type=click.Choice(["json", "pdf"]), default="json", show_default=True)
@click.option("--why", default="", help="For whom, or for what.")
@out_options
@with_store
def export(store: "Store", reference: str, form: str, why: str, out: Path | None, replace: bool) -> None:
    """Export a referral whole: everything written of it, with proof that it is what was entered."""
    from candidacy.records.export import export_text

    if form == "pdf" and out is None:
        raise click.UsageError("a PDF is no text for a terminal: add --out FILE.pdf")
    check_out(out, replace)
    found = store.export(reference, why)
    if form == "pdf":
        from candidacy.records.export_pdf import export_pdf

        emit(export_pdf(found), out, replace=replace)
    else:
        emit(export_text(found), out, replace=replace)


@click.command()
@click.argument("file", type=_FILE)
@click.option("--head", metavar="SIZE:ROOT", help="The head that whoever keeps the store published.")
def check(file: Path, head: str | None) -> None:
    """Check an export (JSON) without the store; exit status 1 if anything in it is not as it was entered."""
    import json

    from candidacy.foundation.errors import Code, InputError, Problem
    from candidacy.foundation.files import read_text

    with needs_extra():
        from candidacy.records.export import check_export
        from candidacy.records.verify import parse_head

    try:
        exported = json.loads(read_text(file))
    except ValueError:
        raise InputError([Problem(Code.SYNTAX, "this is no JSON", str(file))]) from None
    wrong = list(check_export(exported))
    own = (exported["head"]["size"], exported["head"]["root"])
    if head is not None and parse_head(head) != own:
        wrong.append("The export was made against another head than the one given.")
    click.echo(
        "\n".join(wrong)
        or f"{len(exported['entries'])} entries, as entered, under the head {own[0]}:{own[1]}"
    )
    if wrong:
        sys.exit(1)


@click.command()
@click.argument("file", type=_FILE)
@click.option("--why", default="")
@with_store
def backup(store: "Store", file: Path, why: str) -> None:
    """Copy the store into FILE while it is in use, and verify the copy."""
    from candidacy.records.backup import back_up

    click.echo(_verified(back_up(store, file, why)))
    click.echo(f"written: {file}", err=True)


@click.command()
@click.argument("file", type=_FILE)
@click.option(
    "--head",
    "heads",
    multiple=True,
    metavar="SIZE:ROOT",
    help="A head that was printed; it must be of this copy.",
)
@with_place
def restore(file: Path, heads: tuple[str, ...], store: Path | str | None, person: str | None) -> None:
    """Make the store named by --store from the copy FILE, where there is none yet, and verify it."""
    from candidacy.records.backup import restore as restore_from
    from candidacy.records.database import default_place

    click.echo(
        _verified(restore_from(file, default_place() if store is None else store, person, heads=heads))
    )


@click.command()
@with_place
def upgrade(store: Path | str | None, person: str | None) -> None:
    """Bring a store of an earlier version to the present form: all of it or nothing. Make a backup first."""
    from candidacy.records.database import default_place
    from candidacy.records.store import upgrade as bring

    before, after = bring(default_place() if store is None else store, person)
    click.echo(f"from {before} to {after}" if before != after else f"it is of the present form, {after}")


@click.command()
@click.option("--why", required=True, help="What happened to the lists.")
@with_store
def rebuild(store: "Store", why: str) -> None:
    """Make all lists anew from the trail, where verifying finds that somebody altered a list and nothing else."""
    store.rebuild(why)
    click.echo(_verified(store.verify()))


@click.command()
@click.option("--set", "whom", metavar="ID", help="The person to say something of.")
@click.option("--role", default="", help="What the person is; no name.")
@click.option("--may", multiple=True, type=click.Choice(["read", "enter", "decide", "administer"]),
              help="What the person may do; may be repeated. Without it: nothing any more.")  # fmt: skip
@click.option("--why", default="")
@with_store
def people(store: "Store", whom: str | None, role: str, may: tuple[str, ...], why: str) -> None:
    """List who may do what in the store, or with --set say so of one person."""
    if whom is not None:
        known = {each.person: each.role for each in store.people()}
        store.set_person(whom, role or known.get(whom, ""), may, why)  # type: ignore[arg-type]
    for each in store.people():
        click.echo(f"{each.person:<24} {clean(each.role):<28} {', '.join(each.access) or 'nothing'}")


@click.command()
@click.argument("before", metavar="DATE", callback=parse_day)
@with_store
def unchanged(store: "Store", before: date) -> None:
    """List referrals of which nothing was entered since before DATE: what a retention rule may let go."""
    for reference, changed in store.unchanged_since(before):
        click.echo(f"{reference:<40} last changed {changed[:10]}")


@click.command()
@click.argument("reference")
@click.option("--rule", required=True, help="The retention rule, in words.")
@click.option("--unchanged-since", "before", required=True, metavar="DATE", callback=parse_day,
              help="Removed only if nothing was entered since before this day.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Do not ask.")
@with_store
def remove(store: "Store", reference: str, rule: str, before: date, yes: bool) -> None:
    """Remove what was written of a referral; its entries stay without it, and still verify. It cannot be undone."""
    if not yes:
        click.confirm(f"Remove {reference} for ever? Backups and exports hold it still", abort=True)
    click.echo(f"removed; entry {store.remove(reference, rule=rule, keep_until_after=before)} says so")


def _verified(found: "Verified") -> str:
    lines = [*found.findings]
    if found.sound:
        lines.append(f"{found.head.size} entries, everything kept is as it was entered")
    if found.removed:
        lines.append(f"removed under a retention rule: {', '.join(found.removed)}")
    return "\n".join([*map(clean, lines), f"head {found.head.words}"])


COMMANDS = (verify, head, export, check, backup, restore, upgrade, rebuild, people, unchanged, remove)
