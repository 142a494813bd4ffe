"""The page in headless Chromium."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.stand_page.scripted import Stand


@pytest.fixture
def stand(chromium: Any) -> Iterator[Stand]:
    """A stand with no page yet."""
    made = Stand(chromium)
    yield made
    made.close()
