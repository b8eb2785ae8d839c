"""The documents are held to the code."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BLOCK = re.compile(r"^```python\n(.*?)^```", re.M | re.S)


def test_the_examples_run_as_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    blocks = BLOCK.findall((ROOT / "docs/library.md").read_text("utf-8"))
    assert len(blocks) == 8
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, "docs/library.md", "exec"), names)
    assert (tmp_path / "bones.pdf").read_bytes().startswith(b"%PDF")
    assert len(names["score"].strokes) == len(names["sheet"].chart.strokes)
    said = capsys.readouterr().out
    assert "notes.wav is text" in said
    assert "3/8 kick right foot teacher" in said


def test_every_picture_and_page_that_a_document_links_to_is_there() -> None:
    documents = [*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]
    assert len(documents) >= 6
    for document in documents:
        for link in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", document.read_text("utf-8")):
            if "://" not in link:
                assert (document.parent / link).exists(), f"{document.name} links to {link}"


def test_every_command_is_in_the_guide() -> None:
    from fourlimb.cli import main

    guide = (ROOT / "docs/guide.md").read_text("utf-8")
    for name in main.commands:
        assert f"fourlimb {name}" in guide, f"the guide does not speak of fourlimb {name}"
