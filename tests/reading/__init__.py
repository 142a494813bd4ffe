"""Tests of judged reading."""
