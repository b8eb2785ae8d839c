"""Words on the page: feel, swing, hand letters, and text that must stay printable."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from fourlimb.model import Letter, Sheet, Stroke
from fourlimb.model.chart import Grace

from . import heads
from .passes import bar_before
from .repeats import Mark

GRACE_NOTES: Final[dict[Grace, int]] = {"flam": 1, "drag": 2, "ruff": 3, "long_ruff": 4}
"""Small notes before the main one (four- and five-stroke ruff; older books call the drag a ruff, McCarthy)."""

SWING_FROM: Final = 0.53
"""Share of a pair from which a swing mark is printed (below it players call it straight; ours)."""


def feel_words(sheet: Sheet, bar: int) -> str:
    """What is printed over a bar where the feel starts or changes; empty when nothing does."""
    grid = sheet.grid
    now = grid.feel_of(bar)
    last = bar_before(sheet, bar)
    before = None if last is None else grid.feel_of(last)
    said = []
    if before is None or before.feel != now.feel:
        if now.feel != "straight":
            said.append(f"{now.feel} feel")
        elif before is not None:
            said.append("normal feel")
    swings, swung = now.swing >= SWING_FROM, before is not None and before.swing >= SWING_FROM
    changed = swings and before is not None and (before.swing_unit != now.swing_unit)
    if swings and (not swung or changed):
        said.append("swing" if now.swing_unit == "8th" else "swing 16ths")
    elif swung and not swings:
        said.append("straight")
    return ", ".join(said)


def end_words(mark: Mark) -> list[str]:
    """What is said at the end of a bar: how often a passage is played, where to go, where the end is."""
    said = [f"{mark.end}\u00d7"] if mark.end > 2 else []
    if mark.to_coda:
        said.append("To Coda")
    if mark.fine:
        said.append("Fine")
    return [*said, mark_jump(mark)] if mark.jump else said


def start_signs(mark: Mark) -> list[str]:
    """Glyphs that stand before a bar."""
    return [code for code, on in ((heads.SEGNO, mark.segno), (heads.CODA, mark.coda)) if on]


def mark_jump(mark: Mark) -> str:
    """A jump in words: "D.S. al Coda", "D.C. al Fine, with repeats"."""
    return f"{mark.jump} al {'Coda' if mark.al_coda else 'Fine'}{', with repeats' if mark.again else ''}"


def foot_letters(sheet: Sheet, bar: int) -> Iterable[tuple[Fraction, Letter]]:
    """(position, letter) of each kick in a bar where both feet play it, as on a double pedal; else nothing."""
    kicks = [s for s in sheet.chart.by_bar.get(bar, ()) if s.piece == "kick"]
    if any(s.limb == sheet.kit.hat_foot for s in kicks):
        for stroke in kicks:
            yield stroke.position, "R" if stroke.limb == "right foot" else "L"


def rhythm_words(sheet: Sheet, bar: int) -> Iterable[tuple[Fraction, str]]:
    """(position, syllable) of the words said to a bar's rhythm, one a place."""
    said: dict[Fraction, str] = {}
    for stroke in sheet.chart.by_bar.get(bar, ()):
        if stroke.word:
            said.setdefault(stroke.position, stroke.word)
    yield from sorted(said.items())


def grace_letters(stroke: Stroke) -> str:
    """The hand letter of a stroke with its grace strokes in small letters: a right flam is "lR"."""
    if stroke.letter is None:
        return ""
    other = "l" if stroke.letter == "R" else "r"
    return other * min(GRACE_NOTES.get(stroke.grace or "flam", 0) if stroke.grace else 0, 2) + stroke.letter


def grace_steps(heads: Sequence[Stroke]) -> list[list[Stroke]]:
    """The small notes before a note or chord, in order, each with the strokes that sound it."""
    counts = [(GRACE_NOTES[s.grace], s) for s in heads if s.grace]
    most = max((count for count, _ in counts), default=0)
    return [[stroke for count, stroke in counts if count >= most - step] for step in range(most)]


LONGEST_WORD: Final = 24
"""Letters after which a word may be broken."""


def breakable(text: str) -> str:
    """Text whose very long words may be broken, by spaces of no width."""
    return " ".join(_broken(word) for word in text.split(" "))


def _broken(word: str) -> str:
    if len(word) <= LONGEST_WORD:
        return word
    return "\u200b".join(word[n : n + LONGEST_WORD // 2] for n in range(0, len(word), LONGEST_WORD // 2))


def printable(text: str) -> str:
    """Text without the control characters that XML cannot hold; line ends become spaces."""
    out = []
    for letter in text:
        if letter in "\t\r\n\x0b\x0c\x85\u2028\u2029":
            out.append(" ")
        elif letter < " " or letter in "\x7f\ufffe\uffff" or 0xD800 <= ord(letter) < 0xE000:
            out.append("\ufffd")
        else:
            out.append(letter)
    return "".join(out)
