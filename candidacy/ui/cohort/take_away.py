"""Files of the whole cohort: masked ones to share, and all results, each written only when asked for."""

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from candidacy.foundation.errors import InputError
from candidacy.ui import show
from candidacy.ui.cohort.archive import Progress, full_zip, masked_zip
from candidacy.ui.cohort.run import Run
from candidacy.ui.cohort.shown import threshold, threshold_field
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import keep, kept_choice, told_here


def take_away(run: Run, below: int) -> None:
    """Draw the view."""
    del below  # what is shared has a threshold of its own, stated beside it
    st.subheader("To share: counts with small ones masked")
    show.note("No case reference and no row of the table. Look at it before it leaves the house: masking lowers the risk that "
              "someone is recognised, and does not end it.")  # fmt: skip
    typed = threshold_field("Share with counts masked below", "cohort-share-below")
    try:
        share = threshold(typed)
    except InputError as error:
        show.problems(error.problems, "Nothing can be shared with this threshold")
    else:
        _masked(run, share)
    st.subheader("All results, not masked")
    show.note("Caution: these files hold case references, outcomes of every case, and rows that were set aside as they stand in "
              "the table. Keep them where the table itself may be kept.", "alarm")  # fmt: skip
    with_csv = st.checkbox("Outcomes of cases as CSV too", key=kept_choice("cohort-csv", False),
                           on_change=keep, args=("cohort-csv", "kept-cohort-csv"),
                           help="Rows of cases and discs for a spreadsheet, many times larger. They are always written as "
                           "Parquet, which programs for statistics read; counts are CSV in any case.")  # fmt: skip
    _prepared(run, "all", "all results (ZIP)", with_csv, lambda tell: full_zip(run, with_csv, tell))


def _masked(run: Run, share: int) -> None:
    downloads([Export(f"Summary masked below {share} (HTML)", f"cohort-summary-masked-below-{share}.html", "text/html",
                      lambda: run.summary(share))], width="content")  # fmt: skip
    _prepared(
        run, "masked", f"counts masked below {share} (ZIP)", share, lambda tell: masked_zip(run, share, tell)
    )


def _prepared(run: Run, name: str, words: str, option: object, make: Callable[[Progress], Path]) -> None:
    """A button that writes the file; once that is done, the one that hands it over, until something else is wanted."""
    wish = (option, run.tried, run.compared)
    if _made(run, name, wish) is None and st.button(f"Prepare {words}", key=f"cohort-prepare-{name}"):
        with told_here("Not written"), st.spinner("Writing the files", show_time=True):
            run.ready[name] = (wish, make(_teller()))
            st.rerun()
    file = _made(run, name, wish)
    if file is not None:
        downloads(
            [Export(f"Download {words}", file.name, "application/zip", file.read_bytes)], width="content"
        )


def _made(run: Run, name: str, wish: object) -> Path | None:
    made = run.ready.get(name)
    return made[1] if made is not None and made[0] == wish else None


def _teller() -> Progress:
    """Shows on the page what is being written."""
    place = st.empty()

    def tell(step: str, done: int, of: int) -> None:
        place.progress(done / of, text=step.capitalize())

    return tell
