"""How the page looks where it is read: on a phone on its side, on paper, in a dark room; where silence is counted."""

import time
from itertools import pairwise
from pathlib import Path

import pytest
from browser import Browser
from page_songs import groove, song

from fourlimb.page import build
from fourlimb.page.pictures import engraved

HEAD = 212
"""Width of a note head in drawing units."""
PAPER = "return getComputedStyle(document.documentElement).backgroundColor"


def test_a_phone_on_its_side_shows_the_chart_above_the_controls(window: Browser, page_file: Path) -> None:
    window.open(page_file, width=844, height=390)
    assert window.run("return document.getElementById('dock').offsetHeight") < 390 / 4
    shown = "return given[0].map((id) => document.getElementById(id).checkVisibility())"
    assert window.run(shown, ["play", "tempo", "volume", "place"]) == [True] * 4
    assert window.run("return document.documentElement.scrollWidth") <= 844
    window.run("document.querySelector('.more').open = true")
    assert window.run("return document.getElementById('dock').getBoundingClientRect().top") >= 0


@pytest.mark.parametrize(("width", "height", "most"), [(390, 844, "1"), (820, 1180, "2"), (1280, 700, "0")])
def test_who_plays_can_read_ahead_into_the_next_row(
    window: Browser, page_file: Path, width: int, height: int, most: str
) -> None:
    window.prefer(prefers_reduced_motion="reduce")  # so that scrolling is done at once
    window.open(page_file, width=width, height=height)
    window.run(
        "const m = document.getElementById('most'); m.value = given[0]; m.dispatchEvent(new Event('change'))", most
    )
    hidden = window.run(
        """
        const found = [];
        document.documentElement.style.scrollBehavior = 'auto';
        const rows = [...document.querySelectorAll('.row .picture')];
        for (const { bar, picture } of practice.chart.cells) {
          practice.chart.follow();
          practice.chart.show(bar, 0, true);
          await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
          const foot = innerHeight - document.getElementById('dock').offsetHeight;
          const [now, next] = [picture, rows[rows.indexOf(picture) + 1] ?? picture].map((each) => each.getBoundingClientRect());
          if (now.top < 0 || next.bottom > foot) found.push([bar, now.top, next.bottom, foot]);
        }
        return found;
        """
    )
    assert hidden == []


def test_the_paper_is_the_device_s_or_the_one_that_was_chosen(window: Browser, page_file: Path) -> None:
    light, dark = "rgb(251, 248, 241)", "rgb(24, 22, 19)"
    choose = "const p = document.getElementById('paper'); p.value = given[0]; p.dispatchEvent(new Event('change'));"
    for device in ("light", "dark"):
        window.prefer(prefers_color_scheme=device)
        assert window.run(choose + PAPER, "dark") == dark
        assert window.run("return getComputedStyle(document.documentElement).colorScheme") == "dark"
        assert window.run(choose + PAPER, "light") == light
        assert window.run(choose + PAPER, "") == (light if device == "light" else dark)
    window.prefer(prefers_color_scheme="light")
    window.run(choose, "dark")
    window.open(page_file)
    assert window.run(PAPER) == dark
    window.prefer("print", prefers_color_scheme="dark")
    assert window.run(PAPER) == "rgb(255, 255, 255)"


def test_paper_has_no_words_about_keys_and_buttons(window: Browser) -> None:
    window.prefer("print")
    shown = window.run(
        "return [...document.querySelectorAll('h2, label, .hint, button')].filter((each) => each.checkVisibility())"
        ".map((each) => each.textContent.trim())"
    )
    assert not [text for text in shown if "Keys" in text or "Choose a bar" in text]
    assert [text for text in shown if text.startswith(("bones", "steady", "full"))] == [
        "bones kick and snare skeleton with the simplest time-keeping"
    ]


def test_paper_has_the_ladder_s_boxes_and_the_screen_its_fold_as_before(window: Browser, page_file: Path) -> None:
    window.open(page_file, width=390, height=844)
    fold = "await new Promise((done) => setTimeout(done, 100)); return document.getElementById('ladder-fold').open"
    assert window.run(fold) is False
    assert window.run(f"dispatchEvent(new Event('beforeprint')); {fold}") is True
    assert window.run(f"dispatchEvent(new Event('afterprint')); {fold}") is False
    window.open(page_file, width=390, height=844)
    assert window.run(fold) is False


def test_the_sign_on_the_play_button_is_seen_in_the_system_s_own_colours(window: Browser) -> None:
    window.prefer(forced_colors="active")
    sign, button = window.run(
        "document.body.classList.add('playing');"
        "return [getComputedStyle(document.querySelector('.play .sign')).backgroundColor,"
        " getComputedStyle(document.getElementById('play')).backgroundColor]"
    )
    window.prefer()
    assert sign != button


@pytest.mark.parametrize("motion", ["reduce", "no-preference"])
def test_a_far_bar_of_a_long_song_comes_into_sight(one_browser: Browser, tmp_path: Path, motion: str) -> None:
    """Rows out of sight are not drawn, so their heights are guessed until they are near."""
    strokes = [one for bar in range(1, 151) for one in groove(bar, ["0", "1/4", "1/2", "3/4", f"{bar % 7 + 1}/16"])]
    path = tmp_path / "long.html"
    path.write_text(build({"full": song(strokes, [("4/4", 120.0)] * 150)}), encoding="utf-8")
    one_browser.prefer(prefers_reduced_motion=motion)
    one_browser.open(path, width=390, height=844)
    for bar in (139, 3, 75):
        one_browser.run("practice.chart.show(given[0], 0, true)", bar)
        time.sleep(2.0)
        top, bottom, foot = one_browser.run(
            "const { picture } = practice.chart.cells.find((cell) => cell.bar === given[0]);"
            "const { top, bottom } = picture.getBoundingClientRect();"
            "return [top, bottom, innerHeight - document.getElementById('dock').offsetHeight]",
            bar,
        )
        assert 0 <= top < bottom <= foot, bar
    one_browser.prefer()


