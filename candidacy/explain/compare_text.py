"""A comparison of rule sets as text for the terminal."""

from rich.box import SIMPLE
from rich.console import Console
from rich.table import Table
from rich.text import Text

from candidacy.explain.cautions import GENERAL
from candidacy.explain.companions import companions_line
from candidacy.explain.compare import ComparedRow, Comparison
from candidacy.explain.headline import headline
from candidacy.explain.labels import mark_words
from candidacy.explain.lines import alert_lines, record_lines
from candidacy.explain.printable import printable
from candidacy.explain.rich_lines import in_colour
from candidacy.foundation.digest import short


def print_comparison(console: Console, comparison: Comparison) -> None:
    """Print standings and reasons, then the criteria that differ, then those that agree, counted."""
    comparison = printable(comparison)
    first = comparison.assessments[0]
    title = f": {first.case.title}" if first.case.title else ""
    console.print(Text(f"{first.case.id}{title}, as of {first.as_of}", style="bold"))
    for sentence in comparison.deciding:
        console.print(Text(sentence, style="bold"))
    for document in comparison.assessments:
        console.print()
        urgent = document.standing == "urgent"
        for line in () if urgent else in_colour(alert_lines(document)):
            console.print(line)
        console.print(Text(headline(document), style="bold"), end="")
        console.print(
            Text(f"  {document.rule_set.id} {document.rule_set.version} ({document.rule_set.status})")
        )
        for sentence in document.reason:
            console.print(Text(f"  {sentence}"))
        for line in in_colour(alert_lines(document)) if urgent else ():
            console.print(line)
        companions = companions_line(document)
        for sentence in (*([companions] if companions else ()), *document.which_disc.says):
            console.print(Text(f"  {sentence}"))
        for line in in_colour(record_lines(document)):
            console.print(line)
        for notice in document.notices:
            console.print(Text(f"  ! {notice}", style="yellow"))
    differing = [row for row in comparison.rows if row.differs]
    console.print(Text("\nCriteria that differ", style="bold underline"))
    console.print(_table(comparison, differing) if differing else Text("  None."))
    agreeing = [row for row in comparison.rows if not row.differs]
    console.print(
        Text(f"\nCriteria with the same outcome everywhere: {len(agreeing)}", style="bold underline")
    )
    if agreeing:
        console.print(_table(comparison, agreeing))
    console.print(Text("\nCautions", style="bold underline"))
    for caution in GENERAL:
        console.print(Text(f"- {caution}"))
    rules = ", ".join(
        f"{d.rule_set.id} {d.rule_set.version} {short(d.rule_set.digest)}" for d in comparison.assessments
    )
    made_of = f"{first.program}; engine {first.engine}; rules {rules}; case {short(first.case.digest)}"
    console.print(Text(made_of, style="dim"))


def _table(comparison: Comparison, rows: list[ComparedRow]) -> Table:
    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    table.add_column("criterion")
    table.add_column("of")
    for document in comparison.assessments:
        table.add_column(document.rule_set.id)
    table.add_column("what differs")
    for row in rows:
        cells = ["not used" if mark is None else mark_words(mark) for mark in row.shown]
        table.add_row(Text(row.title), Text(row.subject), *map(Text, cells), Text("; ".join(row.differs_by)))
    return table
