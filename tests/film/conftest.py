"""What film tests share: twelve bars of the demo song as a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from tests.conftest import short_song

if TYPE_CHECKING:
    from fourlimb.model import Sheet


@pytest.fixture(scope="session")
def av() -> Any:
    return pytest.importorskip("av", reason="films need PyAV: pip install fourlimb[video]")


@pytest.fixture(scope="session")
def sheet() -> Sheet:
    """Bars up to 12 of the demo song, full chart."""
    from fourlimb import lesson

    return lesson.sheets(lesson.build(short_song()))["full"]
