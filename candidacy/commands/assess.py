"""``candidacy assess``."""

import io
from datetime import date
from pathlib import Path

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import emit, parse_day
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.dates import day

DEFAULT_RULES = "practice_baseline"


@click.command(
    epilog="""
\b
Examples:
  candidacy assess case.yaml
  candidacy assess case.yaml --as-of 2026-11-25 --full
  candidacy assess case.yaml --rules practice_baseline --rules my_rules/ruleset.yaml
  candidacy assess case.yaml --library my_rules --rules my_practice
  candidacy assess case.yaml --format json | jq .standing
  candidacy assess case.yaml --format html --out case.html
"""
)
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--rules", "rules", metavar="ID_OR_PATH", multiple=True, help="Rule set by id or path; repeat it for "
              f"a side-by-side answer. Default: {DEFAULT_RULES}.")  # fmt: skip
@click.option("--as-of", metavar="DATE", callback=parse_day, help="Day for which the case is assessed (YYYY-MM-DD). "
              "Default: the case's own as_of, else today.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json", "html"]), default="text", show_default=True,
              help="Form of the answer.")  # fmt: skip
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), help="Write to a file instead of the terminal."
)
@click.option(
    "--full", is_flag=True, help="Text: reasons, spread and cautions for every criterion, passes too."
)
@click.option("--engine", type=click.Choice(["durable-rules", "direct"]), default="durable-rules", show_default=True,
              help="Chainer for the decision rules; both give the same answer.")  # fmt: skip
@with_library("rules")
def assess(
    case_file: Path,
    rules: tuple[str, ...],
    as_of: date | None,
    form: str,
    out: Path | None,
    full: bool,
    engine: str,
) -> None:
    """Assess CASE, a YAML or JSON case record, against one or more rule sets."""
    documents = assess_file(case_file, rules or (DEFAULT_RULES,), as_of, engine)
    emit(_render(documents, form, full, out), out)


def assess_file(
    case_file: Path, rules: tuple[str, ...], as_of: date | None, engine: str
) -> list[AssessmentDocument]:
    """Load a case and rule sets, assess, and build the documents.

    Raises
    ------
    InputError
        With everything wrong with the case, else with the rule sets.
    """
    from candidacy.assessment.assess import assess as assess_case
    from candidacy.case.load import load_case
    from candidacy.explain.build import build_document
    from candidacy.rules.library import load_rule_set

    case = load_case(case_file)
    chosen = as_of or (day(case.record.as_of) if case.record.as_of else date.today())
    return [
        build_document(assess_case(case, load_rule_set(name), chosen, engine))
        for name in dict.fromkeys(rules)
    ]


def _render(documents: list[AssessmentDocument], form: str, full: bool, out: Path | None) -> str:
    if form == "json":
        if len(documents) == 1:
            return documents[0].to_json()
        from candidacy.explain.compare import compare

        return compare(documents).to_json()
    if form == "html":
        return _page(documents)
    return _text(documents, full, out)


def _page(documents: list[AssessmentDocument]) -> str:
    from candidacy.explain.page import comparison_page, page

    if len(documents) == 1:
        return page(documents[0])
    from candidacy.explain.compare import compare

    return comparison_page(compare(documents))


def _text(documents: list[AssessmentDocument], full: bool, out: Path | None) -> str:
    from candidacy.commands.console import console_for

    buffer = io.StringIO()
    console = console_for(buffer, to_file=out is not None)
    if len(documents) == 1:
        from candidacy.explain.text import print_document

        print_document(console, documents[0], full=full)
    else:
        from candidacy.explain.compare import compare
        from candidacy.explain.compare_text import print_comparison

        print_comparison(console, compare(documents))
    return buffer.getvalue()
