"""A foreign score handed to a process of its own, with its time watched, and what came back."""

import json
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

from midifret.scores.faults import ScoreFault
from midifret.scores.kinds import READ, SUFFIXES
from midifret.scores.limits import MOST_BYTES, MOST_CPU_S, MOST_WALL_S
from midifret.scores.written import WrittenScore, from_json
from midifret.terms import BadInput, Problem, Unavailable


def parse(path: Path, tune: int | None = None, *, most_wall_s: float = MOST_WALL_S) -> WrittenScore:
    """Read a score file as it is written.

    tune: number of the tune in an ABC file that holds several, from 1. most_wall_s: after that the reading
    process is ended. Raises BadInput for a file that cannot be read, naming file, place and what is allowed,
    Unavailable where the library for its kind is not installed.
    """
    file = str(path)
    data = _bytes(path)
    command = [sys.executable, "-m", "midifret.scores.child", path.suffix.lower()]
    if tune is not None:
        command.append(str(tune))
    # The process finds the modules where this one does, and none in a folder that it happens to stand in.
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join(entry or str(Path.cwd()) for entry in sys.path),
        "PYTHONSAFEPATH": "1",
        "PYTHONIOENCODING": "utf-8",
        "OPENBLAS_NUM_THREADS": "1",
    }
    try:
        process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment
        )
    except OSError as error:
        raise Unavailable(f"no process can be started to read {file} ({error.strerror})") from None
    try:
        answer, _ = process.communicate(data, timeout=most_wall_s)
    except subprocess.TimeoutExpired:
        raise BadInput(
            f"{file}: reading it takes more than {most_wall_s:.0f} seconds", allowed="a shorter score"
        ) from None
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()
    return _answered(file, answer, process.returncode)


def _bytes(path: Path) -> bytes:
    file = str(path)
    if path.suffix.lower() not in SUFFIXES:
        kind = repr(path.suffix) if path.suffix else "a file without a suffix"
        raise BadInput(f"{file}: {kind} is no kind of score that is read", allowed=READ)
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "a pipe or a device"
            raise BadInput(f"{file}: this is {what}, not a file")
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise BadInput(f"{file}: there is no such file") from None
    except OSError as error:
        raise BadInput(f"{file}: cannot be read ({error.strerror})") from None
    if len(data) > MOST_BYTES:
        raise BadInput(f"{file}: the file is larger than {MOST_BYTES // 1024 // 1024} MB")
    return data


def _answered(file: str, answer: bytes, code: int) -> WrittenScore:
    try:
        document = json.loads(answer)
        if "missing" in document:
            raise Unavailable(
                f"{file}: reading it needs the library {document['missing']}, which is not installed",
                allowed="pip install 'midifret[scores]'",
            )
        if "fault" in document:
            fault = document["fault"]
            place = {"line": fault["line"], "column": fault["column"]}
            raise _fault(file, ScoreFault(fault["message"], fault["allowed"], **place))
        return from_json(json.dumps(document["score"]))
    except (ValueError, TypeError, KeyError):
        pass
    if code < 0 and -code in (getattr(signal, "SIGXCPU", None), getattr(signal, "SIGKILL", None)):
        message = f"{file}: reading it takes more than {MOST_CPU_S} seconds"
        raise BadInput(message, allowed="a shorter score")
    raise BadInput(f"{file}: the process that read it ended without an answer (code {code})")


def _fault(file: str, fault: ScoreFault) -> BadInput:
    if fault.line is None:
        return BadInput(f"{file}: {fault.message}", allowed=fault.allowed)
    problem = Problem(file, fault.line, fault.column, "", fault.message, fault.allowed)
    return BadInput(f"{file} cannot be read", problems=(problem,))
