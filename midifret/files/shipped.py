"""Where the drills and settings that come with the program lie."""

from importlib import resources
from pathlib import Path


def shipped_folder(name: str) -> Path:
    """Return the folder `drills` or `config`: inside the installed package, or beside it in a checkout."""
    package = Path(str(resources.files("midifret")))
    installed = package / "data" / name
    return installed if installed.is_dir() else package.parent / name
