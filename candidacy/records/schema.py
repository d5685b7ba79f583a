"""The tables of a store.

``trail``, ``trail_body``, ``content`` and ``removal`` are the record itself: rows are added and never changed, and triggers
refuse anything else. ``head`` is where the trail ends. All other tables but ``draft`` are lists made from the trail, so that
screens need not read it: they can be made anew at any time, and verifying compares them with it.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, Table, Text

metadata = MetaData()


def _text(name: str, *, key: bool = False, of: str = "") -> Column[str]:
    return Column(name, Text, *([ForeignKey(of)] if of else []), primary_key=key, nullable=False)


def _number(name: str, *, key: bool = False, of: str = "") -> Column[int]:
    return Column(
        name,
        Integer,
        *([ForeignKey(of)] if of else []),
        primary_key=key,
        autoincrement=False,
        nullable=False,
    )


# --- the record itself

trail = Table(
    "trail", metadata,
    _number("seq", key=True),  # 1, 2, 3, ... without a gap
    _text("at"),  # UTC, to the microsecond
    _text("person"), _text("role"),
    _text("what"),  # a kind of `candidacy.records.entries`
    _text("reference"),  # of a referral; empty where the entry is of none
    _text("before"), _text("after"),  # digests of the body that stood before and of this one; empty where there is none
    _text("prev"), _text("hash"),
    Index("trail_by_reference", "reference", "seq"),
    sqlite_strict=True,
)  # fmt: skip
trail_body = Table(
    "trail_body", metadata,
    _number("seq", key=True, of="trail.seq"),
    _text("reference"),
    Column("body", LargeBinary, nullable=True),  # packed canonical JSON; empty once removed under a retention rule
    sqlite_strict=True,
)  # fmt: skip
content = Table(
    "content", metadata,  # files of rule libraries, and lists of such files, each once
    _text("digest", key=True), Column("body", LargeBinary, nullable=False), sqlite_strict=True,
)  # fmt: skip
removal = Table(
    "removal", metadata, _text("reference", key=True), _number("seq", of="trail.seq"), sqlite_strict=True
)  # fmt: skip
head = Table(
    "head", metadata, _number("id", key=True), _number("size"), _text("last"), _text("peaks"),
    CheckConstraint("id = 1", name="one_head"), sqlite_strict=True,
)  # fmt: skip

# --- lists made from the trail

person = Table(
    "person", metadata, _text("person", key=True), _text("role"), _text("access"), _number("seq"), sqlite_strict=True
)  # fmt: skip
work = Table(
    "work", metadata,
    _text("reference", key=True), _number("invented"), _text("opened"), _text("changed"),
    _number("version"), _text("owner"), _text("state"),  # open, closed
    _text("standing"), _text("standing_name"), _text("shown"), _number("stops"), _text("rules"), _text("rules_digest"), _text("as_of"),
    _number("assessed_version"), _number("missing"), _text("waiting_for"), _text("waiting_since"),
    _text("next_act"), _text("next_due"), _text("next_owner"), _number("asked"),  # asked for at a conference
    Index("work_by_change", "changed", "reference"), Index("work_by_standing", "standing", "changed"),
    Index("work_by_owner", "owner", "changed"),
    sqlite_strict=True,
)  # fmt: skip
version = Table(
    "version", metadata, _text("reference", key=True, of="work.reference"), _number("version", key=True),
    _number("seq"), _text("digest"), _text("at"), _text("person"), _text("reason"), sqlite_strict=True,
)  # fmt: skip
assessment = Table(
    "assessment", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _number("version"),
    _text("rules"), _text("rules_version"), _text("rules_digest"), _text("record_digest"), _text("program"),
    _text("as_of"), _text("standing"), _text("document_digest"), _text("library"),
    Index("assessment_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip
report = Table(
    "report", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _text("kind"),
    _text("digest"), _text("at"), _text("person"), _number("accepted"),
    Index("report_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip
note = Table(
    "note", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _text("at"), _text("person"),
    Index("note_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip
act = Table(
    "act", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _text("what"), _text("owner"),
    _text("due"), _text("state"), _text("ended"), Index("act_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip
decision = Table(
    "decision", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _number("item"),
    _text("decision"), _text("discs"), _text("meaning"), _text("responsible"), _text("review_on"), _number("version"),
    _text("record_digest"), _number("assessment"), _text("rules_digest"), _number("corrected_by"),
    Index("decision_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip

course = Table(
    "course", metadata, _text("reference", key=True, of="work.reference"), _number("version", key=True),
    _number("case_version"), _number("seq"), _text("digest"), _text("at"), _text("person"), _text("reason"),
    sqlite_strict=True,
)  # fmt: skip

# --- the case conference

meeting = Table(
    "meeting", metadata, _number("seq", key=True), _text("held_on"), _text("title"), _number("quorum"), _text("scale"),
    _text("state"), sqlite_strict=True,
)  # fmt: skip
member = Table(
    "member", metadata, _number("meeting", key=True, of="meeting.seq"), _text("person", key=True), _text("role"),
    _text("interest"), _number("present"), sqlite_strict=True,
)  # fmt: skip
item = Table(
    "item", metadata, _number("seq", key=True), _text("reference", of="work.reference"), _number("meeting"),
    _text("question"), _text("asked_by"), _text("presenter"), _number("place"), _text("state"), _number("round"),
    Index("item_by_meeting", "meeting", "place"), Index("item_by_reference", "reference", "seq"), sqlite_strict=True,
)  # fmt: skip
recusal = Table(
    "recusal", metadata, _number("item", key=True, of="item.seq"), _text("person", key=True), _number("seq"), sqlite_strict=True
)  # fmt: skip
rating = Table(
    "rating", metadata, _number("item", key=True, of="item.seq"), _number("round", key=True), _text("person", key=True),
    _text("disc", key=True), _text("value"), _number("seq"), sqlite_strict=True,
)  # fmt: skip

# --- unfinished work, outside the trail

draft = Table(
    "draft", metadata, _text("person", key=True), _text("slot", key=True), _text("reference"), _text("saved_at"),
    Column("body", LargeBinary, nullable=False), Index("draft_by_reference", "reference"), sqlite_strict=True,
)  # fmt: skip

RECORD = (trail, trail_body, content, removal)
LISTS = (
    person,
    work,
    version,
    assessment,
    report,
    note,
    act,
    decision,
    course,
    meeting,
    member,
    item,
    recusal,
    rating,
)
