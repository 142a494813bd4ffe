"""A report of some weeks as files, and a browser to open them in."""

import datetime as dt
from pathlib import Path

import pytest

from midifret.cli.main import run
from tests.report_page.weeks import weeks


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with the book of some weeks."""
    folder = tmp_path_factory.mktemp("home")
    weeks(folder, dt.datetime.now(dt.UTC))
    return folder


@pytest.fixture(scope="session")
def page(home: Path) -> Path:
    """The report since two weeks ago, as a page."""
    file = home / "report.html"
    since = (dt.datetime.now(dt.UTC) - dt.timedelta(days=14)).date().isoformat()
    assert run(["--home", str(home), "report", "--html", str(file), "--since", since]) == 0
    return file
