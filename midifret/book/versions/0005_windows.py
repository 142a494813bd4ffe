"""In which window the notes of a run in tempo counted, and by how much a followed tempo moved."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("runs", sa.Column("window_ms", sa.Double()))
    op.add_column("runs", sa.Column("tempo_moved", sa.Double()))
