"""midifret: practise the guitar neck with a MIDI guitar, every note judged by string and fret."""

__version__ = "0.1.0"
