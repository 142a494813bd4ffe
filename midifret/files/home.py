"""The home folder: a person's settings, guitars, tunings, drills, takes and practice book."""

import os
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from midifret.terms import Unavailable

_OWNER_ONLY = 0o700


@dataclass(frozen=True, slots=True)
class Home:
    """Where one person's files lie; nothing is created until something is written.

    root: the folder that holds all of them.
    """

    root: Path

    @classmethod
    def of(cls, folder: str | Path | None = None) -> "Home":
        """Return the home in a folder, or the platform's usual one for this person."""
        if folder is None:
            return cls(platformdirs.user_data_path("midifret", appauthor=False))
        return cls(Path(folder).expanduser())

    @property
    def settings(self) -> Path:
        """The settings file."""
        return self.root / "settings.yaml"

    @property
    def thresholds(self) -> Path:
        """The file of the person's own thresholds for measured times."""
        return self.root / "thresholds.yaml"

    @property
    def tunings(self) -> Path:
        """The file of the person's own tunings."""
        return self.root / "tunings.yaml"

    @property
    def guitars(self) -> Path:
        """The folder of the person's own guitars, one file each."""
        return self.root / "guitars"

    @property
    def drills(self) -> Path:
        """The folder of the person's own drills, one file each, in folders as they like."""
        return self.root / "drills"

    @property
    def scores(self) -> Path:
        """The folder of the person's own scores, in folders as they like."""
        return self.root / "scores"

    @property
    def assignments(self) -> Path:
        """The folder into which a student drops what a teacher sets, one file each."""
        return self.root / "assignments"

    @property
    def takes(self) -> Path:
        """The folder of takes and journals."""
        return self.root / "takes"

    @property
    def book(self) -> Path:
        """The practice book."""
        return self.root / "book.sqlite"

    def score_names(self) -> frozenset[str]:
        """The names of all files in the folder of scores, as assignments write them: `waltzes/first.abc`."""
        if not self.scores.is_dir():
            return frozenset()
        return frozenset(
            path.relative_to(self.scores).as_posix()
            for path in self.scores.rglob("*")
            if path.is_file() and path.name[0] != "."
        )

    def writable(self, folder: Path | None = None) -> Path:
        """Return a folder of this home (by default its root) ready to write in, made where missing.

        New folders can be entered by their owner only. Raises Unavailable where that cannot be done.
        """
        target = self.root if folder is None else folder
        try:
            for missing in reversed([path for path in (target, *target.parents) if not path.exists()]):
                missing.mkdir(mode=_OWNER_ONLY, exist_ok=True)
        except OSError as error:
            raise Unavailable(
                f"the folder {target} cannot be made ({error.strerror})",
                allowed="name a folder that you may write in: midifret --home DIR ...",
            ) from None
        if not target.is_dir() or not os.access(target, os.W_OK | os.X_OK):
            raise Unavailable(
                f"nothing can be written in {target}",
                allowed="give yourself the right to, or name another folder: midifret --home DIR ...",
            )
        return target
