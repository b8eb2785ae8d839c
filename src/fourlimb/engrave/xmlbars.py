"""Bar lines, endings and jumps in MusicXML: what is written before and after a measure's notes.

The printed word is a `direction`; what a player program follows is the `sound` beside it (`segno`, `coda`, `tocoda`,
`dalsegno`, `dacapo`, `fine`), as MusicXML 4.0 says. `repeat@after-jump` tells whether repeats are played after a
jump.
"""

import xml.etree.ElementTree as ElementTree
from typing import Final

from fourlimb.model import Sheet

from .passes import bar_before, mark_at
from .repeats import Mark
from .words import mark_jump

Element = ElementTree.Element

SIGN: Final = "1"
"""The one segno and the one coda of a form."""


def left_bar_line(sheet: Sheet, number: int) -> Element | None:
    """The bar line before a measure, where it is more than a line."""
    mark, last = mark_at(sheet, number), bar_before(sheet, number)
    opens = bool(mark.ending) and (last is None or mark_at(sheet, last).ending != mark.ending)
    if not (mark.start or opens):
        return None
    line = Element("barline", {"location": "left"})
    if mark.start:
        ElementTree.SubElement(line, "bar-style").text = "heavy-light"
    if opens:
        ElementTree.SubElement(line, "ending", {"number": ",".join(map(str, mark.ending)), "type": "start"})
    if mark.start:
        ElementTree.SubElement(line, "repeat", {"direction": "forward"})
    return line


def right_bar_line(sheet: Sheet, number: int, *, last: bool) -> Element | None:
    """The bar line after a measure, where it is more than a line."""
    mark = mark_at(sheet, number)
    after = sheet.grid.numbers[sheet.grid.numbers.index(number) + 1] if not last else None
    closes = bool(mark.ending) and (after is None or mark_at(sheet, after).ending != mark.ending)
    heavy = bool(last or mark.end or mark.fine)
    if not (heavy or closes or mark.jump or mark.to_coda):
        return None
    line = Element("barline", {"location": "right"})
    ElementTree.SubElement(line, "bar-style").text = "light-heavy" if heavy else "light-light"
    if closes:
        kind = "stop" if mark.end else "discontinue"
        ElementTree.SubElement(line, "ending", {"number": ",".join(map(str, mark.ending)), "type": kind})
    if mark.end:
        again = _again(sheet)
        how = {"direction": "backward"} | ({"times": str(mark.end)} if mark.end > 2 else {})
        ElementTree.SubElement(
            line, "repeat", how | ({"after-jump": "yes" if again else "no"} if again is not None else {})
        )
    return line


def _again(sheet: Sheet) -> bool | None:
    """Whether repeats are played again after the form's jump; None without one."""
    jumps = [mark for number in sheet.grid.numbers if (mark := mark_at(sheet, number)).jump]
    return jumps[0].again if jumps else None


def signs_before(measure: Element, mark: Mark) -> None:
    """Segno and coda at the head of a measure."""
    for sign in ("segno", "coda"):
        if getattr(mark, sign):
            direction = _direction(measure)
            ElementTree.SubElement(ElementTree.SubElement(direction, "direction-type"), sign)
            ElementTree.SubElement(direction, "sound", {sign: SIGN})


def signs_after(measure: Element, mark: Mark) -> None:
    """How often a passage is played, To Coda, Fine, and the jump, at the end of a measure."""
    if mark.end > 2:
        _words(measure, f"{mark.end}\u00d7", {})
    if mark.to_coda:
        _words(measure, "To Coda", {"tocoda": SIGN})
    if mark.fine:
        _words(measure, "Fine", {"fine": "yes"})
    if mark.jump:
        _words(measure, mark_jump(mark), {"dalsegno": SIGN} if mark.jump == "D.S." else {"dacapo": "yes"})


def _words(measure: Element, text: str, sound: dict[str, str]) -> None:
    direction = _direction(measure)
    ElementTree.SubElement(ElementTree.SubElement(direction, "direction-type"), "words").text = text
    if sound:
        ElementTree.SubElement(direction, "sound", sound)


def _direction(measure: Element) -> Element:
    return ElementTree.SubElement(measure, "direction", {"placement": "above"})
