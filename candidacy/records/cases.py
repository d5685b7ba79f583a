"""Case records as they were saved: every version is kept, and who comes second is told."""

from msgspec import Struct

from candidacy.case.load import Case, case_from_record, parse_case
from candidacy.case.record import CaseRecord
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import CaseSaved
from candidacy.records.session import (
    Session,
    body,
    checked_reference,
    damaged,
    kept_body,
    meanwhile,
    no_referral,
)


class Version(Struct, frozen=True):
    """One version of a case record.

    Attributes
    ----------
    version
        Counted from 1.
    seq
        The entry of the trail that saved it.
    digest
        Digest of the record.
    at, person, reason
        When in UTC, by whom, why; the first version needs no reason.
    """

    reference: str
    version: int
    seq: int
    digest: str
    at: str
    person: str
    reason: str


class Cases(Session):
    """Saving and loading case records."""

    def save_case(
        self, reference: str, case: Case | CaseRecord, *, expected_version: int, reason: str = ""
    ) -> Version:
        """Save a case record as a new version.

        Parameters
        ----------
        reference
            The local reference, which is the ``id`` of the record.
        case
            The record.
        expected_version
            The version on which the record was worked on; 0 for a referral that is not kept yet.
        reason
            Why it was changed; required from the second version on.

        Returns
        -------
        Version
            The new version, or the present one where the record is the same as before: then nothing is entered.

        Raises
        ------
        StoreError
            E702 if somebody saved another version meanwhile, with who, when and why; the record given is not lost, and
            can be kept with `keep_draft`. E202 for a correction without a reason, E203 for a record of another id.
        """
        checked_reference(reference)
        loaded = case if isinstance(case, Case) else case_from_record(case, reference)
        if loaded.record.id != reference:
            raise StoreError([Problem(Code.WRONG_TYPE, "the record is of another referral", "reference", field="id",
                                      found=loaded.record.id, expected=reference)])  # fmt: skip
        text = loaded.to_yaml()
        if parse_case(text, reference).digest != loaded.digest:
            raise StoreError([Problem(Code.BAD_SCALAR, "this record cannot be written so that it reads back the same",
                                      reference)])  # fmt: skip
        with self._writing("enter") as turn:
            row = turn.rows.get(schema.work, reference)
            if row is None and turn.rows.get(schema.removal, reference) is not None:
                raise no_referral(turn.connection, reference)
            present = row["version"] if row else 0
            former = turn.rows.get(schema.version, reference, present)
            if former and former["digest"] == loaded.digest:
                return Version(**former)
            if present != expected_version:
                raise meanwhile("referral", reference, expected_version, former)
            if present and not reason.strip():
                raise StoreError([Problem(Code.MISSING_KEY, "a correction needs its reason", reference, field="reason",
                                          expected="why the record was changed")])  # fmt: skip
            saved = body(CaseSaved, version=present + 1, record=text, digest=loaded.digest,
                         invented=loaded.record.invented, why=reason)  # fmt: skip
            turn.enter(saved, reference, replaces=former["seq"] if former else 0)
            found = turn.rows.get(schema.version, reference, present + 1)
        assert found is not None
        return Version(**found)

    def versions(self, reference: str) -> tuple[Version, ...]:
        """All versions of a referral, first to last, with their reasons. This is entered as read.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference.
        """
        with self._writing("read") as turn:
            turn.work(reference)
            found = tuple(Version(**row) for row in turn.rows.where(schema.version, reference=reference))
            turn.enter(reference=reference)
        return found

    def load_case(self, reference: str, version: int | None = None) -> Case:
        """A case record as it was saved, the last version unless another is asked for. This is entered as read.

        Raises
        ------
        StoreError
            E704 if it is not kept, E705 if it is not what was saved.
        """
        with self._writing("read") as turn:
            row = turn.work(reference)
            wanted = row["version"] if version is None else version
            found = turn.rows.get(schema.version, reference, wanted)
            if found is None:
                raise StoreError([Problem(Code.UNKNOWN_REFERRAL, "no such version is kept", reference, field="version",
                                          found=str(wanted), expected=f"1 to {row['version']}")])  # fmt: skip
            saved = kept_body(turn.connection, found["seq"], CaseSaved)
            turn.enter(reference=reference)
        loaded = parse_case(saved.record, reference)
        if loaded.digest != saved.digest:
            raise damaged(found["seq"], f"the record has the digest {loaded.digest}")
        return loaded
