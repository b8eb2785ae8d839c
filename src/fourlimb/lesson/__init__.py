"""Runs the engines in order and keeps the folder: build, read, write, correct, undo, never lose anything.

In: a song file, or a lesson folder and the teacher's word. Out: a lesson folder. The only room that touches the disk
besides the decoder.
"""

from .aiming import aim_at
from .build import build, sheets
from .filming import filmed
from .folder import Disk, read_heard, read_lesson, write
from .products import outputs
from .show import corrections_text, show, summary, verdict
from .slowing import slowed
from .source import hear_song
from .takes import hear_take, mark_take, told
from .why import why
from .workshop import correct, level_named, make, make_demo, print_to, rebuild, write_file

__all__ = [
    "Disk",
    "aim_at",
    "build",
    "correct",
    "corrections_text",
    "filmed",
    "hear_song",
    "hear_take",
    "level_named",
    "make",
    "make_demo",
    "mark_take",
    "outputs",
    "print_to",
    "read_heard",
    "read_lesson",
    "rebuild",
    "sheets",
    "show",
    "slowed",
    "summary",
    "told",
    "verdict",
    "why",
    "write",
    "write_file",
]
