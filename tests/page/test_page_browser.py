"""The page in a real browser: it opens, asks for nothing, plays, loops, follows, and can be used by everyone."""

import time
from pathlib import Path

import pytest
from browser import Browser
from page_songs import ferry

from fourlimb.model import LEVELS, Section
from fourlimb.page import build

HEARD = "return practice.player.heard();"


def started(window: Browser) -> None:
    """Presses Play and waits until the first bar is heard."""
    window.click("#play")
    for _ in range(100):
        if window.run(HEARD)["kind"] == "bar":
            return
        time.sleep(0.1)
    raise AssertionError("nothing was heard within ten seconds")


def test_it_opens_from_disk_without_an_error_and_without_a_request(window: Browser, page_file: Path) -> None:
    asked = window.requests()
    assert [url for url in asked if not url.startswith("data:")] == [page_file.as_uri()]
    started(window)
    assert [url for url in window.requests() if not url.startswith("data:")] == []
    assert window.log("browser") == []
    assert (
        window.run(
            "return performance.getEntriesByType('resource').filter((e) => !e.name.startsWith('data:')).length"
        )
        == 0
    )


@pytest.mark.parametrize("width", [390, 1280])
def test_a_page_opens_at_its_head_and_a_level_is_chosen_without_a_jump(
    window: Browser, page_file: Path, width: int
) -> None:
    window.open(page_file, width=width, height=500)  # so low that the chart is out of sight
    time.sleep(0.6)
    assert window.run("return scrollY") == 0
    window.run("document.querySelector('#levels input:not(:checked)').click()")
    time.sleep(0.6)
    assert window.run("return [scrollY, practice.chosen.level]") == [0, "steady"]
    window.run("practice.chart.show(practice.song.bars.length - 1, 0, true)")
    time.sleep(1.2)
    assert window.run("return scrollY") > 0


def test_a_rung_has_the_same_number_on_the_ladder_and_beside_the_player(window: Browser) -> None:
    said = window.run(  # at 132 a rung of 93 is 70 %, and 70 % is 92.4
        """practice.song.goal = 132;
        practice.song.rungs.splice(0, 99, {bpm: 79, percent: 60}, {bpm: 93, percent: 70});
        return [60, 65, 70].map((percent) => {
          const tempo = document.querySelector("#tempo");
          tempo.value = String(percent);
          tempo.dispatchEvent(new Event("input"));
          return document.querySelector("#tempo-says").textContent;
        });"""
    )
    assert said == ["79 · 60 %", "86 · 65 %", "93 · 70 %"]


def test_nothing_sounds_before_the_student_presses_play(window: Browser) -> None:
    time.sleep(0.5)
    assert window.run("return [practice.player.context, practice.player.scheduled]") == [None, 0]


def test_playing_moves_the_needle_with_the_sound(window: Browser) -> None:
    started(window)
    places = []
    for _ in range(12):
        places.append(
            window.run(
                "const h = practice.player.heard(); return [h.bar * 100 + h.quarter,"
                " document.querySelector('.needle').getBoundingClientRect().left,"
                " document.querySelector('.bar.now').getAttribute('aria-label')]"
            )
        )
        time.sleep(0.1)
    assert [p[0] for p in places] == sorted(p[0] for p in places)
    assert places[-1][0] > places[0][0]
    assert places[-1][1] != places[0][1]
    assert window.run("return practice.player.scheduled") > 10
    assert window.run("return practice.player.context.state") == "running"


def test_the_needle_stands_on_the_note_that_is_heard(window: Browser) -> None:
    """Shown a stroke's place, the needle stands within half a head of the head that the engraver drew there."""
    window.run("document.querySelector('input[value=full]').click()")
    for bar, quarter in ((1, 0), (1, 1.5), (4, 1), (6, 3.5)):
        off = window.run(
            """
            const [bar, quarter] = given;
            practice.chart.show(bar, quarter);
            const box = practice.chart.level.boxes[bar];
            const x = box.marks.find(([at]) => Math.abs(at - quarter) < 1e-6)[1];
            const cell = practice.chart.cells.find((each) => each.bar === bar);
            const svg = cell.picture.querySelector('svg').getBoundingClientRect();
            const expected = svg.left + (x - cell.row.x) / cell.row.width * svg.width;
            return document.querySelector('.needle').getBoundingClientRect().left - expected;
            """,
            bar,
            quarter,
        )
        assert abs(off) < 2.5, (bar, quarter, off)


