#!/usr/bin/env python3
"""Sets fourlimb up in a folder of its own here (.venv) and runs it: the README's two commands.

    python3 start.py demo      makes the demo lesson in night-ferry.lesson
    python3 start.py tests     runs every check and all tests
    python3 start.py floors    runs the core tests on the oldest supported versions of the libraries

Needs Python 3.11 or newer with pip; nothing else. Debian's Python comes without the part of `venv` that installs pip:
then this machine's own pip fills the new environment.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
CORE = (
    "tests/model",
    "tests/lesson/test_folder.py",
    "tests/lesson/test_replay.py",
    "tests/lesson/test_end_to_end.py",
)
"""Tests that need only the package, pytest, hypothesis and jsonschema."""

BIN = "Scripts" if os.name == "nt" else "bin"


def run(*command: str | Path, **more: str) -> None:
    """Run a command here; leave with its exit code when it fails."""
    print("+", *[str(part).removeprefix(f"{HERE}{os.sep}") for part in command], flush=True)
    done = subprocess.run([str(part) for part in command], cwd=HERE, env=os.environ | more, check=False)
    if done.returncode:
        sys.exit(done.returncode)


def environment(name: str, *wanted: str) -> Path:
    """An environment with fourlimb in it; returns its folder of programs."""
    folder = HERE / name
    python = folder / BIN / ("python.exe" if os.name == "nt" else "python")
    if not python.exists():
        run(sys.executable, "-m", "venv", "--without-pip", folder)
    pip = [sys.executable, "-m", "pip", "--python", python, "--disable-pip-version-check"]
    run(*pip, "install", "--quiet", *wanted)
    return python.parent


def demo(_: list[str]) -> None:
    """Set up and make the demo lesson."""
    programs = environment(".venv", "-e", ".[video]")
    run(programs / "fourlimb", "demo", "--again")


def tests(options: list[str]) -> None:
    """Set up and run every check and all tests."""
    extras = "video,test,training" if "--training" in options else "video,test"
    programs = environment(".venv", "-e", f".[{extras}]")
    run(programs / "ruff", "format", "--check", ".")
    run(programs / "ruff", "check", ".")
    run(programs / "mypy")
    run(programs / "lint-imports")
    run(programs / "python", "-m", "pytest", "-n", "2", "--dist", "worksteal")


def floors(_: list[str]) -> None:
    """Run the core tests on the oldest versions that pyproject.toml allows."""
    import tomllib

    project = tomllib.loads((HERE / "pyproject.toml").read_text("utf-8"))["project"]
    floor = [re.sub(r"\s*>=\s*", "==", need) for need in project["dependencies"]]
    tools = ["pytest>=8.3", "pytest-timeout>=2.3", "hypothesis>=6.100", "jsonschema>=4.23"]
    programs = environment(".venv-floors", *floor, *tools, "-e", ".")
    run(programs / "python", "-m", "pytest", *CORE)


def main() -> None:
    """Do what the first word says."""
    jobs = {"demo": demo, "tests": tests, "floors": floors}
    if len(sys.argv) < 2 or sys.argv[1] not in jobs:
        sys.exit(f"usage: python3 start.py {' | '.join(jobs)}")
    if sys.version_info < (3, 11):
        sys.exit(
            f"fourlimb needs Python 3.11 or newer; this is {sys.version.split()[0]}: run it with a newer python3"
        )
    jobs[sys.argv[1]](sys.argv[2:])


if __name__ == "__main__":
    main()
