"""Tests of the live run."""
