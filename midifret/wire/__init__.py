"""The wire: MIDI ports, recordings, the journal of a running take, and the virtual guitar."""
