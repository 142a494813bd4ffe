"""Music that players were given to read."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "given_music",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(12), nullable=False),
        sa.Column("fingerprint", sa.String(32), nullable=False),
        sa.Column("title", sa.String(255), nullable=False),
        sa.Column("position", sa.SmallInteger()),
        sa.Column("level", sa.SmallInteger()),
        sa.Column("seed", sa.BigInteger()),
        sa.Column("given_utc", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_given_music"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_given_music_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_given_music_player_id_fingerprint", "given_music", ["player_id", "fingerprint"])
