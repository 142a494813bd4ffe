"""The page in headless Chromium."""

import shutil
from collections.abc import Iterator
from typing import Any

import pytest

from tests.stand_page.scripted import Stand


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A browser; skipped, in words, where there is none."""
    sync_api = pytest.importorskip(
        "playwright.sync_api", reason="playwright is missing: pip install '.[test]'"
    )
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        pytest.skip("chromium is missing: apt-get install chromium")
    with sync_api.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=path,
            args=[
                "--no-sandbox",
                "--autoplay-policy=no-user-gesture-required",
            ],  # sound: nobody is there to allow it
        )
        yield browser
        browser.close()


@pytest.fixture
def stand(chromium: Any) -> Iterator[Stand]:
    """A stand with no page yet."""
    made = Stand(chromium)
    yield made
    made.close()
