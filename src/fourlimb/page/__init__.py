"""Lesson -> the student's practice page, one self-contained HTML file.

In: the `Sheet` of each level. Out: the text of one HTML file: charts, drums, click and words; it opens from disk and
needs no server and no network.
"""

from .build import build
from .cautions import Cautions

__all__ = ["Cautions", "build"]
