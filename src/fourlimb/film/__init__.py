"""Chart and sound -> a lesson video: music with a moving mark, count, captions, chapters; a teacher's own picture.

In: a `Sheet`, the scenes wanted (`played_through`, `taught`), a recording or footage if there is one. Out: an MP4 or
WebM in an open file, and its captions and chapters. Encoding needs PyAV, imported only when a film is made.
"""

from .captions import Caption, Chapter, chapters_text, vtt
from .footage import Footage
from .make import Film, make
from .scenes import Scene, cut, excerpt, played_through, taught
from .sounding import Wanted
from .syncing import Sync, find

__all__ = [
    "Caption",
    "Chapter",
    "Film",
    "Footage",
    "Scene",
    "Sync",
    "Wanted",
    "chapters_text",
    "cut",
    "excerpt",
    "find",
    "make",
    "played_through",
    "taught",
    "vtt",
]
