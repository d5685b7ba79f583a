"""``candidacy screen``."""

from contextlib import ExitStack
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import parse_day, rule_files, write_whole
from candidacy.commands.screen_arguments import (
    check_folder,
    check_mask,
    check_together,
    read_delimiter,
    read_lists,
    read_ranges,
)
from candidacy.foundation.targets import file_target

if TYPE_CHECKING:
    from candidacy.cohort.result import Cohort

_TABLE = click.Path(path_type=Path)


@click.command(
    epilog="""
\b
Examples:
  candidacy screen referrals.csv --suggest-mapping mapping.yaml
  candidacy screen referrals.csv --mapping mapping.yaml --out cohort
  candidacy screen book.xlsx#patients --discs book.xlsx#discs --list medicines=book.xlsx#medicines
  candidacy screen patients.parquet --discs discs.parquet --rules wide_screen
  candidacy screen demo_cases --as-of 2026-11-25
  candidacy screen referrals.csv --case R-017
  candidacy screen referrals.csv --vary bmi_upper_limit=30:45:1 --out cohort
  candidacy screen referrals.csv --compare wide_screen
  candidacy screen referrals.csv --library my_rules --rules my_practice

\b
Exit status: 0 done (rows may have been set aside, and are told), 2 bad input or usage and nothing written.
"""
)
@click.argument("table", type=_TABLE)
@click.option(
    "--rules", default="practice_baseline", show_default=True, metavar="ID_OR_PATH", help="Rule set."
)
@click.option(
    "--as-of",
    metavar="DATE",
    callback=parse_day,
    help="Day for which cases are read (YYYY-MM-DD). Default: today.",
)
@click.option("--suggest-mapping", "suggest", type=click.Path(path_type=Path), metavar="FILE",
              help="Write a proposal for a mapping of all tables given, to be checked and confirmed, and stop.")  # fmt: skip
@click.option(
    "--mapping", type=_TABLE, metavar="FILE", help="Confirmed mapping of columns, codes, units and dates."
)
@click.option("--discs", type=_TABLE, metavar="FILE", help="Second table with one row for each disc.")
@click.option("--list", "lists", metavar="NAME=FILE", multiple=True,
              help="Table of a list of the record with one row for each entry: medicines, treatments, injections, "
              "surgeries or intradiscal_procedures; repeat it for several.")  # fmt: skip
@click.option("--part", default="", metavar="NAME",
              help="Sheet of a workbook or table of a database, for TABLE; the same as TABLE#NAME.")  # fmt: skip
@click.option("--delimiter", default="", metavar="SIGN",
              help="Delimiter (or: tab) of every CSV file whose header contains it. Default: as the header tells.")  # fmt: skip
@click.option("--case", "reference", metavar="REFERENCE", help="Print one case of the table as an assessment, and stop.")  # fmt: skip
@click.option("--full", is_flag=True, help="With --case: every criterion, value, source and caution.")
@click.option("--vary", metavar="PARAMETER=VALUES", multiple=True,
              help="What if: standings at values such as 30,35,40 or 30:45:1 (first:last:step) or, of codes, "
              "bulge,protrusion or none+bulge,none; repeat it for several parameters.")  # fmt: skip
@click.option("--firm", type=click.IntRange(min=1), metavar="N", help="How many standings a repeat of what was measured "
              "would change more than 1 time in 20, of at most N cases, drawn at random where there are more.")  # fmt: skip
@click.option("--compare", "other", metavar="ID_OR_PATH", help="Another rule set: who moves, and why.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER",
              help="Write outcomes of every case (Parquet), counts (CSV), diagrams, rows set aside and a summary page.")  # fmt: skip
@click.option(
    "--replace", is_flag=True, help="Replace the folder of an earlier run, or the file of a proposal."
)
@click.option("--csv", is_flag=True,
              help="With --out: outcomes of every case and disc as CSV too, for a spreadsheet; they are always written as "
              "Parquet, many times smaller.")  # fmt: skip
@click.option("--mask-below", type=int, default=0, metavar="N",
              help="With --out: also write counts for sharing, those below N masked and the others rounded.")  # fmt: skip
@click.option("--engine", type=click.Choice(["embedded", "spark"]), default="embedded", show_default=True,
              help="Engine; both give the same outcomes.")  # fmt: skip
@click.option("--memory", default="2GB", show_default=True, metavar="SIZE",
              help="Most memory before data spill to disk; with spark, of each worker.")  # fmt: skip