def test_what_sounds_is_what_the_page_says_is_heard(window: Browser) -> None:
    """The live sound itself, read back: every click lies on the beat that the page names for that moment.

    The page's clock runs behind the context's by what the device needs to be heard, and by no more.
    """
    window.run(
        "for (const name of ['hands', 'feet']) document.getElementById(name).click();"
        "const r = document.getElementById('rounds'); r.value = '0'; r.dispatchEvent(new Event('change'));"
        "const t = document.getElementById('tempo'); t.value = 110; t.dispatchEvent(new Event('input'));"
        "practice.chosen.start = 1;"
    )
    started(window)
    offs, lag, latency = window.run(
        """
        const { player, song, parts } = practice;
        const { context, mix } = player;
        const ear = new AnalyserNode(context, { fftSize: 32768 });
        mix.fade.connect(ear);
        await new Promise((done) => setTimeout(done, 2600));
        const sound = new Float32Array(ear.fftSize);
        const now = context.currentTime;
        ear.getFloatTimeDomainData(sound);
        const lag = now - player.clock();
        const loudest = sound.reduce((most, one) => Math.max(most, Math.abs(one)), 0);
        const offs = [];
        let quiet = 0;
        for (let at = 0; at < sound.length; at += 1) {
          if (Math.abs(sound[at]) < loudest / 5) { quiet += 1; continue; }
          if (quiet > context.sampleRate / 10) {
            const time = now - (sound.length - at) / context.sampleRate;
            const { bar, quarter } = parts.heardAt(song, player.runs.at(-1), time);
            offs.push((quarter - Math.round(quarter)) * 6000 / (song.bars[bar].tempo * 110));
          }
          quiet = 0;
        }
        return [offs, lag, context.outputLatency + context.baseLatency];
        """
    )
    assert offs
    assert max(abs(off) for off in offs) < 0.012  # blocks of the audio clock, and of a busy machine
    assert 0 <= lag < latency + 0.05


def test_stop_is_silence_and_play_starts_where_it_stopped(window: Browser) -> None:
    started(window)
    time.sleep(1.2)
    window.click("#play")
    assert window.run("return [practice.player.playing, practice.player.live.length]") == [False, 0]
    assert window.run("return document.getElementById('play-word').textContent") == "Play"


def test_tempo_and_level_change_while_playing_without_losing_the_place(window: Browser) -> None:
    """At the moment of the change the old run and the new one are at the same place, to a millionth of a quarter."""
    started(window)
    changed = window.run(
        """
        const { player, song, parts } = practice;
        const seen = [];
        const t = document.getElementById('tempo');
        for (const act of [
          () => { t.value = 95; t.dispatchEvent(new Event('input')); },
          () => document.querySelector('input[value=full]').click(),
        ]) {
          const old = player.runs.at(-1);
          act();
          const run = player.runs.at(-1);
          const places = [old, run].map((each) => parts.heardAt(song, each, run.since));
          seen.push([run !== old, run.part.percent, ...places.map(({ bar, quarter }) => bar * 100 + quarter)]);
        }
        return [...seen, practice.chosen.level];
        """
    )
    *runs, level = changed
    assert level == "full"
    for new, percent, before, after in runs:
        assert new
        assert percent == 95
        assert after == pytest.approx(before, abs=1e-6)
    time.sleep(0.5)
    assert window.run(HEARD)["kind"] == "bar"
    assert window.run("return practice.player.runs.at(-1).part.percent") == 95


def test_choosing_two_bars_repeats_what_lies_between(window: Browser) -> None:
    window.click(".bar[aria-label^='bar 2,']")
    window.click(".bar[aria-label^='bar 3,']")
    assert window.run("const { from, to, repeat } = practice.chosen; return [from, to, repeat]") == [2, 3, True]
    window.run(
        "const r = document.getElementById('rounds'); r.value = '0'; r.dispatchEvent(new Event('change'));"
        "const t = document.getElementById('tempo'); t.value = 110; t.dispatchEvent(new Event('input'));"
    )
    started(window)
    seen = set()
    for _ in range(90):
        heard = window.run(HEARD)
        seen.add((heard["pass"], heard["bar"]))
        if (1, 3) in seen:
            break
        time.sleep(0.1)
    assert {(0, 2), (0, 3), (1, 2), (1, 3)} <= seen
    assert {bar for _, bar in seen} == {2, 3}


