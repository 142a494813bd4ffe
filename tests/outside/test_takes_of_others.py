"""Recordings that this project did not write: what is decoded must agree with the channels.

The files are per-string MIDI excerpts of public-domain guitar scores (Mutopia Project), laid beside the
checkout: channel n is string n as people count, channel 16 is a string not known.
"""

from pathlib import Path

import mido
import pytest

from midifret.hear import Decoded, Decoder, decode
from midifret.neck import Neck
from midifret.terms import Wiring
from midifret.wire.take import read_take

FOLDER = Path(__file__).parents[3] / "shared" / "takes"
FILES = sorted(FOLDER.glob("*.mid")) if FOLDER.is_dir() else []

pytestmark = pytest.mark.skipif(not FILES, reason="no folder shared/takes beside the checkout")


def decoded(path: Path, neck: Neck, channels: tuple[int | None, ...]) -> Decoded:
    return decode(read_take(path).messages, Decoder(neck, Wiring(channels)))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_note_has_the_string_of_its_channel(
    path: Path, neck: Neck, channels: tuple[int | None, ...]
) -> None:
    notes = [item.note for item in decoded(path, neck, channels).notes]
    assert notes
    for note in notes:
        if note.channel == 15:
            assert (note.string, note.fret) == (None, None)
        else:
            assert note.string == note.channel + 1
            assert note.place is not None
            assert neck.has(note.place)
            assert neck.midi(note.place) == note.midi


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_notes_times_and_durations_agree_with_mido(
    path: Path, neck: Neck, channels: tuple[int | None, ...]
) -> None:
    """mido's own reading of the file, merged and timed by mido, is the outside source."""
    time_s = 0.0
    theirs: list[tuple[float, int, int]] = []
    for message in mido.MidiFile(path):
        time_s += message.time
        if message.type == "note_on" and message.velocity:
            theirs.append((round(time_s, 4), message.channel, message.note))
    heard = decoded(path, neck, channels)
    ours = [(round(item.note.onset_s, 4), item.note.channel, item.note.midi) for item in heard.notes]
    assert sorted(ours) == sorted(theirs)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_string_not_known_is_a_warning(path: Path, neck: Neck, channels: tuple[int | None, ...]) -> None:
    heard = decoded(path, neck, channels)
    unknown = sum(item.note.string is None for item in heard.notes)
    assert len(heard.warnings) == unknown
