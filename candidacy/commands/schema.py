"""``candidacy schema``."""

import json
from pathlib import Path
from typing import Any

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import emit, write_whole
from candidacy.foundation.errors import Code, InputError, Problem

KINDS = (
    "case", "criterion", "criterion_cases", "ruleset", "element", "relation", "table", "sources", "settings",
    "decisions", "mapping", "assessment",
)  # fmt: skip


@click.command(
    epilog="""
\b
Examples:
  candidacy schema > case.schema.json
  candidacy schema criterion --out criterion.schema.json
  candidacy schema all --library my_rules --out my_rules/.schemas
"""
)
@click.argument("what", type=click.Choice([*KINDS, "all"]), default="case")
@click.option("--out", type=click.Path(path_type=Path), help="Write to a file; with all, to a folder.")
@with_library()
def schema(what: str, out: Path | None) -> None:
    """Print the JSON Schema of a kind of file: a case record (default), a file of a rule library or a mapping.

    An editor that knows the schema of a file completes its keys, explains them and marks what does not fit. With
    --library it also offers the elements, sources, criteria and rule sets of that library.
    """
    if what != "all":
        if out is not None and out.is_dir():
            raise click.UsageError(f"--out {out} is a folder; one schema is written to a file")
        emit(schema_text(what), out)
    elif out is None:
        raise click.UsageError("all schemas are written to a folder; name it with --out")
    else:
        write_schemas(out)
        click.echo(f"written: {out}", err=True)


def write_schemas(folder: Path) -> None:
    """Write the schema of every kind of file that a person writes into a folder, as ``KIND.schema.json``.

    Raises
    ------
    InputError
        E101 if a file cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", str(folder), found=error.strerror or "",
                     next_step="choose another place with --out")]
        ) from error  # fmt: skip
    for kind in KINDS:
        if kind != "assessment":
            text = json.dumps(_schema(kind), separators=(",", ":"), ensure_ascii=False)
            write_whole(folder / f"{kind}.schema.json", text + "\n")


def schema_text(what: str) -> str:
    """The JSON Schema of one of `KINDS` as text."""
    return json.dumps(_schema(what), indent=2, ensure_ascii=False) + "\n"


def _schema(what: str) -> dict[str, Any]:
    if what == "case":
        from candidacy.case.json_schema import case_schema

        return case_schema()
    if what == "assessment":
        from candidacy.explain.document import AssessmentDocument
        from candidacy.foundation.described import headed

        return headed(AssessmentDocument.model_json_schema(), what, "candidacy assessment")
    if what == "criterion_cases":
        from candidacy.check.case_schema import criterion_cases_schema

        return criterion_cases_schema()
    from candidacy.rules.json_schema import file_schema, offer_names
    from candidacy.rules.library import library_in_use

    if what == "mapping":
        from candidacy.cohort.inputs.mapping import Mapping
        from candidacy.foundation.described import schema_of

        found = schema_of(Mapping, what, "candidacy mapping of a table")
        offer_names(found, Mapping, library_in_use())
        return found
    return file_schema(what, library_in_use())
