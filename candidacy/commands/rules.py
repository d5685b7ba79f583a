"""``candidacy rules``: list, show and check."""

import io
import sys
from pathlib import Path

import click

from candidacy.commands.output import emit


@click.group()
def rules() -> None:
    """List, show and check rule sets and criteria."""


@rules.command("list", epilog="\b\nExamples:\n  candidacy rules list\n  candidacy rules list --criteria")
@click.option("--criteria", is_flag=True, help="List every criterion of the library, not only rule sets.")
def list_rules(criteria: bool) -> None:
    """List the shipped rule sets, or with --criteria every criterion."""
    from candidacy.rules.library import shipped

    library = shipped()
    if criteria:
        for identifier in library.criterion_files():
            item = library.criterion(identifier)
            click.echo(f"{identifier:<48} {item.force:<9} {item.subject:<8} {item.group:<14} {item.title}")
        return
    for identifier in library.rule_set_files():
        rule_set = library.rule_set(identifier)
        file = rule_set.file
        click.echo(
            f"{identifier:<22} {file.version:<8} {file.status:<8} {len(rule_set.criteria):>3} criteria  {file.title}"
        )


@rules.command(
    epilog="""
\b
Examples:
  candidacy rules show practice_baseline
  candidacy rules show body_mass_index_limit
  candidacy rules show practice_baseline --format html --out baseline.html
"""
)
@click.argument("name", metavar="ID_OR_PATH")
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "html"]), default="text", show_default=True
)
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Write to a file.")
def show(name: str, form: str, out: Path | None) -> None:
    """Show a rule set as a document a committee could approve, or one criterion."""
    from candidacy.rules.library import load_rule_set, shipped

    if name in shipped().criterion_files():
        emit(_criterion(name, form), out)
        return
    from candidacy.explain.ruleset import describe_rule_set

    document = describe_rule_set(load_rule_set(name))
    if form == "json":
        emit(document.model_dump_json(indent=2) + "\n", out)
    elif form == "html":
        from candidacy.explain.page import rule_set_page

        emit(rule_set_page(document), out)
    else:
        from candidacy.commands.console import console_for
        from candidacy.explain.ruleset_text import print_rule_set

        buffer = io.StringIO()
        print_rule_set(console_for(buffer, to_file=out is not None), document)
        emit(buffer.getvalue(), out)


def _criterion(name: str, form: str) -> str:
    from candidacy.commands.console import console_for
    from candidacy.explain.ruleset import describe_criterion
    from candidacy.explain.ruleset_text import print_criterion
    from candidacy.rules.library import shipped
    from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter

    criterion = shipped().criterion(name)
    parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in criterion.parameters.items()}
    entry = describe_criterion(ResolvedCriterion(criterion, criterion.force, parameters))
    if form == "json":
        return entry.model_dump_json(indent=2) + "\n"
    if form == "html":
        raise click.UsageError("a single criterion is shown as text or json; html is for rule sets")
    buffer = io.StringIO()
    print_criterion(console_for(buffer, to_file=False), entry)
    return buffer.getvalue()


@rules.command(epilog="\b\nExamples:\n  candidacy rules check\n  candidacy rules check my_rules/ruleset.yaml")
@click.argument("paths", metavar="[PATH]...", nargs=-1, type=click.Path(path_type=Path))
def check(paths: tuple[Path, ...]) -> None:
    """Check rule content and run every criterion's cases; report everything wrong at once.

    Without PATH the shipped library is checked. PATH is a rule set file, its folder, or a library folder.
    Exit status 1 where anything is wrong.
    """
    from candidacy.check import check_library, check_rule_set
    from candidacy.foundation.errors import Code, Problem, RuleError
    from candidacy.rules.library import Library, shipped

    problems: list[Problem] = []
    counts = [0, 0]
    gone = [str(path) for path in paths if not path.exists()]
    if gone:
        raise RuleError([Problem(Code.UNREADABLE, "there is no such file or folder", name) for name in gone])
    for path in paths or (None,):
        if path is None:
            library = shipped()
            problems += check_library(library)
        elif path.is_dir() and not (path / "ruleset.yaml").is_file():
            library = Library(path, base=shipped())
            if not library.criterion_files() and not library.rule_set_files():
                raise RuleError(
                    [Problem(Code.EMPTY, "no rule set and no criterion in this folder", str(path))]
                )
            problems += check_library(library)
        else:
            file = path / "ruleset.yaml" if path.is_dir() else path
            library = Library(file.parent, base=shipped())
            problems += check_rule_set(library, file)
            counts[1] += 1
        counts[0] += len(library.criterion_files())
        counts[1] += len(library.rule_set_files())
    for problem in problems:
        click.echo(str(problem))
    files = len({problem.file for problem in problems})
    if problems:
        click.echo(f"{_count(len(problems), 'problem')} in {_count(files, 'file')}.", err=True)
        sys.exit(1)
    click.echo(f"Nothing wrong: {counts[0]} criteria and {counts[1]} rule sets.")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")
