"""What the converter made up in each run, and answers judged by pitch alone."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "voided_notes",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("glitch", sa.String(24), nullable=False),
        sa.Column("notes", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("run_id", "glitch", name="pk_voided_notes"),
        sa.ForeignKeyConstraint(["run_id"], ["runs.id"], name="fk_voided_notes_run_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )
    op.add_column("runs", sa.Column("answers_by_pitch", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("runs", sa.Column("notes", sa.Integer()))
    op.add_column("answers", sa.Column("played_place_assumed", sa.Boolean()))
