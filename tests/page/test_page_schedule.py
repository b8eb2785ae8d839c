"""The page's own schedule, rendered by the browser's offline audio, against the chart: exact to the sample.

The reference is independent of the page: onsets come from the model's grid at the wished tempo.
"""

from fractions import Fraction

import pytest
from browser import Browser
from page_songs import ferry

from fourlimb.model import Sheet

RATE = 44_100
RENDER = """
const [wish, level, seconds, at, rate] = given;
const { score, openRun, due, strike } = practice.parts;
const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
const one = context.createBuffer(1, 1, context.sampleRate);
one.getChannelData(0)[0] = 1;
const voice = { level: 1, side: 0, room: 0, pitch: 1, layers: [[100, [{ buffer: one, gain: 1 }]]] };
const voices = Object.fromEntries(practice.song.sounds.map((sound) => [sound, voice]));
const kit = { voices, clicks: [one, one], power: 0 };
const run = openRun(practice.song, score(practice.song, practice.song.levels[level]), wish, at);
let handed = 0;
for (let until = 0; until < seconds + 1; until += 0.37) {
  for (const { blow, when } of due(practice.song, run, until)) {
    if (blow.bus === 'click') continue;
    strike(context, kit, blow, when, context.destination);
    handed += 1;
  }
}
const samples = (await context.startRendering()).getChannelData(0);
const found = [];
for (let place = 0; place < samples.length; place += 1) {
  if (Math.abs(samples[place]) > 1e-6) found.push([place, Math.round(samples[place])]);
}
return { found, handed };
"""


def rendered(window: Browser, wish: dict[str, object], level: str, seconds: float, at: float) -> dict[int, int]:
    """Sample -> how many sounds start there (count-in and strokes, no click)."""
    window.driver.set_script_timeout(120)
    return dict(window.run(RENDER, wish, level, seconds, at, RATE)["found"])


def wish(first: int, last: int, percent: float, **more: object) -> dict[str, object]:
    plain = {"percent": percent, "repeat": False, "rounds": 0, "countEach": False}
    return {"from": first, "to": last, "start": first} | plain | more


def onsets(sheet: Sheet, first: int, last: int, percent: float) -> list[float]:
    """Seconds from the first bar line of everything struck in these bars, and of the landing after them."""
    start = sheet.grid.at(first).start_s
    found = []
    for stroke in sheet.chart.strokes:
        landing = stroke.bar == last + 1 and stroke.position == Fraction(0)
        if first <= stroke.bar <= last or landing:
            at = (sheet.grid.time_at(stroke.bar, stroke.position, swung=True) - start) * 100 / percent
            found += [at, *([at - 0.03] if stroke.grace == "flam" else [])]
    return found


def same(found: dict[int, int], meant: list[float]) -> None:
    """Every onset on the sample nearest its time, and nothing else (an exact half may fall to either side)."""
    samples = sorted(place for place, count in found.items() for _ in range(count))
    assert len(samples) == len(meant)
    for place, time in zip(samples, sorted(meant), strict=True):
        assert abs(place - time * RATE) <= 0.501, (place, time)


@pytest.mark.parametrize("percent", [40, 73, 100, 110])
@pytest.mark.parametrize("level", ["bones", "full"])
def test_a_section_sounds_where_the_chart_says_at_any_tempo(window: Browser, level: str, percent: int) -> None:
    sheet = ferry(level)
    meant = [0.25 + time for time in onsets(sheet, 1, 4, percent)]
    same(rendered(window, wish(1, 4, percent), level, 22.0, 0.25), meant)


def test_twenty_passes_of_a_loop_stay_on_their_samples(window: Browser) -> None:
    sheet, percent, passes = ferry(), 87, 21
    bars = [time for time in onsets(sheet, 2, 2, percent) if time < 2 * 100 / percent - 1e-6]
    period = 2.0 * 100 / percent
    seconds = 0.25 + passes * period
    found = rendered(window, wish(2, 2, percent, repeat=True), "full", seconds - 0.01, 0.25)
    same(found, [0.25 + lap * period + time for lap in range(passes) for time in bars])


def test_the_count_in_leads_into_the_pickup_with_its_own_numbers(window: Browser) -> None:
    """A bar of four before a pickup of one beat: three clicks, then the pickup where the 4 would be."""
    sheet = ferry()
    found = rendered(window, wish(0, 0, 100, rounds=1), "full", 4.0, 0.25)
    clicks = [0.25 + beat * 0.5 for beat in range(3)]
    same(found, clicks + [0.25 + 1.5 + time for time in onsets(sheet, 0, 0, 100)])


