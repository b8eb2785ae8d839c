"""The command line: words, exit codes, and a start that imports nothing heavy."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from fourlimb.cli import main

HEAVY = ("numpy", "scipy", "soundfile", "verovio", "typst", "av", "mido", "msgspec", "fourlimb.listen")


def test_help_imports_nothing_heavy() -> None:
    code = "import sys; from fourlimb.cli import main; main(['--help'], standalone_mode=False); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "fourlimb.cli" in loaded
    assert not loaded & set(HEAVY)


def test_the_package_runs_as_a_module() -> None:
    done = subprocess.run([sys.executable, "-m", "fourlimb", "--version"], capture_output=True, text=True, check=True)
    assert "fourlimb" in done.stdout


def test_usage_errors_exit_with_two() -> None:
    assert CliRunner().invoke(main, ["lesson"]).exit_code == 2
    assert CliRunner().invoke(main, ["nonsense"]).exit_code == 2
    assert CliRunner().invoke(main, ["correct", "x.lesson"]).exit_code == 2


def test_a_missing_lesson_exits_with_one_line() -> None:
    result = CliRunner().invoke(main, ["show", "nowhere.lesson"])
    assert result.exit_code == 1
    assert len(result.stderr.strip().splitlines()) == 1
    assert "fourlimb lesson SONG" in result.stderr


def test_stopping_says_that_nothing_is_half_written(monkeypatch: pytest.MonkeyPatch) -> None:
    from fourlimb import lesson

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(lesson, "make_demo", stopped)
    result = CliRunner().invoke(main, ["demo"])
    assert result.exit_code == 130
    assert "nothing was half-written" in result.stderr


def test_a_file_whose_name_begins_with_a_dash_is_told_how_to_be_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("-1 take.wav").write_bytes(b"")
    result = CliRunner().invoke(main, ["lesson", "-1 take.wav"])
    assert result.exit_code == 2
    assert "write ./-1 take.wav" in result.stderr
    assert "write ./" not in CliRunner().invoke(main, ["lesson", "-2 take.wav"]).stderr
    assert CliRunner().invoke(main, ["lesson", "./-1 take.wav"]).exit_code == 1
