"""What pages look like, against small reviewed pictures (`python tests/engrave/test_pictures.py` makes them anew)."""

import io
import sys
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageStat

sys.path.insert(0, str(Path(__file__).parent))

from builder import night_ferry
from test_page import features

from fourlimb.engrave import Layout
from fourlimb.engrave.documents import chart_parts
from fourlimb.engrave.typesetting import png_pages

HERE = Path(__file__).parent
PPI = 50
MOST_DIFFERENT = 0.8
"""Mean difference of grey levels, of 255, that two versions of the drawing libraries may show."""

PICTURES = {
    "night-ferry": (night_ferry, Layout()),
    "features": (features, Layout(show_count=True, show_sticking=True)),
    "large": (features, Layout(scale=1.5, landscape=True)),
}


def drawn(name: str) -> Image.Image:
    made, layout = PICTURES[name]
    data, pictures = chart_parts(made(), layout)
    return Image.open(io.BytesIO(png_pages("chart", data, pictures, ppi=PPI)[0])).convert("L")


@pytest.mark.parametrize("name", PICTURES)
def test_a_page_looks_as_reviewed(name: str) -> None:
    reviewed = Image.open(HERE / "pictures" / f"{name}.png").convert("L")
    now = drawn(name)
    assert now.size == reviewed.size
    assert ImageStat.Stat(ImageChops.difference(now, reviewed)).mean[0] < MOST_DIFFERENT


def test_the_comparison_sees_a_missing_line() -> None:
    reviewed = Image.open(HERE / "pictures" / "night-ferry.png").convert("L")
    blank = reviewed.copy()
    blank.paste(255, (0, reviewed.height // 4, reviewed.width, reviewed.height // 3))
    assert ImageStat.Stat(ImageChops.difference(blank, reviewed)).mean[0] > MOST_DIFFERENT


if __name__ == "__main__":
    (HERE / "pictures").mkdir(exist_ok=True)
    for each in PICTURES:
        drawn(each).save(HERE / "pictures" / f"{each}.png", optimize=True)
