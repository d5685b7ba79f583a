"""Run the steps that a database lacks."""

from pathlib import Path
from threading import Lock

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

_HERE = Path(__file__).parent
_TABLE = "schema_step"
_ONE = Lock()  # the steps reach their connection by a name of the whole process


def latest() -> str:
    """The newest revision that this program knows."""
    return ScriptDirectory(str(_HERE)).get_current_head() or ""


def revision(connection: Connection) -> str:
    """The revision of a database; empty where it has no tables yet."""
    return MigrationContext.configure(connection, opts={"version_table": _TABLE}).get_current_revision() or ""


def known(name: str) -> bool:
    """Whether this program knows a revision."""
    return any(step.revision == name for step in ScriptDirectory(str(_HERE)).walk_revisions())


def migrate(connection: Connection, to: str = "head") -> None:
    """Bring the tables to a revision, within the transaction of the connection: all steps or none."""
    script = ScriptDirectory(str(_HERE))

    def steps(rev: object, context: MigrationContext) -> object:
        return script._upgrade_revs(to, rev)  # type: ignore[arg-type]

    with _ONE, EnvironmentContext(Config(), script, fn=steps, destination_rev=to) as environment:
        environment.configure(connection=connection, fn=steps, version_table=_TABLE, transactional_ddl=True)
        environment.run_migrations()
