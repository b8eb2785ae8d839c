"""The page as a student has it in hand: what a reload brings back, one key to play, a lit screen, a lost device."""

import json
import time
from pathlib import Path

import pytest
from browser import Browser
from page_songs import ferry, groove, song

from fourlimb.page import build

CHOSEN = "const { level, percent, from, to, start, repeat, rounds, countEach, most } = practice.chosen;"
PLAYING = "return practice.player.playing"


def change(window: Browser, name: str, value: object) -> None:
    window.run(
        "const it = document.getElementById(given[0]); it.value = given[1]; it.dispatchEvent(new Event('change'))",
        name,
        value,
    )


def wait(window: Browser, script: str, wanted: object, seconds: float = 8.0) -> None:
    for _ in range(int(seconds * 10)):
        if window.run(script) == wanted:
            return
        time.sleep(0.1)
    assert window.run(script) == wanted


def test_a_reload_brings_back_place_tempo_and_settings_but_not_loudness(window: Browser, page_file: Path) -> None:
    window.run(
        "document.querySelector('input[value=full]').click();"
        "const t = document.getElementById('tempo'); t.value = 83; t.dispatchEvent(new Event('input'));"
        "const v = document.getElementById('volume'); v.value = 90; v.dispatchEvent(new Event('input'));"
        "document.getElementById('hands').click(); document.getElementById('count-each').click()"
    )
    change(window, "rounds", "2")
    change(window, "most", "2")
    change(window, "delay", "120")
    window.click(".bar[aria-label^='bar 3,']")
    window.click(".bar[aria-label^='bar 5,']")
    chosen = f"{CHOSEN} return [level, percent, from, to, start, repeat, rounds, countEach, most]"
    before = window.run(chosen)
    assert before == ["full", 83, 3, 5, 3, True, 2, True, 2]
    window.open(page_file)
    assert window.run(chosen) == before
    shown = window.run(
        "const v = (id) => document.getElementById(id); return [v('rounds').value, v('most').value, v('delay').value,"
        " v('repeat').checked, v('count-each').checked, v('tempo').value, v('loop-says').textContent,"
        " v('hands').checked, v('volume').value, document.querySelectorAll('.bar.chosen').length,"
        " practice.player.delay, practice.player.volume]"
    )
    assert shown == ["2", "2", "120", True, True, "83", "repeats bars 3–5", True, "40", 3, 0.12, 0.4]


def test_a_reload_while_it_plays_comes_back_to_the_bar_that_was_heard(window: Browser, page_file: Path) -> None:
    change(window, "rounds", "0")
    window.run("practice.chosen.start = 5")
    window.click("#play")
    wait(window, "return practice.player.heard().bar ?? -1", 6)
    window.open(page_file)
    assert window.run("return practice.chosen.start") == 6
    assert window.run("return document.getElementById('place').textContent") == "bar 6, open sea"


def test_bars_that_a_corrected_lesson_no_longer_has_are_not_come_back_to(window: Browser, page_file: Path) -> None:
    song = ferry().song.sha256[:16]
    old = {"chosen": {"from": 40, "to": 44, "start": 41, "percent": "fast", "most": None}, "level": "gone"}
    window.run("localStorage.setItem(given[0], given[1])", f"fourlimb {song}", json.dumps(old))
    window.open(page_file)
    assert window.run(f"{CHOSEN} return [level, percent, from, to, start, most]") == ["bones", 70, 0, 8, 0, 0]
    assert window.log("browser") == []


def test_the_whole_song_stays_whole_when_a_correction_gives_it_more_bars(
    one_browser: Browser, tmp_path: Path
) -> None:
    one_browser.prefer()
    path = tmp_path / "index.html"
    for bars in (4, 8):
        sheet = song([one for bar in range(1, bars + 1) for one in groove(bar)], [("4/4", 120.0)] * bars)
        path.write_text(build({"full": sheet}), encoding="utf-8")
        one_browser.open(path)
        if bars == 4:
            one_browser.run("localStorage.clear()")
            one_browser.click("#faster")
    assert one_browser.run(f"{CHOSEN} return [from, to, repeat, percent !== practice.song.start_percent]") == [
        0, 7, False, True,
    ]  # fmt: skip


@pytest.mark.parametrize(
    "css", [".bar[aria-label^='bar 2,']", ".road li:nth-child(2) button", "#levels input", ".fold summary"]
)
def test_space_plays_wherever_the_mouse_has_left_the_focus(window: Browser, css: str) -> None:
    window.click(css)
    before = window.run(f"{CHOSEN} return [level, from, to, start, repeat, practice.chosen.pending]")
    window.press(" ")
    wait(window, PLAYING, True)
    assert window.run(f"{CHOSEN} return [level, from, to, start, repeat, practice.chosen.pending]") == before
    window.press(" ")
    wait(window, PLAYING, False)


