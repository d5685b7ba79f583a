"""What stands in a folder of results, told in the folder itself."""

from collections.abc import Iterable

_ABOUT = {
    "summary.html": "everything counted, as a page; open it in a browser",
    "standings.csv": "cases by standing",
    "disc_standings.csv": "discs by level and standing",
    "tallies.csv": "pass, fail and undetermined of each criterion alone",
    "attrition.csv": "the participant flows, every criterion",
    "attrition_cases": "the flow of cases as a diagram (SVG, PNG)",
    "attrition_discs": "the flow of discs as a diagram (SVG, PNG)",
    "reasons.csv": "why cases and discs are excluded",
    "missing_facts.csv": "missing facts, by how many cases each would settle",
    "sweep": "what if: cases by standing for each value (CSV, SVG, PNG)",
    "moves.csv": "cases by standing under the one and the other rule set",
    "cases": "the standing and outcomes of every case, by case reference",
    "discs": "the standing and outcomes of every disc that a case names",
    "moved_cases": "every case in another standing under the other rule set, and why",
    "set_aside.csv": "every row that was set aside, as it stands in the table, with the reason",
    "cells_not_read.csv": "every cell that was not read; its fact is unknown",
    "run.json": "what this was made of: rule set, day, digests of the inputs, program",
    "to_share": "counts fit for sharing, small ones masked",
}  # fmt: skip
_LARGE = """
cases, discs and moved_cases hold a row for each case or disc and are written as Parquet, compressed with zstd: exact,
typed and many times smaller than text. Programs for statistics read it (in Python: pandas.read_parquet("cases.parquet")).
"""
_TO_GET = """\
For a spreadsheet have them written as CSV too: candidacy screen with --csv, cohort.write(folder, csv=True) in Python, or the
box "Outcomes of cases as CSV too" under Files on the Cohort page.
"""
_GIVEN = "They stand here as CSV too.\n"
_CAUTION = """
All but to_share names cases or shows exact counts: keep it where the table itself may be kept.
"""


def readme(names: Iterable[str], csv: bool) -> str:
    """The text of ``README.txt``.

    Parameters
    ----------
    names
        Names of what stands in the folder itself.
    csv
        Whether the rows of cases were written as CSV too.
    """
    there = {name for each in names for name in (each, each.partition(".")[0])}
    lines = [f"{name:<20}{about}" for name, about in _ABOUT.items() if name in there]
    return (
        "\n".join(["Results of a cohort", "", *lines])
        + "\n"
        + _LARGE
        + (_GIVEN if csv else _TO_GET)
        + _CAUTION
    )
