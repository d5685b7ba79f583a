"""One referral whole, for the patient's file, another clinic or a reviewer: everything written, and proof that it is what
was entered."""

import json
import re
from typing import Any

from sqlalchemy import func, select

from candidacy import __version__
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.canonical import body_of, canonical, sha256
from candidacy.records.conference import not_to_be_seen
from candidacy.records.entries import Exported
from candidacy.records.merkle import head_by_proof, inclusion_proof, leaf_hash
from candidacy.records.referral import Event, said_of
from candidacy.records.session import Session, body
from candidacy.records.trail import Entry, as_dict, body_bytes, entries, head_of

SHAPE = "candidacy.records/1"


class Exports(Session):
    """Exporting a referral."""

    def export(self, reference: str, why: str = "") -> dict[str, Any]:
        """A referral whole, as plain data. This is entered as exported.

        For each entry: its fields, what its body says with the salt its digest was taken with, and the hashes that lead from
        it to the head of the trail, by which anybody can tell that it is what was entered; see `check_export`. What a rating of
        somebody else's says is left out until all who take part have rated.

        Raises
        ------
        StoreError
            E704 if nothing was ever kept under that reference.
        """
        with self._writing("read") as turn:
            if turn.rows.get(schema.removal, reference) is None:
                turn.work(reference)
            columns = schema.trail.c
            before = turn.connection.execute(
                select(func.count()).select_from(schema.trail).where(columns.reference == reference)
            ).scalar_one()
            turn.enter(body(Exported, words=f"whole, {before + 1} entries", why=why), reference)
            leaves: list[bytes] = []
            mine: list[Entry] = []
            for entry in entries(turn.connection):
                leaves.append(leaf_hash(entry.hashed[0]))
                mine += [entry] if entry.reference == reference else []
            own = [
                (
                    entry,
                    None
                    if not_to_be_seen(turn, entry, self.person)
                    else body_bytes(turn.connection, entry.seq),
                )
                for entry in mine
            ]
            head, _ = head_of(turn.connection)
        return {
            "shape": SHAPE,
            "program": f"candidacy {__version__}",
            "reference": reference,
            "head": {"size": head.size, "root": head.root},
            "entries": [
                {
                    "entry": dict(as_dict(entry)),
                    "body": None if content is None else body_of(content),
                    "proof": [part.hex() for part in inclusion_proof(entry.seq - 1, leaves)],
                }
                for entry, content in own
            ],
        }


def export_text(exported: dict[str, Any]) -> str:
    """An export as JSON text."""
    return json.dumps(exported, ensure_ascii=False, indent=2) + "\n"


def check_export(exported: Any) -> tuple[str, ...]:
    """What of an export is not as it was entered, a sentence each; empty where all of it is.

    The head in it must be compared with one that was printed or published by who keeps the store; an export that was
    made up whole has a head of its own.

    Raises
    ------
    StoreError
        E203 for what is no export.
    """
    try:
        return tuple(_wrong(exported))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise StoreError([Problem(Code.WRONG_TYPE, "this is no export of a referral", "export", found=type(error).__name__,
                                  expected=SHAPE)]) from None  # fmt: skip


def _wrong(exported: dict[str, Any]) -> list[str]:
    if exported["shape"] != SHAPE:
        raise ValueError(exported["shape"])
    size, root = exported["head"]["size"], exported["head"]["root"]
    found, last = [], 0
    removed = any(part["entry"]["what"] == "removed" for part in exported["entries"])
    for part in exported["entries"]:
        entry = Entry(**part["entry"])
        content, own = entry.hashed
        proof = [bytes.fromhex(each) for each in part["proof"]]
        led = head_by_proof(leaf_hash(content), entry.seq - 1, size, proof)
        if own != entry.hash or led is None or led.hex() != root:
            found.append(f"Entry {entry.seq} is not in the trail of that head.")
        if entry.reference != exported["reference"] or entry.seq <= last:
            found.append(f"Entry {entry.seq} is of another referral, or stands twice.")
        if part["body"] is not None and sha256(canonical(part["body"])) != entry.after:
            found.append(f"What entry {entry.seq} says was altered.")
        if part["body"] is None and entry.after and not removed and entry.what != "rated":
            found.append(f"What entry {entry.seq} says was left out.")
        last = entry.seq
    words = str(
        (exported["entries"][-1]["body"] or {}).get("words", "")
    )  # that of the export itself, which is in the trail
    told = re.fullmatch(r"whole, (\d+) entries", words)
    if told is None:
        found.append("The entry of this export is not the last one, or does not say how many there were.")
    elif int(told[1]) != len(exported["entries"]):
        found.append(f"{told[1]} entries were exported, and {len(exported['entries'])} are here.")
    return found


def events_of(exported: dict[str, Any]) -> tuple[Event, ...]:
    """The entries of an export with what they say."""
    return tuple(
        Event(
            Entry(**part["entry"]),
            said_of(Entry(**part["entry"]), canonical(part["body"]) if part["body"] else None),
        )
        for part in exported["entries"]
    )
