"""A player's whole book as one JSON document, written piece by piece.

The document, version 1 (keys ending in _s are seconds, in _utc ISO 8601 times in UTC):

    {"format": "midifret-player", "version": 1,
     "player": {"name", "simulated", "created_utc"},
     "runs": [{"run", "drill", "title", "seed", "guitar", "port", "tempo_bpm", "names_cued", "window_ms",
               "tempo_moved", "started_utc", "zone", "day", "take_file", "midifret_version", "ended_utc",
               "ended_early", "gate_met", "played_s", "notes", "voided": {glitch: notes},
               "answers": [{"n", "verdict", "cue_s", "answer_s", "response_s", "recall_s", "recall_shared_s",
                            "recall_own_s", "recall_flags": [...], "interval_s", "interval_error_s",
                            "interval_flags": [...], "due_s", "late_ms", "skipped", "held_sounding",
                            "typed",
                            "asked": {"cue": [...], "judged", "name", "midi", "midis": [...],
                                      "places": [place, ...], "given": place|null, "may_play": [place, ...],
                                      "held": place|null, "each_once", "interval_semitones", "hint",
                                      "wait_s"},
                            "played": note|null, "corrections": [note, ...]}]}],
     "calibrations": [{"part", "guitar", "port", "click", "measured_utc", "take_file",
                       "readings": [{"time_s", "midi", "string", "fret", "right"}], "result": {...},
                       "view"}],
     "owned_tempos": [{"drill", "day", "guitar", "tempo_bpm", "low_bpm", "high_bpm", "notes", "passes",
                       "doubt", "names_cued"}],
     "given_music": [{"kind", "fingerprint", "title", "position", "level", "seed", "given_utc"}],
     "stages_set": [{"strand", "stage", "by", "set_utc", "day"}],
     "practice_sessions": [{"day", "started_utc", "ended_utc", "minutes", "done_minutes": [...], "block",
                            "plan": {...}}]}

A place is {"string", "fret"}; a note {"id", "onset_s", "string", "fret", "midi", "velocity", "channel" (1 to
16), "attack", "cents", "place_assumed" (true: the guitar tells no strings, and these are the likeliest)}.
notes counts the notes heard in a run, null where nobody counted, and voided those that the converter made up.
ended_early and ended_utc are null for a run that has not ended. name is the spelled pitch with its sounding
octave. Times within a run are on the run's clock. A run's midis belong to its places. port is empty where it
was not known; tempo_bpm, window_ms, tempo_moved (by which share a followed tempo went away),
due_s and late_ms (negative: early) are null in free tempo. recall_flags and
interval_flags say what a time does not take into account: raw, with latency, includes travel, stale, other
guitar, other port, other screen; or, with no time at all, cue unsure: nobody told when the cue was on the
screen. view is what cues were seen on, terminal or stand. readings are plucks as they came, negative: before
the beat; result is what was shown at the time. doubt is empty where there is none. given_music is what was
given to be read: kind is melody or score, fingerprint that of the tune; position, level and seed are null
where there was none. stages_set is where the player was set on the path, stage being empty where the gates
were to decide again; by is placement or player. Of a session, done_minutes are those played of each block of
its plan, block is the index of the one at hand, and ended_utc is null for one that has not ended. How well
places are remembered is left out: it follows from the answers. Keys may be added in a version, none are taken
away.
"""

import dataclasses
import json
from collections.abc import Iterator, Mapping
from typing import Any

import sqlalchemy as sa

from midifret.book.given import given_of
from midifret.book.practised import sessions_of, stages_of
from midifret.book.rows import answer_of, note_document
from midifret.book.tables import answers, calibrations, players, runs, voided_notes
from midifret.book.times import owned_tempos_of
from midifret.terms import Answer, Note, Place
from midifret.terms.calibration import Caveat
from midifret.terms.practised import SessionKept

FORMAT = "midifret-player"
VERSION = 1

_RUN_FIELDS = (
    "drill",
    "title",
    "seed",
    "guitar",
    "port",
    "tempo_bpm",
    "names_cued",
    "window_ms",
    "tempo_moved",
    "started_utc",
    "zone",
    "day",
    "take_file",
    "midifret_version",
    "ended_utc",
    "ended_early",
    "gate_met",
    "played_s",
    "notes",
)


