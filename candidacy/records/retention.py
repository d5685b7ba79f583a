"""Removal under a retention rule: what was written is gone, that it was kept and by whom it was removed stays.

How long records must be kept is a matter of state law and of the practice; no number stands here. Backups and exports made
before hold what was removed, and have to be removed by hand.
"""

from datetime import date, datetime

from sqlalchemy import delete, insert, select, update

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import Removed
from candidacy.records.lists import forget
from candidacy.records.session import Session, body, no_referral


class Retention(Session):
    """Which referrals may be removed, and removing one."""

    def unchanged_since(self, before: date) -> tuple[tuple[str, str], ...]:
        """Referrals of which nothing was entered since before a day, with the moment of the last entry; longest ago first.

        Reading them does not count as a change.
        """
        columns = schema.work.c
        found = (
            select(columns.reference, columns.changed)
            .where(columns.changed < before.isoformat())
            .order_by(columns.changed, columns.reference)
        )
        with self._reading() as connection:
            return tuple((reference, changed) for reference, changed in connection.execute(found))

    def remove(self, reference: str, *, rule: str, keep_until_after: date) -> int:
        """Remove what was written of a referral. It cannot be brought back.

        Parameters
        ----------
        rule
            The retention rule, in words.
        keep_until_after
            The day up to which the rule has referrals kept that were last changed then or later.

        Returns
        -------
        int
            The entry that is left as its tombstone.

        Raises
        ------
        StoreError
            E703 for who may not administer, E704 if it is not kept, E601 if it was changed since that day, or the day is
            not past.
        """
        told = body(Removed, words=f"unchanged since before {keep_until_after.isoformat()}", why=rule)
        if not rule.strip():
            raise StoreError([Problem(Code.MISSING_KEY, "a removal needs its rule", reference, field="rule")])
        with self._writing("administer") as turn:
            row = turn.work(reference)
            today: datetime = self._clock()
            if row["changed"] >= keep_until_after.isoformat() or keep_until_after > today.date():
                raise StoreError([Problem(Code.USAGE, "the rule has this referral kept", reference,
                                          found=f"last changed {row['changed'][:10]}",
                                          expected=f"before {keep_until_after.isoformat()}, a day that is past")])  # fmt: skip
            if turn.rows.get(schema.removal, reference) is not None:
                raise no_referral(turn.connection, reference)
            entry = turn.enter(told, reference)
            turn.connection.execute(insert(schema.removal).values(reference=reference, seq=entry.seq))
            forget(turn.rows, reference)
            turn.connection.execute(delete(schema.draft).where(schema.draft.c.reference == reference))
            columns = schema.trail_body.c
            turn.connection.execute(
                update(schema.trail_body)
                .where(columns.reference == reference, columns.seq < entry.seq)
                .values(body=None)
            )
        self._wipe()
        return entry.seq

    def _wipe(self) -> None:
        """Have the database give up what it still holds of removed content beside its tables."""
        with self._engine.connect() as connection:
            if connection.dialect.name == "sqlite":
                connection.connection.driver_connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # type: ignore[union-attr]
            else:
                connection = connection.execution_options(isolation_level="AUTOCOMMIT")
                connection.exec_driver_sql("VACUUM trail_body")
                connection.exec_driver_sql("VACUUM draft")
