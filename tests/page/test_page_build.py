"""The file as text: whole, safe, small, the same every time."""

import json
import re
from base64 import b64encode
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files
from typing import Any

import pytest
from page_songs import ferry, groove, silent_kit, sketch, song, stroke

from fourlimb.model import InputError, Kit, Section
from fourlimb.model.kit import STANDARD_PIECES
from fourlimb.page import Cautions, build, front, safe
from fourlimb.page.pictures import engraved

NASTY = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</script><script>alert(1)</script>",
    "<!--<script>",
    "{{data}} {{script}} ${title} \\u003c",
    "מעבורת לילה \u202e evil",
    '🥁 Überfahrt\'s "night" & day',
    "a\nb\x00c\u2028d",
    "x" * 300,
    "lone \ud800 surrogate",
]


def page(title: str = "Night Ferry", sections: tuple[Section, ...] | None = None) -> str:
    sheets = {level: ferry(level, title=title, sections=sections) for level in ("full", "steady", "bones")}
    return build(sheets, draw=sketch, strike=silent_kit)


def data_of(text: str) -> dict[str, object]:
    found = re.search(r'<script id="data" type="application/json">(.*?)</script>', text, re.DOTALL)
    assert found
    return json.loads(found[1])


class Tags(HTMLParser):
    """Every start tag with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_the_same_sheets_give_the_same_bytes() -> None:
    assert page() == page()


def test_a_pickup_is_no_bar_of_its_own_meter() -> None:
    assert "120 beats a minute, 4/4, 8 bars, 0:16" in page()


def test_levels_go_from_easy_to_hard() -> None:
    assert data_of(page())["order"] == ["bones", "steady", "full"]


def test_one_level_is_enough() -> None:
    assert data_of(build({"steady": ferry("steady")}, draw=sketch, strike=silent_kit))["order"] == ["steady"]


def test_no_level_or_no_bar_is_told_in_one_line() -> None:
    with pytest.raises(InputError, match="no bars to practise"):
        build({})
    with pytest.raises(InputError, match="no bars to practise"):
        build({"full": song([], [])}, draw=sketch)


@pytest.mark.parametrize("title", NASTY)
def test_text_of_the_song_stays_text(title: str) -> None:
    plain, nasty = Tags(page()), Tags(page(title, (Section(name=title, from_bar=1, to_bar=8),)))
    assert [tag for tag, _ in nasty.found] == [tag for tag, _ in plain.found]
    assert [sorted(attributes) for _, attributes in nasty.found] == [sorted(a) for _, a in plain.found]


@pytest.mark.parametrize("title", [title for title in NASTY if "\ud800" not in title])
def test_data_survives_being_inside_a_script_element(title: str) -> None:
    text = page(sections=(Section(name=title, from_bar=1, to_bar=8),))
    assert data_of(text)["road"]["sections"][0]["name"] == title


def test_the_file_asks_for_nothing() -> None:
    """No address, no second file: all a browser could fetch are data: addresses and places inside the page."""
    for tag, attributes in Tags(page()).found:
        for name in ("src", "href", "xlink:href", "action", "srcset", "poster", "data"):
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:")), (tag, name, value)
    code = re.sub(r"/\*.*?\*/", "", front.script() + front.style(), flags=re.DOTALL)
    assert not re.search(
        r"\bfetch\(|XMLHttpRequest|WebSocket|sendBeacon|import\(\"|@import|url\((?!data:)|eval\(", code
    )


def test_only_the_page_s_own_script_may_run() -> None:
    text = page()
    found = re.search(r"script-src '(sha256-[^']+)'", text)
    code = re.search(r'<script type="module">(.*?)</script>', text, re.DOTALL)
    assert found
    assert code
    assert found[1] == "sha256-" + b64encode(sha256(code[1].encode()).digest()).decode()
    assert "default-src 'none'" in text


def test_modules_are_joined_with_what_they_need_first_and_no_name_twice() -> None:
    names = front.order("main.js")
    shipped = {entry.name for entry in files("fourlimb.page.front").iterdir() if entry.name.endswith(".js")}
    assert set(names) == shipped
    assert names[-1] == "main.js"
    code = front.script()
    assert not re.search(r"^(import|export)\b", code, re.MULTILINE)
    declared = re.findall(r"^(?:async )?(?:function|class|const|let) (\w+)", code, re.MULTILINE)
    assert len(declared) == len(set(declared))


def test_front_end_files_stay_small() -> None:
    for entry in files("fourlimb.page.front").iterdir():
        if entry.name.endswith((".js", ".css", ".html")):
            assert len(entry.read_text("utf-8").splitlines()) <= 250, entry.name


def test_ladder_rungs_lie_within_what_the_slider_offers_and_hold_the_song_s_own_tempo() -> None:
    data = data_of(page())
    percents = [rung["percent"] for rung in data["rungs"]]
    assert percents == sorted(set(percents))
    assert percents[0] >= 40
    assert percents[-1] <= 110
    assert 100 in percents
    assert data["start_percent"] in percents


def test_the_usual_cautions_stand_at_their_places() -> None:
    text = page()
    usual = Cautions.usual()
    for sentences in (usual.first_use, usual.volume, usual.ladder, usual.close):
        for sentence in sentences:
            assert safe.text(sentence) in text
    assert data_of(text)["cautions"]["pause"] == list(usual.pause)


def test_a_left_handed_kit_is_heard_from_its_own_side() -> None:
    sheet = song([], [("4/4", 100.0)], kit=Kit(handed="left"))
    assert data_of(build({"full": sheet}, draw=sketch, strike=silent_kit))["kit"]["mirrored"] is True


def test_controls_have_names() -> None:
    """Every control of the template is labelled by its own text, a label, or aria-label."""
    text = page()
    labelled = set(re.findall(r'<label for="([\w-]+)"', text))
    wrapped = set(re.findall(r'<label>[^<]*<(?:input|select) id="([\w-]+)"', text))
    for tag, attributes in Tags(text).found:
        if tag in ("input", "select"):
            name = attributes.get("id") or ""
            assert name in labelled | wrapped or attributes.get("aria-label"), name


def test_a_song_of_five_minutes_stays_under_six_megabytes() -> None:
    """150 bars at 120, engraved, with every sound of a standard kit; three levels counted as full as the fullest."""
    strokes = [one for bar in range(1, 151) for one in groove(bar)]
    strokes += [stroke(bar, "15/16", STANDARD_PIECES[bar % len(STANDARD_PIECES)]) for bar in range(1, 151)]
    whole = len(build({"full": song(strokes, [("4/4", 120.0)] * 150)}).encode())
    empty = len(build({"full": song(strokes, [("4/4", 120.0)])}, draw=sketch).encode())
    assert whole + 2 * (whole - empty) < 6_000_000


def test_engraved_lines_hold_every_bar_and_nothing_that_runs() -> None:
    drawn = engraved(ferry())
    assert all(box is not None for box in drawn.boxes)
    assert drawn.svg.count('id="line-') == len(drawn.lines)
    assert not re.search(r"<script|<foreignObject|\son\w+=|data-|class=", drawn.svg)
    for box in drawn.boxes:
        assert box is not None
        xs = [x for _, x in box["marks"]]
        assert xs == sorted(xs)
        assert box["x"] - 0.01 <= xs[0] <= xs[-1] <= box["x"] + box["width"] + 0.01


def test_strokes_are_coded_off_the_main_thread_where_ctrl_c_would_be_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    import threading

    from fourlimb.page import samples

    coders = set()
    coded = samples.stroke

    def noted(take: Any) -> dict[str, object]:
        coders.add(threading.current_thread())
        return coded(take)

    monkeypatch.setattr(samples, "stroke", noted)
    kit = samples.kit({"kick", "snare"})["sounds"]
    assert list(kit) == ["kick", "snare"]
    assert coders
    assert threading.main_thread() not in coders
