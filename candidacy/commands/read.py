"""``candidacy read``: reports in; findings, a filled case record, or a request for what is missing out."""

import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, out_options, rule_files
from candidacy.commands.read_into import Arrived, IntoRecord, Wish
from candidacy.commands.store_option import Keep, with_keep
from candidacy.foundation.errors import Code, InputError, Problem, ReportError, shorten
from candidacy.foundation.targets import file_target

if TYPE_CHECKING:
    from candidacy.reading.merge import Differing
    from candidacy.reading.model import Reading
    from candidacy.reading.sent import ReportText

DEFAULT_RULES = "practice_baseline"
KINDS = ("imaging", "discography", "procedure", "letter")
_Item = TypeVar("_Item")


def _day(context: click.Context, parameter: click.Parameter, text: str | None) -> str:
    if text is None:
        return ""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(
            [
                Problem(
                    Code.BAD_DATE, "not a date", "--date", found=shorten(text), expected="a date, YYYY-MM-DD"
                )
            ]
        ) from None


def _levels(context: click.Context, parameter: click.Parameter, texts: tuple[str, ...]) -> tuple[str, ...]:
    from candidacy.case.element import STANDARD_LEVELS
    from candidacy.case.facts import normal_level

    levels = [normal_level(text) for text in texts]
    for text, level in zip(texts, levels, strict=True):
        if level not in STANDARD_LEVELS:
            raise InputError(
                [Problem(Code.BAD_LEVEL, "not a lumbar disc", "--disc", found=shorten(text),
                         expected=", ".join(STANDARD_LEVELS))]
            )  # fmt: skip
    return tuple(dict.fromkeys(level for level in levels if level))


@click.command(
    epilog="""
\b
Examples:
  candidacy read report.txt
  candidacy read report.pdf --format html --out reading.html
  candidacy read report.txt --into case.yaml --date 2026-03-14
  candidacy read discogram.txt --into case.yaml
  candidacy read letter.txt report.txt discogram.txt --into case.yaml
  candidacy read letter.txt --into case.yaml --keep --store clinic.sqlite
  candidacy read report.txt --ask --disc L4-5
  candidacy read report.txt --ask --case case.yaml
  candidacy read reports/ --out table.txt
"""
)
@click.argument("reports", metavar="REPORT...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["text", "json", "html"]), default="text", show_default=True,
              help="Form of the answer.")  # fmt: skip
@out_options
@click.option("--into", type=click.Path(path_type=Path), metavar="CASE",
              help="Put the findings into this case record, with the words they came from; its comments and layout "
              "stay. Several documents go in together or not at all. With --out the changed record is a file of its own.")  # fmt: skip
@click.option("--accept", is_flag=True,
              help="With --into: take the report's value where the case record differs; where the report doubts or contradicts "
              "itself, as --conflict.")  # fmt: skip
@click.option("--conflict", is_flag=True,
              help="With --into: where the case record differs, write that the sources conflict and what each says; it "
              "has no value until somebody settles it.")  # fmt: skip
@click.option("--ask", is_flag=True,
              help="Write the request for what the report lacks and can still change the standing, at most eight points.")  # fmt: skip
@click.option("--rules", metavar="ID_OR_PATH", default=DEFAULT_RULES, show_default=True,
              help="With --ask: the rule set.")  # fmt: skip
@click.option("--case", type=click.Path(path_type=Path), metavar="CASE",
              help="With --ask: the case record the report belongs to, so that what it knows or rules out is not "
              "asked.")  # fmt: skip
@click.option("--disc", "discs", metavar="LEVEL", multiple=True, callback=_levels,
              help="With --ask: a disc considered; repeat it. Default: the discs with abnormal findings.")  # fmt: skip
@click.option("--kind", type=click.Choice(KINDS), default=None,
              help="What kind of document it is. Default: told from its words.")  # fmt: skip
@click.option("--date", "day", metavar="DATE", callback=_day,
              help="Day of the study, which plain text seldom states.")  # fmt: skip
@click.option("--jobs", type=click.IntRange(0), default=0,
              help="Processes for many files; 0 is one per core.")  # fmt: skip
