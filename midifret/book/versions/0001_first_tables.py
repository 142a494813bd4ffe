"""First tables: players, runs, answers, summaries and string checks."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "players",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("simulated", sa.Boolean(), nullable=False),
        sa.Column("created_utc", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_players"),
        sa.UniqueConstraint("name", name="uq_players_name"),
    )
    op.create_table(
        "runs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("drill", sa.String(255), nullable=False),
        sa.Column("title", sa.String(255), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("guitar", sa.String(255), nullable=False),
        sa.Column("started_utc", sa.DateTime(), nullable=False),
        sa.Column("zone", sa.String(255), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("take_file", sa.String(255), nullable=False),
        sa.Column("midifret_version", sa.String(32), nullable=False),
        sa.Column("ended_utc", sa.DateTime()),
        sa.Column("ended_early", sa.Boolean()),
        sa.Column("gate_met", sa.Boolean()),
        sa.Column("played_s", sa.Double(), nullable=False),
        sa.Column("answers", sa.Integer(), nullable=False),
        sa.Column("right_answers", sa.Integer(), nullable=False),
        sa.Column("median_response_s", sa.Double()),
        sa.PrimaryKeyConstraint("id", name="pk_runs"),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name="fk_runs_player_id", ondelete="CASCADE"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_runs_player_id_day", "runs", ["player_id", "day"])
    op.create_index("ix_runs_player_id_drill_id", "runs", ["player_id", "drill", "id"])
    op.create_table(
        "answers",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("counted_string", sa.SmallInteger(), nullable=False),
        sa.Column("counted_fret", sa.SmallInteger(), nullable=False),
        sa.Column("verdict", sa.String(12), nullable=False),
        sa.Column("response_s", sa.Double()),
        sa.Column("recall_s", sa.Double()),
        sa.Column("cue_s", sa.Double()),
        sa.Column("answer_s", sa.Double()),
        sa.Column("skipped", sa.Boolean(), nullable=False),
        sa.Column("held_sounding", sa.Boolean()),
        sa.Column("typed", sa.Text()),
        sa.Column("judged", sa.String(12), nullable=False),
        sa.Column("cue", sa.String(64), nullable=False),
        sa.Column("pitch", sa.String(8), nullable=False),
        sa.Column("midi", sa.SmallInteger(), nullable=False),
        sa.Column("places", sa.Text(), nullable=False),
        sa.Column("midis", sa.Text(), nullable=False),
        sa.Column("given", sa.String(8)),
        sa.Column("may_play", sa.Text()),
        sa.Column("held", sa.String(8)),
        sa.Column("each_once", sa.Integer()),
        sa.Column("interval_semitones", sa.SmallInteger()),
        sa.Column("hint", sa.Text()),
        sa.Column("played_id", sa.Integer()),
        sa.Column("played_onset_s", sa.Double()),
        sa.Column("played_string", sa.SmallInteger()),
        sa.Column("played_fret", sa.SmallInteger()),
        sa.Column("played_midi", sa.SmallInteger()),
        sa.Column("played_velocity", sa.SmallInteger()),
        sa.Column("played_channel", sa.SmallInteger()),
        sa.Column("played_attack", sa.String(12)),
        sa.Column("played_cents", sa.Double()),
        sa.Column("corrections", sa.Text()),
        sa.PrimaryKeyConstraint("run_id", "n", name="pk_answers"),
        sa.ForeignKeyConstraint(["run_id"], ["runs.id"], name="fk_answers_run_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "summaries",
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("string", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("fret", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("named", sa.Boolean(), nullable=False),
        sa.Column("right_answers", sa.Integer(), nullable=False),
        sa.Column("elsewhere_answers", sa.Integer(), nullable=False),
        sa.Column("octave_answers", sa.Integer(), nullable=False),
        sa.Column("fret_off_answers", sa.Integer(), nullable=False),
        sa.Column("string_off_answers", sa.Integer(), nullable=False),
        sa.Column("wrong_answers", sa.Integer(), nullable=False),
        sa.Column("missed_answers", sa.Integer(), nullable=False),
        sa.Column("right_response_bins", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("player_id", "day", "string", "fret", "named", name="pk_summaries"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_summaries_player_id", ondelete="CASCADE"
        ),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "string_checks",
        sa.Column("guitar", sa.String(255), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("checked_utc", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("guitar", "day", name="pk_string_checks"),
    )
