"""Repeats, endings and jumps of our folded charts, played out by another program: music21's repeat expander.

music21 10 does not read `repeat@after-jump` and loses endings where there is also a jump: songs with both are left
out, nothing else is.
"""

import sys
import warnings
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "engrave"))

from builder import FILL, GROOVE, sheet
from randomly import returning_sheet

from fourlimb.engrave import Layout, mei, musicxml
from fourlimb.engrave.folded import folded
from fourlimb.engrave.passes import FoldedSheet
from fourlimb.model import Sheet

FOLDED = Layout(repeats="folded")


def dal_segno(last: int) -> Sheet:
    """Intro, verse, chorus, verse and, when there is any, an end of `last` bars."""
    verse = [GROOVE, *(f"kick 1 {place}; snare 2 4" for place in ("1&", "1a", "2&", "3", "3&", "3a")), FILL]
    bars = ["kick 1"] * 3 + ["snare 1"], verse, ["hat every 8th", "ride every 8th"] * 2, verse, ["crash 1"] * last
    starts = [1 + sum(map(len, bars[:n])) for n in range(len(bars) + 1)]
    names = zip("ABCDE", starts, starts[1:], strict=False)
    sections = [(name, start, end - 1) for name, start, end in names if end > start]
    return sheet([bar for part in bars for bar in part], sections=sections)


SONGS = [*(returning_sheet(number) for number in range(60)), dal_segno(0), dal_segno(3)]


def _marks(made: Sheet) -> list[Any]:
    short = folded(made)
    return list(short.bar_marks.values()) if isinstance(short, FoldedSheet) else []


def _followed(made: Sheet) -> bool:
    """True when music21 can follow the song's signs."""
    marks = _marks(made)
    jumps = any(mark.jump for mark in marks)
    return bool(marks) and not (jumps and any(mark.ending or mark.again for mark in marks))


FOLLOWED = [(number, made) for number, made in enumerate(SONGS) if _followed(made)]


@pytest.mark.parametrize("made", [made for _, made in FOLLOWED], ids=[str(number) for number, _ in FOLLOWED])
def test_music21_plays_the_folded_chart_as_the_song(made: Sheet) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import converter

        part = converter.parseData(musicxml(made, FOLDED).decode(), format="musicxml").parts[0].expandRepeats()
    found = []
    for measure in part.getElementsByClass("Measure"):
        notes = [n for n in measure.recurse().notes if not n.duration.isGrace]
        found.append(sorted({F(n.getOffsetInHierarchy(measure)).limit_denominator(5000) / 4 for n in notes}))
    song = [sorted({s.position for s in made.chart.by_bar.get(bar, ())}) for bar in made.grid.numbers]
    assert found == song


def test_the_songs_compared_hold_repeats_endings_and_jumps() -> None:
    marks = [mark for _, made in FOLLOWED for mark in _marks(made)]
    assert len(FOLLOWED) >= 30
    assert any(mark.ending for mark in marks)
    assert {mark.jump for mark in marks} == {"", "D.S.", "D.C."}
    assert any(mark.to_coda for mark in marks)
    assert any(mark.fine for mark in marks)


@pytest.mark.parametrize("number", range(0, 60, 5))
def test_verovio_plays_the_repeats_of_the_mei(number: int) -> None:
    """verovio draws every bar of the folded MEI, and knows its endings."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "encoded", "font": "Bravura"})
    data = mei(SONGS[number], FOLDED).decode()
    assert toolkit.loadData(data)
    drawn = "".join(toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))
    short = folded(SONGS[number])
    for bar in short.grid.numbers:
        covered = f'id="bar{bar}"' in drawn
        assert covered or f'xml:id="bar{bar}"' not in data
    assert drawn.count('class="ending') >= len({m.ending for m in _marks(SONGS[number]) if m.ending})