@with_keep(
    "With --into: keep the text, and what was read from it, with the referral of this id in the store.",
    "no report",
)
@with_library("rules")
def read(
    reports: tuple[Path, ...],
    form: str,
    out: Path | None,
    replace: bool,
    into: Path | None,
    accept: bool,
    conflict: bool,
    ask: bool,
    rules: str,
    case: Path | None,
    discs: tuple[str, ...],
    kind: str | None,
    day: str,
    jobs: int,
    keep: Keep | None,
) -> None:
    """Read lumbar MRI or CT reports (REPORT: text, PDF, Word, RTF, HTML, HL7 v2, FHIR, C-CDA; a folder;
    - for standard input).

    Discography and procedure notes and referral letters are read too, told from the text or named with --kind.

    Findings are listed disc by disc with the exact words behind each. What is denied, doubted, past or about
    another person is kept apart; every sentence that was not read is shown; disagreements are raised, not resolved.
    """
    from candidacy.reading.batch import files_of, passed_over, passed_over_words

    if (accept or conflict) and into is None:
        raise click.UsageError(f"{'--accept' if accept else '--conflict'} goes with --into")
    if accept and conflict:
        raise click.UsageError("--accept and --conflict do not go together")
    if keep is not None and into is None:
        raise click.UsageError("--keep goes with --into")
    if (discs or case is not None) and not ask:
        raise click.UsageError(f"{'--disc' if discs else '--case'} goes with --ask")
    if into is not None and ask:
        raise click.UsageError("--into and --ask do not go together: run one after the other")
    inputs = (
        *reports,
        *([into] if into is not None else []),
        *(rule_files(rules) if ask else []),
        *([case] if case else []),
    )
    check_out(out, replace, inputs)
    if into is not None:
        file_target(into, replace=True, inputs=reports)
    paths = files_of(reports)
    if not paths:
        raise InputError([Problem(Code.EMPTY, "no report file in the folder", str(reports[0]),
                                  found=passed_over_words(passed_over(reports)) or "nothing")])  # fmt: skip
    differing: Differing = "accept" if accept else "conflict" if conflict else "refuse"
    wish = Wish(form, out, replace, inputs, None, differing, ask, rules, discs, day, kind or "", case, keep)
    alone = len(paths) == 1 and not reports[0].is_dir()
    if not alone and (ask or form == "html"):
        raise click.UsageError("--ask and --format html take one report at a time")
    if not alone and (kind if into is not None else kind not in (None, "imaging")):
        raise click.UsageError(f"--kind {kind} takes one document at a time")
    if into is not None:
        if any(report.is_dir() for report in reports):
            # a folder may hold documents of other patients
            raise click.UsageError("--into takes documents named one by one, not a folder")
        if day and not alone:
            raise click.UsageError(
                "--date with --into takes one document at a time: each has a day of its own"
            )
        _all_into(into, paths, wish)
    elif alone:
        _one(paths[0], wish)
    else:
        _many(paths, wish, jobs, passed_over(reports))


def _all_into(into: Path, paths: list[Path], wish: Wish) -> None:
    """Put documents into a case record one after the other; all of them, or none where anything is wrong with one."""
    record = IntoRecord(into, wish)
    for path in paths:
        _one(path, wish._replace(into=record))
    record.write()


