"""The gallery's pictures are those that its script makes now, and every one of them is shown."""

import io
import re
import sys
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageChops, ImageStat

sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))

import make_gallery

DOCS = Path(__file__).parents[2] / "docs"
MOST_DIFFERENT = 0.8
"""Mean difference of grey levels, of 255, that two versions of the drawing libraries may show."""

MOST_BYTES = 150_000


@lru_cache(maxsize=1)
def made() -> dict[str, bytes]:
    return make_gallery.pictures()


def test_the_gallery_is_what_its_script_makes() -> None:
    for name, data in made().items():
        shown = Image.open(DOCS / "pictures" / name).convert("L")
        now = Image.open(io.BytesIO(data)).convert("L")
        assert now.size == shown.size, f"{name}: run python docs/make_gallery.py, and look"
        different = ImageStat.Stat(ImageChops.difference(now, shown)).mean[0]
        assert different < MOST_DIFFERENT, f"{name}: run python docs/make_gallery.py, and look"


def test_every_picture_of_the_gallery_is_made_and_every_one_made_is_shown() -> None:
    linked = set(re.findall(r"\]\(pictures/(gallery-[^)]+)\)", (DOCS / "gallery.md").read_text("utf-8")))
    assert linked == set(made())
    assert {path.name for path in (DOCS / "pictures").glob("gallery-*.png")} == linked


def test_pictures_are_small() -> None:
    for path in (DOCS / "pictures").glob("*.png"):
        assert path.stat().st_size < MOST_BYTES, path.name
