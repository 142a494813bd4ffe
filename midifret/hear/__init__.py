"""Hearing: from MIDI bytes to notes with string, fret and pitch. Pure, one state per string."""

from midifret.hear.decoder import Decoder
from midifret.hear.recording import Decoded, DecodedNote, decode
from midifret.hear.splitter import ByteSplitter

__all__ = ["ByteSplitter", "Decoded", "DecodedNote", "Decoder", "decode"]
