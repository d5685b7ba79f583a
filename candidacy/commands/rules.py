"""``candidacy rules``: list, show, compare, check and begin."""

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, rule_files
from candidacy.commands.rules_new import new
from candidacy.commands.rules_prove import prove
from candidacy.foundation.shipped import LIBRARY_VARIABLE

if TYPE_CHECKING:
    from candidacy.rules.library import Library


@click.group(
    epilog="\b\nExamples:\n  candidacy rules list\n  candidacy rules show practice_baseline\n  candidacy rules check"
)
def rules() -> None:
    """List, show, compare and check rule sets and criteria, or begin your own."""


@rules.command("list", epilog="\b\nExamples:\n  candidacy rules list\n  candidacy rules list --criteria")
@click.option("--criteria", is_flag=True, help="List every criterion of the library, not only rule sets.")
@with_library()
def list_rules(criteria: bool) -> None:
    """List the rule sets, one's own first, or with --criteria every criterion."""
    from candidacy.rules.libraries import library_in_use

    library = library_in_use()
    if criteria:
        for identifier in library.criterion_names():
            item = library.criterion(identifier)
            click.echo(f"{identifier:<48} {item.force:<9} {item.subject:<8} {item.group:<14} {item.title}")
        return
    for identifier in library.rule_set_names():
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
@out_options
@with_library("name")
def show(name: str, form: str, out: Path | None, replace: bool) -> None:
    """Show a rule set as a document a committee could approve, or one criterion."""
    from candidacy.rules.libraries import library_in_use

    check_out(out, replace, rule_files(name))
    library = library_in_use()
    if name in library.criterion_names():
        text = _criterion(name, form)
    else:
        _is_a_rule_set(name, library)
        text = _rule_set(name, form, out is not None)
    emit(text, out, replace=replace, inputs=rule_files(name))


def _is_a_rule_set(name: str, library: "Library") -> None:
    """Refuse a name that is neither a rule set nor a criterion, with what it may have meant."""
    from candidacy.case.catalogue import catalogue
    from candidacy.foundation.errors import Code, InputError, Problem
    from candidacy.foundation.files import nearest
    from candidacy.rules.vocabulary import is_identifier

    if not is_identifier(name) or name in library.rule_set_names() or Path(name).exists():
        return
    close = nearest(name, [*library.rule_set_names(), *library.criterion_names()])
    step = (
        f"it is a data element: candidacy elements {name}"
        if name in catalogue()
        else "candidacy rules list shows the rule sets, with --criteria the criteria"
    )
    raise InputError([Problem(
        Code.UNKNOWN_RULE_SET, "neither a rule set nor a criterion", found=name,
        expected=f"closest is {close}" if close else ", ".join(library.rule_set_names()), next_step=step,
    )])  # fmt: skip


def _rule_set(name: str, form: str, to_file: bool) -> str:
    from candidacy.explain.ruleset import describe_rule_set
    from candidacy.rules.libraries import load_rule_set

    document = describe_rule_set(load_rule_set(name))
    if form == "json":
        return document.model_dump_json(indent=2) + "\n"
    if form == "html":
        from candidacy.explain.page import rule_set_page

        return rule_set_page(document)
    from candidacy.commands.console import console_for
    from candidacy.explain.ruleset_text import print_rule_set

    buffer = io.StringIO()
    print_rule_set(console_for(buffer, to_file=to_file), document)
    return buffer.getvalue()


def _criterion(name: str, form: str) -> str:
    from candidacy.commands.console import console_for
    from candidacy.explain.ruleset import describe_criterion
    from candidacy.explain.ruleset_text import print_criterion
    from candidacy.rules.libraries import library_in_use
    from candidacy.rules.resolved import as_declared

    entry = describe_criterion(as_declared(library_in_use().criterion(name)))
    if form == "json":
        return entry.model_dump_json(indent=2) + "\n"
    if form == "html":
        raise click.UsageError("a single criterion is shown as text or json; html is for rule sets")
    buffer = io.StringIO()
    print_criterion(console_for(buffer, to_file=False), entry)
    return buffer.getvalue()


