"""Letters as they were drafted, beside the referral that they were written for."""

from msgspec import Struct
from sqlalchemy import select

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import LetterKept
from candidacy.records.session import Session, Turn, body, kept_entry


class KeptLetter(Struct, frozen=True):
    """A letter as it was drafted; what was written on it by hand afterwards is not in it.

    Attributes
    ----------
    seq
        Its entry.
    at, person
        When in UTC, and by whom it was kept.
    said
        Its kind and text, and the version of the record that it was drafted from.
    """

    seq: int
    reference: str
    at: str
    person: str
    said: LetterKept

    @property
    def words(self) -> str:
        """That it is kept, and with what."""
        return f"kept as entry {self.seq} with version {self.said.version} of {self.reference}"


class Letters(Session):
    """Keeping drafted letters, and reading them again."""

    def keep_letter(
        self, reference: str, kind: str, text: str, *, record_digest: str, why: str = ""
    ) -> KeptLetter:
        """Keep a letter with its referral.

        Parameters
        ----------
        kind
            Of which kind it is, such as ``referrer``.
        text
            The letter as text, its foot among it.
        record_digest
            Digest of the record that it was drafted from.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference, E702 for a letter that was drafted from another record than the
            present version.
        """
        with self._writing("enter") as turn:
            work = turn.work(reference)
            version = turn.rows.get(schema.version, reference, work["version"])
            assert version is not None
            if version["digest"] != record_digest:
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "the letter was drafted from another record than the one that is kept",
                                          reference, field="version", found=record_digest[:16],
                                          expected=f"version {work['version']}, {version['digest'][:16]}",
                                          next_step="save the record first, or draft the letter from the version that is kept; the reply of a "
                                          "conference waits until the case was looked at again")])  # fmt: skip
            said = body(
                LetterKept,
                kind=kind,
                text=text,
                version=work["version"],
                record_digest=record_digest,
                why=why,
            )
            entry = turn.enter(said, reference)
        return KeptLetter(entry.seq, reference, entry.at, entry.person, said)

    def kept_letters(self, reference: str) -> tuple[KeptLetter, ...]:
        """The letters of a referral as they were kept, first to last. This is entered as read.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference, E705 if one is not what was kept.
        """
        return self._read_all(reference, letters_of)

    def kept_letter(self, seq: int) -> KeptLetter:
        """A letter as it was kept. This is entered as read.

        Raises
        ------
        StoreError
            E704 if there is no such entry, E705 if it is not what was kept.
        """
        return self._read_entry(seq, _letter)


def letters_of(turn: Turn, reference: str) -> tuple[KeptLetter, ...]:
    """The letters of a referral within a transaction, first to last."""
    trail = schema.trail.c
    found = (
        select(trail.seq)
        .where(trail.reference == reference, trail.what == LetterKept.what)
        .order_by(trail.seq)
    )
    return tuple(_letter(turn, seq) for seq in turn.connection.execute(found).scalars())


def _letter(turn: Turn, seq: int) -> KeptLetter:
    entry, said = kept_entry(turn, seq, LetterKept)
    return KeptLetter(seq, entry["reference"], entry["at"], entry["person"], said)
