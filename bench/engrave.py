"""What engraving costs, and whether anything is ever lost.

    python -m bench.engrave [--charts 1000]

Times are ratios to verovio's own load and render of the same music (our MEI of the whole chart) in the same run.
Random charts: each is drawn and its strokes found again on the page, written as MusicXML and read back, and as MIDI.
"""

import argparse
import random
import sys
import time
from collections.abc import Callable
from pathlib import Path

from fourlimb import engrave
from fourlimb.engrave import Layout
from fourlimb.model import Sheet

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "engrave"))

from builder import FILL, GROOVE, sheet
from randomly import random_sheet

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
    one_page = song(40)
    jobs: dict[str, Callable[[], object]] = {
        "SVG pages, 300 bars": lambda: engrave.svg_pages(chart, layout),
        "PDF, 300 bars": lambda: engrave.chart_pdf(chart, layout),
        "one page drawn again, 40 bars": lambda: engrave.svg_pages(one_page, layout),
        f"cursor map, {len(pages)} pages": lambda: engrave.cursor(pages),
        "MusicXML": lambda: engrave.musicxml(chart, layout),
        "MIDI": lambda: engrave.midi(chart),
    }
    print(f"{'':34} {'ours':>8}  {'verovio':>8}  ratio   (verovio: load and render the same MEI, 300 bars)")
    for name, job in jobs.items():
        ours, theirs = pair(job, lambda: verovio_alone(data))
        print(f"{name:34} {ours * 1000:5.0f} ms  {theirs * 1000:5.0f} ms  {ours / theirs:5.2f}")


def losses(count: int) -> None:
    start, lost = time.perf_counter(), 0
    for number in range(count):
        chart = random_sheet(number)
        layout = Layout(voices=("auto", "one", "two")[number % 3], simile="never", show_count=number % 2 == 0)
        drawn = {(b.bar, b.position, b.piece) for b in engrave.cursor(engrave.svg_pages(chart, layout)).strokes}
        wanted = {(s.bar, s.position, s.piece) for s in chart.chart.strokes}
        if not wanted:  # a chart of rests is no drum part, and reading says so
            continue
        back = engrave.read_musicxml(engrave.musicxml(chart), name=f"chart {number}")
        engrave.midi(chart)
        if drawn != wanted or back.strokes != chart.chart.strokes:
            lost += 1
            print(f"chart {number}: {len(wanted - drawn)} strokes not on the page")
    print(f"{count} random charts: {lost} with a loss, {time.perf_counter() - start:.0f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--charts", type=int, default=200)
    asked = parser.parse_args()
    cost()
    losses(asked.charts)


if __name__ == "__main__":
    main()
