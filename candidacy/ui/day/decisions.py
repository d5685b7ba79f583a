"""What the store that was named at the start knows of a decision on the open referral, for the checklist of the day."""

import os

from candidacy.case.load import Case
from candidacy.day.checklist import Checklist
from candidacy.day.record_words import Said
from candidacy.ui.named_store import STORE_VARIABLE


def last_change(reference: str) -> str:
    """When anything was last entered of the referral; empty without a store, or where it is not kept. Nothing is read of it.

    Raises
    ------
    StoreError
        As `candidacy.ui.store_line.store`: whether something was decided must not be left open in silence.
    """
    if not os.environ.get(STORE_VARIABLE, "").strip():
        return ""
    from candidacy.ui.store_line import store

    # of all references that begin so it is the first by name; by the last change it could lie behind the rows of one answer
    rows = store().list_referrals(text=reference, state=None, order="reference", limit=1)
    return next((row.changed for row in rows if row.reference == reference), "")


def told(named: Said | None, case: Case, discs: tuple[str, ...], lines: Checklist) -> Said | None:
    """The decision for the sheet: the one that a person names, unless a kept one says something else."""
    from candidacy.conference.for_the_day import kept_for_the_day, named_or_kept
    from candidacy.ui.store_line import store

    return named_or_kept(named, kept_for_the_day(store(), case, discs, lines.words))
