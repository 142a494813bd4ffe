"""The tables of the practice book at its current version."""

import datetime as dt

import sqlalchemy as sa
from sqlalchemy.dialects import mysql

from midifret.terms import Verdict

NAME_LENGTH = 64  # of a player, in characters
TEXT_LENGTH = 255  # of names of drills, guitars, takes, zones

# One column each, so that a database can add them up.
VERDICT_COLUMNS = {verdict: f"{verdict.name.lower()}_answers" for verdict in Verdict}

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class UtcTime(sa.types.TypeDecorator[dt.datetime]):
    """An aware time in UTC, kept without its zone in databases that know none."""

    impl = sa.DateTime
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: sa.Dialect) -> dt.datetime | None:
        """Refuse a time that does not say which zone it is in."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time in UTC must say so")
        return value.astimezone(dt.UTC).replace(tzinfo=None)

    def process_result_value(self, value: dt.datetime | None, dialect: sa.Dialect) -> dt.datetime | None:
        """Say again that it is UTC."""
        return None if value is None else value.replace(tzinfo=dt.UTC)


LONG_TEXT = sa.Text().with_variant(mysql.LONGTEXT(), "mysql", "mariadb")  # their TEXT ends at 64 KB

# The table in which Alembic keeps the version of a database.
version_table = sa.Table(
    "alembic_version", sa.MetaData(), sa.Column("version_num", sa.String(32), primary_key=True)
)

players = sa.Table(
    "players",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.String(NAME_LENGTH), nullable=False, unique=True),
    sa.Column("simulated", sa.Boolean, nullable=False),
    sa.Column("created_utc", UtcTime, nullable=False),
)

# ended_early is empty while a run lasts. From played_s to answers_by_pitch they follow the run's answers, and
# so does all from cued_answers on; played_s is theirs until the end of the run tells it. answers_by_pitch: on
# guitars that tell no strings, their places assumed. notes: heard in the run; empty until its end, and in
# books of version 1. port, tempo_bpm: empty where not known, and in free tempo. cued_answers: those to a
# cue. median_recall_s: of the recall_answers right ones among them whose time is known; recall_caveats is
# what these times do not take into account, taken together. window_ms, tempo_moved: as in RunStart and
# RunEnd; empty in books before version 5. remembered: its answers are in the kept memory of its player.
runs = sa.Table(
    "runs",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), nullable=False),
    sa.Column("drill", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("title", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("seed", sa.BigInteger, nullable=False),
    sa.Column("guitar", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("started_utc", UtcTime, nullable=False),
    sa.Column("zone", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("day", sa.Date, nullable=False),
    sa.Column("take_file", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("midifret_version", sa.String(32), nullable=False),
    sa.Column("ended_utc", UtcTime),
    sa.Column("ended_early", sa.Boolean),
    sa.Column("gate_met", sa.Boolean),
    sa.Column("played_s", sa.Double, nullable=False),
    sa.Column("answers", sa.Integer, nullable=False),
    sa.Column("right_answers", sa.Integer, nullable=False),
    sa.Column("median_response_s", sa.Double),
    sa.Column("answers_by_pitch", sa.Integer, nullable=False, server_default="0"),
    sa.Column("notes", sa.Integer),
    sa.Column("port", sa.String(TEXT_LENGTH), nullable=False, server_default=""),
    sa.Column("tempo_bpm", sa.Double),
    sa.Column("names_cued", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("cued_answers", sa.Integer, nullable=False, server_default="0"),
    sa.Column("median_recall_s", sa.Double),
    sa.Column("recall_answers", sa.Integer, nullable=False, server_default="0"),
    sa.Column("recall_caveats", sa.Text),
    sa.Column("window_ms", sa.Double),
    sa.Column("tempo_moved", sa.Double),
    sa.Column("remembered", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Index(None, "player_id", "day"),
    sa.Index(None, "player_id", "drill", "id"),
    sqlite_autoincrement=True,  # a deleted run's number is not given again
)

# counted_string and counted_fret: the place whose summary counts the answer, 0 and 0 for none. From wait_s on
# empty in books before version 3, where no time was freed of anything: response_s is then all that is known.
answers = sa.Table(
    "answers",
    metadata,
    sa.Column("run_id", sa.ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("n", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("counted_string", sa.SmallInteger, nullable=False),
    sa.Column("counted_fret", sa.SmallInteger, nullable=False),
    sa.Column("verdict", sa.String(12), nullable=False),
    sa.Column("response_s", sa.Double),
    sa.Column("recall_s", sa.Double),
    sa.Column("cue_s", sa.Double),
    sa.Column("answer_s", sa.Double),
    sa.Column("skipped", sa.Boolean, nullable=False),
    sa.Column("held_sounding", sa.Boolean),
    sa.Column("typed", sa.Text),
    sa.Column("judged", sa.String(12), nullable=False),
    sa.Column("cue", sa.String(64), nullable=False),
    sa.Column("pitch", sa.String(8), nullable=False),
    sa.Column("midi", sa.SmallInteger, nullable=False),
    sa.Column("places", sa.Text, nullable=False),
    sa.Column("midis", sa.Text, nullable=False),
    sa.Column("given", sa.String(8)),
    sa.Column("may_play", sa.Text),
    sa.Column("held", sa.String(8)),
    sa.Column("each_once", sa.Integer),
    sa.Column("interval_semitones", sa.SmallInteger),
    sa.Column("hint", sa.Text),
    sa.Column("played_id", sa.Integer),
    sa.Column("played_onset_s", sa.Double),
    sa.Column("played_string", sa.SmallInteger),
    sa.Column("played_fret", sa.SmallInteger),
    sa.Column("played_midi", sa.SmallInteger),
    sa.Column("played_velocity", sa.SmallInteger),
    sa.Column("played_channel", sa.SmallInteger),
    sa.Column("played_attack", sa.String(12)),
    sa.Column("played_cents", sa.Double),
    sa.Column("corrections", sa.Text),
    sa.Column("played_place_assumed", sa.Boolean),
    sa.Column("wait_s", sa.Double),
    sa.Column("recall_shared_s", sa.Double),
    sa.Column("recall_own_s", sa.Double),
    sa.Column("recall_caveats", sa.Text),
    sa.Column("interval_s", sa.Double),
    sa.Column("interval_error_s", sa.Double),
    sa.Column("interval_caveats", sa.Text),
    sa.Column("due_s", sa.Double),
    sa.Column("late_ms", sa.Double),
    sqlite_with_rowid=False,
)

# Each can be computed again from the answers. named: the place was shown and its name typed, which is
# another skill than playing there, so the two are never counted together.
summaries = sa.Table(
    "summaries",
    metadata,
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("day", sa.Date, primary_key=True),
    sa.Column("string", sa.SmallInteger, primary_key=True, autoincrement=False),
    sa.Column("fret", sa.SmallInteger, primary_key=True, autoincrement=False),
    sa.Column("named", sa.Boolean, primary_key=True),
    *(sa.Column(name, sa.Integer, nullable=False) for name in VERDICT_COLUMNS.values()),
    sa.Column("right_response_bins", sa.LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

# Notes that the guitar's converter made up in a run, by their kind. None for a run that was cut off.
voided_notes = sa.Table(
    "voided_notes",
    metadata,
    sa.Column("run_id", sa.ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("glitch", sa.String(24), primary_key=True),
    sa.Column("notes", sa.Integer, nullable=False),
    sqlite_with_rowid=False,
)

string_checks = sa.Table(
    "string_checks",
    metadata,
    sa.Column("guitar", sa.String(TEXT_LENGTH), primary_key=True),
    sa.Column("day", sa.Date, primary_key=True),
    sa.Column("checked_utc", UtcTime, nullable=False),
)

# One part of a calibration a row. readings: JSON, as measured; result: JSON, what was shown then, which can
# be computed again from the readings.
calibrations = sa.Table(
    "calibrations",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), nullable=False),
    sa.Column("part", sa.String(12), nullable=False),
    sa.Column("guitar", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("port", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("click", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("measured_utc", UtcTime, nullable=False),
    sa.Column("take_file", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("readings", sa.Text, nullable=False),
    sa.Column("result", sa.Text, nullable=False),
    sa.Column("view", sa.String(12), nullable=False, server_default="terminal"),
    sa.Index(None, "player_id", "measured_utc"),
)

# The newest of each player, drill and day. doubt: empty where there is none.
owned_tempos = sa.Table(
    "owned_tempos",
    metadata,
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("drill", sa.String(TEXT_LENGTH), primary_key=True),
    sa.Column("day", sa.Date, primary_key=True),
    sa.Column("guitar", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("tempo_bpm", sa.Double, nullable=False),
    sa.Column("low_bpm", sa.Double, nullable=False),
    sa.Column("high_bpm", sa.Double, nullable=False),
    sa.Column("notes", sa.Integer, nullable=False),
    sa.Column("passes", sa.Integer, nullable=False),
    sa.Column("doubt", sa.String(24), nullable=False),
    sa.Column("names_cued", sa.Boolean, nullable=False),
    sqlite_with_rowid=False,
)

# Music as it was given to be read, melodies and scores. fingerprint: of the tune, in whatever key. seed: of a
# melody; position and level are empty where there was none.
given_music = sa.Table(
    "given_music",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), nullable=False),
    sa.Column("kind", sa.String(12), nullable=False),
    sa.Column("fingerprint", sa.String(32), nullable=False),
    sa.Column("title", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("position", sa.SmallInteger),
    sa.Column("level", sa.SmallInteger),
    sa.Column("seed", sa.BigInteger),
    sa.Column("given_utc", UtcTime, nullable=False),
    sa.Index(None, "player_id", "fingerprint"),
)

# What is kept of how well each place is known; it can be computed again from the answers of the runs that
# are `remembered`. document: JSON. change: grows with everything that is kept, so that of two programs one
# does not write over what the other kept.
memories = sa.Table(
    "memories",
    metadata,
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("rules_number", sa.Integer, nullable=False),
    sa.Column("newest_s", sa.Double),
    sa.Column("change", sa.Integer, nullable=False),
    sa.Column("document", LONG_TEXT, nullable=False),
)

# The first answer of each place and kind of cue on each practice day, of the same runs. at_s: since 1970.
first_answers = sa.Table(
    "first_answers",
    metadata,
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("kind", sa.String(12), primary_key=True),
    sa.Column("day", sa.Date, primary_key=True),
    sa.Column("string", sa.SmallInteger, primary_key=True, autoincrement=False),
    sa.Column("fret", sa.SmallInteger, primary_key=True, autoincrement=False),
    sa.Column("at_s", sa.Double, nullable=False),
    sa.Column("right_first", sa.Boolean, nullable=False),
    sa.Column("recall_s", sa.Double),
    sqlite_with_rowid=False,
)

# Where a player was set on the path, by a placement run or of their own will; the newest of a strand holds.
# stage: empty where the gates decide again.
stages_set = sa.Table(
    "stages_set",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), nullable=False),
    sa.Column("strand", sa.String(12), nullable=False),
    sa.Column("stage", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("set_by", sa.String(12), nullable=False),
    sa.Column("set_utc", UtcTime, nullable=False),
    sa.Column("day", sa.Date, nullable=False),
    sa.Index(None, "player_id"),
)

# Practice sessions. plan: JSON. done_minutes: JSON, minutes played of each block. block: the one at hand.
practice_sessions = sa.Table(
    "practice_sessions",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("player_id", sa.ForeignKey("players.id", ondelete="CASCADE"), nullable=False),
    sa.Column("day", sa.Date, nullable=False),
    sa.Column("started_utc", UtcTime, nullable=False),
    sa.Column("ended_utc", UtcTime),
    sa.Column("plan", LONG_TEXT, nullable=False),
    sa.Column("done_minutes", sa.Text, nullable=False),
    sa.Column("block", sa.SmallInteger, nullable=False),
    sa.Index(None, "player_id", "day"),
)