def export_pieces(connection: sa.Connection, player_id: int) -> Iterator[str]:
    """Yield the document of one player in pieces, one run at a time."""
    player = connection.execute(sa.select(players).where(players.c.id == player_id)).mappings().one()
    head = {
        "format": FORMAT,
        "version": VERSION,
        "player": {
            "name": player["name"],
            "simulated": player["simulated"],
            "created_utc": player["created_utc"].isoformat(),
        },
    }
    yield json.dumps(head, ensure_ascii=False)[:-1] + ', "runs": ['
    ids = connection.scalars(
        sa.select(runs.c.id).where(runs.c.player_id == player_id).order_by(runs.c.id)
    ).all()
    for index, run_id in enumerate(ids):
        yield (",\n" if index else "\n") + json.dumps(_run_document(connection, run_id), ensure_ascii=False)
    yield '\n],\n"calibrations": ['
    query = sa.select(calibrations).where(calibrations.c.player_id == player_id).order_by(calibrations.c.id)
    for index, row in enumerate(connection.execute(query).mappings()):
        document = json.dumps(_calibration_document(row), ensure_ascii=False)
        yield (",\n" if index else "\n") + document
    tempos = [
        {**dataclasses.asdict(kept), "day": kept.day.isoformat()}
        for kept in owned_tempos_of(connection, player_id, None)
    ]
    yield f'\n],\n"owned_tempos": {json.dumps(tempos, ensure_ascii=False)}'
    music = [
        {**dataclasses.asdict(one), "given_utc": one.given_utc.isoformat()}
        for one in given_of(connection, player_id)
    ]
    yield f',\n"given_music": {json.dumps(music, ensure_ascii=False)}'
    stages = [
        {**dataclasses.asdict(one), "set_utc": one.set_utc.isoformat(), "day": one.day.isoformat()}
        for one in stages_of(connection, player_id)
    ]
    yield f',\n"stages_set": {json.dumps(stages, ensure_ascii=False)}'
    kept = [_session_document(one) for one in sessions_of(connection, player_id)]
    yield f',\n"practice_sessions": {json.dumps(kept, ensure_ascii=False)}}}\n'


def _session_document(kept: SessionKept) -> dict[str, object]:
    return {
        "day": kept.day.isoformat(),
        "started_utc": kept.started_utc.isoformat(),
        "ended_utc": None if kept.ended_utc is None else kept.ended_utc.isoformat(),
        "minutes": kept.minutes,
        "done_minutes": list(kept.done),
        "block": kept.block,
        "plan": json.loads(kept.plan),
    }


def _calibration_document(row: Mapping[Any, Any]) -> dict[str, object]:
    return {
        "part": row["part"],
        "guitar": row["guitar"],
        "port": row["port"],
        "click": row["click"],
        "measured_utc": row["measured_utc"].isoformat(),
        "take_file": row["take_file"],
        "readings": json.loads(row["readings"]),
        "result": json.loads(row["result"]),
        "view": row["view"],
    }


def _run_document(connection: sa.Connection, run_id: int) -> dict[str, object]:
    run = connection.execute(sa.select(runs).where(runs.c.id == run_id)).mappings().one()
    rows = connection.execute(sa.select(answers).where(answers.c.run_id == run_id).order_by(answers.c.n))
    values = {name: run[name] for name in _RUN_FIELDS}
    texts = {
        name: value.isoformat() if value is not None else None
        for name, value in values.items()
        if name in ("started_utc", "ended_utc", "day")
    }
    return {
        "run": run_id,
        **values,
        **texts,
        "voided": {row.glitch: row.notes for row in connection.execute(_voided_of(run_id))},
        "answers": [_answer_document(answer_of(row)) for row in rows.mappings()],
    }


def _voided_of(run_id: int) -> sa.Select[tuple[str, int]]:
    query = sa.select(voided_notes.c.glitch, voided_notes.c.notes)
    return query.where(voided_notes.c.run_id == run_id).order_by(voided_notes.c.glitch)


def _answer_document(answer: Answer) -> dict[str, object]:
    prompt, recall, interval = answer.prompt, answer.recall, answer.interval
    return {
        "n": prompt.n,
        "verdict": answer.verdict.value,
        "cue_s": answer.cue_s,
        "answer_s": answer.answer_s,
        "response_s": answer.response_s,
        "recall_s": answer.recall_s,
        "recall_shared_s": None if recall is None else recall.shared_s,
        "recall_own_s": None if recall is None else recall.own_s,
        "recall_flags": _flags(answer.recall_caveats),
        "interval_s": None if interval is None else interval.time_s,
        "interval_error_s": None if interval is None else interval.standard_error_s,
        "interval_flags": [] if interval is None else _flags(interval.caveats),
        "due_s": answer.due_s,
        "late_ms": answer.late_ms,
        "skipped": answer.skipped,
        "held_sounding": answer.held_sounding,
        "typed": answer.typed,
        "asked": {
            "cue": [kind.value for kind in prompt.cue],
            "judged": prompt.judged.value,
            "name": str(prompt.pitch),
            "midi": prompt.midi,
            "midis": list(prompt.midis),
            "places": [_place_document(place) for place in prompt.places],
            "given": _place_document(prompt.given),
            "may_play": [_place_document(place) for place in prompt.may_play],
            "held": _place_document(prompt.held),
            "each_once": prompt.each_once,
            "interval_semitones": prompt.interval_semitones,
            "hint": prompt.hint,
            "wait_s": prompt.wait_s,
        },
        "played": None if answer.played is None else _note_document(answer.played),
        "corrections": [_note_document(note) for note in answer.corrections],
    }


def _flags(caveats: frozenset[Caveat]) -> list[str]:
    return [caveat.value for caveat in Caveat if caveat in caveats]


def _place_document(place: Place | None) -> dict[str, int] | None:
    return None if place is None else {"string": place.string, "fret": place.fret}


def _note_document(note: Note) -> dict[str, object]:
    return {**note_document(note), "channel": note.channel + 1}
