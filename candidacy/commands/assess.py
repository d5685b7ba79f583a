"""``candidacy assess``."""

import contextlib
import io
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day, rule_files
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.dates import day
from candidacy.foundation.errors import Code, InputError, Problem

if TYPE_CHECKING:
    from candidacy.case.load import Case

DEFAULT_RULES = "practice_baseline"
STANDARD_INPUT = Path("-")
_OF_ONE = ("json", "html", "pdf")
_OF_MANY = ("table", "csv", "jsonl")
_PIPED = 80


@click.command(
    epilog="""
\b
Examples:
  candidacy assess case.yaml
  candidacy assess case.yaml --as-of 2026-11-25 --full
  candidacy assess case.yaml --rules practice_baseline --rules my_rules/ruleset.yaml
  candidacy assess case.yaml --library my_rules --rules my_practice
  candidacy assess case.yaml --format json | jq .standing
  candidacy assess case.yaml --settle
  candidacy assess case.yaml --format pdf --out case.pdf
  candidacy assess referrals/*.yaml --format csv --out referrals.csv
  cat case.yaml | candidacy assess -

\b
Exit status: 0 done; 2 bad input or usage: of several cases, those that can be read are answered all the same; 3 a fault
of the program. A reader that leaves (| head -1) does not change it.
"""
)
@click.argument("case_files", metavar="CASE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--rules", "rules", metavar="ID_OR_PATH", multiple=True, help="Rule set by id or path; repeat it for "
              f"a side-by-side answer. Default: {DEFAULT_RULES}.")  # fmt: skip
@click.option("--as-of", metavar="DATE", callback=parse_day, help="Day for which the case is assessed (YYYY-MM-DD). "
              "Default: the case's own as_of, else today.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", *_OF_ONE, *_OF_MANY]),
              help="Form of the answer: text, json, html or pdf (with --out) for one case; table, csv or jsonl with a row "
              "for each case. Default: text for one case, table for several.")  # fmt: skip
@out_options
@click.option("--full", is_flag=True, help="Everything: text with every criterion, value, source and caution; json with "
              "every test, and prose in full.")  # fmt: skip
@click.option("--settle", "settling", is_flag=True, help="Also what would settle the standing (which missing facts, and what to "
              "ask first) and what would change it. Text with --full has it always.")  # fmt: skip
@click.option("--engine", type=click.Choice(["durable-rules", "direct"]), default="durable-rules", show_default=True,
              help="Chainer for the decision rules; both give the same answer.")  # fmt: skip
@with_library("rules")
def assess(
    case_files: tuple[Path, ...],
    rules: tuple[str, ...],
    as_of: date | None,
    form: str | None,
    out: Path | None,
    replace: bool,
    full: bool,
    settling: bool,
    engine: str,
) -> None:
    """Assess CASE, a YAML or JSON case record (- for standard input), against one or more rule sets.

    The text is one screen: the standing and why, discs considered, what to ask for under its name in the case record,
    the earliest date, what contradicts or endangers, and cautions. --full gives all.
    """
    form = form or ("text" if len(case_files) == 1 else "table")
    names = tuple(dict.fromkeys(rules or (DEFAULT_RULES,)))
    _check(case_files, form, out, full, settling)
    inputs = [*(file for file in case_files if file != STANDARD_INPUT), *rule_files(*names)]
    check_out(out, replace, inputs)
    if form in _OF_MANY or len(case_files) > 1:
        from candidacy.commands.assess_many import answer_many

        failed = answer_many(case_files, names, as_of, form, engine, full, out, replace, inputs)
        if failed:
            raise failed
        return
    firm = len(names) == 1 and (form in ("html", "pdf") or full)
    settling = settling or (full and form == "text")
    documents = assess_file(case_files[0], names, as_of, engine, firm=firm, settling=settling)
    emit(_render(documents, form, full, out), out, replace=replace, inputs=inputs)


def _check(
    case_files: tuple[Path, ...], form: str, out: Path | None, full: bool, settling: bool = False
) -> None:
    """Refuse options that do not go together."""
    problem = None
    if len(case_files) > 1 and form in _OF_ONE:
        problem = ("this form is for one case", form, "use --format jsonl or csv, or one case at a time")
    elif form == "pdf" and out is None:
        problem = ("a PDF is no text for a terminal", form, "add --out FILE.pdf")
    elif full and form not in ("text", "json"):
        problem = ("--full is for text and json", form, "leave it out: this form has its own extent")
    elif settling and (form in _OF_MANY or len(case_files) > 1):
        problem = ("--settle is for one case", form, "leave it out, or assess one case at a time")
    elif case_files.count(STANDARD_INPUT) > 1:
        problem = ("standard input twice", "- -", "give - once")
    if problem is not None:
        message, found, step = problem
        option = "CASE" if found == "- -" else "--format"
        raise InputError([Problem(Code.USAGE, message, option, found=found, next_step=step)])


