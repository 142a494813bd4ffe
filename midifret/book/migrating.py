"""Bring an older book to the current version; the only file that imports Alembic."""

from pathlib import Path

import sqlalchemy as sa
from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory


def upgrade(connection: sa.Connection, versions: Path, head: str) -> None:
    """Run every migration up to `head` on a connection whose transaction the caller holds."""
    script = ScriptDirectory(str(versions.parent), version_locations=[str(versions)])
    with EnvironmentContext(
        Config(), script, fn=lambda revision, context: script._upgrade_revs(head, revision)
    ) as environment:
        environment.configure(connection=connection, render_as_batch=True)
        environment.run_migrations()
