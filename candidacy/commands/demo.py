"""``candidacy demo``."""

import io
from datetime import date
from pathlib import Path

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import emit


@click.command(
    epilog="\b\nExamples:\n  candidacy demo\n  candidacy demo --rules trial_style_strict\n  candidacy demo --case two-discs\n  candidacy demo --case two-discs --full\n  candidacy demo --store clinic.sqlite"
)
@click.option(
    "--rules", default="practice_baseline", show_default=True, metavar="ID_OR_PATH", help="Rule set."
)
@click.option("--case", "only", metavar="NAME", help="Show one demonstration case instead of the overview.")
@click.option("--full", is_flag=True, help="With --case: every criterion, value, source and caution.")
@click.option(
    "--store",
    metavar="FILE_OR_URL",
    help="Fill a new store with an invented clinic: 24 referrals at work and one past conference.",
)
@with_library("rules")
def demo(rules: str, only: str | None, full: bool, store: str | None) -> None:
    """Assess the shipped cases, all invented, into a readable overview."""
    if store is not None:
        _fill(store, only, full)
        return
    from candidacy.foundation.shipped import demo_cases_folder

    if full and only is None:
        raise click.UsageError("--full goes with --case")
    files = sorted(demo_cases_folder().glob("*.yaml"))
    if only is not None:
        matching = [f for f in files if only in f.stem]
        if not matching:
            raise click.UsageError(
                f"no demonstration case matches “{only}”: {', '.join(f.stem for f in files)}"
            )
        from candidacy.commands.assess import assess_file, text_of

        emit(text_of(assess_file(matching[0], (rules,), None, "durable-rules"), full), None)
        return
    emit(_overview(files, rules), None)


def _fill(store: str, only: str | None, full: bool) -> None:
    from candidacy.commands.progress import progress
    from candidacy.commands.store_option import needs_extra, place

    if only is not None or full:
        raise click.UsageError("--store goes alone")
    where = place(store)
    assert where is not None
    with needs_extra(), progress("invented referrals are kept") as tell:
        from candidacy.records.demo import fill

        count = fill(where, tell)
    click.echo(f"{count} invented referrals and one past conference are kept in {store}")
    click.echo(f"Look at them: candidacy records list --store {store} --person physician-1")
    click.echo(f"On the screens: candidacy ui --store {store} --person physician-1")


def _overview(files: list[Path], rules: str) -> str:
    from rich.box import SIMPLE
    from rich.table import Table
    from rich.text import Text

    from candidacy.assessment.assess import assess
    from candidacy.case.load import load_case
    from candidacy.commands.console import console_for
    from candidacy.explain.build import build_document
    from candidacy.explain.cautions import GENERAL, INVENTED
    from candidacy.explain.found import in_sentence
    from candidacy.explain.labels import standing_words
    from candidacy.explain.record import flags
    from candidacy.foundation.dates import day
    from candidacy.foundation.errors import CaseError
    from candidacy.rules.libraries import load_rule_set

    rule_set = load_rule_set(rules)
    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    for heading in ("case", "standing", "discs considered", "why"):
        table.add_column(heading)
    refused: list[tuple[str, str]] = []
    for file in files:
        try:
            case = load_case(file)
        except CaseError as error:
            refused.append((file.stem, str(error.problems[0]).split(": ", 1)[1]))
            continue
        chosen = day(case.record.as_of) if case.record.as_of else date.today()
        document = build_document(assess(case, rule_set, chosen))
        discs = ", ".join(
            f"{d.level} {in_sentence(d.standing_name)}" for d in document.discs if d.considered != "not_met"
        )
        why = "; ".join([*flags(document), document.reason[0].split(": ", 1)[1]])
        table.add_row(
            Text(file.stem),
            Text(standing_words(document.shown, document.standing_name)),
            Text(discs or "none named"),
            Text(why),
        )
    buffer = io.StringIO()
    console = console_for(buffer, to_file=False)
    console.print(
        Text(
            f"{rule_set.file.title} ({rule_set.id} {rule_set.file.version}, {rule_set.file.status})",
            style="bold",
        )
    )
    console.print(Text(INVENTED.replace("this case is", "these cases are").replace("describes", "describe")))
    console.print(table)
    for name, why in refused:
        console.print(Text(f"{name}: refused, as it should be. {why}"))
    console.print(
        Text(
            "\nOne case: candidacy demo --case NAME, or candidacy assess FILE; with --full everything",
            style="dim",
        )
    )
    for caution in GENERAL:
        console.print(Text(f"- {caution}", style="dim"))
    return buffer.getvalue()
