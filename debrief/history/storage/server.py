"""A history on a PostgreSQL server: how long it is waited for, and what it must be."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine

from debrief.errors import UserError

CONNECT_TIMEOUT_S = 10
"""For a server that does not answer; ``?connect_timeout=`` in the URL says otherwise."""
LOCK_TIMEOUT_MS = 15_000
"""For what another desk keeps locked."""
_UNANSWERED_MS = 30_000
"""How long what was sent may stay without the network's receipt."""


def server_engine(url: URL) -> Engine:
    """Return an engine on a database of a server that waits for nothing without an end."""
    waits = {"connect_timeout": CONNECT_TIMEOUT_S, "tcp_user_timeout": _UNANSWERED_MS}
    engine = sa.create_engine(
        url,
        pool_pre_ping=True,
        connect_args={name: value for name, value in waits.items() if name not in url.query},
    )

    @sa.event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: object) -> None:
        with connection.cursor() as cursor:
            cursor.execute(f"SET lock_timeout = {LOCK_TIMEOUT_MS}")
        connection.commit()

    return engine


def refuse_encoding(connection: Connection, place: str) -> None:
    """Refuse a database of a server that cannot hold every text.

    Raises
    ------
    UserError
        It is not kept in UTF-8.
    """
    if connection.dialect.name != "postgresql":
        return
    encoding = connection.exec_driver_sql("SHOW server_encoding").scalar()
    if encoding != "UTF8":
        raise UserError(
            f"The history {place} is kept in {encoding}, which cannot hold every text: ask its keeper for a "
            "database in UTF8."
        )