def _one(path: Path, wish: Wish) -> None:
    from candidacy.commands.read_ask import asked_for
    from candidacy.commands.read_note import answered
    from candidacy.reading import show
    from candidacy.reading.inputs import load_bytes_each, load_each
    from candidacy.reading.report_bytes import MAX_BYTES
    from candidacy.reading.take import take

    name = "standard input" if str(path) == "-" else str(path)
    loaded = (
        load_bytes_each(sys.stdin.buffer.read(MAX_BYTES + 1), name) if str(path) == "-" else load_each(path)
    )
    told = answered(loaded, path, name, wish)
    if told is None:
        return
    taken = [(item, *take(item, wish.day)) for item in loaded]
    problems = [p for _, _, some in taken for p in some]
    kept = [(item, reading) for item, reading, _ in taken if reading is not None]
    single = wish.into is not None or wish.ask or wish.form == "html"
    if problems and (single or not kept):
        raise ReportError(problems)
    if single and len(kept) > 1:
        raise ReportError(
            [Problem(Code.BAD_REPORT, "the file holds several reports", name, found=str(len(kept)),
                     next_step="give one report a file")]
        )  # fmt: skip
    report, reading = kept[0]
    if wish.into is not None:
        _into(wish.into, reading, report, path, wish)
    elif wish.ask:
        wish.give(asked_for(reading, report.day or reading.stated_day, report.status, wish))
    elif wish.form == "json":
        data = [show.as_data(r, path.name) for _, r in kept]
        wish.give(show.to_json(data[0] if len(data) == 1 else data))
    elif wish.form == "html":
        wish.give(show.as_html(reading, path.name))
    else:
        wish.give("\n".join([told, "", *(show.as_text(r, path.name) for _, r in kept)]))
    if problems:
        raise ReportError(problems, others_answered=True)


def _into(into: IntoRecord, reading: "Reading", report: "ReportText", path: Path, wish: Wish) -> None:
    from candidacy.reading.dangers import note_of
    from candidacy.reading.elements import facts
    from candidacy.reading.show import as_data

    day = wish.day or report.day
    note = note_of(reading.text, reading.unread, reading.outside)
    arrived = Arrived("imaging_report", day or reading.stated_day, note,
                      report.text, lambda: as_data(reading, path.name))  # fmt: skip
    into.put(
        path,
        arrived,
        lambda record, key: (record, facts(reading, key, day, report.status)),
        _said_of(reading, path),
    )


def _said_of(reading: "Reading", path: Path) -> Iterator[str]:
    """What is told of a report beside its facts: what comes first, what is doubtful, and what was not read."""
    from candidacy.reading.wording import outside_words, question_words, unread_words

    yield from (f"before you read: {mark.about}" for mark in reading.marks)
    yield from (f"look at first: {about}" for about in dict.fromkeys(r.about for r in reading.red_flags))
    yield from (f"seen, outside the discs, tell someone: {outside_words(o)}" for o in reading.outside)
    yield from (f"question: {question_words(q)}" for q in reading.questions)
    if reading.unread:
        dangers = dict.fromkeys(a.danger for a in reading.unread if a.danger)
        yield from (f"not read, and holds a word of: {danger}" for danger in dangers)
        yield f"not read: {unread_words(reading)}; see candidacy read {path}"


def _many(paths: list[Path], wish: Wish, jobs: int, passed: list[str]) -> None:
    from candidacy.reading.batch import most_missing, read_many, settled, table_text, told
    from candidacy.reading.show import to_json

    as_json = wish.form == "json"
    answers = settled(
        [
            a
            for some in _progress(read_many(paths, jobs, whole=as_json, as_asked=bool(wish.kind)), len(paths))
            for a in some
        ]
    )
    rows = [row for row, _ in answers]
    if as_json:
        summary = [
            {"missing": n, "reports": r, "discs": d}
            for n, r, d in most_missing([r for r in rows if r.is_read])
        ]
        failed = [{"name": r.name, "problem": str(r.problems[0])} for r in rows if r.problems]
        aside = [{"name": r.name, "superseded_by": r.superseded} for r in rows if r.superseded]
        wish.give(
            to_json(
                {
                    "reports": [data for _, data in answers if data is not None],
                    "not_read": failed,
                    "superseded": aside,
                    "passed_over": passed,
                    "told": told(rows),
                    "most_often_missing": summary,
                }
            )
        )
    else:
        wish.give(table_text(rows, passed))
    problems = [p for r in rows for p in r.problems]
    if problems:
        raise ReportError(problems, others_answered=True)


def _progress(items: Iterator[_Item], total: int) -> Iterator[_Item]:
    """Show how far it is on a terminal; nothing elsewhere."""
    if not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, total=total, description="Reading", console=Console(stderr=True), transient=True)
