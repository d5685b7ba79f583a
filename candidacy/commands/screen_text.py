"""What ``candidacy screen`` prints of a cohort: counts to the output, rows set aside to the error stream."""

from typing import TYPE_CHECKING

import click

from candidacy.commands.progress import progress

if TYPE_CHECKING:
    from candidacy.cohort.result import Cohort, Comparison

_MOST = 10
_MOST_MOVES = 30


def tell(cohort: "Cohort") -> None:
    """Print the counts, the reasons and the missing facts of a cohort."""
    with progress("counting"):
        standings, reasons = cohort.standings(), cohort.reasons().head(_MOST)
        missing = cohort.missing_ranking().head(_MOST)
    rules = cohort.rule_set
    click.echo(
        f"{cohort.cases:,} of {cohort.rows:,} rows under {rules.id} {rules.file.version} "
        f"({rules.file.status}), as of {cohort.as_of.isoformat()}; {cohort.set_aside:,} set aside"
    )
    for words in rules.own_words:
        click.echo(words)
    for count, what in ((cohort.discs_set_aside, "discs"), (cohort.entries_set_aside, "lists")):
        if count:
            click.echo(f"{count:,} {'row' if count == 1 else 'rows'} of the tables of {what} set aside")
    if cohort.cells_not_read:
        count = cohort.cells_not_read
        click.echo(f"{count:,} {'cell' if count == 1 else 'cells'} not read; their facts are unknown")
    if cohort.with_remarks:
        count = cohort.with_remarks
        click.echo(
            f"{count:,} case {'record holds' if count == 1 else 'records hold'} remarks that no rule read; candidacy assess shows them"
        )
    _tell_problems(cohort)
    click.echo("\n" + standings.to_string(index=False))
    if len(reasons):
        click.echo("\nMost frequent reasons for exclusion")
        click.echo(reasons[["criterion", "subject", "failing", "sole"]].to_string(index=False))
    if len(missing):
        click.echo("\nMissing facts by how many cases each would settle")
        click.echo(
            "(settles the standing: incomplete cases in which it is the one fact that a deciding criterion still waits for; where "
            "several are missing, one answer may settle a case too, see assess --settle)"
        )
        click.echo(missing[["element", "burden", "settles", "waiting"]].to_string(index=False))


def _tell_problems(cohort: "Cohort") -> None:
    for problem in (*cohort.problems[:_MOST], *cohort.notes[:_MOST]):
        click.echo(str(problem), err=True)
    aside = cohort.set_aside + cohort.discs_set_aside + cohort.entries_set_aside
    if aside > _MOST:
        click.echo(
            f"{aside:,} rows set aside in all; --out FOLDER writes every one to set_aside.csv", err=True
        )
    if cohort.cells_not_read > max(_MOST - aside, 0):
        click.echo(
            f"{cohort.cells_not_read:,} cells not read in all; --out FOLDER writes every one to cells_not_read.csv",
            err=True,
        )
    if len(cohort.notes) > _MOST:
        click.echo(f"{len(cohort.notes):,} columns not read in all", err=True)


def tell_firm(cohort: "Cohort", sample: int) -> None:
    """Print how many standings a repeat of what was measured would change, and of how many cases this was asked."""
    with progress("measuring again"):
        found = cohort.firm(sample)
    asked = found["asked"].sum()
    drawn = f"a random sample of {asked:,}" if asked < cohort.cases else "all"
    click.echo(f"\nStandings that one repeat of what was measured would change more than 1 time in 20 ({drawn} of {cohort.cases:,} "
               "cases asked; told where neither safety nor a missing fact decides)")  # fmt: skip
    click.echo(found.to_string(index=False, na_rep="-", float_format="{:.2f}".format))


def tell_moves(found: "Comparison") -> None:
    """Print who moves between two rule sets."""
    with progress("comparing rule sets"):
        count, moves = found.count, found.moves
    click.echo(f"\nMoves from {found.one} to {found.other}: {count:,} cases")
    click.echo(moves.head(_MOST_MOVES).to_string(index=False) if len(moves) else "none")
    if len(moves) > _MOST_MOVES:
        click.echo(f"{len(moves) - _MOST_MOVES} more rows; --out FOLDER writes all")


def tell_caution() -> None:
    """Print what a standing is."""
    click.echo(
        "\nDecision support for licensed clinicians: a standing is a status under this rule set, not an order."
    )


def tell_case(cohort: "Cohort", reference: str, full: bool) -> None:
    """Print one case of the table as an assessment, on one screen or in full."""
    from candidacy.commands.assess import text_of
    from candidacy.explain.build import build_document
    from candidacy.explain.firm import with_firm

    found = cohort.open_case(reference)
    document = build_document(found)
    click.echo(text_of([with_firm(document, found) if full else document], full))
