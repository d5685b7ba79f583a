"""A cohort as one self-contained page: counts, flow, reasons, what is missing. No script, no network."""

from typing import TYPE_CHECKING, Any

from candidacy import __version__
from candidacy.cohort.answers.masking import masked
from candidacy.cohort.output.flow_diagram import flow_diagram
from candidacy.explain.cautions import GENERAL
from candidacy.foundation.templates import template
from candidacy.rules.vocabulary import FORCES

if TYPE_CHECKING:
    import pandas as pd

    from candidacy.cohort.result import Cohort


def summary_page(cohort: "Cohort", mask_below: int = 0) -> str:
    """The page; with ``mask_below`` every count is masked for sharing."""
    from markupsafe import Markup

    def count(number: int) -> str:
        return masked(number, mask_below) if mask_below else f"{number:,}"

    def rows(frame: "pd.DataFrame") -> list[dict[str, Any]]:
        return [
            {key: count(value) if isinstance(value, int) else value for key, value in row.items()}
            for row in frame.to_dict("records")
        ]

    flows = cohort.flows()
    names = cohort.rule_set.decisions.counted
    return template("candidacy.cohort.output", "summary.html").render(
        rule_set=cohort.rule_set,
        as_of=cohort.as_of.isoformat(),
        name="" if mask_below else cohort.name,
        cases=count(cohort.cases),
        set_aside=count(cohort.set_aside),
        cells_not_read=count(cohort.cells_not_read) if cohort.cells_not_read else "",
        with_remarks=count(cohort.with_remarks) if cohort.with_remarks else "",
        discs_set_aside=count(cohort.discs_set_aside) if cohort.discs_set_aside else "",
        not_read=[] if mask_below else [note.field for note in cohort.notes],
        mask_below=mask_below,
        standings=[
            (names[r["standing"]], r["cases"]) for r in rows(cohort.standings()) if r["standing"] in names
        ],
        tallies=rows(cohort.tallies()),
        reasons=rows(cohort.reasons()),
        missing=rows(cohort.missing_ranking()),
        forces=FORCES,
        figures=[
            (flow.unit, Markup(flow_diagram(flow, mask_below).drawn("svg").decode("utf-8")))
            for flow in flows
            if flow.start
        ],
        cautions=(*cohort.rule_set.file.cautions, *GENERAL),
        engine=cohort.engine,
        engine_version=cohort.engine_version,
        digests={} if mask_below else cohort.input_digests(),
        version=__version__,
    )