def read_case(file: Path) -> "Case":
    """Load a case from a file, or from standard input where its name is ``-``; see `load_case`."""
    from candidacy.case.load import load_case, parse_case

    if file != STANDARD_INPUT:
        return load_case(file)
    from candidacy.foundation.files import MAX_BYTES, text_from_bytes

    name = "standard input"
    return parse_case(text_from_bytes(sys.stdin.buffer.read(MAX_BYTES + 1), name), name)


def assess_file(
    case_file: Path,
    rules: tuple[str, ...],
    as_of: date | None,
    engine: str,
    *,
    firm: bool = False,
    settling: bool = False,
) -> list[AssessmentDocument]:
    """Load a case and rule sets, assess, and build the documents; with ``firm`` also how firm each answer is, with
    ``settling`` what would settle and what would change it.

    Raises
    ------
    InputError
        With everything wrong with the case, else with the rule sets.
    """
    from candidacy.assessment.assess import assess as assess_case
    from candidacy.explain.build import build_document
    from candidacy.rules.libraries import load_rule_set

    case = read_case(case_file)
    chosen = as_of or (day(case.record.as_of) if case.record.as_of else date.today())
    found = [assess_case(case, load_rule_set(name), chosen, engine) for name in rules]
    documents = [build_document(a) for a in found]
    if firm:
        from candidacy.explain.firm import with_firm

        documents = [with_firm(document, a) for document, a in zip(documents, found, strict=True)]
    if not settling:
        return documents
    from candidacy.explain.settled import with_settle

    return [with_settle(document, a) for document, a in zip(documents, found, strict=True)]


def _render(documents: list[AssessmentDocument], form: str, full: bool, out: Path | None) -> str | bytes:
    if form == "json":
        return _json(documents, full)
    if form == "html":
        return _page(documents)
    if form == "pdf":
        return _pdf(documents)
    return text_of(documents, full, out)


def _json(documents: list[AssessmentDocument], full: bool) -> str:
    from candidacy.explain.compact import compact, compact_comparison, to_json

    if len(documents) == 1:
        return documents[0].to_json() if full else to_json(compact(documents[0]))
    from candidacy.explain.compare import compare

    found = compare(documents)
    return found.to_json() if full else to_json(compact_comparison(found))


def _page(documents: list[AssessmentDocument]) -> str:
    from candidacy.explain.page import comparison_page, page

    if len(documents) == 1:
        return page(documents[0])
    from candidacy.explain.compare import compare

    return comparison_page(compare(documents))


def _pdf(documents: list[AssessmentDocument]) -> bytes:
    import importlib.util

    if importlib.util.find_spec("reportlab") is None:
        raise InputError([Problem(Code.USAGE, "PDF needs an extra", "--format", found="pdf",
                                  next_step="pip install 'candidacy[ui]', or use --format html")])  # fmt: skip
    from candidacy.explain.pdf import assessment_pdf, comparison_pdf

    if len(documents) == 1:
        return assessment_pdf(documents[0])
    from candidacy.explain.compare import compare

    return comparison_pdf(compare(documents))


def text_of(documents: list[AssessmentDocument], full: bool, out: Path | None = None) -> str:
    """An assessment, or several of one case side by side, as text for the terminal or a file."""
    if len(documents) == 1 and not full and (out is not None or not sys.stdout.isatty()):
        from candidacy.explain.brief import brief_text
        from candidacy.explain.plain import Unusual

        with contextlib.suppress(Unusual):
            return brief_text(documents[0], _PIPED)
    from candidacy.commands.console import console_for

    buffer = io.StringIO()
    if len(documents) > 1:
        from candidacy.explain.compare import compare
        from candidacy.explain.compare_text import print_comparison

        print_comparison(console_for(buffer, to_file=out is not None), compare(documents))
    elif full:
        from candidacy.explain.text import print_document

        print_document(console_for(buffer, to_file=out is not None), documents[0])
    else:
        from candidacy.explain.brief import print_brief

        print_brief(console_for(buffer, to_file=out is not None, piped=_PIPED), documents[0])
    return buffer.getvalue()
