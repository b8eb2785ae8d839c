"""One browser and one real page for all tests of this room."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import Browser, chromium
from page_songs import ferry

from fourlimb.model import LEVELS
from fourlimb.page import build


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small song's page, engraved and with its drums."""
    path = tmp_path_factory.mktemp("page") / "index.html"
    path.write_text(build({level: ferry(level) for level in LEVELS}), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def one_browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture
def window(one_browser: Browser, page_file: Path) -> Browser:
    """The page, freshly opened at a desk's width, nothing remembered."""
    one_browser.prefer()
    one_browser.open(page_file)
    one_browser.run("localStorage.clear()")
    one_browser.open(page_file)
    return one_browser
