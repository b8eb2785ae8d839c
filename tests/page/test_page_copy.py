"""A student's own copy of the recording under the drums: where it begins, what is heard of it when, how sharp it stays.

The copies are made here: a click at every stroke, over a held chord. The truth comes from the model's grid, not the page.
"""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import msgspec
import numpy as np
import pytest
import soundfile
from browser import Browser
from page_songs import sketch, song, stroke

from fourlimb.model import Hit, Sheet, Sound
from fourlimb.page import build
from fourlimb.page.music import record

RATE = 44_100


def wandering(bpm: Sequence[float] = (120.0,) * 3 + (108.0,) * 9) -> Sheet:
    """Twelve bars of which none is like another: a copy of these lies over itself in one way only."""
    dice = Random(5)
    pieces: tuple[Sound, ...] = ("kick", "snare", "hat_closed", "tom_high", "crash")
    strokes = [
        stroke(bar, f"{place}/16", dice.choice(pieces))
        for bar in range(1, 13)
        for place in sorted(dice.sample(range(16), 6))
    ]
    return song(strokes, [("4/4", float(tempo)) for tempo in bpm])


SHEET = wandering()


def attacks(sheet: Sheet = SHEET) -> list[float]:
    return sorted({sheet.grid.time_at(s.bar, s.position, swung=True) for s in sheet.chart.strokes})


def heard_in(sheet: Sheet) -> list[Hit]:
    return [
        Hit(
            id=n,
            time_s=sheet.grid.time_at(s.bar, s.position, swung=True),
            sound=s.piece,
            loudness_db=-9,
            confidence=1,
        )
        for n, s in enumerate(sheet.chart.strokes, start=1)
    ]


def recording(times: Sequence[float], seconds: float) -> np.ndarray:
    """A chord and clicks of 4 ms, mono."""
    at = np.arange(round(seconds * RATE)) / RATE
    sound = 0.03 * sum(np.sin(2 * np.pi * hertz * at) for hertz in (110.0, 277.2, 329.6))
    for time in times:
        first = round(time * RATE)
        sound[first : first + 176] += 0.8 * np.hanning(352)[176:][: max(len(sound) - first, 0)]
    return np.asarray(sound, np.float32)


