"""The page of a marking: everything is said in words, fits every width, prints, and asks for nothing."""

import re
from fractions import Fraction as F
from pathlib import Path

import pytest
from browser import Browser
from page_songs import ferry

from fourlimb.mark import mark
from fourlimb.model import Hit, InputError, Marking, Sheet
from fourlimb.page import marked


def marking_of(sheet: Sheet, *, leave: int = 0, heights=None) -> Marking:
    """The sheet played, less bar `leave`, its first kick doubled in the bar after, one snare early."""
    hits = []
    for stroke in sheet.chart.strokes:
        if stroke.bar != leave:
            early = 0.07 if stroke.piece == "snare" and stroke.bar == leave + 2 else 0.0
            at = sheet.grid.time_at(stroke.bar, stroke.position, swung=True) - early
            hits.append(Hit(id=len(hits), time_s=2 + at, sound=stroke.piece, loudness_db=-6.0, confidence=1.0))
    more = sheet.grid.time_at(leave + 1, F(1, 16), swung=True)
    hits.append(Hit(id=len(hits), time_s=2 + more, sound="kick", loudness_db=-6.0, confidence=1.0))
    return mark(hits, sheet.chart, sheet.grid, from_bar=1, to_bar=sheet.grid.numbers[-1], heights=heights)


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return ferry("full")


@pytest.fixture(scope="module")
def page(sheet: Sheet) -> str:
    return marked(sheet, marking_of(sheet, leave=2), take="take 1.wav", notes=("the file ends early",))


def test_every_bar_with_something_to_say_has_a_card_and_every_bar_a_sign(sheet: Sheet, page: str) -> None:
    marking = marking_of(sheet, leave=2)
    told = [bar.bar for bar in marking.bars if bar.say]
    assert 2 in told
    assert re.findall(r'<li id="bar-(\d+)"', page) == [str(bar) for bar in told]
    strip = page[page.index('class="strip"') : page.index('class="hint signs"')]
    assert [int(n) for n in re.findall(r"<b>(\d+)</b>", strip)] == [bar.bar for bar in marking.bars]
    assert "the file ends early" in page


def test_a_pickup_is_called_so_and_has_no_number(sheet: Sheet) -> None:
    hits = []
    for stroke in sheet.chart.strokes:
        late = 0.09 if stroke.bar == 0 and stroke.piece == "tom_floor" else 0.0
        at = 2 + sheet.grid.time_at(stroke.bar, stroke.position, swung=True) + late
        hits.append(Hit(id=len(hits), time_s=at, sound=stroke.piece, loudness_db=-6.0, confidence=1.0))
    made = marked(sheet, mark(hits, sheet.chart, sheet.grid, from_bar=0, to_bar=8), take="take 1.wav")
    strip = made[made.index('class="strip"') : made.index('class="hint signs"')]
    assert re.findall(r"<b>(\w+)</b>", strip) == ["pickup", *map(str, range(1, 9))]
    assert "floor tom in the pickup" in made
    assert re.findall(r'<text x="[\d.]+" y="214">(\d+)</text>', made) == [str(n) for n in range(1, 9)]


def test_what_a_sign_shows_is_also_said_in_words(page: str) -> None:
    for words in ("a kick is added", "ms early", "nothing of this bar was played"):
        assert words in page
    assert page.count('class="full"') >= 1  # a triangle for what is early


def test_the_same_marking_gives_the_same_page_and_names_are_only_text(sheet: Sheet) -> None:
    marking = marking_of(sheet, leave=2)
    evil = '<script>alert("x")</script>'
    made = marked(sheet, marking, take=evil, notes=(evil,))
    assert made == marked(sheet, marking, take=evil, notes=(evil,))
    assert "<script" not in made


def test_doubtful_strokes_are_a_broken_ring_and_counted_apart(sheet: Sheet) -> None:
    bar = next(b for b in sheet.chart.by_bar if any(s.piece == "kick" for s in sheet.chart.by_bar[b]) and b > 1)
    marking = marking_of(sheet, leave=bar, heights=lambda piece, time_s: 0.5)
    page = marked(sheet, marking)
    assert "not heard for sure" in page
    assert "strokes were" in page or "1 stroke was" in page


def test_a_marking_of_another_song_is_one_line(sheet: Sheet) -> None:
    import msgspec

    marking = marking_of(sheet, leave=2)
    other = msgspec.structs.replace(marking, take=msgspec.structs.replace(marking.take, to_bar=999))
    with pytest.raises(InputError, match="not in this song"):
        marked(sheet, other)


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_is_wider_than_the_screen(one_browser: Browser, page: str, tmp_path: Path, width: int) -> None:
    path = tmp_path / "take-1.marking.html"
    path.write_text(page, "utf-8")
    one_browser.prefer()
    one_browser.open(path, width=width)
    assert one_browser.run("return document.documentElement.scrollWidth") <= width
    assert one_browser.requests() == [path.as_uri()]
    assert one_browser.log("browser") == []
    heads = one_browser.run(
        "return [...document.querySelectorAll('.card svg')].map(s => s.getBoundingClientRect().height)"
    )
    assert heads
    assert min(heads) > 30


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_signs_stand_on_the_music(one_browser: Browser, page: str, tmp_path: Path, scheme: str) -> None:
    path = tmp_path / "take-1.marking.html"
    path.write_text(page, "utf-8")
    one_browser.prefer(prefers_color_scheme=scheme)
    one_browser.open(path)
    outside = one_browser.run(
        "return [...document.querySelectorAll('.card .signs > *')].filter(sign => {"
        " const own = sign.getBoundingClientRect(), all = sign.closest('svg').getBoundingClientRect();"
        " return own.left < all.left - 1 || own.right > all.right + 1 || own.top < all.top - 1 || own.bottom > all.bottom + 1;"
        "}).length"
    )
    assert outside == 0
    assert one_browser.run("return document.querySelectorAll('.card .signs > *').length") >= 2
