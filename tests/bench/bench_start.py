"""Plain `midifret --help` against importing the CLI library it uses, each in a process of its own.

Run: python tests/bench/bench_start.py
"""

import statistics
import subprocess
import sys
import time

GOAL = 1.5
ROUNDS = 30


def seconds(*command: str) -> float:
    """How long a command takes."""
    start_s = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start_s


def main() -> None:
    code = "import sys; from midifret.cli.main import main; main(['--help'])"
    ours, theirs = [], []
    for _ in range(ROUNDS):
        ours.append(seconds(sys.executable, "-c", code))
        theirs.append(seconds(sys.executable, "-c", "import click"))
    ours_s, theirs_s = statistics.median(ours), statistics.median(theirs)
    print(f"bench_start.py: medians of {ROUNDS} starts")
    print(f"  midifret --help  {ours_s * 1000:6.1f} ms")
    print(f"  import click     {theirs_s * 1000:6.1f} ms")
    print(f"  ratio {ours_s / theirs_s:.2f}; goal under {GOAL}")


if __name__ == "__main__":
    main()
