"""Decisions of people, signed with what the signature means, and bound to what they rest on."""

from collections.abc import Iterable, Sequence

from msgspec import Struct
from sqlalchemy import select

from candidacy.case.load import parse_case
from candidacy.day.planned import considered
from candidacy.explain.wording import listed
from candidacy.foundation.errors import Code, InputError, Problem, StoreError
from candidacy.records import schema
from candidacy.records.conference import over, taking_part_now
from candidacy.records.entries import CaseSaved, Meaning, Recommendation, Signed
from candidacy.records.lists import Row
from candidacy.records.session import Session, Turn, body, kept_body
from candidacy.rules.libraries import load_rule_set


class Decision(Struct, frozen=True):
    """A signed decision.

    Attributes
    ----------
    seq
        Its entry.
    at, person, role
        When in UTC, by whom, as what it was signed.
    said
        What was decided, the meaning of the signature, reasons, conditions, dissent.
    corrected_by
        Entry of the decision that corrects it; 0 where none does.
    changed
        What changed since among the facts and kept assessments it rests on, a sentence each: then it is to be looked at
        again. `rule_set_changed` tells whether the rule set on disk is another.
    """

    seq: int
    at: str
    person: str
    role: str
    said: Signed
    corrected_by: int
    changed: tuple[str, ...]


class InForce(Struct, frozen=True):
    """A decision that none corrects, without its words: which, and what it rests on beside what is there now.

    Attributes
    ----------
    version, now
        The version of the record that it rests on, and the present one.
    record_digest
        Digest of the record that it rests on.
    same_record
        Whether these are the same by digest.
    same_answer
        Whether the last kept answer under its rule set is the one that it rests on, by digest.
    rules, rules_digest
        The rule set of the assessment that it rests on; empty where none was kept.
    """

    seq: int
    reference: str
    item: int
    decision: Recommendation
    review_on: str
    version: int
    now: int
    record_digest: str
    same_record: bool
    same_answer: bool
    rules: str
    rules_digest: str


