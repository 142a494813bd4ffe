"""Recall times, intervals, lateness and tempo; calibrations and owned tempos."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# What older books kept is to be seen as what it is: cued responses, from which nothing was taken off. A run
# in which some prompts had no cue has no median until all summaries are computed again.
CUED_ANSWERS = """
UPDATE runs SET cued_answers = (
    SELECT count(*) FROM answers
    WHERE answers.run_id = runs.id AND answers.cue <> '' AND answers.judged <> 'name'
)
"""
RAW_MEDIANS = """
UPDATE runs SET median_recall_s = median_response_s, recall_caveats = 'raw', recall_answers = (
    SELECT count(*) FROM answers
    WHERE answers.run_id = runs.id AND answers.verdict = 'right' AND answers.response_s IS NOT NULL
)
WHERE median_response_s IS NOT NULL AND cued_answers > 0 AND cued_answers = answers
"""


def upgrade() -> None:
    for name, kind in (
        ("wait_s", sa.Double()),
        ("recall_shared_s", sa.Double()),
        ("recall_own_s", sa.Double()),
        ("recall_caveats", sa.Text()),
        ("interval_s", sa.Double()),
        ("interval_error_s", sa.Double()),
        ("interval_caveats", sa.Text()),
        ("due_s", sa.Double()),
        ("late_ms", sa.Double()),
    ):
        op.add_column("answers", sa.Column(name, kind))
    op.add_column("runs", sa.Column("port", sa.String(255), nullable=False, server_default=""))
    op.add_column("runs", sa.Column("tempo_bpm", sa.Double()))
    op.add_column("runs", sa.Column("names_cued", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("runs", sa.Column("cued_answers", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("runs", sa.Column("median_recall_s", sa.Double()))
    op.add_column("runs", sa.Column("recall_answers", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("runs", sa.Column("recall_caveats", sa.Text()))
    op.create_table(
        "calibrations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(12), nullable=False),
        sa.Column("guitar", sa.String(255), nullable=False),
        sa.Column("port", sa.String(255), nullable=False),
        sa.Column("click", sa.String(255), nullable=False),
        sa.Column("measured_utc", sa.DateTime(), nullable=False),
        sa.Column("take_file", sa.String(255), nullable=False),
        sa.Column("readings", sa.Text(), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_calibrations"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_calibrations_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_calibrations_player_id_measured_utc", "calibrations", ["player_id", "measured_utc"])
    op.create_table(
        "owned_tempos",
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("drill", sa.String(255), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("guitar", sa.String(255), nullable=False),
        sa.Column("tempo_bpm", sa.Double(), nullable=False),
        sa.Column("low_bpm", sa.Double(), nullable=False),
        sa.Column("high_bpm", sa.Double(), nullable=False),
        sa.Column("notes", sa.Integer(), nullable=False),
        sa.Column("passes", sa.Integer(), nullable=False),
        sa.Column("doubt", sa.String(24), nullable=False),
        sa.Column("names_cued", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("player_id", "drill", "day", name="pk_owned_tempos"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_owned_tempos_player_id", ondelete="CASCADE"
        ),
        sqlite_with_rowid=False,
    )
    op.execute(CUED_ANSWERS)
    op.execute(RAW_MEDIANS)
