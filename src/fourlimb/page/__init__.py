"""Lesson -> the student's practice page, one self-contained HTML file; a marking -> another.

In: the `Sheet` of each level. Out: the text of one HTML file: charts, drums, click and words; it opens from disk and
needs no server and no network. `marked`: a chart and the marking of a take -> a file of the same kind, without sound.
"""

from .build import build
from .cautions import Cautions
from .marked import marked

__all__ = ["Cautions", "build", "marked"]
