"""What the command line says and how it stops: Ctrl-C at any moment, results that do not get there."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from fourlimb.cli import main

STUCK = """
import threading
import time
from fourlimb.cli import main

@main.command()
def stuck():
    def plays():
        time.sleep(60)
    threading.Thread(target=plays).start()
    print("ready", flush=True)
    while SWALLOWS:
        try:
            time.sleep(60)
        except KeyboardInterrupt:
            pass
    time.sleep(60)

main(["stuck"])
"""


@pytest.mark.skipif(os.name == "nt", reason="needs SIGINT to another process")
@pytest.mark.parametrize("swallows", ["True", "False"])
def test_ctrl_c_ends_work_that_swallows_it_and_threads_that_know_nothing_of_it(swallows: str) -> None:
    command = subprocess.Popen(
        [sys.executable, "-c", STUCK.replace("SWALLOWS", swallows)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert command.stdout is not None
        assert command.stdout.readline() == "ready\n"
        command.send_signal(signal.SIGINT)
        _, said = command.communicate(timeout=15)
    finally:
        command.kill()
    assert command.returncode == 130
    assert said == "fourlimb: stopped; nothing was half-written\n"


def test_after_a_command_ctrl_c_is_what_it_was() -> None:
    before = signal.getsignal(signal.SIGINT)
    assert CliRunner().invoke(main, ["show", "no such lesson"]).exit_code == 1
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("arguments", [["show"], ["show", "--json"], ["check", "--json"], ["correct", "--list"]])
def test_a_result_that_does_not_fit_is_one_line(short_folder: Path, arguments: list[str]) -> None:
    name, *more = arguments
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "fourlimb.cli", name, str(short_folder), *more],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.startswith("fourlimb: the result cannot be written (No space left")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name == "nt", reason="a shell of its own")
def test_a_closed_standard_output_is_one_line(short_folder: Path) -> None:
    command = f'"{sys.executable}" -m fourlimb.cli show "{short_folder}" --json >&-'
    done = subprocess.run(["sh", "-c", command], stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("fourlimb: there is no standard output")
    assert len(done.stderr.splitlines()) == 1


def test_who_reads_only_the_beginning_gets_no_error(short_folder: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "fourlimb.cli", "show", str(short_folder)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as command:  # fmt: skip
        assert command.stdout is not None
        assert command.stderr is not None
        command.stdout.close()
        assert command.stderr.read() == b""
