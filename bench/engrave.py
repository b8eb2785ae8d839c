"""What engraving costs, and whether anything is ever lost.

    python -m bench.engrave [--charts 1000]

Times are ratios to verovio's own load and render of the same music (our MEI of the whole chart) in the same run.
Random charts (all meters, tuplets, densities, signs; every fifth a song whose passages return, folded): each is drawn
and its strokes found again on the page, written as MusicXML and read back, and as MIDI.
"""

import argparse
import io
import itertools
import random
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from fourlimb import engrave
from fourlimb.engrave import Layout
from fourlimb.engrave.drawn import forget
from fourlimb.model import Sheet

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "engrave"))

from builder import FILL, GROOVE, sheet
from randomly import random_sheet, returning_sheet

VARIANTS = (
    GROOVE,
    "hat every 8th; kick 1 2& 3; snare [accent] 2 4",
    "hat every 16th; kick 1 2a 3; snare 2 4",
    "ride every 8th; kick 1 1& 3; snare 2 4; foot hat 2 4",
    "hat 1 1& 2 2& 3 3& 4; open hat 4&; kick 1 3a; snare 2 4",
    FILL,
)


def song(bars: int) -> Sheet:
    """A song of many different bars, none of them a repeat sign."""
    dice = random.Random(1)
    texts = [VARIANTS[5] if n % 8 == 7 else dice.choice(VARIANTS[:5]) for n in range(bars)]
    sections = [(f"Part {n // 16 + 1}", n + 1, min(n + 16, bars)) for n in range(0, bars, 16)]
    return sheet(texts, sections=sections, title="Night Ferry")


def pair(job: Callable[[], object], reference: Callable[[], object], times: int = 4) -> tuple[float, float]:
    """Seconds of the fastest run of a job and of its reference, run in turn so that both meet the same machine."""
    ours, theirs = [], []
    for _ in range(times):
        for one, found in ((reference, theirs), (job, ours)):
            start = time.perf_counter()
            one()
            found.append(time.perf_counter() - start)
    return min(ours), min(theirs)


def anew(job: Callable[[], object]) -> Callable[[], object]:
    """The job without the lines that an earlier drawing left in memory."""

    def forgetful() -> object:
        forget()
        return job()

    return forgetful


def song_that_returns() -> Sheet:
    """300 bars: six different sections of ten that come again five times."""
    parts = [[VARIANTS[(n * 5 + m * m) % 6] for m in range(10)] for n in range(6)]
    texts = [bar for _ in range(5) for part in parts for bar in part]
    sections = [(f"Part {n // 10 + 1}", n + 1, n + 10) for n in range(0, 300, 10)]
    return sheet(texts, sections=sections, title="Night Ferry")


def changed_page(layout: Layout) -> Callable[[], object]:
    """A job that draws a page of 40 bars again, each time with another bar changed."""
    bars = [VARIANTS[n % 6] for n in range(40)]
    turn = itertools.count()

    def job() -> object:
        at = next(turn)
        now = [*bars[: at % 40], f"kick 1 2 3 4; snare {1 + at // 40 % 4}&", *bars[at % 40 + 1 :]]
        return engrave.svg_pages(sheet(now, sections=[("A", 1, 40)]), layout)

    return job


def verovio_alone(data: str) -> None:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "encoded", "font": "Bravura"})
    toolkit.loadData(data)
    for page in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(page)