@rules.command(
    epilog="""
\b
Examples:
  candidacy rules diff practice_baseline trial_style_strict
  candidacy rules diff practice_baseline my_rules/sets/my_rules --format md --out changes.md
"""
)
@click.argument("before", metavar="ID_OR_PATH")
@click.argument("after", metavar="ID_OR_PATH")
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "md"]), default="text", show_default=True
)
@out_options
@with_library("before", "after")
def diff(before: str, after: str, form: str, out: Path | None, replace: bool) -> None:
    """Tell what differs from one rule set to another: criteria, forces, values with reason and source, and the rest.

    Both are compared as they are used, with everything they inherit. A shipped rule set is compared as it is shipped,
    without what a library of one's own replaces. Exit status 0 also where they differ.
    """
    from candidacy.explain.rule_set_difference import rule_set_difference
    from candidacy.explain.rule_set_difference_text import as_markdown, as_text
    from candidacy.rules.in_use import own_library
    from candidacy.rules.libraries import load_rule_set, shipped
    from candidacy.rules.resolved import RuleSet

    def loaded(name: str) -> RuleSet:
        own = own_library()
        as_shipped = (
            own is not None and name in shipped().rule_set_files() and name not in own.rule_set_files()
        )
        return shipped().rule_set(name) if as_shipped else load_rule_set(name)

    inputs = rule_files(before, after)
    check_out(out, replace, inputs)
    found = rule_set_difference(loaded(before), loaded(after))
    told = found.to_json() if form == "json" else as_markdown(found) if form == "md" else as_text(found)
    emit(told, out, replace=replace, inputs=inputs)


@rules.command(
    epilog="\b\nExamples:\n  candidacy rules check\n  candidacy rules check my_rules\n  candidacy rules check my_rules/sets/my_practice/ruleset.yaml"
)
@click.argument("paths", metavar="[PATH]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--library", type=click.Path(path_type=Path), envvar=LIBRARY_VARIABLE, metavar="DIR", show_envvar=True,
              help="The same as PATH, for a library folder.")  # fmt: skip
def check(paths: tuple[Path, ...], library: Path | None) -> None:
    """Check rule content and run every criterion's cases; report everything wrong at once.

    Without PATH the shipped library is checked. PATH is a library folder, or any file in one, which is then checked
    whole; or a rule set file that stands alone. Every other command refuses what this one finds wrong.
    Exit status 1 where anything is wrong.
    """
    from candidacy.check.opening import Target, target_of
    from candidacy.check.proofs import not_run
    from candidacy.foundation.errors import Code, Problem, RuleError
    from candidacy.rules.libraries import shipped

    given = paths or ((library,) if library is not None else ())
    problems: list[Problem] = []
    targets: list[Target] = []
    for path in given:
        try:
            targets.append(target_of(path))
        except RuleError as error:
            if any(problem.code is not Code.DUPLICATE_KEY for problem in error.problems):
                raise
            problems += error.problems  # two files of one id: content that is wrong, and not a wrong path
    if not given:
        targets = [Target(shipped())]
    for target in targets:
        problems += target.problems()
    for problem in problems:
        click.echo(str(problem))
    if not_run():
        click.echo(not_run(), err=True)
    files = len({problem.file for problem in problems})
    if problems:
        click.echo(f"{_count(len(problems), 'problem')} in {_count(files, 'file')}.", err=True)
        sys.exit(1)
    for target in targets:
        counts = [_count(number, word) for word, number in target.counts().items() if number]
        where = "the shipped library" if target.library is shipped() and not target.sets else target.name
        click.echo(f"Nothing wrong in {where}: {', '.join(counts)}.")


_PLURALS = {"criterion": "criteria"}


def _count(number: int, word: str) -> str:
    return f"{number} {word if number == 1 else _PLURALS.get(word, word + 's')}"


rules.add_command(new)
rules.add_command(prove)
