"""How a teacher wants a lesson printed: kept in the lesson, so that every correction prints it the same way again."""

from typing import Literal

import msgspec

PaperName = Literal["a4", "letter"]
VoiceName = Literal["auto", "two", "one"]
PassageName = Literal["auto", "written out", "folded"]


class Printing(msgspec.Struct, frozen=True, kw_only=True):
    """Choices for all printed documents of one lesson.

    `size` is per cent of the ordinary staff, from 140 on laid out as large print; `bars` a line, 0 lets the content
    decide; `counting` is an id of the counting traditions; `week` chooses the figures of the practice sheet, 1 the
    first ones of the running order. `repeat_signs`: the sign for a bar as before; `passages` that return are folded
    with repeat bar lines and endings, or written out. `rights` are lines that name writers, recording and
    owners, in place of those that the song's own file brought.
    """

    paper: PaperName = "a4"
    landscape: bool = False
    size: int = 100
    bars: int = 0
    voices: VoiceName = "auto"
    count: bool = False
    hands: bool = False
    cues: bool = True
    legend: bool = True
    doubts: bool = True
    difficulty: bool = False
    repeat_signs: bool = True
    passages: PassageName = "auto"
    counting: str = "num-en"
    week: int = 1
    rights: tuple[str, ...] = ()
    extra: dict[str, object] = {}