class Decisions(Session):
    """Signing and reading decisions. The store records what people decided; it never decides."""

    def sign(
        self,
        reference: str,
        decision: Recommendation,
        meaning: Meaning,
        reason: str,
        *,
        responsible: str,
        expected_version: int,
        expected_answer: int | None = None,
        discs: Sequence[str] = (),
        until: str = "",
        after: str = "",
        tests: Sequence[str] = (),
        conditions: Sequence[str] = (),
        dissent: Sequence[tuple[str, str]] = (),
        review_on: str = "",
        item: int = 0,
        corrects: int = 0,
    ) -> Decision:
        """Sign a decision on a referral.

        Parameters
        ----------
        decision
            ``treat`` (then ``discs`` says which of those that the record considers), ``not``, ``not_yet`` (then ``until`` or ``after``), ``more_tests``
            (then ``tests``).
        meaning
            What the signature means: ``review``, ``approval``, ``responsibility`` or ``authorship``.
        reason
            Why; always required.
        expected_version
            The version of the record that was looked at.
        expected_answer
            The entry of the kept assessment of it that was looked at; the last one counts where it is not given.
        dissent
            Person and reason of each who would have decided otherwise.
        item
            The item of a conference that it answers.
        corrects
            The entry of an earlier decision that it corrects.

        Raises
        ------
        StoreError
            E703 for who may not decide, E702 if the record or its answer was changed since it was looked at, or the item is
            over, E202 for what the decision needs and is not given, E211 for a disc to treat that the record does not consider,
            E208 for a correction of a decision on another item.
        """
        with self._writing("decide") as turn:
            row = turn.work(reference)
            if row["version"] != expected_version:
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "the record was changed since it was looked at", reference,
                                          field="version", found=f"version {row['version']}",
                                          expected=f"version {expected_version}", next_step="look at it again")])  # fmt: skip
            version = turn.rows.get(schema.version, reference, expected_version)
            assert version is not None
            kept = list(turn.rows.where(schema.assessment, reference=reference, version=expected_version))
            last = kept[-1:]
            if expected_answer is not None:
                _same_answer(reference, last, expected_answer, kept)
            took_part, quorum = _of_the_meeting(turn, item, corrects)
            said = body(
                Signed, decision=decision, meaning=meaning, reason=reason, discs=list(discs), until=until, after=after,
                tests=list(tests), conditions=list(conditions), responsible=responsible, review_on=review_on,
                dissent=[{"person": who, "reason": why} for who, why in dissent], version=expected_version,
                record_digest=version["digest"], assessment=last[0]["seq"] if last else 0,
                rules=last[0]["rules"] if last else "",
                rules_digest=last[0]["rules_digest"] if last else "", item=item, corrects=corrects,
                took_part=took_part, quorum=quorum,
            )  # fmt: skip
            _complete(reference, said)
            if said.discs:
                _considered(reference, said, kept_body(turn.connection, version["seq"], CaseSaved).record)
            _refers(turn, reference, said)
            entry = turn.enter(said, reference, replaces=corrects)
        changed = _changed(said, said.version, said.record_digest, said.rules_digest)
        return Decision(entry.seq, entry.at, entry.person, entry.role, said, 0, changed)

    def decisions(self, reference: str) -> tuple[Decision, ...]:
        """All decisions on a referral, first to last, corrected ones among them. This is entered as read."""
        with self._writing("read") as turn:
            turn.work(reference)
            found = decisions_of(turn, reference)
            turn.enter(reference=reference)
        return found

    def in_force(self) -> tuple[InForce, ...]:
        """Decisions that none corrects, the last first. Nothing is read of what they say."""
        of, now, kept, newer = (
            schema.decision.c,
            schema.version,
            schema.assessment,
            schema.assessment.alias("newer"),
        )
        newest = (
            select(newer.c.document_digest)
            .where(newer.c.reference == of.reference, newer.c.rules == kept.c.rules)
            .order_by(newer.c.seq.desc())
            .limit(1)
            .correlate(schema.decision, kept)
            .scalar_subquery()
        )
        found = (
            select(of.seq, of.reference, of.item, of.decision, of.review_on, of.version, of.record_digest, of.rules_digest,
                   schema.work.c.version.label("now"), now.c.digest, kept.c.rules, kept.c.document_digest,
                   newest.label("newest"))
            .join(schema.work, schema.work.c.reference == of.reference)
            .join(now, (now.c.reference == of.reference) & (now.c.version == schema.work.c.version))
            .outerjoin(kept, kept.c.seq == of.assessment)
            .where(of.corrected_by == 0)
            .order_by(of.seq.desc())
        )  # fmt: skip
        with self._reading() as connection:
            return tuple(
                InForce(row.seq, row.reference, row.item, row.decision, row.review_on, row.version, row.now,
                        row.record_digest, row.record_digest == row.digest, row.document_digest == row.newest, row.rules or "",
                        row.rules_digest)
                for row in connection.execute(found)
            )  # fmt: skip


def decisions_of(turn: Turn, reference: str) -> tuple[Decision, ...]:
    """All decisions on a referral within a transaction."""
    work = turn.work(reference)
    rules = {
        row["rules"]: row["rules_digest"] for row in turn.rows.where(schema.assessment, reference=reference)
    }
    present = turn.rows.get(schema.version, reference, work["version"])
    digest = present["digest"] if present else ""
    found = []
    for row in turn.rows.where(schema.decision, reference=reference):
        entry = turn.rows.get(schema.trail, row["seq"])
        assert entry is not None
        found.append(
            Decision(
                row["seq"],
                entry["at"],
                entry["person"],
                entry["role"],
                said := kept_body(turn.connection, row["seq"], Signed),
                row["corrected_by"],
                _changed(said, work["version"], digest, rules.get(said.rules, "")),
            )
        )
    return tuple(found)


def rule_set_changed(said: Signed) -> str:
    """What of the rule set behind a decision is another in the library in use now, a sentence; empty where nothing is."""
    if not said.rules:
        return ""
    try:
        now = load_rule_set(said.rules)
    except InputError:
        return f"The rule set {said.rules} cannot be loaded any more."
    same = now.digest == said.rules_digest
    return "" if same else f"The rule set {said.rules} was changed, and is version {now.file.version} now."


