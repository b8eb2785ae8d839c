"""Names for those who listen to the screen, contrast for those who see little of it.

Contrast: WCAG 2.2, success criterion 1.4.3 (4.5 to 1 for text, 3 to 1 for large text) and its formula for relative
luminance, worked out here from the computed colours.
"""

import pytest
from browser import Browser

PRESSED = {"button", "checkbox", "radio", "slider", "combobox", "spinbutton", "link", "DisclosureTriangle"}

CONTRAST = """
const luminance = (rgb) => {
  const [r, g, b] = rgb.map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const paint = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
const colour = (css) => {
  paint.clearRect(0, 0, 1, 1);
  paint.fillStyle = css;
  paint.fillRect(0, 0, 1, 1);
  return [...paint.getImageData(0, 0, 1, 1).data];
};
const behind = (element) => {
  const layers = [];
  for (let at = element; at; at = at.parentElement) layers.push(colour(getComputedStyle(at).backgroundColor));
  let under = [255, 255, 255];
  for (const [r, g, b, a] of layers.reverse()) {
    under = [r, g, b].map((v, i) => v * (a / 255) + under[i] * (1 - a / 255));
  }
  return under;
};
const poor = [];
let seen = 0;
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const element = walker.currentNode.parentElement;
  const style = getComputedStyle(element);
  if (!walker.currentNode.textContent.trim() || !element.checkVisibility({ visibilityProperty: true })) continue;
  if (element.closest('svg, script, template, option')) continue;
  const ink = luminance(colour(style.color).slice(0, 3));
  const paper = luminance(behind(element));
  const ratio = (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
  seen += 1;
  const size = parseFloat(style.fontSize);
  if (ratio < (size >= 24 ? 3 : 4.5)) poor.push([element.className || element.tagName, ratio.toFixed(2)]);
}
return { poor, seen };
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("more", ["no-preference", "more"])
def test_every_word_stands_out_from_what_is_behind_it(window: Browser, scheme: str, more: str) -> None:
    window.prefer(prefers_color_scheme=scheme, prefers_contrast=more)
    window.run("document.querySelector('.more').open = true; practice.chart.show(1, 1);")
    found = window.run(CONTRAST)
    assert found["seen"] > 80
    assert found["poor"] == []


def test_everything_that_can_be_pressed_says_what_it_is(window: Browser) -> None:
    window.run("document.querySelector('.more').open = true")
    window.driver.execute_cdp_cmd("Accessibility.enable", {})
    nodes = window.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    pressed = [node for node in nodes if not node["ignored"] and node["role"]["value"] in PRESSED]
    assert len(pressed) > 30
    assert [node["role"]["value"] for node in pressed if not node.get("name", {}).get("value", "").strip()] == []


def test_headings_regions_and_language_are_there(window: Browser) -> None:
    assert window.run("return document.documentElement.lang") == "en"
    assert window.run("return document.querySelectorAll('h1').length") == 1
    assert window.run("return document.querySelectorAll('main').length") == 1
    ids = window.run("return [...document.querySelectorAll('[id]')].map((each) => each.id)")
    assert len(ids) == len(set(ids))


def test_what_is_said_to_the_student_is_said_to_screen_readers_too(window: Browser) -> None:
    window.click(".road li:nth-child(1) button")
    assert window.run("const s = document.querySelector('[role=status]'); return s.textContent").startswith(
        "Repeating bars 1"
    )


def test_the_chart_is_one_stop_on_the_tab_key_s_way(window: Browser) -> None:
    assert window.run("return document.querySelectorAll('.bar[tabindex=\"0\"]').length") == 1
    assert window.run("return document.querySelectorAll('.bar').length") == 9


def test_the_place_and_the_passage_are_told_by_shape_not_only_by_colour(window: Browser) -> None:
    """In grey, too: the passage has lines on its edges, the beat is a filled mark, the rung is underlined."""
    window.click(".road li:nth-child(1) button")
    edge = "return getComputedStyle(document.querySelector(given[0])).getPropertyValue(given[1])"
    assert window.run(edge, ".bar.first", "border-left-width") == "3px"
    assert window.run(edge, ".bar.last", "border-right-width") == "3px"
    assert "underline" in window.run(edge, ".rung.now .rung-play b", "text-decoration")


def test_fingers_find_what_they_press(window: Browser, page_file: object) -> None:
    """At phone width every button is at least 24 pixels high and wide (WCAG 2.2, 2.5.8)."""
    window.size(360, 740)
    window.run("document.querySelector('.more').open = true; document.getElementById('ladder-fold').open = true")
    small = window.run(
        "const all = [...document.querySelectorAll('button, select, summary, input[type=range]')];"
        "return all.filter((each) => each.checkVisibility())"
        ".map((each) => [each.id || each.className, each.getBoundingClientRect()])"
        ".filter(([, box]) => box.width < 24 || box.height < 24).map(([name]) => name)"
    )
    assert small == []


def test_count_words_never_run_into_each_other(window: Browser) -> None:
    for width in (360, 700, 1280):
        window.size(width, 800)
        window.run(
            "document.querySelector('input[value=full]').click(); await new Promise((r) => setTimeout(r, 200));"
        )
        touching = window.run(
            "return [...document.querySelectorAll('.count')].flatMap((line) => {"
            " const boxes = [...line.children].map((word) => word.getBoundingClientRect());"
            " return boxes.slice(1).filter((box, at) => box.left < boxes[at].right).length; })"
        )
        assert sum(touching) == 0, width


def test_the_ladder_is_one_stop_for_the_tab_key_and_arrows_walk_its_rungs(window: Browser) -> None:
    window.run("document.getElementById('ladder-fold').open = true;")
    stops = "return [...document.querySelectorAll('#ladder [tabindex=\"0\"]')].map((e) => e.dataset.box);"
    rungs = window.run("return practice.song.rungs.map(({ percent }) => percent);")
    assert len(rungs) > 3
    assert {stop.split(" ")[0] for stop in window.run(stops)} == {str(rungs[0])}
    window.run("document.querySelector('#ladder .rung-play').focus();")
    for _ in range(2):
        window.press("\ue014")
    focused = "return document.activeElement.dataset.box;"
    assert window.run(focused) == f"{rungs[2]} play"
    assert {stop.split(" ")[0] for stop in window.run(stops)} == {str(rungs[2])}
    window.press("\ue004")  # Tab: on to the boxes of this rung
    assert window.run(focused) == f"{rungs[2]} 0"
    window.press("\ue00d")  # Space ticks it, and the focus stays
    assert window.run(focused) == f"{rungs[2]} 0"
    assert window.run("return document.activeElement.checked;") is True
    window.press("\ue012")  # the left arrow
    assert window.run(focused) == f"{rungs[1]} 0"
