"""How a chart is laid out: paper, size, what is shown. One frozen structure, all choices with defaults.

Lengths are millimetres, type sizes points. `scale` 1.0 is the ordinary hand-out size; from `LARGE_FROM` on, the page
is laid out anew for large print (Modified Stave Notation, UKAAF G009, 2013): heavier staff lines and stems, small
marks that grow more than note heads, bold words, fewer bars a line, and the key repeated on every page.
"""

from typing import Final, Literal

import msgspec

from fourlimb.model import InputError

Paper = Literal["a4", "letter", "screen"]
VoiceChoice = Literal["auto", "two", "one"]
Simile = Literal["auto", "never"]
Repeats = Literal["auto", "written out", "folded"]

PAPER_MM: Final[dict[Paper, tuple[float, float]]] = {
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
    "screen": (190.5, 338.67),
}
"""Width and height, portrait (ISO 216; ANSI/ASME Y14.1; "screen" is 16:9 once turned to landscape)."""

STAFF_MM: Final = 6.6
"""Height of the five lines at scale 1 (between the 6.5 and 7.0 mm usual for parts; common practice, no source)."""

LARGE_FROM: Final = 1.4
"""Scale from which the page is laid out as large print."""

MARGIN_MM: Final = 14.0
"""Page margin on every side (home printers lose up to 6 mm; common practice, no source)."""


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """Choices for one document.

    `bars_per_line` 0 lets the content decide; `beam_halves` beams plain eighths by half bars in 4/4 (False: by
    beats); `repeats`: whole passages that return are written out, or folded with repeat bar lines, endings and jumps
    ("auto": a printed chart is folded where that wins a page); `difficulty` and `doubts` show each bar's difficulty
    and the "check me" marks.
    """

    paper: Paper = "a4"
    landscape: bool = False
    scale: float = 1.0
    voices: VoiceChoice = "auto"
    simile: Simile = "auto"
    repeats: Repeats = "auto"
    bars_per_line: int = 0
    beam_halves: bool = True
    show_count: bool = False
    show_sticking: bool = False
    show_cues: bool = True
    show_legend: bool = True
    show_close: bool = True
    difficulty: bool = False
    doubts: bool = True

    def __post_init__(self) -> None:
        if not 0.5 <= self.scale <= 3.0:
            raise InputError(f"scale {self.scale} cannot be printed: use 0.5 to 3 (1 is ordinary, 2 is large print)")
        if not 0 <= self.bars_per_line <= 8:
            raise InputError(
                f"{self.bars_per_line} bars a line cannot be laid out: use 1 to 8, or 0 to let it decide"
            )

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the page as it is turned."""
        width, height = PAPER_MM[self.paper]
        return (height, width) if self.landscape else (width, height)

    @property
    def margin_mm(self) -> float:
        """Margin on every side."""
        return 8.0 if self.paper == "screen" else MARGIN_MM

    @property
    def text_mm(self) -> tuple[float, float]:
        """Width and height inside the margins (the foot line is taken off the height)."""
        width, height = self.page_mm
        foot = 0.0 if self.paper == "screen" else 6.0
        return width - 2 * self.margin_mm, height - 2 * self.margin_mm - foot

    @property
    def large(self) -> bool:
        """True when the page is laid out as large print."""
        return self.scale >= LARGE_FROM

    @property
    def staff_mm(self) -> float:
        """Height of the five lines."""
        return STAFF_MM * self.scale

    @property
    def units_per_mm(self) -> float:
        """Drawing units in a millimetre: the staff is always 720 units high."""
        return STAFF_UNITS / self.staff_mm


ORDINARY: Final = Layout()
"""A4 portrait at hand-out size."""

STAFF_UNITS: Final = 720.0
"""Height of the five lines in drawing units (the engraver's 8 x 9 half-spaces, times 10)."""
