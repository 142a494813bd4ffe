"""What the player chose of single files in the folder of scores: octave, part, voices, tune; kept by file."""

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from midifret.files import Home
from midifret.scores import Choices, Octave
from midifret.terms import BadInput, Unavailable

VERSION = 1
_MOST_BYTES = 4 * 1024 * 1024
_OWNER_ONLY = 0o600


@dataclass(frozen=True, slots=True)
class FileChoice:
    """How one file is to be read, as for `midifret.scores.Choices`. All empty for nothing chosen."""

    octave: Octave | None = None
    part: str | None = None
    voices: tuple[int, ...] = ()
    tune: int | None = None

    def over(self, before: "FileChoice") -> "FileChoice":
        """This choice, with what was chosen before where it says nothing; another part has other voices."""
        voices = self.voices or (before.voices if self.part is None else ())
        return FileChoice(
            self.octave or before.octave, self.part or before.part, voices, self.tune or before.tune
        )

    @property
    def choices(self) -> Choices:
        """The same for the room of scores."""
        return Choices(part=self.part, voices=self.voices, octave=self.octave, tune=self.tune)

    @property
    def document(self) -> dict[str, Any]:
        """The same for JSON, only what was chosen."""
        octave = self.octave.value if self.octave else None
        whole = {"octave": octave, "part": self.part, "voices": list(self.voices), "tune": self.tune}
        return {key: value for key, value in whole.items() if value}


NOTHING_CHOSEN = FileChoice()


@dataclass(frozen=True, slots=True)
class KeptChoices:
    """What was chosen, by the file's name from the folder on and by what is in it, for files renamed."""

    by_name: Mapping[str, FileChoice]
    by_hash: Mapping[str, FileChoice]

    def of(self, name: str, digest: str) -> FileChoice:
        """What was chosen of a file."""
        return self.by_name.get(name) or self.by_hash.get(digest) or NOTHING_CHOSEN


def choices_path(home: Home) -> Path:
    """The file in which they are kept."""
    return home.root / "scores-choices.json"


def load_file_choices(home: Home) -> KeptChoices:
    """Read what was chosen; nothing where there is no file.

    Raises BadInput for a file that cannot be read: writing it anew would lose what was chosen.
    """
    by_name: dict[str, FileChoice] = {}
    by_hash: dict[str, FileChoice] = {}
    path = choices_path(home)
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError(f"more than {_MOST_BYTES // 1024**2} MB")
        document = json.loads(path.read_bytes())
        if document["version"] != VERSION:
            raise ValueError(f"version {document['version']!r}")
        for name, entry in document["files"].items():
            octave = entry.get("octave")
            choice = FileChoice(
                None if octave is None else Octave(octave),
                None if entry.get("part") is None else str(entry["part"]),
                tuple(int(voice) for voice in entry.get("voices", ())),
                None if entry.get("tune") is None else int(entry["tune"]),
            )
            by_name[name] = by_hash[str(entry["hash"])] = choice
    except FileNotFoundError:
        return KeptChoices({}, {})
    except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
        raise BadInput(
            f"{path}, which keeps octave, part, voices and tune of your scores, cannot be read: {error}",
            allowed=f"version {VERSION} of that file; mend it, or move it away to choose anew",
        ) from None
    return KeptChoices(by_name, by_hash)


def chosen_of(home: Home, path: Path) -> FileChoice:
    """Return what was chosen of a file, wherever it lies: it is known by what is in it.

    Raises BadInput as `load_file_choices` does; a file that cannot be read has nothing chosen.
    """
    kept = load_file_choices(home)
    if not kept.by_hash:
        return NOTHING_CHOSEN
    try:
        return kept.by_hash.get(digest_of(path), NOTHING_CHOSEN)
    except OSError:
        return NOTHING_CHOSEN  # who reads it says why


def digest_of(path: Path) -> str:
    """Return the hash of what is in a file. Raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def save_file_choices(home: Home, chosen: Mapping[str, tuple[str, FileChoice]]) -> None:
    """Keep what was chosen of each file, with the hash of what is in it. Raises Unavailable."""
    files = {name: {"hash": digest} | choice.document for name, (digest, choice) in chosen.items()}
    write_kept(home, choices_path(home), {"version": VERSION, "files": files})


def write_kept(home: Home, path: Path, document: Mapping[str, Any]) -> None:
    """Write a file of the program's own into the home folder, whole or not at all. Raises Unavailable."""
    home.writable()
    try:
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(document, file, ensure_ascii=False, indent=0)
        Path(beside).chmod(_OWNER_ONLY)
        Path(beside).replace(path)
    except OSError as error:
        raise Unavailable(f"{path} cannot be written ({error.strerror})") from None
