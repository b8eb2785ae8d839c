"""A killed process leaves a lesson that opens (a bench command does the same two hundred times)."""

import os
from pathlib import Path

import pytest
from bench.reliability import run


@pytest.mark.timeout(1500)  # nine whole lessons in processes of their own
@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
def test_killed_at_random_moments_the_lesson_is_whole(tmp_path: Path) -> None:
    found = run(kills=4, seed=7, work=tmp_path)
    assert sum(found.values()) == 4
    assert not [left for _, left in found if left.startswith("MIXTURE")]
