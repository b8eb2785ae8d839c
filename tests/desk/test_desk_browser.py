"""The desk in a real browser: everything can be done by keyboard, said to a screen reader, and seen on a phone."""

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import mido
import msgspec
import pytest
from asking import Asker, served
from browser import Browser
from screen import opened, until
from test_page_for_everyone import CONTRAST, PRESSED
from tests.conftest import short_song

from fourlimb import lesson as room
from fourlimb.desk import Desk
from fourlimb.lesson import corrections, workshop

WORDS = "return document.getElementById('words').value"
STATUS = "return document.getElementById('status').textContent"
FOCUS = "return document.activeElement.id || document.activeElement.getAttribute('aria-label')"


def keys() -> Any:
    from selenium.webdriver.common.keys import Keys

    return Keys


def shifted(window: Browser, key: str) -> None:
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(window.driver).key_down(keys().SHIFT).send_keys(key).key_up(keys().SHIFT).perform()


def choose(window: Browser, bar: int) -> None:
    window.run("desk.chart.cells.find((cell) => desk.lesson.bars[cell.bar].n === given[0]).button.click()", bar)
    until(window, "return document.querySelectorAll('#seen tbody tr').length > 0")


def corrections_of(folder: Path) -> list[str]:
    return [item.what for item in room.read_lesson(folder).corrections]


def test_it_opens_without_an_error_and_asks_nobody_else(looked_at: Browser, reader: Asker) -> None:
    here = f"http://127.0.0.1:{reader.port}/"
    asked = [url for url in looked_at.requests() if not url.startswith("data:")]
    assert len(asked) > 5
    assert [url for url in asked if not url.startswith(here)] == []
    assert looked_at.log("browser") == []
    assert looked_at.run("return location.href") == here  # the token is gone from the address
    assert looked_at.run("return document.cookie") == ""  # and no script can read it
    assert looked_at.run("return document.title") == "Night Ferry · the desk"


@pytest.mark.usefixtures("quick")
def test_a_bar_is_chosen_spoken_of_and_put_right_by_keyboard_alone(window: Browser, folder: Path) -> None:
    key = keys()
    window.run("document.querySelector('.bar[tabindex=\"0\"]').focus()")
    for _ in range(window.run("return desk.lesson.bars.findIndex((bar) => bar.n === 3)")):
        window.press(key.ARROW_RIGHT)
    window.press(key.ENTER)
    until(window, "return document.getElementById('spoken').textContent === 'bar 3 chosen'")
    window.press(key.ARROW_RIGHT)
    shifted(window, key.ENTER)
    until(window, "return document.getElementById('spoken').textContent === 'bars 3–4 chosen'")
    window.press(key.ARROW_LEFT)
    window.press(key.ENTER)
    until(window, "return document.getElementById('slip-title').textContent === 'Bar 3'")
    window.press(key.ENTER)
    assert window.run(FOCUS) == "slip-title"
    window.run("document.getElementById('is-right').focus()")
    window.press(key.SPACE)
    assert window.run(FOCUS) == "words"
    assert window.run(WORDS) == "bar 3: right"
    window.run("document.getElementById('words').setSelectionRange(7, 12)")
    window.press("kick 1")  # what a button wrote can be changed before it is said
    until(window, "return document.getElementById('understood').textContent.startsWith('Understood')")
    window.press(key.ENTER)
    until(window, "return document.getElementById('status').textContent === 'correction 1: bar 3: kick 1'")
    assert window.run("return document.getElementById('status').getAttribute('role')") == "status"
    assert window.run(WORDS) == ""
    until(window, "return !desk.work.busy")  # seen at once, and in the lesson when its files are made
    assert corrections_of(folder) == ["bar 3: kick 1"]
    until(window, "return document.querySelectorAll('.bar .yours').length === 1")
    window.run("document.getElementById('slip-title').focus()")
    window.press(key.ESCAPE)
    assert str(window.run(FOCUS)).startswith("bar 3, ")
    assert "yours" in str(window.run(FOCUS))


