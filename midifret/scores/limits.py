"""What reading a score may cost; measured in tests/bench/bench_scores.py."""

# All [ours]. A ten-page guitar piece has some 3,000 notes and 1.5 MB of MusicXML.
MOST_BYTES = 16 * 1024 * 1024  # of a file, and of what a compressed one unpacks to
MOST_MIDI_BYTES = 4 * 1024 * 1024  # of a MIDI file, whose every three bytes become a message of 200
MOST_NOTES = 20_000  # noteheads and rests in a file, all parts together
MOST_BARS = 5_000
MOST_PLAYED_NOTES = 50_000  # repeats unfolded
MOST_PLAYED_BARS = 20_000
MOST_DEPTH = 64  # elements of XML within one another; a note's fingering lies nine deep
MOST_ENTRIES = 200  # files in a compressed score
MOST_TIMES = 16  # that a repeated passage is played
MOST_PARTS = 100

# A file at the limits takes some 15 seconds and 400 MB.
MOST_CPU_S = 40
MOST_WALL_S = 60.0
MOST_MEMORY_BYTES = 1024 * 1024 * 1024
