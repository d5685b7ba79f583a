"""What followed an injection: versions of the course record of a referral."""

from candidacy.records.migrations.tables import create

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    create("course", "reference*=work.reference", "version*", "case_version", "seq", "digest", "at", "person", "reason",
           numbers={"version", "case_version", "seq"})  # fmt: skip
