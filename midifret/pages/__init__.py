"""Engraved pages: a score or a drill as it is printed, with what stands beside the notes."""
