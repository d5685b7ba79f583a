"""The open referral and the store: opening it where it was left, saving it, and what is told when somebody saved meanwhile."""

import json

from candidacy.case.load import case_to_yaml, parse_case
from candidacy.case.record import CaseRecord
from candidacy.foundation.errors import InputError
from candidacy.records.session import checked_reference
from candidacy.records.store import Store
from candidacy.ui.desk import STORE_BASE, Desk


def base_of(desk: Desk) -> int:
    """On which kept version the work on the open referral stands; 0 where it stands on none.

    It is parked with its referral, so that undo and another referral of the same reference never stand on a version that
    was not before the person.
    """
    reference, version = desk.kept.get(STORE_BASE, ("", 0))
    return version if reference == desk.record.id else 0


def _stands_on(desk: Desk, version: int) -> None:
    desk.kept[STORE_BASE] = (desk.record.id, version)


def open_kept(desk: Desk, store: Store, reference: str) -> str:
    """Put a kept referral on the desk as this person left it; says what was opened.

    Raises
    ------
    StoreError
        E704 if nothing is kept under that reference, E705 if it is damaged.
    """
    set_aside(desk, store)
    found = store.open_referral(reference)
    record, version, words = (
        found.case.record,
        found.work.version,
        f"Version {found.work.version} of {reference} is open.",
    )
    left = _left(found.draft.text, reference) if found.draft is not None else None
    if left is not None and found.draft is not None and left[0] != record:
        record, version = left
        words = f"Your unfinished work of {found.draft.saved_at[:16].replace('T', ' ')} UTC on {reference} is open"
        words += f"; it stands on version {version}, and version {found.work.version} is kept."
    if found.letters:
        number = len(found.letters)
        words += f" {'A letter is' if number == 1 else f'{number} letters are'} kept with it: see Letters."
    if found.reports:
        number = len(found.reports)
        words += (
            f" {'A report is' if number == 1 else f'{number} reports are'} kept with it: see Report check."
        )
    desk.open(record, f"opened {reference} from the store")
    _stands_on(desk, version)
    return words


def unsaved(desk: Desk, store: Store) -> bool:
    """Whether the open referral differs from the version it stands on."""
    version = base_of(desk)
    if not version:
        return True
    return (
        next(v.digest for v in store.versions(desk.record.id) if v.version == version) != desk.case().digest
    )


def set_aside(desk: Desk, store: Store) -> None:
    """Keep unfinished work on a kept referral, so that it is there when the referral is opened again."""
    reference = desk.record.id
    if base_of(desk) and unsaved(desk, store):
        text = json.dumps({"version": base_of(desk), "record": case_to_yaml(desk.record)})
        store.keep_draft(reference, text, reference)


def save(desk: Desk, store: Store, reason: str) -> str:
    """Save the open referral as a new version; says what was saved.

    Raises
    ------
    StoreError
        E702 if somebody saved another version meanwhile: the work stays on the desk and is kept as unfinished. E202 for a
        correction without a reason.
    """
    reference = checked_reference(desk.record.id)
    try:
        saved = store.save_case(reference, desk.record, expected_version=base_of(desk), reason=reason)
    except InputError:
        set_aside(desk, store)
        raise
    _stands_on(desk, saved.version)
    store.drop_draft(reference)
    return f"{reference} is kept as version {saved.version}."


def take_newest(desk: Desk, store: Store) -> str:
    """Put the newest kept version on the desk; the work so far comes back with undo, and stays kept as unfinished."""
    reference = desk.record.id
    set_aside(desk, store)
    case = store.load_case(reference)
    newest = store.versions(reference)[-1].version
    desk.open(case.record, f"took version {newest} from the store")
    _stands_on(desk, newest)
    return f"Version {newest} of {reference} is open; undo brings your own work back, to be put into it."


def _left(text: str, reference: str) -> tuple[CaseRecord, int] | None:
    """Unfinished work and the version it stands on; ``None`` where this program cannot read it."""
    try:
        found = json.loads(text)
        return parse_case(found["record"], reference).record, int(found["version"])
    except (ValueError, KeyError, TypeError, InputError):
        return None
