"""Finding items and meetings of a store by number."""

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records.conference import Item, Meeting
from candidacy.records.store import Store


def item_of(store: Store, number: int) -> Item:
    """An item by its number.

    Raises
    ------
    StoreError
        E704 if there is none.
    """
    found = [item for item in store.items() if item.seq == number]
    if not found:
        raise _none("item", number, "candidacy conference queue and meetings list them")
    return found[0]


def meeting_of(store: Store, number: int) -> Meeting:
    """A meeting by its number.

    Raises
    ------
    StoreError
        E704 if there is none.
    """
    found = [meeting for meeting in store.meetings() if meeting.seq == number]
    if not found:
        raise _none("meeting", number, "candidacy conference meetings lists them")
    return found[0]


def _none(what: str, number: int, step: str) -> StoreError:
    return StoreError(
        [Problem(Code.UNKNOWN_REFERRAL, f"there is no such {what}", what, found=str(number), next_step=step)]
    )