def test_on_a_phone_bars_full_of_notes_have_a_row_of_their_own(one_browser: Browser, tmp_path: Path) -> None:
    """Heads of neighbouring notes do not touch: places stand 14 pixels apart or more; with few notes two bars fit."""
    sixteenths = [f"{n}/16" for n in range(16)]
    for name, hats, bars in (("full", sixteenths, 1), ("few", ["0", "1/4", "1/2", "3/4"], 2)):
        sheet = song([one for bar in range(1, 9) for one in groove(bar, hats)], [("4/4", 100.0)] * 8)
        path = tmp_path / f"{name}.html"
        path.write_text(build({"full": sheet}), encoding="utf-8")
        one_browser.prefer()
        one_browser.open(path, width=390, height=844)
        rows = "return [...document.querySelectorAll('.row')].map((row) => row.querySelectorAll('.bar').length)"
        assert max(one_browser.run(rows)) == bars
        apart = one_browser.run(
            "return Math.min(...practice.chart.cells.flatMap(({ bar, picture, row }) => {"
            " const wide = picture.getBoundingClientRect().width / row.width;"
            " const xs = practice.chart.level.boxes[bar].marks.map(([, x]) => x * wide);"
            " return xs.slice(1).map((x, at) => x - xs[at]); }))"
        )
        assert apart >= 14


def test_a_long_rest_stays_in_one_row_and_makes_no_other_row_smaller(one_browser: Browser, tmp_path: Path) -> None:
    strokes = [one for bar in (1, 2, 3, *range(12, 17)) for one in groove(bar)]
    path = tmp_path / "rest.html"
    path.write_text(build({"full": song(strokes, [("4/4", 120.0)] * 16)}), encoding="utf-8")
    one_browser.prefer()
    one_browser.open(path, width=390, height=844)
    rows = one_browser.run(
        "return [...document.querySelectorAll('.row .picture')].map((row) => [[...row.querySelectorAll('.bar')]"
        ".map((bar) => parseInt(bar.ariaLabel.split(' ')[1])), row.getBoundingClientRect().width])"
    )
    assert [bar for bars, _ in rows for bar in bars] == list(range(1, 17))
    assert [bars for bars, _ in rows if 4 in bars] == [list(range(4, 12))]
    said = one_browser.run(
        "const row = document.querySelector('.bar[aria-label^=\"bar 4,\"]').closest('.picture');"
        "return [...row.querySelectorAll('.said')].map((word) => [word.textContent, word.getBoundingClientRect()])"
        ".map(([word, { left, right }]) => [word, left, right])"
    )
    assert [word for word, _, _ in said] == [str(bar) for bar in range(4, 12)]  # its bars, where beats have no room
    assert all(right <= left for (_, _, right), (_, left, _) in pairwise(said))
    widths = [wide for bars, wide in rows if len(bars) == 2]
    assert widths
    assert min(widths) > 300


def test_a_row_shows_nothing_of_the_bar_before_it(one_browser: Browser, tmp_path: Path) -> None:
    """The last head of a bar ends left of the window of the row that begins after it."""
    sheet = song(
        [one for bar in range(1, 9) for one in groove(bar, [f"{n}/16" for n in range(16)])], [("4/4", 100.0)] * 8
    )
    path = tmp_path / "full.html"
    path.write_text(build({"full": sheet}), encoding="utf-8")
    one_browser.prefer()
    one_browser.open(path, width=390, height=844)
    half = HEAD / 2 / one_browser.run("return practice.chart.level.unit")
    cut = one_browser.run(
        "return practice.chart.cells.filter(({ bar, row }) => bar === row.bars[0] && !row.opens).map(({ bar, row }) =>"
        " row.x - practice.chart.level.boxes[bar - 1].marks.at(-1)[1])"
    )
    assert cut
    assert min(cut) >= half


def test_a_bar_s_number_stands_above_the_music_of_a_row(window: Browser, page_file: Path) -> None:
    window.open(page_file, width=390, height=844)
    window.run("document.querySelector('input[value=full]').click()")
    over = window.run(
        "return [...document.querySelectorAll('.number.always')].map((number) => number.getBoundingClientRect().bottom"
        " - number.closest('.picture').querySelector('svg').getBoundingClientRect().top)"
    )
    assert over
    assert max(over) <= 0


@pytest.mark.parametrize("first", [5, 6])
def test_a_long_rest_is_counted_after_the_clef_like_what_is_played(first: int) -> None:
    silent = (first, first + 1)
    strokes = [one for bar in range(1, 13) if bar not in silent for one in groove(bar)]
    boxes = engraved(song(strokes, [("4/4", 120.0)] * 12)).boxes
    bars = {at + 1: box for at, box in enumerate(boxes) if box}
    assert len(bars) == 12
    opening = {n for n, box in bars.items() if n > 1 and bars[n - 1]["line"] != box["line"]}
    heads = {n: box["marks"][0][1] - box["x"] for n, box in bars.items()}
    for bar in silent:
        alike = [heads[n] for n in bars if n not in (1, *silent) and (n in opening) == (bar in opening)]
        assert min(alike) - 0.001 <= heads[bar]
        places = [x for _, x in bars[bar]["marks"]]
        assert places == sorted(places)
        assert places[-1] < bars[bar]["x"] + bars[bar]["width"]