def test_a_section_is_one_press_away_and_escape_gives_the_whole_song_back(window: Browser) -> None:
    window.click(".road li:nth-child(2) button")
    assert window.run("return [practice.chosen.from, practice.chosen.to]") == [5, 8]
    assert window.run("return document.querySelector('.road li:nth-child(2) small').textContent") == "bars 5–8"
    window.press("\ue00c")
    assert window.run("return [practice.chosen.from, practice.chosen.to, practice.chosen.repeat]") == [0, 8, False]


def test_a_landmark_puts_the_start_there(window: Browser) -> None:
    window.click(".landmarks button")
    assert window.run("return practice.chosen.start") == 8


def test_muting_turns_a_bus_off_and_the_rest_stays(window: Browser) -> None:
    started(window)
    window.run("document.getElementById('hands').click()")
    time.sleep(0.3)
    gains = window.run(
        "const { buses } = practice.player.mix;"
        "return ['hands', 'feet', 'click', 'count'].map((bus) => buses[bus].dry.gain.value.toFixed(2))"
    )
    assert gains == ["0.00", "1.00", "1.00", "1.00"]


def test_volume_starts_low_and_the_first_sound_fades_in(window: Browser) -> None:
    assert window.run("return practice.player.volume") <= 0.4
    steps = window.run(
        """
        const context = new OfflineAudioContext(1, 44100, 44100);
        const empty = context.createBuffer(2, 1, 44100);
        const mix = new practice.parts.Mix(context, { voices: {}, clicks: [], room: empty, power: 1 });
        mix.volume.gain.value = 1;
        const steady = new ConstantSourceNode(context, { offset: 1 });
        steady.connect(mix.input('hands', 'none'));
        steady.start();
        mix.fadeIn(0.1, 0.5);
        const samples = (await context.startRendering()).getChannelData(0);
        return [0.05, 0.2, 0.35, 0.5, 0.7].map((at) => samples[Math.round(at * 44100)]);
        """
    )
    assert steps == sorted(steps)
    assert steps[0] == 0
    assert steps[4] > 4 * steps[1] > 0


def test_keys_alone_can_play_choose_and_change_the_tempo(window: Browser) -> None:
    window.press(" ")
    time.sleep(0.6)
    assert window.run("return practice.player.playing") is True
    before = window.run("return practice.chosen.percent")
    window.press("\ue00e")
    assert window.run("return practice.chosen.percent") > before
    window.press(" ")
    assert window.run("return practice.player.playing") is False
    window.run("document.querySelector('.bar[tabindex=\"0\"]').focus()")
    window.press("\ue014")
    window.press("\ue014")
    assert window.run("return document.activeElement.getAttribute('aria-label')").startswith("bar 2")
    window.press("\ue007")
    assert window.run("return practice.chosen.pending") == 2


def test_ladder_boxes_are_remembered_for_their_level_and_passage(window: Browser, page_file: Path) -> None:
    window.run("document.querySelectorAll('.rung')[0].querySelectorAll('input')[1].click()")
    window.open(page_file)
    ticked = "return [...document.querySelectorAll('.rung')].map((r) => r.querySelectorAll(':checked').length)"
    assert window.run(ticked)[0] == 2
    window.click(".road li:nth-child(2) button")
    assert window.run(ticked)[0] == 0


def test_three_clean_passes_pass_a_rung_and_three_failures_advise_a_rest(window: Browser) -> None:
    window.run("document.querySelectorAll('.rung')[0].querySelectorAll('input')[2].click()")
    assert window.run("return document.querySelectorAll('.rung')[0].className").split() == ["rung", "done"]
    for _ in range(3):
        window.run("document.querySelectorAll('.rung')[1].querySelector('.again').click()")
    assert window.run("return document.getElementById('speak').hidden") is False
    assert "enough" in window.run("return document.getElementById('speak-text').textContent").lower()


def test_after_half_an_hour_of_sound_the_page_asks_for_quiet(window: Browser) -> None:
    window.run("for (let s = 0; s < 1799; s += 1) practice.care.heard(1, '')")
    assert window.run("return document.getElementById('speak').hidden") is True
    window.run("practice.care.heard(2, '')")
    assert "Time for quiet" in window.run("return document.getElementById('speak-text').textContent")
    window.run("document.getElementById('speak-close').click()")
    assert window.run("return document.getElementById('speak').hidden") is True


