"""What many tests share: the demo's lesson (made once), and songs that are wrong on purpose."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from fourlimb.model import Listening

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
settings.load_profile("house")

SHARED = Path(__file__).parents[2] / "shared"
"""Real recordings, rendered songs and human performances with truth (CC BY-NC-SA, CC BY-SA, CC BY), and papers: judges
from outside, whose licences do not let the project hand them on under its own, and in whose place nothing invented can
judge. Tests that hold the project against them skip without them, all by `shared` below. Every skip of a run is listed
with its reason at its end (`-rs`). Skipped besides: browser tests without Chromium, training without PyTorch (200 MB
that only who trains needs), on Windows what it has no signal or file mode for."""


@pytest.fixture(scope="session")
def shared() -> Path:
    if not (SHARED / "data").is_dir():
        pytest.skip("needs ../shared: recordings and papers whose licences do not let the project hand them on")
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


@pytest.fixture(scope="session")
def short_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lesson of the demo song's first twelve bars, from its truth: quick to rebuild. Copy it before changing it."""
    from fourlimb import lesson

    folder = tmp_path_factory.mktemp("short") / "night-ferry.lesson"
    return lesson.make(Path("."), folder, title="Night Ferry", hear=lambda *_, **__: short_song())


def short_song() -> Listening:
    """Bars up to 12 of the demo song as it was composed."""
    import msgspec

    from fourlimb import demo

    heard = demo.truth()
    last = 12
    grid = msgspec.structs.replace(
        heard.grid,
        beats=tuple(b for b in heard.grid.beats if b.bar <= last),
        bars=tuple(b for b in heard.grid.bars if b.bar <= last),
        feel=tuple(
            msgspec.structs.replace(f, to_bar=min(f.to_bar, last)) for f in heard.grid.feel if f.from_bar <= last
        ),
        end_s=heard.grid.end(last),
    )
    return msgspec.structs.replace(
        heard,
        grid=grid,
        hits=tuple(h for h in heard.hits if h.bar is not None and h.bar <= last),
        sections=tuple(
            msgspec.structs.replace(s, to_bar=min(s.to_bar, last)) for s in heard.sections if s.from_bar <= last
        ),
        landmarks=tuple(m for m in heard.landmarks if m.bar <= last),
    )
