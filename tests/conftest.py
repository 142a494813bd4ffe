"""Necks, guitars and a browser that many tests use, and how hypothesis draws."""

import shutil
from collections.abc import Iterator
from typing import Any

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