def test_counting_in_before_every_pass_lengthens_the_pass_and_nothing_else(window: Browser) -> None:
    sheet = ferry()
    bars = [time for time in onsets(sheet, 2, 2, 100) if time < 2.0 - 1e-6]
    found = rendered(window, wish(2, 2, 100, repeat=True, rounds=1, countEach=True), "full", 12.2, 0.25)
    meant = [0.25 + lap * 4 + beat * 0.5 for lap in range(3) for beat in range(4)]
    meant += [0.25 + lap * 4 + 2 + time for lap in range(3) for time in bars]
    same(found, [time for time in meant if time < 12.2])


def test_the_real_drums_are_heard_and_stay_under_full_scale(window: Browser) -> None:
    peak, loud = window.run(
        """
        const { score, openRun, due, strike, openKit, Mix } = practice.parts;
        const context = new OfflineAudioContext(2, 44100 * 6, 44100);
        const kit = await openKit(context, practice.song.kit, () => {});
        const mix = new Mix(context, kit);
        mix.volume.gain.value = 1;
        mix.fadeIn(0, 0.01);
        const wish = { from: 3, to: 5, start: 3, percent: 100, repeat: false, rounds: 0, countEach: false };
        const run = openRun(practice.song, score(practice.song, practice.song.levels.full), wish, 0.2);
        for (const { blow, when } of due(practice.song, run, 9)) {
          strike(context, kit, blow, when, mix.input(blow.bus, blow.sound));
        }
        const samples = (await context.startRendering()).getChannelData(0);
        let peak = 0; let power = 0;
        for (const sample of samples) { peak = Math.max(peak, Math.abs(sample)); power += sample * sample; }
        return [peak, Math.sqrt(power / samples.length)];
        """
    )
    assert 0.2 < peak < 1.0
    assert loud > 0.02


def test_a_second_of_a_kind_is_played_at_its_own_pitch(window: Browser) -> None:
    lengths = window.run(
        """
        const { strike } = practice.parts;
        const found = [];
        for (const pitch of [1, 0.5]) {
          const context = new OfflineAudioContext(1, 44100, 44100);
          const buffer = context.createBuffer(1, 1000, 44100);
          buffer.getChannelData(0).fill(0.5);
          const voice = { level: 1, side: 0, room: 0, pitch, layers: [[100, [{ buffer, gain: 1 }]]] };
          const kit = { voices: { crash: voice }, clicks: [], power: 0 };
          strike(context, kit, { at: 0, sound: "crash", velocity: 100, bus: "hands", stop: 0, fade: 0, turn: 0 }, 0,
            context.destination);
          found.push((await context.startRendering()).getChannelData(0).filter((x) => Math.abs(x) > 0.1).length);
        }
        return found;
        """
    )
    assert abs(lengths[0] - 1000) <= 2
    assert abs(lengths[1] - 2000) <= 4


def test_at_full_volume_the_page_is_about_as_loud_as_the_lesson_s_sound_files(window: Browser) -> None:
    """Within 3 LU of the integrated loudness (ITU-R BS.1770) of the same bars with click from `sound`."""
    from base64 import b64decode

    import numpy as np

    from fourlimb import sound
    from fourlimb.model import Audio

    window.driver.set_script_timeout(120)
    sides = window.run(
        """
        const { score, openRun, due, strike, openKit, Mix } = practice.parts;
        const context = new OfflineAudioContext(2, 44100 * 17, 44100);
        const mix = new Mix(context, await openKit(context, practice.song.kit, () => {}));
        mix.volume.gain.value = 1;
        mix.fadeIn(0, 0.01);
        const wish = { from: 0, to: 8, start: 0, percent: 100, repeat: false, rounds: 0, countEach: false };
        const run = openRun(practice.song, score(practice.song, practice.song.levels.full), wish, 0.2);
        for (const { blow, when } of due(practice.song, run, 99)) {
          strike(context, mix.kit, blow, when, mix.input(blow.bus, blow.sound));
        }
        const sound = await context.startRendering();
        return [0, 1].map((side) => {
          const raw = new Uint8Array(sound.getChannelData(side).buffer);
          let text = '';
          for (let at = 0; at < raw.length; at += 8192) text += String.fromCharCode(...raw.subarray(at, at + 8192));
          return btoa(text);
        });
        """
    )
    heard = np.stack([np.frombuffer(b64decode(side), np.float32) for side in sides], axis=1)
    page = sound.loudness(Audio(samples=heard, rate=RATE))
    file = sound.loudness(sound.render(ferry()).audio)
    assert abs(page - file) < 3.0, (page, file)
