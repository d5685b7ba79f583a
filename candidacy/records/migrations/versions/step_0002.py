"""The case conference: meetings, members, items, recusals and ratings; and unfinished work of a person."""

from candidacy.records.migrations.tables import create, index

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    create("meeting", "seq*", "held_on", "title", "quorum", "scale", "state", numbers={"seq", "quorum"})
    create(
        "member",
        "meeting*=meeting.seq",
        "person*",
        "role",
        "interest",
        "present",
        numbers={"meeting", "present"},
    )
    create("item", "seq*", "reference=work.reference", "meeting", "question", "asked_by", "presenter", "place", "state",
           "round", numbers={"seq", "meeting", "place", "round"})  # fmt: skip
    index("item_by_meeting", "item", "meeting", "place")
    index("item_by_reference", "item", "reference", "seq")
    create("recusal", "item*=item.seq", "person*", "seq", numbers={"item", "seq"})
    create(
        "rating",
        "item*=item.seq",
        "round*",
        "person*",
        "disc*",
        "value",
        "seq",
        numbers={"item", "round", "seq"},
    )
    create("draft", "person*", "slot*", "reference", "saved_at", "body", packed={"body": False})
    index("draft_by_reference", "draft", "reference")
