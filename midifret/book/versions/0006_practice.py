"""What planning needs: memories, first answers of a day, stages that were set, practice sessions."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import mysql

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

LONG_TEXT = sa.Text().with_variant(mysql.LONGTEXT(), "mysql", "mariadb")


def upgrade() -> None:
    op.add_column("runs", sa.Column("remembered", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.create_table(
        "memories",
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("rules_number", sa.Integer(), nullable=False),
        sa.Column("newest_s", sa.Double()),
        sa.Column("change", sa.Integer(), nullable=False),
        sa.Column("document", LONG_TEXT, nullable=False),
        sa.PrimaryKeyConstraint("player_id", name="pk_memories"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_memories_player_id", ondelete="CASCADE"
        ),
    )
    op.create_table(
        "first_answers",
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(12), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("string", sa.SmallInteger(), nullable=False),
        sa.Column("fret", sa.SmallInteger(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("right_first", sa.Boolean(), nullable=False),
        sa.Column("recall_s", sa.Double()),
        sa.PrimaryKeyConstraint("player_id", "kind", "day", "string", "fret", name="pk_first_answers"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_first_answers_player_id", ondelete="CASCADE"
        ),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "stages_set",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("strand", sa.String(12), nullable=False),
        sa.Column("stage", sa.String(255), nullable=False),
        sa.Column("set_by", sa.String(12), nullable=False),
        sa.Column("set_utc", sa.DateTime(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stages_set"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_stages_set_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_stages_set_player_id", "stages_set", ["player_id"])
    op.create_table(
        "practice_sessions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("started_utc", sa.DateTime(), nullable=False),
        sa.Column("ended_utc", sa.DateTime()),
        sa.Column("plan", LONG_TEXT, nullable=False),
        sa.Column("done_minutes", sa.Text(), nullable=False),
        sa.Column("block", sa.SmallInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practice_sessions"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_practice_sessions_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_practice_sessions_player_id_day", "practice_sessions", ["player_id", "day"])
