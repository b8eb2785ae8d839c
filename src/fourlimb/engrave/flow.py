"""The order in which the written bars of a MusicXML part are played: repeats, endings, D.S., D.C., coda and fine.

A jump is told by `sound` (segno, coda, tocoda, dalsegno, dacapo, fine), or, in parts from programs that only print
it, by the segno and coda signs and the words beside them. After a jump repeats are not taken again unless the repeat
says `after-jump` (MusicXML 4.0): then the last ending is played. Each jump is taken once; To Coda and Fine count only
after one.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from fourlimb.model import InputError

Element = ElementTree.Element

MAX_BARS: Final = 5000
"""Most bars after repeats are played out."""

MOST_TIMES: Final = 99
"""Most times that a passage may be repeated."""


@dataclass
class Flow:
    """What stands at one written bar. Signs hold their name ("" for none, "-" for one without a name)."""

    forward: bool = False
    backward: int = 0
    after_jump: bool = False
    ending: frozenset[int] = frozenset()
    segno: str = ""
    coda: str = ""
    to_coda: str = ""
    jump: str = ""
    fine: bool = False


def read_flow(measure: Element, ending: frozenset[int]) -> tuple[Flow, frozenset[int]]:
    """What stands at a measure, and the ending that goes on after it. `ending`: the one that goes on into it."""
    flow = Flow()
    _signs(measure, flow)
    after = ending
    for line in measure.findall("barline"):
        repeat, mark = line.find("repeat"), line.find("ending")
        flow.segno = flow.segno or ("-" if line.find("segno") is not None else "")
        flow.coda = flow.coda or ("-" if line.find("coda") is not None else "")
        if repeat is not None and repeat.get("direction") == "forward":
            flow.forward = True
        if repeat is not None and repeat.get("direction") == "backward":
            flow.backward = _times(repeat.get("times"))
            flow.after_jump = repeat.get("after-jump") == "yes"
        if mark is not None and mark.get("type") == "start":
            digits = (mark.get("number") or "").replace(" ", "").split(",")
            ending = after = frozenset(int(d) for d in digits if d.isdigit())
        elif mark is not None:
            after = frozenset()
    flow.ending = ending
    return flow, after


def _times(text: str | None) -> int:
    try:
        return max(1, min(MOST_TIMES, int((text or "").strip())))
    except ValueError:
        return 2


_DAL_SEGNO: Final = re.compile(r"\bd\.?\s?s\.?(\s|$)|\bdal segno\b", re.IGNORECASE)
_DA_CAPO: Final = re.compile(r"\bd\.?\s?c\.?(\s|$)|\bda capo\b", re.IGNORECASE)
_TO_CODA: Final = re.compile(r"^\W*to\s+coda\b", re.IGNORECASE)
_FINE: Final = re.compile(r"^\W*fine\W*$", re.IGNORECASE)


def _signs(measure: Element, flow: Flow) -> None:
    for sound in measure.iter("sound"):
        flow.segno = sound.get("segno") or flow.segno
        flow.coda = sound.get("coda") or flow.coda
        flow.to_coda = sound.get("tocoda") or flow.to_coda
        if sound.get("dalsegno"):
            flow.jump = f"segno {sound.get('dalsegno')}"
        elif sound.get("dacapo") == "yes":
            flow.jump = "start"
        flow.fine = flow.fine or bool(sound.get("fine"))
    for kind in measure.iter("direction-type"):
        flow.segno = flow.segno or ("-" if kind.find("segno") is not None else "")
        if kind.find("coda") is not None and not flow.to_coda:
            flow.coda = flow.coda or "-"
    for words in measure.iter("words"):
        said = (words.text or "").strip()
        if not flow.jump and _DAL_SEGNO.search(said):
            flow.jump = "segno -"
        elif not flow.jump and _DA_CAPO.search(said):
            flow.jump = "start"
        elif not flow.to_coda and _TO_CODA.search(said):
            flow.to_coda, flow.coda = "-", "" if flow.coda == "-" else flow.coda
        elif _FINE.search(said):
            flow.fine = True


def playing_order(bars: Sequence[Flow]) -> tuple[list[int], list[str]]:
    """Indices of the bars as they are played, and what could not be followed, in sentences.

    Raises InputError when the signs make more bars than any song has.
    """
    player = _Player(bars)
    player.play()
    return player.order, player.notes


def _last_passes(bars: Sequence[Flow]) -> list[int]:
    """For each bar of an ending, the last pass that the endings it stands among tell of; 0 for the others."""
    found = [0] * len(bars)
    group: list[int] = []
    for at, bar in enumerate([*bars, Flow()]):
        if group and (not bar.ending or bar.forward):
            most = max(max(bars[member].ending) for member in group)
            for member in group:
                found[member] = most
            group = []
        if bar.ending:
            group.append(at)
    return found


class _Player:
    """One reading of the signs."""

    def __init__(self, bars: Sequence[Flow]) -> None:
        self._bars = bars
        self.order: list[int] = []
        self.notes: list[str] = []
        self._at, self._start, self._turn = 0, 0, 1
        self._jumped = False
        self._repeats = True
        self._taken: set[int] = set()
        self._last = _last_passes(bars)

    def play(self) -> None:
        """Play all bars out."""
        while self._at < len(self._bars):
            if len(self.order) > MAX_BARS:
                raise InputError(f"the repeats make more than {MAX_BARS} bars: check the repeat signs of the part")
            bar = self._bars[self._at]
            if bar.forward and self._start != self._at:
                self._start, self._turn = self._at, 1
            if self._skips(bar):
                self._at += 1
                continue
            self.order.append(self._at)
            if not self._go_on(bar):
                return

    def _skips(self, bar: Flow) -> bool:
        """True for a bar of an ending that is not this pass's."""
        if not bar.ending:
            return False
        if not self._repeats:
            return self._last[self._at] not in bar.ending
        return self._turn not in bar.ending and any(b.ending for b in self._bars[self._at + 1 :])

    def _go_on(self, bar: Flow) -> bool:
        """Move to what is played next; False at the end."""
        last = max(bar.backward, self._last[self._at])
        if bar.backward and self._repeats and self._turn < last:
            self._turn += 1
            self._at = self._start
        elif self._jumped and bar.to_coda and (coda := self._find("coda", bar.to_coda)) is not None:
            self._repeats = True
            self._go(coda)
        elif self._jumped and bar.fine:
            return False
        elif bar.jump and self._at not in self._taken:
            self._jump(bar)
        else:
            if bar.backward:
                self._start, self._turn = self._at + 1, 1
            self._at += 1
        return True

    def _jump(self, bar: Flow) -> None:
        self._taken.add(self._at)
        target = 0 if bar.jump == "start" else self._find("segno", bar.jump.removeprefix("segno "))
        if target is None or target > self._at:
            self._at += 1
            return
        self._jumped, self._repeats = True, any(b.after_jump for b in self._bars)
        self._go(target)

    def _go(self, target: int) -> None:
        self._at = self._start = target
        self._turn = 1

    def _find(self, sign: str, name: str) -> int | None:
        """The bar with a sign of that name, or the only one there is; a missing one is told."""
        have = [index for index, bar in enumerate(self._bars) if getattr(bar, sign)]
        named = [index for index in have if getattr(self._bars[index], sign) == name]
        if not have:
            self.notes.append(
                f"a jump in bar {self._at + 1} leads to a {sign} sign that is not there: it was not followed"
            )
            return None
        return (named or have)[0]