def test_ten_minutes_on_one_passage_are_enough(window: Browser) -> None:
    window.run("for (let s = 0; s < 601; s += 1) practice.care.heard(1, '3-4')")
    assert "enough" in window.run("return document.getElementById('speak-text').textContent").lower()


def test_the_first_caution_is_shown_until_it_is_read(window: Browser, page_file: Path) -> None:
    assert window.run("return document.getElementById('first-use').hidden") is False
    window.click("#first-use-read")
    window.open(page_file)
    assert window.run("return document.getElementById('first-use').hidden") is True


def test_it_works_where_the_browser_refuses_storage(one_browser: Browser, page_file: Path) -> None:
    script = "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('refused'); } });"
    added = one_browser.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": script})
    try:
        one_browser.open(page_file)
        one_browser.click("#first-use-read")
        one_browser.run("document.querySelectorAll('.rung')[0].querySelectorAll('input')[0].click()")
        started(one_browser)
        assert one_browser.log("browser") == []
    finally:
        one_browser.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


@pytest.mark.parametrize("width", [320, 360, 412, 768, 2560])
def test_no_sideways_scrolling_at_any_width(window: Browser, page_file: Path, width: int) -> None:
    window.open(page_file, width=width, height=740)
    window.run("document.querySelector('.more').open = true; document.getElementById('ladder-fold').open = true;")
    for level in LEVELS:
        window.run("document.querySelector(`input[value=${given[0]}]`).click()", level)
        wide = "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        scroll, client = window.run(wide)
        assert scroll <= client, (level, scroll, client)


def test_a_long_or_hostile_title_does_not_run_or_widen_the_page(one_browser: Browser, tmp_path: Path) -> None:
    title = "<script>window.ran = 1</script><img src=x onerror='window.ran = 1'>" + "x" * 300
    sheets = {
        level: ferry(level, title=title, sections=(Section(name=title, from_bar=1, to_bar=8),)) for level in LEVELS
    }
    path = tmp_path / "hostile.html"
    path.write_text(build(sheets), encoding="utf-8")
    one_browser.open(path, width=360, height=740)
    assert one_browser.run("return window.ran ?? null") is None
    assert one_browser.run("return document.querySelector('h1').textContent") == title
    assert one_browser.run("return document.documentElement.scrollWidth") <= 360
    one_browser.click(".bar[aria-label^='bar 1']")
    assert title in one_browser.run("return document.getElementById('place').textContent")
    assert one_browser.run("return document.documentElement.scrollWidth") <= 360
    assert one_browser.run("return document.getElementById('dock').offsetHeight") < 240
    assert one_browser.log("browser") == []


def test_no_script_but_the_page_s_own_may_run(window: Browser) -> None:
    """The content policy stops a script and a request that some future hole might let in."""
    window.run(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s);"
        "await fetch('https://example.org').catch(() => {});"
    )
    assert window.run("return window.ran ?? null") is None
    assert [url for url in window.requests() if url.startswith("http")] == []


def test_on_paper_there_is_a_chart_and_no_dock(window: Browser) -> None:
    window.prefer("print")
    shown = "return getComputedStyle(document.querySelector(given[0])).display"
    assert window.run(shown, "#dock") == "none"
    assert window.run(shown, ".rows") != "none"
    assert window.run(shown, "#first-use") != "none"


def test_with_less_movement_wished_for_the_needle_steps_from_beat_to_beat(window: Browser) -> None:
    window.prefer(prefers_reduced_motion="reduce")
    left = "practice.chart.show(1, given[0]); return document.querySelector('.needle').style.left"
    assert window.run(left, 1.0) == window.run(left, 1.6)
    assert window.run(left, 1.0) != window.run(left, 2.0)


def test_silence_is_no_figure_and_is_told_without_a_name(window: Browser) -> None:
    window.run("practice.chosen.start = 8; document.querySelector('input[value=full]').click()")
    label = window.run("return practice.chart.cells.at(-1).button.ariaLabel")
    assert label == "bar 8, open sea, drums silent in bar 8"
    notes = window.run("return [...document.querySelectorAll('.note')].map((note) => note.textContent)")
    assert notes[-1] == "drums silent in bar 8"
    assert window.run("return document.getElementById('words').textContent") == "drums silent in bar 8"
    assert window.run("return document.querySelectorAll('.note.now').length") == 1
