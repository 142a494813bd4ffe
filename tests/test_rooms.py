"""The map is kept: which room may import which, and that the core touches nothing outside."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "midifret"

# Room: rooms it may import from. cli is the composition root and may import all.
MAY_IMPORT = {
    "terms": set(),
    "neck": {"terms"},
    "files": {"terms"},
    "gear": {"terms", "neck", "files", "timing", "fingering", "melody", "practice"},
    "hear": {"terms", "neck"},
    "fingering": {"terms", "neck"},
    "melody": {"terms", "neck"},
    "clock": {"terms"},
    "players": {"terms", "neck", "tempo"},
    "drills": {"terms", "neck", "files", "tempo"},
    "play": {"terms", "neck", "tempo"},
    "reading": {"terms", "neck", "play", "fingering"},
    "estimates": set(),
    "practice": {"terms", "neck"},
    "timing": {"terms", "estimates"},
    "session": {"terms", "neck", "gear", "hear", "clock", "play", "reading", "timing", "tempo"},
    "wire": {"terms", "neck", "clock", "gear", "hear", "players", "files", "tempo"},
    "book": {"terms"},
    "scores": {"terms", "neck", "files"},
    "pages": {"terms", "neck"},
    "tempo": {"terms", "estimates"},
    "report_page": {"terms", "timing", "show", "estimates", "pages"},
    "stand": {"terms", "neck", "session", "show", "tempo"},
    "serve": {"terms", "clock", "session", "tempo", "wire", "stand"},
    "show": {"terms", "neck", "gear", "hear", "play", "reading", "session", "timing", "tempo", "practice"},
}
# Rooms that take values and time as arguments.
PURE = (
    "terms",
    "neck",
    "hear",
    "fingering",
    "melody",
    "players",
    "play",
    "reading",
    "estimates",
    "timing",
    "session",
    "tempo",
    "practice",
    "stand",
)
OUTSIDE = {
    "time",
    "os",
    "sys",
    "io",
    "pathlib",
    "socket",
    "subprocess",
    "threading",
    "datetime.datetime.now",
    "rtmidi",
    "rtmidi2",
    "sounddevice",
    "mido",
    "rich",
    "sqlalchemy",
    "click",
    "ruamel",
    "platformdirs",
    "tzlocal",
    "filelock",
}


def imports_of(path: Path) -> set[str]:
    """Every module that a file imports, wherever in the file."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def rooms_imported(path: Path) -> set[str]:
    return {name.split(".")[1] for name in imports_of(path) if name.startswith("midifret.")}


def files_of(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


def test_every_room_is_on_the_map() -> None:
    rooms = {path.name for path in ROOT.iterdir() if path.is_dir() and any(path.glob("*.py"))}
    assert rooms == {*MAY_IMPORT, "cli"}


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_a_room_imports_only_what_the_map_allows(room: str) -> None:
    assert files_of(room)
    for path in files_of(room):
        extra = rooms_imported(path) - MAY_IMPORT[room] - {room, "__version__"}
        assert not extra, f"{path.relative_to(ROOT)} imports {extra}"


@pytest.mark.parametrize("room", PURE)
def test_a_pure_room_touches_nothing_outside(room: str) -> None:
    for path in files_of(room):
        outside = {name for name in imports_of(path) if name.split(".")[0] in OUTSIDE}
        assert not outside, f"{path.relative_to(ROOT)} imports {outside}"


def test_only_the_composition_root_builds_the_real_clock() -> None:
    for path in ROOT.rglob("*.py"):
        room = path.relative_to(ROOT).parts[0]
        if room in ("cli", "clock"):
            continue
        assert "midifret.clock.RealClock" not in imports_of(path), path
        names = {
            n.attr
            for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(n, ast.Attribute)
        }
        assert not names & {"perf_counter", "utcnow"}, path


def test_exactly_one_module_imports_the_midi_driver() -> None:
    using = {
        str(path.relative_to(ROOT))
        for path in ROOT.rglob("*.py")
        if imports_of(path) & {"rtmidi", "rtmidi2"}
        or any(
            word in path.read_text(encoding="utf-8")
            for word in ('import_module("rtmidi', "import_module('rtmidi")
        )
    }
    assert using == {"wire/driver.py"}


def test_exactly_one_module_imports_the_sound_library() -> None:
    using = {
        str(path.relative_to(ROOT))
        for path in ROOT.rglob("*.py")
        if "sounddevice" in imports_of(path)
        or 'import_module("sounddevice' in path.read_text(encoding="utf-8")
    }
    assert using == {"wire/sound_device.py"}


def test_engraving_and_printing_are_each_known_to_one_module() -> None:
    for library, module in (("verovio", "pages/engraver.py"), ("typst", "pages/printer.py")):
        using = {
            str(path.relative_to(ROOT))
            for path in ROOT.rglob("*.py")
            if library in imports_of(path) or f'import_module("{library}' in path.read_text(encoding="utf-8")
        }
        assert using == {module}, library


def test_every_file_says_its_purpose_in_one_line() -> None:
    for path in [*ROOT.rglob("*.py"), *(ROOT.parent / "tests").rglob("*.py")]:
        if "versions" in path.parts:
            continue
        docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        assert docstring, path


def test_only_the_process_that_reads_scores_imports_the_score_library() -> None:
    using = {str(p.relative_to(ROOT)) for p in ROOT.rglob("*.py") if "music21" in imports_of(p)}
    assert using == {"scores/by_music21.py"}
    # Nobody imports that module but the child, which is only ever started as a process.
    for name, allowed in (("by_music21", {"scores/child.py"}), ("child", set())):
        importing = {
            str(p.relative_to(ROOT))
            for p in ROOT.rglob("*.py")
            if imports_of(p) & {f"midifret.scores.{name}"}
        }
        assert importing == allowed, name
