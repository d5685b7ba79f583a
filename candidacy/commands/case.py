"""``candidacy case``: case records."""

from pathlib import Path

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, rule_files


@click.group(
    epilog="\b\nExamples:\n  candidacy case new --out case.yaml\n  candidacy case new --rules wide_screen"
)
def case() -> None:
    """Write case records."""


@case.command(
    epilog="""
\b
Examples:
  candidacy case new --out case.yaml
  candidacy case new --rules report_completeness
  candidacy case new --rules my_rules/ruleset.yaml --id R-017 --out R-017.yaml
"""
)
@click.option("--rules", "--ruleset", "rules", default="practice_baseline", show_default=True, metavar="ID_OR_PATH",
              help="Rule set whose facts are listed.")  # fmt: skip
@click.option("--id", "identifier", default="new-referral", show_default=True, metavar="ID",
              help="Local case reference; never a name or a record number.")  # fmt: skip
@out_options
@with_library("rules")
def new(rules: str, identifier: str, out: Path | None, replace: bool) -> None:
    """Write a blank case record with every fact that a rule set reads.

    Facts are grouped and commented out, each with its unit, codes and range. Take away the # before a line and write
    the value; what stays a comment is unknown. As it is written, it is an empty, valid record.
    """
    from candidacy.case.load import parse_case
    from candidacy.explain.blank_record import blank_record
    from candidacy.rules.libraries import load_rule_set

    check_out(out, replace, rule_files(rules))
    text = blank_record(load_rule_set(rules), identifier)
    parse_case(text, "--id")
    emit(text, out, replace=replace, inputs=rule_files(rules))
