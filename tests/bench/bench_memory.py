"""Resident memory of a running drill on a full screen, against bare Python.

The drill runs as a user runs it, on a pseudo-terminal with a real MIDI port (JACK's dummy driver), and is
measured while it waits for its first answer and after it has been paused and taken up again.
Run: python tests/bench/bench_memory.py   (Linux; needs jackd and python-rtmidi)
"""

import os
import pty
import select
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

GOAL_MB = 80
SERVER = "midifret-bench"


def resident_mb(pid: int, kind: str = "VmRSS") -> float:
    """Resident memory of a process, in megabytes, as the kernel counts it: all, or one kind of it."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith(f"{kind}:"):
            return int(line.split()[1]) / 1024
    raise LookupError(kind)


def bare_mb() -> float:
    """Bare Python."""
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    time.sleep(0.3)
    mb = resident_mb(child.pid)
    child.kill()
    child.wait()
    return mb


def drain(master: int, seconds: float) -> bytes:
    """Read what the program draws for so long."""
    end_s = time.monotonic() + seconds
    output = b""
    while (left_s := end_s - time.monotonic()) > 0:
        if select.select([master], [], [], left_s)[0]:
            output += os.read(master, 65536)
    return output


def main() -> None:
    server = subprocess.Popen(
        ["jackd", "-S", "--no-realtime", "-n", SERVER, "-d", "dummy", "-r", "48000", "-p", "64"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    time.sleep(1.0)
    master, slave = pty.openpty()
    with tempfile.TemporaryDirectory() as home:
        drill = subprocess.Popen(
            [sys.executable, "-m", "midifret", "--home", home, "drill", "mixed-whole-neck"]
            + ["--port", "bench", "--virtual", "--no-check", "--countdown", "0"],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={
                **os.environ,
                "TERM": "xterm-256color",
                "JACK_DEFAULT_SERVER": SERVER,
                "MIDIFRET_MIDI_SYSTEM": "JACK",
            },
        )
        output = drain(master, 5.0)
        if drill.poll() is not None:
            sys.exit(output.decode())
        waiting_mb = resident_mb(drill.pid)
        for key in (b" ", b" ", b"n", b"n"):
            os.write(master, key)
            drain(master, 0.5)
        later_mb = resident_mb(drill.pid)
        kinds = {kind: resident_mb(drill.pid, kind) for kind in ("RssAnon", "RssFile", "RssShmem")}
        os.write(master, b"\x03")
        drain(master, 1.0)
        drill.wait(10)
    server.send_signal(signal.SIGINT)
    server.wait(10)
    bare = bare_mb()
    print("bench_memory.py: resident memory of `midifret drill`")
    print(f"  bare Python       {bare:6.1f} MB")
    print(f"  first prompt      {waiting_mb:6.1f} MB")
    print(f"  some prompts on   {later_mb:6.1f} MB")
    for kind, mb in kinds.items():
        print(f"    of it {kind:<9} {mb:6.1f} MB")
    own_mb = kinds["RssAnon"] + kinds["RssFile"]
    print(f"  its own {own_mb:.1f} MB; the rest is the JACK server's shared memory, mapped by its library")
    print(f"  ratio {own_mb / bare:.1f}; goal under {GOAL_MB} MB")


if __name__ == "__main__":
    main()
