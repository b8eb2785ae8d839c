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


@pytest.mark.parametrize(
    ("command", "output", "why"),
    [
        ("lesson", "file/x.lesson", "is no folder"),
        ("listen", "file/x.json", "is no folder"),
        ("listen", "nowhere/x.json", "is not there"),
    ],
)
def test_where_a_result_cannot_go_is_said_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, output: str, why: str
) -> None:
    from fourlimb import lesson

    def worked(*_: object, **__: object) -> None:
        raise AssertionError("it listened first")

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(lesson, "make", worked)
    monkeypatch.setattr(lesson, "hear_song", worked)
    Path("file").write_text("")
    result = CliRunner().invoke(main, [command, "song.wav", "-o", output])
    assert result.exit_code == 1
    assert why in result.stderr
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name == "nt", reason="needs named pipes and links")
def test_a_pipe_or_a_link_as_output_stays_what_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import threading

    from fourlimb import lesson
    from fourlimb.model import Song
    from fourlimb.model.codec import pretty

    song = Song(duration_s=1.0, sample_rate_hz=44100, sha256="ab" * 32, title="Night Ferry")
    monkeypatch.setattr(lesson, "hear_song", lambda *_, **__: song)
    pipe, link, file = tmp_path / "pipe", tmp_path / "link", tmp_path / "file.json"
    os.mkfifo(pipe)
    link.symlink_to(file)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()), daemon=True)
    reader.start()
    assert CliRunner().invoke(main, ["listen", "song.wav", "-q", "-o", str(pipe)]).exit_code == 0
    reader.join(timeout=10)
    assert read == [pretty(song)]
    assert pipe.is_fifo()
    assert CliRunner().invoke(main, ["listen", "song.wav", "-q", "-o", str(link)]).exit_code == 0
    assert link.is_symlink()
    assert file.read_bytes() == pretty(song)


def test_folders_that_are_not_there_yet_are_no_hindrance(tmp_path: Path) -> None:
    from fourlimb.model import InputError
    from fourlimb.terminal import reachable

    reachable(tmp_path / "a" / "b" / "x.lesson")
    reachable(tmp_path)
    reachable(Path("x.lesson"))
    reachable(tmp_path / "x.json", makes=False)
    with pytest.raises(InputError, match="is not there"):
        reachable(tmp_path / "a" / "x.json", makes=False)


def test_a_folder_that_may_not_be_written_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from fourlimb.model import InputError
    from fourlimb.terminal import reachable

    monkeypatch.setattr(os, "access", lambda place, mode: not (Path(place) == tmp_path and mode & os.W_OK))
    with pytest.raises(InputError, match="may not be written"):
        reachable(tmp_path / "x.lesson")
    with pytest.raises(InputError, match="may not be written"):
        reachable(tmp_path)
    (tmp_path / "sub").mkdir()
    reachable(tmp_path / "sub" / "x.lesson")
