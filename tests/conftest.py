"""What many tests share: the demo's lesson (made once), and songs that are wrong on purpose."""

import os
from pathlib import Path

import pytest

SHARED = Path(__file__).parents[2] / "shared"
"""Recordings and papers that are not part of the project; tests that need them skip without them."""


@pytest.fixture(scope="session")
def shared() -> Path:
    if not (SHARED / "data").is_dir():
        pytest.skip("needs ../shared/data (real recordings, not part of the project)")
    return SHARED


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's lesson, made once for all workers. Read it; copy it before changing it."""
    from fourlimb import lesson

    base = tmp_path_factory.getbasetemp()
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    shared_base = base.parent if worker else base
    folder = shared_base / f"demo-{worker or 'one'}" / "night-ferry.lesson"
    folder.parent.mkdir(exist_ok=True)
    return lesson.make_demo(folder)


CORE = ("tests/model", "tests/lesson/test_end_to_end", "tests/lesson/test_folder", "tests/lesson/test_replay")
"""Tests that also run on the oldest supported versions of the libraries (python3 start.py floors)."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        name = item.path.relative_to(config.rootpath).as_posix()
        if name.startswith(CORE):
            item.add_marker(pytest.mark.core)
