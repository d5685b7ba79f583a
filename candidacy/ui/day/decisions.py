"""What the store that was named at the start knows of a decision on the open referral, for the checklist of the day."""

from candidacy.case.load import Case
from candidacy.day.checklist import Checklist
from candidacy.day.record_words import Said
from candidacy.ui.named_store import store_named


def last_change(reference: str) -> str:
    """When anything was last entered of the referral; empty without a store, or where it is not kept. Nothing is read of it.

    Raises
    ------
    StoreError
        As `candidacy.ui.store_line.store`: whether something was decided must not be left open in silence.
    """
    if not store_named():
        return ""
    from candidacy.ui.store_line import store

    row = store().row_of(reference)
    return row.changed if row is not None else ""


def told(named: Said | None, case: Case, discs: tuple[str, ...], lines: Checklist) -> Said | None:
    """The decision for the sheet: the one that a person names, unless a kept one says something else."""
    from candidacy.conference.for_the_day import kept_for_the_day, named_or_kept
    from candidacy.ui.store_line import store

    return named_or_kept(named, kept_for_the_day(store(), case, discs, lines.words))
