"""A student's own copy on the practice page: is it found, is another song told, how sharp does it stay, what does it cost.

    python -m bench.copies [--percent 50]

Needs Chromium and chromedriver. Every open recording and rendered song is written as MP3 with .8 s of silence before it,
and laid over the strokes heard in each of them (its own and the others'): printed is how many are believed and how far off
the beginning lies. Then, at `--percent` of the tempo, how like the attacks stay to those of the copy (correlation of the
1 ms envelope of what changes from sample to sample, -15 to +20 ms round every attack), and how much of real time the
stretching takes.
"""

import argparse
import base64
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from fourlimb.model import LEVELS, Listening, Sheet, Song

from .cases import Case, cases, heard
from .playing import KeptEars

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "page"))

LATER_S = 0.8
ALIGNED = """
const [strokes, size] = given;
const { aligned } = practice.parts;
if (size) {
  const file = document.querySelector("#copy-file").files[0];
  window.copied = (await new OfflineAudioContext(1, 1, 44100).decodeAudioData(await file.arrayBuffer())).getChannelData(0);
}
return aligned(window.copied, 44100, strokes);
"""
STRETCHED = """
const [percent] = given;
const { Sharp, zones, stretch } = practice.parts;
const { song, player } = practice;
const part = stretch(song.bars, 0, song.bars.length - 1, percent);
const map = zones(player.copy.marks, part);
const before = performance.now();
const sharp = new Sharp(player.copy, map, 0);
const [sound] = sharp.block(Math.floor(part.length * player.copy.rate / sharp.half));
const spent = (performance.now() - before) / 1000;
const bytes = new Uint8Array(sound.buffer);
let text = "";
for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
const attacks = map.filter((zone) => zone.attack).map((zone) => [zone.from, zone.to, zone.shift]);
return { sound: btoa(text), spent, rate: player.copy.rate, attacks, heard: player.copy.marks.attacks };
"""


def strokes(found: Listening) -> dict[str, list[float]]:
    """As the page is given them."""
    from fourlimb.page.music import record

    given = record(bare(found), found.hits)
    return dict(given["strokes"]) if given else {}


def bare(found: Listening) -> Sheet:
    """The song without a note."""
    from fourlimb import teach
    from fourlimb.model import Chart, ChartBar, Kit

    chart = Chart(
        strokes=(),
        bars=tuple(ChartBar(bar=n, figure="", difficulty=1.0, count="") for n in found.grid.numbers),
        grade=1.0,
    )
    plan = teach.plan(chart, found.grid, Kit())
    song = Song(duration_s=found.song.duration_s, sample_rate_hz=44100, sha256="0" * 64, title="copy")
    return Sheet(song=song, level=LEVELS[-1], chart=chart, grid=found.grid, kit=Kit(), plan=plan)


def likeness(copy: np.ndarray, answer: dict[str, Any]) -> list[float]:
    """Of every attack to itself, slowed."""
    rate = answer["rate"]
    one, other = (envelope(x, rate) for x in (copy, np.frombuffer(base64.b64decode(answer["sound"]), np.float32)))
    times = np.array(answer["heard"])
    found = []
    for start, end, shift in answer["attacks"]:
        inside = times[(times >= start + shift - 1e-6) & (times <= end + shift + 1e-6)]
        if not len(inside):
            continue
        at, slowed = round(inside[0] * rate), round((inside[0] - shift) * rate)
        low, high = round(0.015 * rate), round(0.020 * rate)
        if slowed >= low and at + high < len(one) and slowed + high < len(other):
            pair = np.corrcoef(one[at - low : at + high], other[slowed - low : slowed + high])
            found.append(float(np.nan_to_num(pair[0, 1])))
    return found


def envelope(sound: np.ndarray, rate: int) -> np.ndarray:
    size = round(0.001 * rate)
    return np.asarray(np.sqrt(np.convolve(np.diff(sound, prepend=0) ** 2, np.ones(size) / size, "same")))


def written(case: Case, folder: Path) -> Path:
    """The song as MP3, later."""
    path = folder / f"{case.name}.mp3"
    silence = np.zeros((round(LATER_S * case.audio.rate), case.audio.samples.shape[1]), np.float32)
    soundfile.write(path, 0.8 * np.concatenate([silence, case.audio.samples]), case.audio.rate, format="MP3")
    return path


def main() -> None:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--percent", type=int, default=50)
    parser.add_argument("--cache", type=Path)
    asked = parser.parse_args()
    from browser import chromium

    from fourlimb.page import build

    found = [
        (case, heard(case, KeptEars(folder=asked.cache))) for f in ("recordings", "rendered") for case in cases(f)
    ]
    with chromium() as window, tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        believed, others, off, like, spent, lasted = 0, 0, [], [], 0.0, 0.0
        for number, (case, one) in enumerate(found):
            page = folder / "page.html"
            page.write_text(build({LEVELS[-1]: bare(one)}, heard=one.hits, strike=lambda *_, **__: {"sounds": {}}))
            path = written(case, folder)
            window.open(page)
            window.run("document.querySelector('#copy-fold').open = true;")
            window.click("h1")
            window.choose_copy(path)
            for other, (_, listening) in enumerate(found):
                answer = window.run(ALIGNED, strokes(listening), other == 0)
                if other == number:
                    believed += answer["clear"]
                    off.append(answer["later"] - LATER_S)
                else:
                    others += answer["clear"]
            answer = window.run(STRETCHED, asked.percent)
            copy = soundfile.read(path, always_2d=True)[0][:, 0]
            like += likeness(copy, answer)
            spent += answer["spent"]
            lasted += one.grid.end_s * 100 / asked.percent
    count = len(found)
    print(f"own copies believed {believed} of {count}, beginning off by {1000 * max(map(abs, off)):.1f} ms at most")
    print(f"copies of other songs believed {others} of {count * (count - 1)}")
    print(
        f"attacks at {asked.percent} % of the tempo, likeness: median {np.median(like):.3f}, of nine in ten over "
        f"{np.percentile(like, 10):.3f}; {len(like)} attacks; stretching takes {spent / lasted:.3f} of real time"
    )


if __name__ == "__main__":
    main()
