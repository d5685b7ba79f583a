"""Kept assessments: the answer as it was given, with everything it was made of, so that it can be made again."""

import json
from datetime import date

from msgspec import Struct
from pydantic import ValidationError
from sqlalchemy import Connection, insert, select

from candidacy import __version__
from candidacy.assessment.assess import assess
from candidacy.case.load import Case, parse_case
from candidacy.engine.choose import engine_of
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.headline import remarks_words
from candidacy.foundation.dates import day
from candidacy.foundation.errors import Code, InputError, Problem, StoreError, shorten
from candidacy.records import schema
from candidacy.records.canonical import pack, sha256, unpack
from candidacy.records.entries import Assessed, CaseSaved
from candidacy.records.lists import Row
from candidacy.records.rows import DatabaseRows
from candidacy.records.rules_kept import KeptRules, made_of, program_digest, rules_from, same_elements
from candidacy.records.session import (
    Session,
    Turn,
    body,
    checked_reference,
    damaged,
    kept_body,
    kept_entry,
    no_referral,
)
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet

NO_REMARKS = ", no remarks"
OF_ANOTHER_FORM = "the kept answer is of a form that this version of the program does not read"


class KeptAnswer(Struct, frozen=True):
    """An answer as it was kept.

    Attributes
    ----------
    seq
        Its entry.
    at, person
        When in UTC, and for whom it was made.
    said
        What it was made of, its standing, and ``document``, the whole answer as JSON text.
    """

    seq: int
    reference: str
    at: str
    person: str
    said: Assessed

    @property
    def document(self) -> AssessmentDocument:
        """The answer in words and citations, as every form of it is made from.

        Raises
        ------
        StoreError
            E705 for an answer of an earlier version of the program, in a form that this one does not read.
        """
        found = self.readable
        if found is None:
            raise StoreError([Problem(Code.DOES_NOT_VERIFY, OF_ANOTHER_FORM, self.reference, found=self.said.program,
                                      next_step=f"candidacy records assess {self.reference}")])  # fmt: skip
        return found

    @property
    def readable(self) -> AssessmentDocument | None:
        """The same; ``None`` where this version of the program does not read its form."""
        try:
            return AssessmentDocument.model_validate_json(self.said.document)
        except ValidationError:
            return None


class MadeAgain(Struct, frozen=True):
    """A kept answer made again from what was kept.

    Attributes
    ----------
    same
        Whether it is the same, byte for byte.
    same_program
        Whether the program that evaluates is the one that made it; an answer may differ only where it is not.
    problem
        Why it could not be made; empty otherwise.
    document
        The answer as it is made now, as JSON text.
    """

    same: bool
    same_program: bool
    problem: str
    document: str

    @property
    def words(self) -> str:
        """What came of it, in a sentence."""
        program = "" if self.same_program else " This program is not the one that made it."
        if self.problem:
            return f"It cannot be made again: {self.problem}.{program}"
        if self.same:
            return f"Made again from the kept record and rules: the same, byte for byte.{program}"
        return f"Made again from the kept record and rules: NOT the same.{program}"