def test_space_plays_from_the_tempo_and_from_a_bar_that_the_keyboard_has_reached(window: Browser) -> None:
    for css in ("#tempo", '.bar[tabindex="0"]', "#levels input:checked"):
        window.run("document.querySelector(given[0]).focus()", css)
        window.press(" ")
        wait(window, PLAYING, True)
        window.press(" ")
        wait(window, PLAYING, False)
    assert window.run("return practice.chosen.pending") is None


def test_space_presses_the_button_that_the_tab_key_has_reached(window: Browser) -> None:
    window.run("document.querySelector('.road li:nth-child(1) button').focus()")
    window.press("\ue004")  # Tab
    window.press(" ")
    assert window.run("return [practice.chosen.from, practice.chosen.to]") == [5, 8]
    assert window.run(PLAYING) is False


def test_escape_closes_a_notice_before_it_gives_up_the_passage(window: Browser) -> None:
    window.click(".road li:nth-child(2) button")
    window.run("for (let s = 0; s < 1801; s += 1) practice.care.heard(1, '')")
    window.press("\ue00c")
    assert window.run("return [document.getElementById('speak').hidden, practice.chosen.from]") == [True, 5]
    window.press("\ue00c")
    assert window.run("return practice.chosen.from") == 0


def test_the_way_back_to_the_whole_song_stands_beside_the_passage(window: Browser) -> None:
    window.size(390, 844)
    seen = "return document.getElementById('all').checkVisibility()"
    assert window.run(seen) is False
    window.click(".road li:nth-child(2) button")
    assert window.run(seen) is True
    says = "return document.getElementById('loop-says').textContent"
    assert window.run(says) == "repeats bars 5–8"
    window.run("document.getElementById('repeat').click()")
    assert window.run(says) == "only bars 5–8"
    window.click("#all")
    assert window.run(f"{CHOSEN} return [from, to, repeat]") == [0, 8, False]
    assert window.run(seen) is False
    assert window.run("return document.activeElement.id") == "play"


def test_the_screen_stays_lit_while_it_plays_and_only_then(window: Browser) -> None:
    window.run(
        "window.lights = []; const lock = { release: async () => { lights.push('off'); } };"
        "navigator.wakeLock.request = async (what) => { lights.push(what); return lock; };"
    )
    window.click("#play")
    wait(window, "return lights", ["screen"])
    window.click("#play")
    wait(window, "return lights", ["screen", "off"])


def test_sound_that_the_device_takes_away_is_told_and_play_goes_on_from_there(window: Browser) -> None:
    change(window, "rounds", "0")
    window.run("practice.chosen.start = 3")
    window.click("#play")
    wait(window, "return practice.player.heard().bar ?? -1", 4)
    window.run("await practice.player.context.suspend()")
    wait(window, PLAYING, False)
    assert "cut off" in window.run("return document.getElementById('status').textContent")
    assert window.run("return document.getElementById('play-word').textContent") == "Play"
    assert window.run("return practice.chosen.start") == 4
    window.click("#play")
    wait(window, "return practice.player.heard().bar ?? -1", 4)


def test_a_sound_device_that_does_not_answer_is_told(window: Browser) -> None:
    window.run("AudioContext.prototype.resume = () => new Promise(() => {})")
    window.click("#play")
    wait(window, "return document.getElementById('status').textContent.startsWith('The sound did not start')", True)
    assert window.run("return [practice.player.playing, document.getElementById('play').ariaBusy]") == [False, None]


def test_the_device_rests_when_nothing_plays(window: Browser) -> None:
    window.click("#play")
    wait(window, PLAYING, True)
    window.click("#play")
    wait(window, "return practice.player.context.state", "suspended")
    assert window.run("return document.getElementById('status').textContent") == ""


def test_the_count_in_is_longer_at_a_slow_tempo_unless_it_was_chosen(window: Browser) -> None:
    """As on the sound files: one bar from 90 beats a minute, two below (common practice)."""

    def counted(percent: int) -> float:
        window.run(
            "const t = document.getElementById('tempo'); t.value = given[0]; t.dispatchEvent(new Event('input'))",
            percent,
        )
        window.click("#play")
        wait(window, PLAYING, True)
        beats = window.run("const run = practice.player.runs.at(-1); return run.lead.clicks.length")
        window.click("#play")
        return float(beats)

    window.run("practice.chosen.start = 1")
    assert [counted(100), counted(60)] == [4, 8]
    change(window, "rounds", "1")
    assert counted(60) == 4
