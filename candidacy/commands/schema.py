"""``candidacy schema``."""

import json
from pathlib import Path

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import emit


@click.command(
    epilog="""
\b
Examples:
  candidacy schema > case.schema.json
  candidacy schema assessment
"""
)
@click.argument("what", type=click.Choice(["case", "assessment", "criterion", "ruleset"]), default="case")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Write to a file.")
@with_library()
def schema(what: str, out: Path | None) -> None:
    """Print the JSON Schema of a case record (default), an assessment, a criterion or a rule set."""
    emit(json.dumps(_schema(what), indent=2, ensure_ascii=False) + "\n", out)


def _schema(what: str) -> dict[str, object]:
    if what == "assessment":
        from candidacy.explain.document import AssessmentDocument

        return AssessmentDocument.model_json_schema()
    if what == "criterion":
        from candidacy.rules.schema import Criterion

        return Criterion.model_json_schema(by_alias=True)
    if what == "ruleset":
        from candidacy.rules.schema import RuleSetFile

        return RuleSetFile.model_json_schema(by_alias=True)
    from candidacy.case.json_schema import case_schema

    return case_schema()
