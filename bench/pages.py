"""What printed pages look like in numbers: lines, pages, things that touch.

    python -m bench.pages [LESSON ...]

Without folders: the demo song and the recordings in ../shared/data/recordings/mix (skipped, with a word, when absent).
Every level of every lesson is laid out in all layouts of the tests (papers, turned, large print at 150 and 200 per
cent, count and hands, screen). Boxes on one line are held to each other, and lines of a page, set as near as they may
stand, to one another; the count must be zero.
"""

import argparse
import sys
from itertools import combinations, pairwise
from pathlib import Path

from fourlimb import demo, lesson
from fourlimb.engrave import Layout
from fourlimb.engrave.composing import SetLine, pitch_between, shifts
from fourlimb.engrave.documents import fitted
from fourlimb.engrave.page import paginate, set_lines
from fourlimb.lesson.build import build, sheets
from fourlimb.model import Lesson, Sheet

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "engrave"))

from collisions import collisions
from test_page import LAYOUTS

RECORDINGS = Path(__file__).parents[2] / "shared" / "data" / "recordings" / "mix"


def lessons(folders: list[Path]) -> dict[str, Lesson]:
    """Lessons by name: those given, or the demo's and the recordings'."""
    if folders:
        return {folder.stem: lesson.read_lesson(folder) for folder in folders}
    with demo.recording_path() as path:
        found = {"demo": build(lesson.hear_song(path, title="Night Ferry"))}
    if not RECORDINGS.is_dir():
        print("the recordings in ../shared/data are not here: skipped")
    return found | {path.stem: build(lesson.hear_song(path)) for path in sorted(RECORDINGS.glob("*.flac"))}


def touching(page: list[SetLine]) -> int:
    """Pairs of boxes of different lines that meet when lines stand as near as they may."""
    least = [pitch_between(one, after) for one, after in pairwise(page)]
    placed = [[box.moved(down) for box in one.boxes] for one, down in zip(page, shifts(page, least), strict=True)]
    return sum(a.meets(b) for above, below in combinations(placed, 2) for a in above for b in below)


def row(name: str, sheet: Sheet) -> tuple[int, int, int]:
    """Print what one chart takes; lines laid out, and collisions on lines and between them."""
    lines = on_lines = between = 0
    for layout in LAYOUTS.values():
        found = set_lines(sheet, layout)
        lines += len(found)
        on_lines += sum(len(collisions(line)) for line in found)
        between += sum(touching(page) for page in paginate(layout, found))
    pages = [len(fitted(sheet, Layout(scale=scale))[2]) for scale in (1.0, 1.5, 2.0)]
    bars = len(sheet.grid.bars)
    print(f"{name:24} {bars:4} bars; pages at 100, 150, 200 %: {pages}; {lines} lines, {on_lines + between} touch")
    return lines, on_lines, between


def main() -> None:
    """Print one row a chart and the sums."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("lessons", type=Path, nargs="*")
    found = lessons(parser.parse_args().lessons)
    sums = [row(f"{name} {level}", sheet) for name, one in found.items() for level, sheet in sheets(one).items()]
    lines, on_lines, between = (sum(column) for column in zip(*sums, strict=True))
    print(f"{lines} lines; touching on a line: {on_lines}; between lines: {between}")


if __name__ == "__main__":
    main()
