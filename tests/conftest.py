"""Necks and guitars that many tests use."""

import pytest

from midifret.neck import Neck, Tuning

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))


@pytest.fixture
def neck() -> Neck:
    return Neck(STANDARD)


@pytest.fixture
def channels() -> tuple[int | None, ...]:
    """String n on channel n, as people count."""
    return (1, 2, 3, 4, 5, 6) + (None,) * 10
