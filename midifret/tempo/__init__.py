"""Tempo: the one a player owns, a ladder of tempos, beats and how notes lie on them, MIDI clock."""
