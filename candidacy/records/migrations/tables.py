"""How the steps write down tables: columns of text unless said otherwise, none of them empty, all of strict types."""

from collections.abc import Collection, Mapping

import sqlalchemy as sa
from alembic import op


def create(
    name: str,
    *columns: str,
    numbers: Collection[str] = (),
    packed: Mapping[str, bool] | None = None,
    check: tuple[str, str] | None = None,
) -> None:
    """Create a table.

    Parameters
    ----------
    columns
        Names; ``*`` after one makes it part of the key, ``=table.column`` says what it refers to.
    numbers
        Those that hold whole numbers.
    packed
        Those that hold bytes, and whether they may be empty.
    check
        A condition on each row, and its name.
    """
    parts: list[sa.Column[object] | sa.CheckConstraint] = []
    for column in columns:
        own, _, of = column.partition("=")
        key, own = own.endswith("*"), own.rstrip("*")
        kind: sa.types.TypeEngine[object] = sa.Text()  # type: ignore[assignment]
        if own in numbers:
            kind = sa.Integer()  # type: ignore[assignment]
        elif own in (packed or {}):
            kind = sa.LargeBinary()  # type: ignore[assignment]
        refers = [sa.ForeignKey(of)] if of else []
        parts.append(
            sa.Column(
                own,
                kind,
                *refers,
                primary_key=key,
                nullable=bool((packed or {}).get(own)),
                autoincrement=False,
            )
        )
    if check:
        parts.append(sa.CheckConstraint(check[0], name=check[1]))
    op.create_table(name, *parts, sqlite_strict=True)


def index(name: str, table: str, *columns: str) -> None:
    """Create an index."""
    op.create_index(name, table, list(columns))