@with_library("rules", "other")
def screen(
    table: Path, discs: Path | None, lists: tuple[str, ...], part: str, delimiter: str, **chosen: Any
) -> None:
    """Screen TABLE, one row for each case, against a rule set.

    TABLE is a CSV (UTF-8), Excel, Parquet or DuckDB file, a folder of Parquet files, or a folder of case records.
    FILE#NAME is a sheet of a workbook or a table of a database, for TABLE and for every other table.

    Headers are data elements (see candidacy elements): case_id, body_weight [kg], L4-L5 displacement. For any
    other table, --suggest-mapping proposes what each column is; a person checks it and --mapping uses it.

    A cell may state what is imprecise: <35, >=6, 33..37, III|IV, 2026-03; a list as latex;iodine; a reason for not
    knowing as ?not_stated. An empty cell says nothing, and unknown neither passes nor fails.

    Usual forms are read: 204 lbs, 5'9", 7/10, 53%, yes and no. A cell that cannot be read makes its fact unknown and is
    told; its row counts, unless the mapping says on_bad_cell: set_row_aside. A row without a reference of its own is set
    aside and told; none ever spoils the others.
    """
    given = {"--mapping": chosen["mapping"], "--out": chosen["out"], "--compare": chosen["other"],
             "--vary": chosen["vary"], "--case": chosen["reference"], "--mask-below": chosen["mask_below"],
             "--csv": chosen["csv"], "--firm": chosen["firm"], "--replace": chosen["replace"], "--full": chosen["full"]}  # fmt: skip
    check_together(given, chosen["suggest"] is not None, chosen["reference"] is not None)
    tables = {
        "discs": discs,
        "lists": read_lists(lists),
        "part": part,
        "delimiter": read_delimiter(delimiter),
    }
    if chosen["suggest"] is not None:
        _suggest(table, tables, chosen["suggest"], chosen["replace"])
    else:
        _screen(table, tables, **{name: value for name, value in chosen.items() if name != "suggest"})


def _inputs(table: Path, tables: dict[str, Any]) -> list[Path]:
    """The files that are read, without the names of their parts."""
    given = [table, *([tables["discs"]] if tables["discs"] else []), *tables["lists"].values()]
    return [path if path.exists() else Path(str(path).partition("#")[0]) for path in given]


def _suggest(table: Path, tables: dict[str, Any], target: Path, replace: bool) -> None:
    from candidacy.cohort.inputs.suggest import suggest_mapping

    inputs = _inputs(table, tables)
    file_target(target, replace=replace, inputs=inputs)
    text = suggest_mapping(table, **tables)
    write_whole(target, text, replace=replace, inputs=inputs)
    questions = text.count("# QUESTION")
    click.echo(
        f"Wrote {target}. Check every line"
        + (f" and answer the {questions} marked QUESTION" if questions else "")
        + f"; then write confirmed: true and use --mapping {target}."
    )


def _screen(
    table: Path,
    tables: dict[str, Any],
    *,
    rules: str,
    as_of: date | None,
    mapping: Path | None,
    reference: str | None,
    full: bool,
    vary: tuple[str, ...],
    firm: int | None,
    other: str | None,
    out: Path | None,
    replace: bool,
    csv: bool,
    mask_below: int,
    engine: str,
    memory: str,
) -> None:
    from candidacy.cohort.output.place import is_earlier_run
    from candidacy.cohort.screening import screen as screen_table
    from candidacy.commands.progress import progress
    from candidacy.commands.screen_text import tell_case
    from candidacy.rules.libraries import load_rule_set

    rule_set, compared = load_rule_set(rules), load_rule_set(other) if other is not None else None
    ranges = read_ranges(vary, rule_set)
    if out is not None:
        read = [
            *_inputs(table, tables),
            *([mapping] if mapping else []),
            *rule_files(rules, *([other] if other else [])),
        ]
        check_folder(out, replace, is_earlier_run(out), read)
    check_mask(mask_below)
    with ExitStack() as stack:
        with progress("reading the table") as tell:
            cohort = stack.enter_context(screen_table(
                table, rule_set, as_of or date.today(), **tables, mapping=mapping, engine=engine,  # type: ignore[arg-type]
                memory=memory, progress=tell,
            ))  # fmt: skip
        if reference is not None:
            tell_case(cohort, reference, full)
        else:
            _answer(cohort, ranges, firm, compared, out, mask_below=mask_below, csv=csv, replace=replace)


def _answer(
    cohort: "Cohort",
    ranges: dict[str, list[Any]],
    firm: int | None,
    compared: Any,
    out: Path | None,
    **how: Any,
) -> None:
    """Print what was asked for, and write it where a folder is named; nothing is printed while progress shows."""
    from candidacy.commands import screen_text
    from candidacy.commands.progress import progress

    screen_text.tell(cohort)
    points = found = None
    if ranges:
        with progress("trying other values"):
            points = cohort.sweep(ranges)
        click.echo("\nWhat if\n" + points.to_string(index=False))
    if firm is not None:
        screen_text.tell_firm(cohort, firm)
    if compared is not None:
        found = cohort.compare(compared)
        screen_text.tell_moves(found)
    screen_text.tell_caution()
    if out is not None:
        with progress("writing the results") as tell:
            written = cohort.write(out, **how, sweep=points, comparison=found, progress=tell)
        click.echo(f"\nWrote {written}.")
