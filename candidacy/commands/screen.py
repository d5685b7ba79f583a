"""``candidacy screen``."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from candidacy.commands.output import parse_day, write_whole
from candidacy.errors import Code, Problem, TableError, shorten

if TYPE_CHECKING:
    from candidacy.cohort.result import Cohort


@click.command(
    epilog="""
\b
Examples:
  candidacy screen referrals.csv --suggest-mapping mapping.yaml
  candidacy screen referrals.csv --mapping mapping.yaml --out cohort
  candidacy screen patients.parquet --discs discs.parquet --rules wide_screen
  candidacy screen demo_cases --as-of 2026-11-25
  candidacy screen referrals.csv --vary bmi_upper_limit=30:45:1 --out cohort
  candidacy screen referrals.csv --compare wide_screen
"""
)
@click.argument("table", type=click.Path(path_type=Path))
@click.option(
    "--rules", default="practice_baseline", show_default=True, metavar="ID_OR_PATH", help="Rule set."
)
@click.option(
    "--as-of", metavar="DATE", callback=parse_day, help="Day for which cases are read. Default: today."
)
@click.option("--mapping", type=click.Path(path_type=Path), help="Confirmed mapping of columns and codes.")
@click.option("--suggest-mapping", "suggest", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write a proposal for a mapping, to be checked and confirmed, and stop.")  # fmt: skip
@click.option("--discs", type=click.Path(path_type=Path), help="Second table with one row for each disc.")
@click.option(
    "--list", "lists", metavar="NAME=FILE", multiple=True, help="Table of a list, such as medicines=FILE."
)
@click.option("--part", default="", help="Sheet of a workbook, or table of a database file.")
@click.option("--delimiter", default="", help="Delimiter of a CSV file.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for all results.")
@click.option("--replace", is_flag=True, help="Replace the folder of an earlier run.")
@click.option(
    "--mask-below", type=int, default=0, metavar="N", help="Also write counts for sharing, small ones masked."
)
@click.option("--vary", metavar="PARAMETER=VALUES", multiple=True,
              help="What if: values as 30,35,40 or first:last:step; repeat for several parameters.")  # fmt: skip
@click.option("--compare", "other", metavar="ID_OR_PATH", help="Another rule set: who moves, and why.")
@click.option("--case", "reference", metavar="CASE", help="Open one case of the table as a full assessment.")
@click.option("--engine", type=click.Choice(["embedded", "spark"]), default="embedded", show_default=True,
              help="Engine; both give the same outcomes.")  # fmt: skip
@click.option("--memory", default="2GB", show_default=True, help="Most memory before data spill to disk.")
def screen(
    table: Path,
    rules: str,
    as_of: date | None,
    mapping: Path | None,
    suggest: Path | None,
    discs: Path | None,
    lists: tuple[str, ...],
    part: str,
    delimiter: str,
    out: Path | None,
    replace: bool,
    mask_below: int,
    vary: tuple[str, ...],
    other: str | None,
    reference: str | None,
    engine: str,
    memory: str,
) -> None:
    """Screen TABLE, one row for each case, against a rule set.

    TABLE is a CSV, Excel, Parquet or DuckDB file, or a folder of case records. Rows with a cell that cannot be
    used are set aside and told; they never spoil the others.
    """
    if suggest is not None:
        from candidacy.cohort.suggest import suggest_mapping

        write_whole(suggest, suggest_mapping(table, part, delimiter))
        click.echo(
            f"Wrote {suggest}. Check every line; then write confirmed: true and use --mapping {suggest}."
        )
        return
    from candidacy.cohort.screening import screen as screen_table

    given = {name: Path(path) for name, _, path in (each.partition("=") for each in lists)}
    ranges = dict(_values(each) for each in vary)
    with screen_table(
        table, rules, as_of or date.today(), discs=discs, lists=given, mapping=mapping, engine=engine,  # type: ignore[arg-type]
        part=part, delimiter=delimiter, memory=memory,
    ) as cohort:  # fmt: skip
        if reference is not None:
            _open(cohort, reference)
            return
        _tell(cohort)
        points = cohort.sweep(ranges) if ranges else None
        if points is not None:
            click.echo("\nWhat if\n" + points.to_string(index=False))
        if other is not None:
            found = cohort.compare(other)
            click.echo(f"\nMoves from {found.one} to {found.other}: {len(found.cases)} cases")
            click.echo(found.moves.head(30).to_string(index=False) if len(found.moves) else "none")
        if out is not None:
            written = cohort.write(out, mask_below=mask_below, replace=replace, sweep=points)
            click.echo(f"\nWrote {written}.")


def _values(text: str) -> tuple[str, list[Any]]:
    """Read ``parameter=30,35`` or ``parameter=30:45:1``.

    Raises
    ------
    TableError
        E601 if it is neither.
    """
    name, sign, given = text.partition("=")
    try:
        if not sign or not name:
            raise ValueError("no values")
        if given.count(":") == 2:
            first, last, step = (float(part) for part in given.split(":"))
            if step <= 0 or last < first or (last - first) / step > 10_000:
                raise ValueError("not a range")
            count = int((last - first) / step + 1e-9) + 1
            return name, [_number(f"{first + place * step:.12g}") for place in range(count)]
        return name, [_number(part.strip()) for part in given.split(",")]
    except ValueError:
        raise TableError(
            [
                Problem(
                    Code.USAGE,
                    "not values of a parameter",
                    "--vary",
                    found=shorten(text),
                    expected="parameter=30,35,40 or parameter=30:45:1",
                )
            ]
        ) from None


def _number(text: str) -> Any:
    number = float(text)
    return int(number) if number.is_integer() else number


def _tell(cohort: "Cohort") -> None:
    click.echo(
        f"{cohort.cases:,} of {cohort.rows:,} rows under {cohort.rule_set.id} {cohort.rule_set.file.version} "
        f"({cohort.rule_set.file.status}), as of {cohort.as_of.isoformat()}; {cohort.set_aside:,} set aside"
    )
    for problem in (*cohort.problems[:10], *cohort.notes[:10]):
        click.echo(str(problem), err=True)
    more = max(0, len(cohort.problems) - 10) + max(0, len(cohort.notes) - 10)
    if more:
        click.echo(f"+{more} more; --out writes all rows set aside to set_aside.csv", err=True)
    click.echo("\n" + cohort.standings().to_string(index=False))
    reasons = cohort.reasons().head(10)
    if len(reasons):
        click.echo("\nMost frequent reasons for exclusion")
        click.echo(reasons[["criterion", "subject", "failing", "sole"]].to_string(index=False))
    missing = cohort.missing_ranking().head(10)
    if len(missing):
        click.echo("\nMissing facts by how many cases each would settle")
        click.echo(missing[["element", "burden", "settles", "waiting"]].to_string(index=False))
    click.echo(
        "\nDecision support for licensed clinicians: a standing is a status under this rule set, not an order."
    )


def _open(cohort: "Cohort", reference: str) -> None:
    import io

    from candidacy.commands.console import console_for
    from candidacy.explain.build import build_document
    from candidacy.explain.text import print_document

    buffer = io.StringIO()
    print_document(console_for(buffer, to_file=False), build_document(cohort.open_case(reference)))
    click.echo(buffer.getvalue())
