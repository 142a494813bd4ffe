"""Tests of time."""
