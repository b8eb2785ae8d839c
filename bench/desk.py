"""How long a teacher waits at the desk, in a real browser, and beside it what the command line does.

    python -m bench.desk night-ferry.lesson [--song FILE]

Works on a copy of the lesson. Needs Chromium and chromedriver. Prints seconds: from opening to the chart on the screen,
from choosing a bar to what was heard there, from pressing to sound (the first time, which decodes the recording, and
later, also slowed), from saying a correction to seeing it in the chart and to having it in the lesson with all its
files; the same for three that are said within a second; and what `lesson.correct` takes for a like one as the command
line calls it, without what the desk remembers.
"""

import argparse
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "page"))

CHART = "return document.querySelectorAll('.bar').length > 0"
SEEN = "return document.querySelectorAll('#seen tbody tr').length > 0"
SHOWN = "return desk.lesson.corrections.length === given[0] && desk.chart.song.bars === desk.lesson.bars"
COUNTED = "return desk.lesson.corrections.length >= given[0] && desk.chart.song.bars === desk.lesson.bars"
IDLE = "return !desk.work.busy && !document.getElementById('waiting').children.length"
QUICK_S = 0.33
"""Between two corrections that are said one right after the other, seconds."""


def main() -> None:
    from browser import Browser, chromium

    from fourlimb import lesson as room
    from fourlimb.desk import Desk
    from fourlimb.desk.server import listening

    parser = argparse.ArgumentParser()
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--song", type=Path)
    given = parser.parse_args()

    def waited(window: Browser, script: str, *values: object) -> float:
        start = time.perf_counter()
        while not window.run(script, *values):
            time.sleep(0.02)
        return time.perf_counter() - start

    def heard(window: Browser, button: str) -> float:
        window.run("desk.hearing.stop()")
        window.click(f"#{button}")  # a real press: without one no browser plays sound
        return waited(window, "return desk.hearing.playing")

    with tempfile.TemporaryDirectory() as place, chromium() as window:
        folder = Path(shutil.copytree(given.lesson, Path(place) / given.lesson.name))
        song = given.song or Desk(given.lesson).recorded
        desk = Desk(folder, song=song if isinstance(song, Path | None) else song.path)
        server = listening(desk)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        window.size(1366, 768)
        opening = timed(lambda: window.driver.get(server.address))
        said("the chart is on the screen", opening + waited(window, CHART))
        window.run("document.querySelectorAll('.bar')[4].click()")
        said("what was heard in a bar", waited(window, SEEN))
        if desk.recorded is not None:
            said("the recording sounds, first time", heard(window, "hear-recording"))
            window.run("document.querySelectorAll('.bar')[5].click()")
            said("the recording sounds, another bar", heard(window, "hear-recording"))
            window.run("document.getElementById('speed').value = '50'")
            said("the recording sounds at half the tempo", heard(window, "hear-recording"))
        said("the chart sounds", heard(window, "hear-chart"))
        before = len(room.read_lesson(folder).corrections)
        for number in (1, 2):
            window.run(f"desk.line.compose('bar {4 + number}: kick 1 3'); document.getElementById('send').click()")
            shown = waited(window, SHOWN, before + number)
            done = shown + waited(window, IDLE)
            said(f"correction {number} is seen", shown)
            said(f"correction {number} is in the lesson, with its files", done)
        before = len(room.read_lesson(folder).corrections)
        start = time.perf_counter()
        for number in (1, 2, 3):
            window.run(f"desk.line.compose('bar {7 + number}: kick 1 3'); document.getElementById('send').click()")
            time.sleep(max(start + number * QUICK_S - time.perf_counter(), 0.0))
        for number in (1, 2, 3):
            waited(window, COUNTED, before + number)
            said(f"of three said within a second, number {number} is seen", time.perf_counter() - start)
        waited(window, IDLE)
        said("all three are in the lesson, with its files", time.perf_counter() - start)
        assert len(room.read_lesson(folder).corrections) == before + 3
        said("a like one as the command line does it", timed(lambda: room.correct(folder, "bar 7: kick 1 3")))
        window.driver.get("about:blank")


def timed(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def said(what: str, seconds: float) -> None:
    print(f"{seconds:7.2f} s  {what}")


if __name__ == "__main__":
    main()