@pytest.mark.usefixtures("quick")
def test_a_stroke_is_moved_by_pressing_its_places(window: Browser, folder: Path) -> None:
    choose(window, 3)
    piece = (
        "const s = document.querySelector('#forms select'); s.value = 'kick'; s.dispatchEvent(new Event('change'));"
    )
    window.run(piece)
    before = window.run("return [...document.querySelectorAll('.spot[aria-pressed=true]')].map((s) => s.ariaLabel)")
    assert before
    window.click(f".spot[aria-label='{before[-1]}']")
    window.click(".spot[aria-label='4a']")
    assert window.run(WORDS) == f"bar 3: kick {' '.join([*before[:-1], '4a'])}"
    window.click("#send")
    until(window, "return document.querySelectorAll('#corrections .applied').length === 1 && !desk.work.busy")
    kicks = [hit.position for hit in room.read_lesson(folder).hits if (hit.bar, hit.sound) == (3, "kick")]
    assert len(kicks) == len(before)
    assert float(max(kicks)) == 15 / 16


@pytest.mark.usefixtures("quick")
def test_a_lesson_made_from_notes_in_6_8_offers_what_it_has(desk_browser: Browser, tmp_path: Path) -> None:
    track = mido.MidiTrack([mido.MetaMessage("time_signature", numerator=6, denominator=8)])
    for note in [36, 42, 42, 38, 42, 42] * 8:
        track += [
            mido.Message("note_on", channel=9, note=note, velocity=90),
            mido.Message("note_off", channel=9, note=note, time=240),
        ]
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(tmp_path / "six.mid")
    folder = room.make(tmp_path / "six.mid", tmp_path / "six.lesson")
    with served(Desk(folder)) as server:
        opened(desk_browser, Asker(server))
        choose(desk_browser, 2)
        assert "made from notes" in desk_browser.run("return document.getElementById('checks-hint').textContent")
        hidden = "return ['hear-recording', 'is-model', 'next-check'].map((id) => document.getElementById(id).hidden)"
        assert desk_browser.run(hidden) == [True, True, True]
        spots = "return [...document.querySelectorAll('.spot')].map((one) => [one.textContent, one.ariaLabel])"
        assert [label for _, label in desk_browser.run(spots)] == ["1", "1&", "1a", "2", "2&", "2a"]
        parts = "const s = document.querySelectorAll('#forms select')[1]; s.value = 'sixteenths'; s.dispatchEvent(new Event('change'));"
        desk_browser.run(parts)
        assert ["·", "the 16th after 1&"] in desk_browser.run(spots)
        desk_browser.click(".spot[aria-label='the 16th after 1&']")
        words = str(desk_browser.run(WORDS))
        assert "1+1/2" in words
        corrections.read(words, room.read_lesson(folder).grid)
        desk_browser.driver.get("about:blank")


@pytest.mark.usefixtures("quick")
def test_a_correction_is_taken_back_and_applied_again_without_leaving_its_button(
    window: Browser, folder: Path
) -> None:
    room.correct(folder, "bar 3: kick 1")
    room.correct(folder, "bar 4: kick 1")
    until(window, "return document.querySelectorAll('#corrections .applied').length === 2")
    window.run("document.querySelector('#corrections li:last-child button').focus()")
    for state, name in (("undone", "Apply again correction 1"), ("applied", "Take back correction 1")):
        window.press(keys().ENTER)
        until(window, f"return document.querySelector('#corrections li:last-child').className === '{state}'")
        until(window, "return !desk.work.busy")
        assert room.read_lesson(folder).corrections[0].state == state
        assert str(window.run(FOCUS)).startswith(name)


@pytest.mark.usefixtures("quick")
def test_how_a_lesson_is_printed_is_chosen_and_chosen_again(window: Browser, folder: Path) -> None:
    window.run("document.getElementById('print-fold').open = true")
    choose_paper = "const s = document.querySelector('#print select'); s.focus(); s.selectedIndex = given[0];"
    for index, paper in ((1, "letter"), (0, "a4")):
        window.run(choose_paper, index)
        window.click("#print button")
        until(window, f"return desk.lesson.printing.paper === '{paper}'")
        until(window, "return !desk.work.busy")
        assert room.read_lesson(folder).printing.paper == paper
    window.click("#print button")
    until(window, "return document.getElementById('spoken').textContent.startsWith('Nothing is chosen otherwise')")


