"""``candidacy schema``."""

import json
from pathlib import Path
from typing import Any

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, write_whole
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.targets import file_target

KINDS = (
    "case", "criterion", "criterion_cases", "ruleset", "element", "relation", "table", "sources", "settings",
    "decisions", "mapping", "course", "letter", "plan", "plan_entries", "plan_calendar",
    "assessment", "assessment-full", "proofs",
)  # fmt: skip


@click.command(
    epilog="""
\b
Examples:
  candidacy schema > case.schema.json
  candidacy schema criterion --out criterion.schema.json
  candidacy schema all --library my_rules --out my_rules/.schemas --replace
"""
)
@click.argument("what", type=click.Choice([*KINDS, "all"]), default="case")
@out_options
@with_library()
def schema(what: str, out: Path | None, replace: bool) -> None:
    """Print the JSON Schema of a kind of file: a case record (default), a course record, a file of a rule library or a mapping.

    An editor that knows the schema of a file completes its keys, explains them and marks what does not fit. With
    --library it also offers the elements, sources, criteria and rule sets of that library. With all, --out is a folder.

    An assessment is what candidacy assess --format json prints, assessment-full the same with --full; proofs are what
    candidacy rules prove --format json prints.
    """
    if what != "all":
        check_out(out, replace)
        emit(schema_text(what), out, replace=replace)
    elif out is None:
        raise click.UsageError("all schemas are written to a folder; name it with --out")
    else:
        write_schemas(out, replace)
        click.echo(f"written: {out}", err=True)


def write_schemas(folder: Path, replace: bool = False) -> None:
    """Write the schema of every kind of file that a person writes into a folder, as ``KIND.schema.json``.

    Raises
    ------
    InputError
        E101 if a file cannot be written; E601 if one is there, without leave to replace it.
    """
    for kind in _written():
        file_target(folder / f"{kind}.schema.json", replace=replace)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", str(folder), found=error.strerror or "",
                     next_step="choose another place with --out")]
        ) from error  # fmt: skip
    for kind in _written():
        text = json.dumps(_schema(kind), separators=(",", ":"), ensure_ascii=False)
        write_whole(folder / f"{kind}.schema.json", text + "\n", replace=replace)


def _written() -> list[str]:
    """Kinds of file that a person writes."""
    return [kind for kind in KINDS if kind != "proofs" and not kind.startswith("assessment")]


def schema_text(what: str) -> str:
    """The JSON Schema of one of `KINDS` as text."""
    return json.dumps(_schema(what), indent=2, ensure_ascii=False) + "\n"


def _schema(what: str) -> dict[str, Any]:
    if what == "case":
        from candidacy.case.json_schema import case_schema

        return case_schema()
    if what == "course":
        from candidacy.course.record import CourseRecord
        from candidacy.foundation.described import schema_of

        return schema_of(CourseRecord, what, "candidacy course record")
    if what == "assessment":
        from candidacy.explain.compact_schema import compact_schema
        from candidacy.foundation.described import headed

        return headed(compact_schema(), what, "candidacy assessment, short form")
    if what == "assessment-full":
        from candidacy.explain.document import AssessmentDocument
        from candidacy.foundation.described import headed

        return headed(AssessmentDocument.model_json_schema(), what, "candidacy assessment")
    if what == "proofs":
        from candidacy.foundation.described import headed
        from candidacy.prove.document import Proofs

        return headed(Proofs.model_json_schema(), what, "candidacy proofs about rule sets")
    if what == "criterion_cases":
        from candidacy.check.case_schema import criterion_cases_schema

        return criterion_cases_schema()
    from candidacy.rules.json_schema import file_schema, offer_names
    from candidacy.rules.libraries import library_in_use

    if what == "mapping":
        from candidacy.cohort.inputs.mapping import Mapping
        from candidacy.foundation.described import schema_of

        found = schema_of(Mapping, what, "candidacy mapping of a table")
        offer_names(found, Mapping, library_in_use())
        return found
    if what.startswith("plan"):
        return _plan_schema(what)
    if what == "letter":
        from candidacy.foundation.described import schema_of
        from candidacy.letters.template import LetterTemplate

        found = schema_of(LetterTemplate, what, "candidacy template of a letter")
        offer_names(found, LetterTemplate, library_in_use())
        return found
    return file_schema(what, library_in_use())


def _plan_schema(what: str) -> dict[str, Any]:
    from candidacy.foundation.described import schema_of
    from candidacy.plan.entries import EntriesFile
    from candidacy.plan.plan_file import ExtendedPlanFile, PlanFile
    from candidacy.plan.working_days import CalendarFile
    from candidacy.rules.json_schema import offer_names
    from candidacy.rules.libraries import library_in_use

    if what == "plan_entries":
        return schema_of(EntriesFile, what, "candidacy entries for a plan")
    if what == "plan_calendar":
        return schema_of(CalendarFile, what, "candidacy calendar of a practice")
    whole, own = (schema_of(model, what, "candidacy plan") for model in (PlanFile, ExtendedPlanFile))
    for schema, model in ((whole, PlanFile), (own, ExtendedPlanFile)):
        offer_names(schema, model, library_in_use())
    own["$defs"] = whole.pop("$defs") | own["$defs"]
    apart: dict[str, Any] = {key: own.pop(key) for key in ("$schema", "$id", "title", "$defs") if key in own}
    for key in ("$schema", "$id", "title"):
        whole.pop(key, None)
    return {**apart, "if": {"required": ["extends"]}, "then": own, "else": whole}
