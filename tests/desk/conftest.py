"""A lesson to work on, and a desk on which it lies."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "page"))  # the real browser is the practice page's

from asking import Asker, served
from browser import Browser, chromium
from screen import opened

from fourlimb.desk import Desk
from fourlimb.lesson import workshop


@pytest.fixture
def folder(short_folder: Path, tmp_path: Path) -> Path:
    """Twelve bars of the demo song, to be changed."""
    return Path(shutil.copytree(short_folder, tmp_path / "night-ferry.lesson"))


@pytest.fixture
def asker(folder: Path) -> Iterator[Asker]:
    """A desk with that lesson, to be changed through it."""
    with served(Desk(folder)) as server:
        yield Asker(server)


@pytest.fixture(scope="module")
def reader(short_folder: Path) -> Iterator[Asker]:
    """A desk with a lesson that no test changes."""
    with served(Desk(short_folder)) as server:
        yield Asker(server)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Changes make only the lesson itself, for tests that look at nothing else."""
    monkeypatch.setattr(workshop, "outputs", lambda *_, **__: {})


@pytest.fixture(scope="session")
def desk_browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture
def window(desk_browser: Browser, asker: Asker) -> Browser:
    """The desk's screen at a desk's width, with a lesson to be changed."""
    return opened(desk_browser, asker)


@pytest.fixture
def looked_at(desk_browser: Browser, reader: Asker) -> Browser:
    """The same with a lesson that no test changes."""
    return opened(desk_browser, reader)
