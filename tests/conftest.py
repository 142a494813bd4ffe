"""Necks and guitars that many tests use, and how hypothesis draws."""

import pytest
from hypothesis import settings

from midifret.neck import Neck, Tuning

# Whether the tests pass depends on the code alone. To look for what the usual draws have not found, say
# `--hypothesis-profile=explore`, with `--hypothesis-seed=N` for draws that can be repeated.
settings.register_profile("repeatable", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile("repeatable")

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))


@pytest.fixture
def neck() -> Neck:
    return Neck(STANDARD)


@pytest.fixture
def channels() -> tuple[int | None, ...]:
    """String n on channel n, as people count."""
    return (1, 2, 3, 4, 5, 6) + (None,) * 10
