"""``candidacy outcomes``."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import parse_day, rule_files
from candidacy.commands.screen_arguments import check_folder, check_mask, usage
from candidacy.foundation.errors import Code, InputError, Problem, TableError

if TYPE_CHECKING:
    from candidacy.outcomes.counted import Outcomes


@click.command(
    epilog="\b\nExamples:\n  candidacy outcomes demo_cases/clinic_year\n  candidacy outcomes demo_cases/clinic_year --definition pain_half --as-of 2026-11-30\n  candidacy outcomes courses --definition pain_half --mask 0\n  candidacy outcomes courses --definition pain_half --out results --registry --days"
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--rules", metavar="ID_OR_PATH",
              help="Rule set to assess under in place of the one recorded for each patient.")  # fmt: skip
@click.option("--at", default="", metavar="VISIT", help="Planned visit to look at, such as months_12.")
@click.option("--definition", default="", metavar="ID",
              help="The definition of response that was declared before anybody looked at results.")  # fmt: skip
@click.option(
    "--as-of", callback=parse_day, metavar="DATE", help="Day as of which everything is seen (default today)."
)
@click.option("--mask", "below", type=click.IntRange(min=0), metavar="N",
              help="Mask counts from 1 to N-1 (default 11, see rulesets/outcomes/running_checks.yaml); 0 masks nothing.")  # fmt: skip
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "html"]), default="text", show_default=True
)
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="DIR", help="Folder for page, figures and tables."
)
@click.option("--registry", is_flag=True,
              help="With --out: also the registry table, one row for each patient with its reference, not masked.")  # fmt: skip
@click.option("--days", is_flag=True, help="With --registry: dates as days from the injection.")
@click.option("--replace", is_flag=True, help="With --out: replace a folder of an earlier run.")
@with_library("rules")
def outcomes(
    folder: Path,
    rules: str | None,
    at: str,
    definition: str,
    as_of: date | None,
    below: int | None,
    form: str,
    out: Path | None,
    registry: bool,
    days: bool,
    replace: bool,
) -> None:
    """How patients did: course records of a FOLDER beside their case records, counted.

    Course records are files NAME.course.yaml, case records the other files; what cannot be used is named and the rest
    is counted.
    """
    _check_together(out, registry, days, replace)
    if below:
        check_mask(below)
    if out is not None:
        from candidacy.cohort.output.place import is_earlier_run

        check_folder(out, replace, is_earlier_run(out), [folder, *rule_files(*([rules] if rules else []))])
    found = _counted(folder, rules, at, definition, as_of)
    mask = int(str(found.running.mask_below.value)) if below is None else below
    if form == "html":
        from candidacy.outcomes.document import document
        from candidacy.outcomes.figures import figures_of
        from candidacy.outcomes.page import page_of

        told = document(found, mask)
        click.echo(page_of(told, figures_of(found, told)), nl=False)
    elif form == "json":
        from candidacy.outcomes.document import document
        from candidacy.outcomes.writing import json_of

        click.echo(json_of(document(found, mask)), nl=False)
    else:
        from candidacy.outcomes.document import document
        from candidacy.outcomes.text import text_of

        click.echo(text_of(document(found, mask)), nl=False)
    if out is not None:
        from candidacy.outcomes.writing import write_outcomes

        written = write_outcomes(found, out, mask, registry=registry, as_days=days, replace=replace)
        click.echo(f"Wrote {written}.", err=form != "text")


def _counted(folder: Path, rules: str | None, at: str, definition: str, as_of: date | None) -> "Outcomes":
    from candidacy.commands.progress import progress
    from candidacy.rules.libraries import library_in_use, load_rule_set

    try:
        import statsmodels  # noqa: F401
    except ImportError as error:
        raise InputError([Problem(Code.USAGE, "counting outcomes needs statsmodels", "candidacy outcomes",
                                  next_step="pip install 'candidacy[outcomes]'")]) from error  # fmt: skip
    from candidacy.outcomes.counted import Outcomes
    from candidacy.outcomes.practice import read_practice

    under = load_rule_set(rules) if rules is not None else None
    with progress("reading records") as tell:
        practice = read_practice(folder, as_of or date.today(), tell)
    return Outcomes(practice, library_in_use(), at=at, declared=definition, under=under)


def _check_together(out: Path | None, registry: bool, days: bool, replace: bool) -> None:
    problems = []
    if out is None:
        problems += [
            usage("needs a folder", name, next_step="add --out FOLDER")
            for name, given in (("--registry", registry), ("--replace", replace)) if given
        ]  # fmt: skip
    if days and not registry:
        problems.append(
            usage("only the registry table has dates to shift", "--days", next_step="add --registry")
        )
    if problems:
        raise TableError(problems)