@pytest.fixture(scope="module")
def copies(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The recording itself, the same after 1.37 s of silence, and another song."""
    folder = tmp_path_factory.mktemp("copies")
    whole = recording(attacks(), 26.0)
    other = np.sort(np.random.default_rng(3).uniform(0.5, 25.0, 72))
    soundfile.write(folder / "same.wav", whole, RATE)
    soundfile.write(folder / "later.wav", np.concatenate([np.zeros(round(1.37 * RATE), np.float32), whole]), RATE)
    soundfile.write(folder / "other.wav", recording(other.tolist(), 26.0), RATE)
    (folder / "words.wav").write_text("no sound at all")
    return folder


@pytest.fixture
def player(window: Browser, tmp_path: Path) -> Browser:
    page = tmp_path / "with a recording.html"
    page.write_text(build({"full": SHEET}, draw=sketch, heard=heard_in(SHEET)), encoding="utf-8")
    window.open(page)
    window.run("document.querySelector('#copy-fold').open = true;")
    window.click("h1")
    return window


def test_only_a_recording_has_a_copy() -> None:
    hits = heard_in(SHEET)
    known = record(SHEET, [*hits, hits[0]])
    assert known is not None
    assert sum(len(times) for times in known["strokes"].values()) == len({(h.time_s, h.sound) for h in hits})
    assert known["strokes"]["low"] == sorted(round(h.time_s, 3) for h in hits if h.sound == "kick")
    assert len(known["lines"]) == len(SHEET.grid.bars) + 1
    notes = msgspec.structs.replace(SHEET, song=msgspec.structs.replace(SHEET.song, kind="midi"))
    assert record(notes, hits) is None
    assert record(SHEET, ()) is None


def test_a_page_without_a_recording_does_not_ask_for_one(window: Browser, page_file: Path) -> None:
    window.open(page_file)
    assert window.run("return document.querySelector('#copy-fold').hidden;") is True


def test_a_copy_is_found_in_step_wherever_it_begins_and_another_song_is_not(player: Browser, copies: Path) -> None:
    assert player.choose_copy(copies / "same.wav") == "same.wav is in step with the chart."
    assert "1.37 seconds later than the lesson's" in player.choose_copy(copies / "later.wav")
    lines = player.run("return practice.player.copy.marks.lines;")
    assert lines[0] == pytest.approx(SHEET.grid.bars[0].start_s + 1.37, abs=0.004)
    assert "may be another recording" in player.choose_copy(copies / "other.wav")
    assert player.run("return practice.player.copy;") is None
    assert player.choose_copy(copies / "words.wav").startswith("words.wav cannot be played by this browser")


HEARD = """
const [percent, from, to, repeat, rounds, change] = given;
const { Tape, openRun, score, stretch } = practice.parts;
const { song } = practice;
const { copy } = practice.player;
const context = new OfflineAudioContext(1, Math.ceil(30 * copy.rate), copy.rate);
const tape = new Tape(context, copy, context.destination);
const level = score(song, song.levels.full);
const wish = { from, to, start: from, percent, repeat, rounds, countEach: rounds > 0 };
let run = openRun(song, level, wish, 0.3);
const { length } = run.part;
const { begins, period } = run;
for (let until = 0.2; until < 30; until += 0.2) tape.ahead(run, until - 0.2, until);
const sound = (await context.startRendering()).getChannelData(0);
const loud = [];
for (let at = 1; at < sound.length; at += 1) {
  if (sound[at] > 0.45 && sound[at - 1] <= 0.45 && at - (loud.at(-1) ?? -999) > 300) loud.push(at);
}
let jump = 0;
for (let at = 1; at < sound.length; at += 1) {
  if (Math.abs(sound[at]) < 0.2 && Math.abs(sound[at - 1]) < 0.2) jump = Math.max(jump, Math.abs(sound[at] - sound[at - 1]));
}
return { loud, jump, begins, length, period, rate: copy.rate };
"""


def heard(window: Browser, percent: int, first: int, last: int, *, repeat: bool = False, rounds: int = 0) -> Any:
    return window.run(HEARD, percent, first, last, repeat, rounds)


def clicks(sheet: Sheet, first: int, last: int, percent: int) -> list[float]:
    """When the clicks of some bars (by index) are heard, from the first bar line."""
    bars = sheet.grid.bars
    end = bars[last + 1].start_s if last + 1 < len(bars) else sheet.grid.end_s
    return [
        (t - bars[first].start_s) * 100 / percent for t in attacks(sheet) if bars[first].start_s <= t < end - 1e-6
    ]


@pytest.mark.parametrize("percent", [40, 65, 100, 110])
def test_every_attack_is_heard_once_on_its_place_at_any_tempo(player: Browser, copies: Path, percent: int) -> None:
    player.choose_copy(copies / "later.wav")
    player.run("practice.player.context ?? practice.player.device(); return 1;")
    found = heard(player, percent, 1, 4)
    meant = [found["begins"] + t for t in clicks(SHEET, 1, 4, percent)]
    on_time = [
        at / found["rate"] for at in found["loud"] if at / found["rate"] < found["begins"] + found["length"] - 0.01
    ]
    assert len(on_time) == len(meant)
    # what the search for the beginning may be off by, and the rounding of the page's data
    off = np.array(on_time) - np.array(meant)
    assert np.abs(off - np.median(off)).max() < 0.0011 * max(100 / percent, 1)
    assert abs(float(np.median(off))) < 0.004


def test_a_copy_that_drifts_is_heard_where_the_page_plays_steady(window: Browser, tmp_path: Path) -> None:
    drifting = wandering(bpm=[120 + (n % 3) for n in range(12)])
    soundfile.write(tmp_path / "drifting.wav", recording(attacks(drifting), 26.0), RATE)
    page = tmp_path / "drifting.html"
    page.write_text(build({"full": drifting}, draw=sketch, heard=heard_in(drifting)), encoding="utf-8")
    window.open(page)
    window.run("document.querySelector('#copy-fold').open = true;")
    window.click("h1")
    window.choose_copy(tmp_path / "drifting.wav")
    found = heard(window, 60, 1, 9)
    struck = window.run(
        """const { score, stretch } = practice.parts;
        const level = score(practice.song, practice.song.levels.full);
        const part = stretch(practice.song.bars, 1, 9, 60);
        return [1, 2, 3, 4, 5, 6, 7, 8, 9].flatMap((bar) => level.bar(part, bar)).filter((one) => one.bus !== "click")
          .map((one) => one.at);"""
    )
    meant = sorted({round(found["begins"] + at, 6) for at in struck})
    on_time = [at / found["rate"] for at in found["loud"]][: len(meant)]
    assert np.abs(np.array(on_time) - np.array(meant)).max() < 0.004


def test_a_passage_that_is_repeated_meets_itself_without_a_jump(player: Browser, copies: Path) -> None:
    player.choose_copy(copies / "same.wav")
    found = heard(player, 70, 1, 2, repeat=True)
    one = clicks(SHEET, 1, 2, 70)
    passes = int((30 - found["begins"]) / found["period"])
    meant = [found["begins"] + n * found["period"] + t for n in range(passes) for t in one]
    on_time = [at / found["rate"] for at in found["loud"]][: len(meant)]
    assert np.abs(np.array(on_time) - np.array(meant)).max() < 0.004
    # three sines of .03 at 44.1 kHz change by less than .005 from sample to sample, the foot of a click by .02
    assert found["jump"] < 0.03


def test_nothing_of_it_is_heard_while_counting_in(player: Browser, copies: Path) -> None:
    player.choose_copy(copies / "same.wav")
    found = heard(player, 80, 1, 1, repeat=True, rounds=1)
    rate = found["rate"]
    counted = found["period"] - found["length"]
    assert counted > 1
    for at in found["loud"]:
        within = (at / rate - found["begins"]) % found["period"]
        assert within < found["length"] or within > found["period"] - 0.03
    assert found["loud"][0] / rate > found["begins"] - 0.03


def until(window: Browser, holds: str) -> None:
    """Waits for something to be so, ten seconds at most."""
    for _ in range(100):
        if window.run(f"return {holds};") is True:
            return
        window.run("await new Promise((done) => setTimeout(done, 100));")
    raise AssertionError(f"never came: {holds}")


def test_a_copy_plays_with_the_drums_and_leaves_when_it_is_switched_off(player: Browser, copies: Path) -> None:
    player.choose_copy(copies / "same.wav")
    player.run("practice.chosen.rounds = 0;")
    player.click("#play")
    until(player, "(practice.player.tape?.live.length ?? 0) > 2")
    blocks = player.run("return practice.player.tape.live.map(({ when, end }) => [when, end]);")
    gaps = [when - end for (_, end), (when, _) in pairwise(blocks)]
    assert min(gaps) > -1e-9, "two blocks of one pass sound at once"
    assert min(gaps) < 1e-9, "no block follows on another"
    player.run("practice.player.change({...practice.chosen, percent: 50, rounds: 0});")
    until(player, "practice.player.tape.run === practice.player.runs.at(-1) && practice.player.tape.live.length > 2")
    player.click("#copy-on")
    until(player, "practice.player.tape === null")
    assert player.run("return practice.player.playing;") is True
    assert player.log("browser") == []
