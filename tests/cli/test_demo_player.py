"""The virtual player's name is its own: a person who had it would stop the demo."""

from pathlib import Path

import pytest

from midifret.cli.main import run


@pytest.mark.parametrize("name", ["demo", " demo "])
def test_no_person_takes_the_name_of_the_virtual_player(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    home = str(tmp_path)
    assert run(["--home", home, "players", "--add", name]) == 2
    assert "virtual player" in capsys.readouterr().err
    assert run(["--home", home, "demo", "--fast"]) == 0
