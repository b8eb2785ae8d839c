"""A chart as sound, stretch by stretch: what a long song needs that is not to be held in memory at once.

The sound is that of a level's sound file (`pressing`) before it is coded: as `render`'s, every stroke at the same
sample, but which of a piece's recorded strokes sounds is counted within a stretch. Every stretch is mixed twice, once
to learn how loud the whole is, once to be played: a second of computing a minute, for memory that does not grow.
"""

from collections.abc import Iterator

from ..model import Samples, Sheet
from .kit import Voices, built_in
from .pressing import LIMITED_AROUND, STRETCH, Press, Stretch
from .render import Mix


def played(
    sheet: Sheet,
    *,
    speed: float = 1.0,
    from_bar: int | None = None,
    to_bar: int | None = None,
    click: bool = True,
    kit: Voices | None = None,
) -> Iterator[Samples]:
    """Bars of a chart, counted in, stereo float32 at 44.1 kHz, in pieces of 1.8 s from the start, the last shorter.

    `click`: through all bars, not only before them. Raises InputError on a speed or bars that cannot be.
    """
    mix = Mix(speed=speed, click_db=0.0 if click else None, from_bar=from_bar, to_bar=to_bar)
    press = Press(sheet, kit or built_in(), mix)
    stretches: list[Stretch] = []
    for number in range(len(press.strokes)):
        stretches.append(press.measured(number))
        press.mixes.clear()
    gain = press.gain(stretches)
    for begin in range(0, press.count, STRETCH):
        end = min(begin + STRETCH, press.count)
        sound = press.finished(begin - LIMITED_AROUND, end + LIMITED_AROUND, gain)
        press.mixes = {number: mix for number, mix in press.mixes.items() if number >= begin // STRETCH}
        yield sound[LIMITED_AROUND : LIMITED_AROUND + end - begin]
