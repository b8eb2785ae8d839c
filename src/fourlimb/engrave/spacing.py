"""Even columns: silent spaces that keep a line's notes where they fall in time, whatever stands over them."""

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from fractions import Fraction

from fourlimb.model import Sheet
from fourlimb.model.places import split_meter

from .blocks import Line
from .notate import Voice

Element = ElementTree.Element


def step_of(sheet: Sheet, line: Line) -> Fraction:
    """The even column of a line: sixteenths when any are written, else eighths."""
    places = [s.position for b in line.blocks if b.kind == "written" for s in sheet.chart.by_bar.get(b.bar, ())]
    units = [split_meter(sheet.grid.meter(b.bar))[1] for b in line.blocks]
    fine = any(p.denominator > 8 and p.denominator % 3 for p in places)
    return Fraction(1, max(16 if fine else 8, *units))


def spacer(
    layer: Element, meter: str, voices: Sequence[Voice], step: Fraction, start: Fraction = Fraction(0)
) -> None:
    """Silent spaces, one a column; a span with tuplets takes that tuplet's columns."""
    tuplets = {e.slot.tuplet.start: e.slot.tuplet for v in voices for e in v.events if e.slot.tuplet}
    count, unit = split_meter(meter)
    at, end = start, Fraction(count, unit)
    while at < end:
        if at in tuplets:
            tuplet = tuplets[at]
            hidden = {"num.visible": "false", "bracket.visible": "false"}
            group = ElementTree.SubElement(
                layer, "tuplet", {"num": str(tuplet.actual), "numbase": str(tuplet.normal), **hidden}
            )
            for _ in range(tuplet.actual):
                ElementTree.SubElement(group, "space", {"dur": str(tuplet.unit.denominator)})
            at += tuplet.length
            continue
        ElementTree.SubElement(layer, "space", {"dur": str(step.denominator)})
        at += step
