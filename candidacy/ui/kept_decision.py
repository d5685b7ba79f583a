"""That the store holds a signed decision on the open referral, for pages that are worked out from the record alone."""

from candidacy.ui import show
from candidacy.ui.named_store import store_named
from candidacy.ui.session import desk, told_here


def tell_kept_decision() -> None:
    """Say which decision is kept on the open referral, if a store was named at the start. Nothing is read of what it says."""
    if not store_named():
        return
    from candidacy.conference.deciding import kept_decision_words
    from candidacy.ui.store_line import store

    with told_here("Whether a decision is kept was not looked up"):
        words = kept_decision_words(store(), desk().record.id, desk().case().digest)
        if words:
            show.note(words, "notice")
