"""``candidacy letter``."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.assess import DEFAULT_RULES, STANDARD_INPUT, read_case
from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day, rule_files
from candidacy.commands.store_option import Keep, tell, with_keep
from candidacy.foundation.dates import day
from candidacy.foundation.errors import Code, InputError, Problem, shorten

if TYPE_CHECKING:
    from candidacy.case.load import Case


@click.command(
    epilog="""
\b
Examples:
  candidacy letter
  candidacy letter referrer case.yaml
  candidacy letter prescriber case.yaml --on 2026-12-14 --format docx --out apixaban.docx
  candidacy letter patient_after case.yaml --fill practice_phone="555 0100" --format pdf --out after.pdf
  candidacy letter referrer case.yaml --keep --store clinic.sqlite
  candidacy letter payer case.yaml --library my_rules --format pdf --out packet.pdf

\b
Exit status: 0 done; 2 bad input or usage, also where the record tells of nothing such a letter could be about.
"""
)
@click.argument("kind", required=False)
@click.argument("case_file", metavar="[CASE]", required=False, type=click.Path(path_type=Path))
@click.option("--on", "planned", metavar="DATE", callback=parse_day, help="A proposed day of the procedure (YYYY-MM-DD), in "
              "place of that of the record.")  # fmt: skip
@click.option("--as-of", metavar="DATE", callback=parse_day, help="Day for which the case is assessed. Default: the case's own "
              "as_of, else today.")  # fmt: skip
@click.option(
    "--rules", metavar="ID_OR_PATH", default=DEFAULT_RULES, show_default=True, help="Rule set by id or path."
)
@click.option("--medicine", metavar="ENTRY", default="", help="Of a letter for each antithrombotic: only this one, such as "
              "medicines[2].")  # fmt: skip
@click.option("--fill", "fills", metavar="NAME=TEXT", multiple=True, help="Fill a blank of the practice, such as "
              "practice_phone; repeat it. Names of people are written by hand.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "pdf", "docx"]), default="text", show_default=True,
              help="Form of the letter; pdf and docx with --out.")  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Paper of a PDF."
)
@with_keep("Keep the draft, as text, with the referral of this id in the store.", "no letter")
@out_options
@with_library("rules")
def letter(
    kind: str | None,
    case_file: Path | None,
    planned: date | None,
    as_of: date | None,
    rules: str,
    medicine: str,
    fills: tuple[str, ...],
    form: str,
    paper: str,
    keep: Keep | None,
    out: Path | None,
    replace: bool,
) -> None:
    """Draft a letter of a KIND about CASE, a case record (- for standard input); without both, list the kinds.

    Every letter is a draft until a person has read, completed and signed it. English only.
    """
    if kind is None:
        click.echo(_kinds(), nl=False)
        return
    if case_file is None:
        raise InputError(
            [
                Problem(
                    Code.USAGE, "which case?", "CASE", next_step=f"candidacy letter {shorten(kind)} case.yaml"
                )
            ]
        )
    if form != "text" and out is None:
        raise InputError([Problem(Code.USAGE, "this form is no text for a terminal", "--format", found=form,
                                  next_step=f"add --out FILE.{form}")])  # fmt: skip
    from candidacy.letters.draft import answered
    from candidacy.letters.forms import rendered
    from candidacy.reading.addendum_letter import any_letters
    from candidacy.rules.libraries import library_in_use, load_rule_set

    filled = _filled(fills)
    inputs = [*([case_file] if case_file != STANDARD_INPUT else []), *rule_files(rules)]
    check_out(out, replace, inputs)
    case = read_case(case_file)
    chosen = as_of or (day(case.record.as_of) if case.record.as_of else date.today())
    answer = answered(case, load_rule_set(rules), chosen, planned)
    letters = any_letters(kind, answer, library_in_use(), filled, medicine)
    if keep is not None:
        _keep(case, kind, str(rendered(letters, "text")), keep)
    emit(
        rendered(letters, form, "Letter" if paper == "Letter" else "A4"), out, replace=replace, inputs=inputs
    )


def _keep(case: "Case", kind: str, text: str, keep: Keep) -> None:
    with keep.opened() as store:
        from candidacy.conference.deciding import kept_decision_words

        kept = store.keep_letter(case.record.id, kind, text, record_digest=case.digest)
        tell(kept_decision_words(store, case.record.id, case.digest))
    click.echo(kept.words, err=True)


def _filled(fills: tuple[str, ...]) -> dict[str, str]:
    wrong = [fill for fill in fills if "=" not in fill]
    if wrong:
        raise InputError(
            [
                Problem(Code.USAGE, "not of the form NAME=TEXT", "--fill", found=shorten(each))
                for each in wrong
            ]
        )
    return dict(fill.split("=", 1) for fill in fills)


def _kinds() -> str:
    from candidacy.letters.load import about
    from candidacy.rules.libraries import library_in_use

    rows = about(library_in_use())
    width = max(map(len, rows))
    return "".join(f"{kind:<{width}}  {words}\n" for kind, words in rows.items())