def test_what_is_said_of_a_simpler_chart_is_said_of_that_chart_alone(looked_at: Browser) -> None:
    choose(looked_at, 3)
    silent = (
        "[...document.querySelectorAll('#forms button')].find((one) => one.textContent === 'No drums here').click();"
    )
    looked_at.run(silent)
    assert looked_at.run(WORDS) == "bar 3: silent"
    looked_at.click("#levels input[value=bones]")
    until(looked_at, "return document.querySelector('.only').textContent.includes('bones')")
    looked_at.run(silent)
    assert looked_at.run(WORDS) == "bones bar 3: silent"
    looked_at.run("document.querySelector('.spot').click()")
    assert str(looked_at.run(WORDS)).startswith("bones bar 3: ")
    looked_at.click(".only input")
    looked_at.run(silent)
    assert looked_at.run(WORDS) == "bar 3: silent"
    looked_at.click("#levels input[value=full]")
    until(looked_at, "return document.querySelector('.only').textContent.includes('full')")
    assert looked_at.run("return document.querySelector('.only input').checked") is False
    looked_at.run("desk.line.compose('')")


def test_every_button_writes_words_that_the_command_line_understands(looked_at: Browser, short_folder: Path) -> None:
    """All the small buttons of the forms, for a bar and for several."""
    grid = room.read_lesson(short_folder).grid
    looked_at.run("document.querySelectorAll('#forms details').forEach((one) => { one.open = true; })")
    for last in (3, 5):
        choose(looked_at, 3)
        looked_at.run(
            "const to = document.getElementById('to'); to.value = given[0]; to.dispatchEvent(new Event('change'))",
            last,
        )
        said = looked_at.run(
            "const pressed = [...document.querySelectorAll('#forms .line button, #is-right, #is-model')];"
            "return pressed.map((one) => { one.click(); return document.getElementById('words').value; })"
        )
        assert len(set(said)) >= 17
        for words in said:
            corrections.read(words, grid)
        assert (f"bar{'s 3-5' if last == 5 else ' 3'}: silent") in said


@pytest.mark.usefixtures("quick")
def test_a_note_of_the_listening_has_a_button_that_says_what_it_does(desk_browser: Browser, tmp_path: Path) -> None:
    note = "it could also be counted at 66 beats a minute; now it is 132; to change it say: tempo /2"
    song = msgspec.structs.replace(short_song(), notes=(note,))
    folder = room.make(Path("."), tmp_path / "ferry.lesson", title="Night Ferry", hear=lambda *_, **__: song)
    with served(Desk(folder)) as server:
        opened(desk_browser, Asker(server))
        assert "It could also be counted at 66" in desk_browser.run(
            "return document.getElementById('notes').textContent"
        )
        assert (
            desk_browser.run("return document.querySelector('#notes button').textContent") == "Count it so: tempo /2"
        )
        choose(desk_browser, 12)
        desk_browser.click("#notes button")
        assert desk_browser.run(WORDS) == "tempo /2"
        desk_browser.click("#send")
        until(desk_browser, "return document.getElementById('notes-part').hidden")  # it is not true any more
        until(desk_browser, "return !desk.work.busy")
        last = room.read_lesson(folder).grid.numbers[-1]
        assert last < 12
        until(desk_browser, f"return desk.lesson.bars.at(-1).n === {last} && desk.chosen.to === {last}")
        desk_browser.driver.get("about:blank")


@pytest.mark.usefixtures("quick")
def test_words_of_the_song_are_shown_as_words_whatever_they_are(window: Browser, folder: Path) -> None:
    nasty = "<img src=x onerror=document.title=1><script>document.title=1</script>"
    room.correct(folder, f"title {nasty}")
    room.correct(folder, f"bars 1-4: section {nasty}")
    until(window, "return document.getElementById('title').textContent.includes('<img')")
    until(window, "return document.querySelectorAll('#corrections .applied').length === 2")
    choose(window, 3)
    assert window.run("return document.querySelectorAll('img').length") == 0
    assert "<script>" in window.run("return document.getElementById('road').textContent")
    assert window.run("return document.title").startswith("<img")
    assert window.log("browser") == []


def test_words_that_are_not_yet_said_outlive_the_page(looked_at: Browser) -> None:
    looked_at.run("desk.line.compose('bar 3: silent')")
    looked_at.driver.refresh()
    until(looked_at, "return document.querySelectorAll('.bar').length > 0")
    assert looked_at.run(WORDS) == "bar 3: silent"
    looked_at.run("desk.line.compose('')")