class Answers(Session):
    """Assessing kept referrals, and the answers kept of it."""

    def assess_and_keep(
        self,
        reference: str,
        rules: str = "practice_baseline",
        *,
        as_of: date,
        engine: str = "durable-rules",
        why: str = "",
    ) -> KeptAnswer:
        """Assess the present version of a referral and keep the answer, with the text of its rule set.

        Parameters
        ----------
        rules
            The id of a rule set of the library in use, or the path of one.
        as_of
            The day for which it is assessed.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference; E702 if somebody saved another version meanwhile, or rule files
            were changed since the program read them.
        RuleError
            With everything wrong with the rule set.
        """
        with self._reading() as connection:
            work, saved, seq = _present(connection, reference)
        case = parse_case(saved.record, reference)
        if case.digest != saved.digest:
            raise damaged(seq, "the record has another digest")
        rule_set, kept = load_rule_set(rules), KeptRules(rules)
        self._check_same(rule_set, kept)
        assessment = assess(case, rule_set, as_of, engine)
        document = build_document(assessment)
        text = document.to_json()
        said = body(
            Assessed, version=saved.version, record_digest=case.digest, rules=rule_set.id,
            rules_version=rule_set.file.version, rules_digest=rule_set.digest, library=kept.digest,
            program=f"candidacy {__version__}", program_digest=program_digest(), engine=engine_of(assessment.engine),
            as_of=as_of.isoformat(), standing=document.standing,
            standing_name=_name(document), shown=document.shown, stops=len(document.stops),
            missing=len(document.missing), document=text, document_digest=sha256(text.encode()), why=why,
        )  # fmt: skip
        with self._writing("enter") as turn:
            now = turn.work(reference)
            if now["version"] != work["version"]:
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "somebody saved this referral meanwhile", reference,
                                          found=f"version {now['version']}", expected=f"version {work['version']}",
                                          next_step="assess it again")])  # fmt: skip
            _keep_files(turn.connection, kept)
            entry = turn.enter(said, reference)
        return KeptAnswer(entry.seq, reference, entry.at, entry.person, said)

    def _check_same(self, rule_set: RuleSet, kept: KeptRules) -> None:
        """Refuse files that were changed after the program read them: the answer would be kept with another rule set.

        Read again from the text to be kept, once for each such text.
        """
        with self._reading() as connection:
            if _content(connection, kept.digest) is not None:
                known = connection.execute(
                    select(schema.assessment.c.rules_digest)
                    .where(schema.assessment.c.library == kept.digest)
                    .limit(1)
                ).scalar()
                if known in (None, rule_set.digest):
                    return
        if made_of(kept) != rule_set.digest:
            raise StoreError([Problem(Code.CHANGED_MEANWHILE, "rule files were changed since they were read", rule_set.id,
                                      next_step="start the program again")])  # fmt: skip

    def kept_answer(self, seq: int) -> KeptAnswer:
        """An answer as it was kept. This is entered as read.

        Raises
        ------
        StoreError
            E704 if there is no such entry, E705 if it is not what was kept.
        """
        return self._read_entry(seq, answer_of)

    def make_again(self, seq: int) -> MadeAgain:
        """Make a kept answer again from the kept record and the kept text of its rule set.

        Raises
        ------
        StoreError
            E704 if there is no such entry, E705 if what it was made of is not what was kept.
        """
        with self._writing("read") as turn:
            kept = answer_of(turn, seq)
            said = kept.said
            version = turn.rows.get(schema.version, kept.reference, said.version)
            if version is None:
                raise damaged(seq, "its record is not listed")
            record = kept_body(turn.connection, version["seq"], CaseSaved)
            manifest = _content(turn.connection, said.library)
            if manifest is None:
                raise damaged(seq, "its list of rule files is gone")
            files = _files(turn.connection, manifest)
            turn.enter(reference=kept.reference)
        same_program = program_digest() == said.program_digest and same_elements(manifest)
        try:
            with rules_from(manifest, files) as rule_set:
                text = _again(parse_case(record.record, kept.reference), rule_set, said)
        except StoreError:
            raise
        except InputError as error:
            told = f"{error.problems[0].code.value} {error.problems[0].message}"
            return MadeAgain(False, same_program, shorten(told, 200), "")
        return MadeAgain(text == said.document, same_program, "", text)


def _name(document: AssessmentDocument) -> str:
    """What lists call a standing. A candidate always bears its remarks: a name without them was kept before they were counted."""
    more = remarks_words(document) or (NO_REMARKS if document.standing == "candidate" else "")
    return f"{document.standing_name}{more}"


def answer_of(turn: Turn, seq: int) -> KeptAnswer:
    """A kept answer within a transaction."""
    entry, said = kept_entry(turn, seq, Assessed)
    if sha256(said.document.encode()) != said.document_digest:
        raise damaged(seq, "the answer has another digest")
    return KeptAnswer(seq, entry["reference"], entry["at"], entry["person"], said)


def _again(case: Case, rule_set: RuleSet, said: Assessed) -> str:
    return build_document(assess(case, rule_set, day(said.as_of), said.engine)).to_json()


def _present(connection: Connection, reference: str) -> tuple[Row, CaseSaved, int]:
    rows = DatabaseRows(connection)
    work = rows.get(schema.work, checked_reference(reference))
    version = rows.get(schema.version, reference, work["version"]) if work else None
    if work is None or version is None:
        raise no_referral(connection, reference)
    return work, kept_body(connection, version["seq"], CaseSaved), version["seq"]


def _keep_files(connection: Connection, kept: KeptRules) -> None:
    """Keep what is not kept yet."""
    wanted = {**kept.files, kept.digest: kept.manifest}
    there = set(
        connection.execute(
            select(schema.content.c.digest).where(schema.content.c.digest.in_(wanted))
        ).scalars()
    )
    new = [
        {"digest": digest, "body": pack(content)} for digest, content in wanted.items() if digest not in there
    ]
    if new:
        connection.execute(insert(schema.content), new)


def _content(connection: Connection, digest: str) -> bytes | None:
    packed = connection.execute(
        select(schema.content.c.body).where(schema.content.c.digest == digest)
    ).scalar()
    if packed is None:
        return None
    try:
        found = unpack(packed)
    except ValueError:
        found = b""
    if sha256(found) != digest:
        raise StoreError([Problem(Code.DOES_NOT_VERIFY, "kept rule text is damaged", "content", found=digest[:16],
                                  next_step="candidacy records verify; then restore a backup")])  # fmt: skip
    return found


def _files(connection: Connection, manifest: bytes) -> dict[str, bytes]:
    digests = {digest for layer in json.loads(manifest)["layers"] for digest in layer.values()}
    return {digest: found for digest in digests if (found := _content(connection, digest)) is not None}
