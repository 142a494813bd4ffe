"""The home folder: where its files lie, and that it is private."""

import os
import stat
import sys
from pathlib import Path

import pytest

from midifret.files import Home, shipped_folder
from midifret.terms import Unavailable


def test_files_lie_under_the_root(tmp_path):
    home = Home.of(str(tmp_path))
    assert {home.settings.parent, home.tunings.parent, home.book.parent} == {tmp_path}
    assert {home.guitars.name, home.drills.name, home.takes.name} == {"guitars", "drills", "takes"}


def test_without_a_folder_the_platform_decides(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Home.of(None).root.name == "midifret"


def test_nothing_is_made_until_something_is_written(tmp_path):
    home = Home.of(tmp_path / "new")
    assert not home.root.exists()
    assert home.writable(home.takes) == home.takes
    assert home.takes.is_dir()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_new_folders_are_the_owners_only(tmp_path):
    home = Home.of(tmp_path / "new")
    home.writable(home.takes)
    assert stat.S_IMODE(home.root.stat().st_mode) == 0o700
    assert stat.S_IMODE(home.takes.stat().st_mode) == 0o700


def test_a_file_in_the_way_is_told(tmp_path):
    (tmp_path / "home").write_text("x")
    with pytest.raises(Unavailable, match="--home"):
        Home.of(tmp_path / "home" / "deeper").writable()
    with pytest.raises(Unavailable, match="--home"):
        Home.of(tmp_path / "home").writable()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_an_unwritable_folder_is_told(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(Unavailable, match="--home"):
            Home.of(tmp_path).writable()
    finally:
        tmp_path.chmod(0o700)


def test_shipped_folders_are_found_beside_the_package_or_in_it():
    assert (shipped_folder("config") / "tunings.yaml").is_file()
    assert shipped_folder("drills").is_dir()
    assert isinstance(shipped_folder("drills"), Path)