def cost() -> None:
    """Print what each output of a 300-bar song costs beside verovio alone."""
    chart, layout = song(300), Layout(simile="never")
    data = engrave.mei(chart, layout).decode()
    pages = engrave.svg_pages(chart, layout)
    returning = song_that_returns()
    jobs: dict[str, Callable[[], object]] = {
        "SVG pages, 300 bars": anew(lambda: engrave.svg_pages(chart, layout)),
        "PDF, 300 bars": anew(lambda: engrave.chart_pdf(chart, layout)),
        "one page drawn again, one bar changed": changed_page(layout),
        "PDF, 300 bars that return, folded": anew(lambda: engrave.chart_pdf(returning, Layout())),
        f"cursor map, {len(pages)} pages": lambda: engrave.cursor(pages),
        "MusicXML": lambda: engrave.musicxml(chart, layout),
        "MIDI": lambda: engrave.midi(chart),
    }
    print(f"{'':34} {'ours':>8}  {'verovio':>8}  ratio   (verovio: load and render the same MEI, 300 bars)")
    for name, job in jobs.items():
        ours, theirs = pair(job, lambda: verovio_alone(data))
        print(f"{name:34} {ours * 1000:5.0f} ms  {theirs * 1000:5.0f} ms  {ours / theirs:5.2f}")


def losses(count: int, first: int = 0) -> int:
    """Draw, write and read `count` random charts; print and return how many lost anything."""
    start, lost = time.perf_counter(), 0
    for number in range(first, first + count):
        found = lost_in_song(number) if number % 5 == 4 else lost_in_chart(number)
        if found:
            lost += 1
            print(f"chart {number}: {found}", flush=True)
    print(f"{count} random charts: {lost} with a loss, {time.perf_counter() - start:.0f} s")
    return lost


def lost_in_chart(number: int) -> str:
    """What a chart of anything at all loses on the page, in MusicXML or in MIDI; "" for nothing."""
    chart = random_sheet(number)
    layout = Layout(voices=("auto", "one", "two")[number % 3], simile="never", show_count=number % 2 == 0)
    if drawn(chart, layout) != wanted(chart):
        return "the page lacks strokes"
    engrave.mei(chart, layout)
    if not chart.chart.strokes:  # a chart of rests is no drum part, and reading says so
        return ""
    back = engrave.read_musicxml(engrave.musicxml(chart, layout), name=f"chart {number}")
    if back.strokes != chart.chart.strokes:
        return "MusicXML gives other strokes back"
    return "" if keys(chart) <= heard(chart) else "MIDI lacks a piece"


def lost_in_song(number: int) -> str:
    """What a song with passages that return loses when it is folded."""
    chart = returning_sheet(number)
    layout = Layout(repeats="folded", simile="never")
    if drawn(chart, layout) != wanted(chart):
        return "the folded page lacks strokes"
    engrave.mei(chart, layout)
    if not chart.chart.strokes:
        return ""
    back = engrave.read_musicxml(engrave.musicxml(chart, Layout(repeats="folded")), name=f"song {number}")
    places = sorted((s.bar, s.position, s.piece) for s in back.strokes)
    if places != wanted(chart) or back.notes:
        return "the folded MusicXML gives another song back"
    return "" if keys(chart) <= heard(chart) else "MIDI lacks a piece"


Places = list[tuple[int, Fraction, str]]


def drawn(chart: Sheet, layout: Layout) -> Places:
    """Every stroke that the pages show, for each time it is played."""
    boxes = engrave.cursor(engrave.svg_pages(chart, layout)).strokes
    return sorted((box.bar, box.position, box.piece) for box in boxes)


def wanted(chart: Sheet) -> Places:
    """Every stroke of the chart."""
    return sorted((s.bar, s.position, s.piece) for s in chart.chart.strokes)


def keys(chart: Sheet) -> set[int]:
    """The percussion keys that the chart must sound."""
    return {chart.kit.midi(s.piece, second=s.second) for s in chart.chart.strokes}


def heard(chart: Sheet) -> set[int]:
    """The percussion keys that its MIDI file strikes, as mido reads it."""
    import mido

    file = mido.MidiFile(file=io.BytesIO(engrave.midi(chart)))
    return {message.note for message in file.tracks[1] if message.type == "note_on" and message.velocity}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--charts", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="number of the first random chart")
    parser.add_argument("--no-cost", action="store_true", help="only the random charts")
    asked = parser.parse_args()
    if not asked.no_cost:
        cost()
    raise SystemExit(losses(asked.charts, asked.first) > 0)


if __name__ == "__main__":
    main()