def _changed(said: Signed, version: int, digest: str, rules_digest: str) -> tuple[str, ...]:
    found = []
    if not said.assessment:
        found.append("No assessment of that version of the record was kept.")
    if said.record_digest != digest:
        found.append(f"The record was version {said.version} and is version {version}.")
    if said.assessment and rules_digest != said.rules_digest:
        found.append(f"The rule set {said.rules} was changed.")
    return tuple(found)


def _complete(reference: str, said: Signed) -> None:
    needs = {"treat": ("discs",), "not_yet": ("until", "after"), "more_tests": ("tests",)}.get(
        said.decision, ()
    )
    if needs and not any(getattr(said, name) for name in needs):
        raise StoreError([Problem(Code.MISSING_KEY, f"the decision {said.decision} says more", reference, field=needs[0],
                                  expected=" or ".join(needs))])  # fmt: skip


def _considered(reference: str, said: Signed, record: str) -> None:
    """Refuse discs that were not assessed for treatment: no checklist of the day is made for them either."""
    known = considered(parse_case(record, reference))
    unknown = [disc for disc in said.discs if disc not in known]
    if unknown:
        raise StoreError([Problem(
            Code.CONTRADICTION, "the record does not consider this disc", reference, field="discs", found=listed(unknown),
            expected=listed(sorted(known), "or") or "none is known to be considered",
            next_step="name it under discs_under_consideration in a new version of the record, assess that, and decide on it")])  # fmt: skip


def _same_answer(reference: str, last: Sequence[Row], expected: int, kept: Iterable[Row]) -> None:
    """Refuse a decision where another answer than the one that was looked at is the last."""
    looked = next((row for row in kept if row["seq"] == expected), None)
    if last and looked is not None and looked["document_digest"] == last[0]["document_digest"]:
        return
    found = (
        f"{last[0]['standing']} under {last[0]['rules']} as of {last[0]['as_of']}, entry {last[0]['seq']}"
        if last
        else "none"
    )
    raise StoreError([Problem(Code.CHANGED_MEANWHILE, "it was assessed again since it was looked at, with another answer", reference,
                              field="answer", found=found, expected=f"entry {expected}", next_step="look at it again")])  # fmt: skip


def _of_the_meeting(turn: Turn, item: int, corrects: int) -> tuple[list[str] | None, int | None]:
    """Who takes part in an item, and the quorum of its meeting; a correction says what the decision said that it corrects."""
    row = turn.rows.get(schema.item, item) if item else None
    if corrects and turn.rows.get(schema.decision, corrects) is not None:
        former = kept_body(turn.connection, corrects, Signed)
        return former.took_part, former.quorum
    meeting = turn.rows.get(schema.meeting, row["meeting"]) if row is not None else None
    if row is None or meeting is None:
        return None, None
    return taking_part_now(turn, row), meeting["quorum"]


def _refers(turn: Turn, reference: str, said: Signed) -> None:
    """Refuse a decision that answers or corrects what is not of this referral."""
    for table, field in ((schema.item, "item"), (schema.decision, "corrects")):
        number = getattr(said, field)
        found = turn.rows.get(table, number) if number else None
        if number and (found is None or found["reference"] != reference):
            raise StoreError([Problem(Code.UNKNOWN_REFERRAL, f"there is no such {table.name} of this referral", reference,
                                      field=field, found=str(number))])  # fmt: skip
        if (
            field == "item"
            and found is not None
            and not said.corrects
            and found["state"] in ("decided", "withdrawn")
        ):
            raise over("item", number, "give the decision that is corrected, or ask again")
        if field == "corrects" and found is not None and found["item"] != said.item:
            raise StoreError([Problem(Code.BAD_CHOICE, "this decision answers another item", reference, field=field,
                                      found=str(number), expected=f"a decision on item {said.item}" if said.item else
                                      "a decision outside a conference")])  # fmt: skip
        if field == "corrects" and found is not None and found["corrected_by"]:
            raise StoreError([Problem(Code.CHANGED_MEANWHILE, "this decision was corrected already", reference,
                                      field=field, found=f"by entry {found['corrected_by']}")])  # fmt: skip
