"""Runs and verdicts: a pure state machine over an exercise, and the figures of its answers."""
