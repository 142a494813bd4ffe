"""Fingering: the engine against brute force, an independent path search, and cases worked out by hand."""