def test_words_that_are_not_understood_stay_and_are_told(looked_at: Browser) -> None:
    looked_at.run("document.getElementById('words').value = ''")
    looked_at.run("document.getElementById('words').focus()")
    looked_at.press("bar 3: kik 1")
    looked_at.press(keys().ENTER)
    until(looked_at, "return document.getElementById('understood').textContent.includes('did you mean')")
    assert looked_at.run(WORDS) == "bar 3: kik 1"
    assert looked_at.run("return document.getElementById('words').getAttribute('aria-invalid')") == "true"
    looked_at.run("document.getElementById('words').value = ''")


@pytest.mark.usefixtures("quick")
def test_a_change_at_the_command_line_is_shown_and_the_words_in_the_line_stay(window: Browser, folder: Path) -> None:
    choose(window, 3)
    window.run("desk.line.compose('bar 3: silent')")
    room.correct(folder, "title Morning Ferry")
    until(window, "return document.getElementById('title').textContent === 'Morning Ferry'")
    assert window.run(WORDS) == "bar 3: silent"
    assert window.run("return [desk.chosen.from, desk.chosen.to]") == [3, 3]
    assert window.run("return document.querySelectorAll('.bar.chosen').length") == 1


def test_what_could_not_be_done_stays_with_its_words_and_can_be_said_again(
    window: Browser, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fourlimb.model import LessonError

    def full(*_: object, **__: object) -> None:
        raise LessonError("the disk is full: free some space and run this again")

    monkeypatch.setattr(workshop, "outputs", full)
    window.run("desk.line.compose('bar 3: silent')")
    window.click("#send")
    until(window, "return !document.getElementById('refused-part').hidden")
    assert "the disk is full" in window.run("return document.getElementById('refused').textContent")
    assert "not done: bar 3: silent" in window.run(STATUS)
    monkeypatch.setattr(workshop, "outputs", lambda *_, **__: {})
    window.click("#refused button")
    assert window.run(WORDS) == "bar 3: silent"
    window.click("#send")
    until(window, "return document.getElementById('status').textContent === 'correction 1: bar 3: silent'")
    until(window, "return !desk.work.busy")
    assert corrections_of(folder) == ["bar 3: silent"]
    until(window, "return document.getElementById('refused-part').hidden")


def test_bars_are_heard_of_the_recording_and_of_the_chart_and_nothing_before_that(looked_at: Browser) -> None:
    choose(looked_at, 3)
    assert looked_at.run("return [desk.hearing.context, desk.hearing.playing]") == [None, False]
    looked_at.click("#hear-one")
    until(looked_at, "return desk.hearing.playing")
    parts = looked_at.run(
        "return desk.hearing.parts.map((one) => [one.what, one.at, one.buffer.duration, one.places])"
    )
    (first, at, _, places), (second, later, _, of_chart) = parts
    assert (first, second) == ("recording", "chart")
    assert later >= at + places["end"]
    assert places["bars"] == of_chart["bars"] == [[3, 0.1]]
    until(looked_at, "return !!document.querySelector('.picture .needle')")
    assert looked_at.run("return document.getElementById('hear-stop').disabled") is False
    looked_at.click("#click")
    looked_at.click("#hear-both")
    until(looked_at, "return desk.hearing.sources.length === 3")  # the beats too
    until(
        looked_at, "return desk.hearing.parts.length === 2 && desk.hearing.parts[0].at === desk.hearing.parts[1].at"
    )
    loud = looked_at.run(
        "return desk.hearing.parts.map(({buffer}) => buffer.getChannelData(0).reduce((most, v) => Math.max(most, Math.abs(v)), 0))"
    )
    assert all(0.05 < peak <= 1 for peak in loud)
    until(looked_at, "return desk.hearing.now('recording')?.since > 0.3")
    looked_at.click("#line-here")
    words = str(looked_at.run(WORDS))
    start = looked_at.run("return desk.lesson.bars.find((bar) => bar.n === 3).start_s")
    assert words.startswith("bar line at ")
    assert 0 < float(words.split()[-1]) - start < 5
    assert looked_at.run("return desk.hearing.playing") is False
    assert looked_at.run("return document.querySelectorAll('.needle, .bar.now').length") == 0


@pytest.mark.parametrize(("width", "height"), [(360, 740), (640, 400), (1366, 768)])
def test_it_fits_a_phone_a_screen_at_twice_the_size_and_a_desk(
    desk_browser: Browser, reader: Asker, width: int, height: int
) -> None:
    opened(desk_browser, reader, width=width, height=height)
    choose(desk_browser, 3)
    desk_browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert desk_browser.run("return document.documentElement.scrollWidth") <= width
    small = desk_browser.run(
        "return [...document.querySelectorAll('button, select, summary, input:not([type=radio], [type=checkbox]), a')]"
        ".filter((one) => one.checkVisibility() && !one.classList.contains('skip'))"
        ".map((one) => [one.id || one.className || one.textContent, one.getBoundingClientRect()])"
        ".filter(([, box]) => box.width < 24 || box.height < 20).map(([name]) => name)"
    )
    assert small == []
    beside = desk_browser.run("return document.getElementById('slip').parentElement.tagName")
    assert beside == ("MAIN" if width > 1088 else "OL")
    row = "document.getElementById('slip').previousElementSibling.querySelector('.bar.chosen')"
    assert width > 1088 or desk_browser.run(f"return !!{row}")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_word_stands_out_and_everything_that_can_be_pressed_says_what_it_is(
    looked_at: Browser, scheme: str
) -> None:
    looked_at.prefer(prefers_color_scheme=scheme)
    choose(looked_at, 3)
    looked_at.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    found = looked_at.run(CONTRAST)
    assert found["seen"] > 80
    assert found["poor"] == []
    looked_at.driver.execute_cdp_cmd("Accessibility.enable", {})
    nodes = looked_at.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    kinds = {*PRESSED, "textbox"}
    pressed = [node for node in nodes if not node["ignored"] and node["role"]["value"] in kinds]
    assert len(pressed) > 60
    assert [node["role"]["value"] for node in pressed if not node.get("name", {}).get("value", "").strip()] == []
    ids = looked_at.run("return [...document.querySelectorAll('[id]')].map((each) => each.id)")
    assert len(ids) == len(set(ids))


def test_the_practice_page_plays_from_the_desk_without_a_right_over_it(looked_at: Browser, reader: Asker) -> None:
    looked_at.driver.get(f"http://127.0.0.1:{reader.port}/made/page/index.html")
    assert looked_at.run("return !!window.practice && window.origin") == "null"
    assert looked_at.log("browser") == []
    looked_at.click("#play")
    until(looked_at, "return practice.player.playing")
    said = looked_at.run(
        f"return fetch('http://127.0.0.1:{reader.port}/api/lesson').then(() => 'read', () => 'refused')"
    )
    assert said == "refused"


def test_a_lesson_is_taken_from_the_shelf_and_put_back(
    desk_browser: Browser, short_folder: Path, tmp_path: Path
) -> None:
    shutil.copytree(short_folder, tmp_path / "night-ferry.lesson")
    (tmp_path / "no song.mp3").write_bytes(b"no song")
    with served(Desk(shelf=tmp_path)) as server:
        opened(desk_browser, Asker(server))
        desk_browser.click("#songs button")
        until(desk_browser, "return !document.getElementById('refused-part').hidden")
        assert "no song.mp3" in desk_browser.run("return document.getElementById('refused').textContent")
        desk_browser.click("#refused button")
        until(desk_browser, "return document.getElementById('refused-part').hidden")
        desk_browser.click("#lessons button")
        until(desk_browser, "return document.querySelectorAll('.bar').length > 0")
        desk_browser.click("#to-shelf")
        until(desk_browser, "return !!window.shelf")
        desk_browser.driver.get("about:blank")  # so that no question of the page is still open when its server ends


def test_a_desk_that_is_gone_says_so(desk_browser: Browser, short_folder: Path) -> None:
    command = [sys.executable, "-m", "fourlimb", "desk", str(short_folder), "--no-open"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    desk_browser.driver.get(child.stdout.readline().split()[-1])
    until(desk_browser, "return document.querySelectorAll('.bar').length > 0")
    desk_browser.run("desk.line.compose('bar 3: silent')")
    assert desk_browser.run("return document.getElementById('gone').hidden") is True
    child.terminate()
    child.communicate(timeout=10)
    until(desk_browser, "return !document.getElementById('gone').hidden")
    assert desk_browser.run(WORDS) == "bar 3: silent"
