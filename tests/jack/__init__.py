"""Real MIDI ports over a JACK server of the tests."""
