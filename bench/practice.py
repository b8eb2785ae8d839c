"""What a lesson's practice page costs and how true its sound is, in a real browser.

    python -m bench.practice night-ferry.lesson [--slow 4]

Needs Chromium and chromedriver, as the tests of the page do. Prints for a phone's and a desk's window, the phone with a
processor `--slow` times slower: size, first paint, ready, frames a second and the longest gap between two while it plays.
Then, from the live sound read back: how far clicks lie from the beat that the page names for their moment, and how much
later than the audio clock the needle stands (the browser's own figure of its latency beside it); and from the page's
schedule rendered offline: how far the start of the fifty-first pass of a two-bar loop lies from where it belongs.
"""

import argparse
import statistics
import sys
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "page"))

PAINT = """
const paint = performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0;
return [paint, performance.getEntriesByType('navigation')[0].loadEventEnd];
"""
FRAMES = """
const times = [];
await new Promise((done) => {
  const one = (now) => { times.push(now); times.length < 240 ? requestAnimationFrame(one) : done(); };
  requestAnimationFrame(one);
});
return times;
"""
CLICKS = """
const { player, song, parts } = practice;
const { context, mix } = player;
const ear = new AnalyserNode(context, { fftSize: 32768 });
mix.fade.connect(ear);
for (const bus of ['hands', 'feet']) mix.mute(bus, true);
const sound = new Float32Array(ear.fftSize);
const offs = [];
const lags = [];
for (let look = 0; look < 10; look += 1) {
  await new Promise((done) => setTimeout(done, 1500));
  const now = context.currentTime;
  ear.getFloatTimeDomainData(sound);
  lags.push(now - player.clock());
  let quiet = 0;
  for (let at = 0; at < sound.length; at += 1) {
    if (Math.abs(sound[at]) < 0.02) { quiet += 1; continue; }
    if (quiet > context.sampleRate / 10) {
      const run = player.runs.at(-1);
      const { bar, quarter } = parts.heardAt(song, run, now - (sound.length - at) / context.sampleRate);
      const { beats, tempo, quarters } = song.bars[bar];
      const off = Math.min(...[...beats, quarters].map((beat) => Math.abs(quarter - beat)));
      offs.push(off * 6000 / (tempo * run.part.percent));
    }
    quiet = 0;
  }
}
return [offs, lags, context.outputLatency + context.baseLatency];
"""
LOOP = """
const { score, openRun, due } = practice.parts;
const { song } = practice;
const from = 1;
const wish = { from, to: from + 1, start: from, percent: 73, repeat: true, rounds: 0, countEach: false };
const run = openRun(song, score(song, song.levels[song.order[0]]), wish, 0);
const starts = [];
for (let until = 0; starts.length < 101; until += 0.5) {
  for (const { blow, when } of due(song, run, until)) if (blow.bus === 'click' && blow.turn === 0) starts.push(when);
}
const passes = starts.filter((_, at) => at % 2 === 0);
return passes.map((when, at) => when - at * run.part.length);
"""


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--slow", type=float, default=4.0)
    given = parser.parse_args()
    from browser import chromium

    page = (given.lesson / "page" / "index.html").resolve()
    with chromium() as browser:
        print(f"{page.stat().st_size / 1e6:.2f} MB")
        for name, width, height, slow in (("desk", 1280, 900, 1.0), ("phone", 390, 844, given.slow)):
            paint, ready, frames = _watched(browser, page, (width, height), slow)
            gaps = [later - before for before, later in pairwise(frames)]
            print(
                f"{name}, processor 1/{slow:g}: first paint {paint:.0f} ms, ready {ready:.0f} ms, "
                f"{1000 / statistics.mean(gaps):.0f} frames a second, longest gap {max(gaps):.0f} ms"
            )
        browser.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 1})
        offs, lags, latency = browser.run(CLICKS)
        print(
            f"{len(offs)} live clicks: {1000 * statistics.median(offs):.1f} ms from their beat, at most "
            f"{1000 * max(offs):.1f}; the needle stands {1000 * statistics.median(lags):.0f} ms behind the audio clock "
            f"(the browser says its latency is {1000 * latency:.0f})"
        )
        off = browser.run(LOOP)
        print(f"pass {len(off)} of a loop begins {1e6 * abs(off[-1]):.3f} microseconds from its place")


def _watched(browser: Any, page: Path, size: tuple[int, int], slow: float) -> tuple[float, float, list[float]]:
    """First paint, ready (ms), and the times of frames while it plays; the page is left playing."""
    browser.driver.set_script_timeout(120)
    browser.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": slow})
    browser.open(page, width=size[0], height=size[1])
    time.sleep(1.0)
    paint, ready = browser.run(PAINT)
    browser.click("#play")
    time.sleep(8.0)
    return paint, ready, browser.run(FRAMES)


if __name__ == "__main__":
    main()
