"""The record itself with its guards, and the lists of referrals and of what belongs to them."""

import sqlalchemy as sa
from alembic import op

from candidacy.records.migrations.tables import create, index

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_MESSAGE = "rows of the record are added and never changed"
_GUARDED = ("trail", "trail_body", "content", "removal")
_REMOVED = "NEW.body IS NULL AND NEW.seq = OLD.seq AND NEW.reference = OLD.reference AND EXISTS " \
    "(SELECT 1 FROM removal WHERE removal.reference = OLD.reference)"  # fmt: skip
_TAKEN = {
    "trail": "NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM trail)",
    "trail_body": "EXISTS (SELECT 1 FROM trail_body WHERE seq = NEW.seq)",
    "content": "EXISTS (SELECT 1 FROM content WHERE digest = NEW.digest)",
    "removal": "EXISTS (SELECT 1 FROM removal WHERE reference = NEW.reference)",
}


def upgrade() -> None:
    create("trail", "seq*", "at", "person", "role", "what", "reference", "before", "after", "prev", "hash",
           numbers={"seq"})  # fmt: skip
    index("trail_by_reference", "trail", "reference", "seq")
    create("trail_body", "seq*=trail.seq", "reference", "body", numbers={"seq"}, packed={"body": True})
    create("content", "digest*", "body", packed={"body": False})
    create("removal", "reference*", "seq=trail.seq", numbers={"seq"})
    create("head", "id*", "size", "last", "peaks", numbers={"id", "size"}, check=("id = 1", "one_head"))
    op.execute(
        sa.text("INSERT INTO head (id, size, last, peaks) VALUES (1, 0, :zero, '[]')").bindparams(
            zero="0" * 64
        )
    )
    _lists()
    if op.get_context().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgresql()


def _lists() -> None:
    create("person", "person*", "role", "access", "seq", numbers={"seq"})
    create("work", "reference*", "invented", "opened", "changed", "version", "owner", "state", "standing", "standing_name",
           "shown", "stops", "rules", "rules_digest", "as_of", "assessed_version", "missing", "waiting_for",
           "waiting_since", "next_act", "next_due", "next_owner", "asked",
           numbers={"invented", "stops", "version", "assessed_version", "missing", "asked"})  # fmt: skip
    index("work_by_change", "work", "changed", "reference")
    index("work_by_standing", "work", "standing", "changed")
    index("work_by_owner", "work", "owner", "changed")
    create("version", "reference*=work.reference", "version*", "seq", "digest", "at", "person", "reason",
           numbers={"version", "seq"})  # fmt: skip
    create("assessment", "seq*", "reference=work.reference", "version", "rules", "rules_version", "rules_digest",
           "record_digest", "program", "as_of", "standing", "document_digest", "library", numbers={"seq", "version"})  # fmt: skip
    create("report", "seq*", "reference=work.reference", "kind", "digest", "at", "person", "accepted",
           numbers={"seq", "accepted"})  # fmt: skip
    create("note", "seq*", "reference=work.reference", "at", "person", numbers={"seq"})
    create(
        "act", "seq*", "reference=work.reference", "what", "owner", "due", "state", "ended", numbers={"seq"}
    )
    create("decision", "seq*", "reference=work.reference", "item", "decision", "discs", "meaning", "responsible", "review_on",
           "version", "record_digest", "assessment", "rules_digest", "corrected_by",
           numbers={"seq", "item", "version", "assessment", "corrected_by"})  # fmt: skip
    for table in ("assessment", "report", "note", "act", "decision"):
        index(f"{table}_by_reference", table, "reference", "seq")


def _guard_sqlite() -> None:
    for table in _GUARDED:
        stop = f"BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END"
        unless = f"WHEN NOT ({_REMOVED}) " if table == "trail_body" else ""
        op.execute(f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} {unless}{stop}")
        op.execute(f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {stop}")
        # INSERT OR REPLACE deletes without asking the trigger above, so it is stopped before it gets there
        op.execute(f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {_TAKEN[table]} {stop}")


def _guard_postgresql() -> None:
    op.execute(
        f"CREATE FUNCTION record_stays() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{_MESSAGE}'; "
        "END $$"
    )
    for table in _GUARDED:
        rest = "EXECUTE FUNCTION record_stays()"
        if table == "trail_body":  # a condition of a trigger may not look into other tables, a function may
            op.execute(
                "CREATE FUNCTION body_stays() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
                f"IF {_REMOVED} THEN RETURN NEW; END IF; RAISE EXCEPTION '{_MESSAGE}'; END $$"
            )
            op.execute(f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION body_stays()")  # fmt: skip
        else:
            op.execute(f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} FOR EACH ROW {rest}")
        op.execute(f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} FOR EACH ROW {rest}")
        op.execute(f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {rest}")
    op.execute(
        "CREATE FUNCTION trail_follows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {_TAKEN['trail']} THEN RAISE EXCEPTION '{_MESSAGE}'; END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER trail_no_gap BEFORE INSERT ON trail FOR EACH ROW EXECUTE FUNCTION trail_follows()"
    )
