"""The cue sheet as text for people (Markdown) and for spreadsheets (CSV, RFC 4180).

Titles and names come from files and are not trusted: signs that Markdown or HTML would act on are written harmlessly,
and a cell that a spreadsheet would take for a formula starts with an apostrophe.
"""

import csv
import io
import re
from collections.abc import Sequence

from fourlimb.model import LEVEL_SAYS, Sheet

from .cautions import cautions
from .cues import Cue, goal_bpm
from .ladder import Rung, ladder
from .landmarks import landmark_words
from .phrases import phrases
from .say import piece_names, say_span

_ENTITY = re.compile(r"&(?=#?\w+;)")

CSV_HEAD = ("n", "what", "from_bar", "to_bar", "from_s", "to_s", "tempo_bpm", "say", "play")


def cues_markdown(cues: Sequence[Cue], sheet: Sheet) -> str:
    """The teacher's sheet: cues as a table, the phrases of the song, the ladder with boxes, landmarks, cautions."""
    blocks = [_head(sheet), _table(cues), _song_in_phrases(sheet), _ladder(sheet), _lost(sheet), _cautions(sheet)]
    return "\n\n".join(block for block in blocks if block) + "\n"


def cues_csv(cues: Sequence[Cue]) -> str:
    """One row a cue; lines end in CR LF, fields with commas or quotes are quoted."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_HEAD)
    for cue in cues:
        row = (*cue[:4], f"{cue.from_s:.2f}", f"{cue.to_s:.2f}", cue.tempo_bpm, _cell(cue.say), _cell(cue.play))
        writer.writerow(row)
    return out.getvalue()


def say_time(seconds: float) -> str:
    """83.4 -> "1:23"."""
    whole = max(int(seconds), 0)
    return f"{whole // 60}:{whole % 60:02d}"


def _head(sheet: Sheet) -> str:
    title = _plain(sheet.song.title) or "Untitled"
    lines = [f"# {title}: cue sheet", f"Level {sheet.level}: {LEVEL_SAYS[sheet.level]}."]
    if sheet.grid.bars:
        first = sheet.grid.bars[min(1, len(sheet.grid.bars) - 1)]
        lines[1] += f" {first.meter}, {goal_bpm(sheet, first.bar)} beats a minute, {len(sheet.grid.bars)} bars."
    lines += [_plain(credit) for credit in sheet.song.credits]
    return "\n\n".join(lines)


def _table(cues: Sequence[Cue]) -> str:
    if not cues:
        return "There is nothing to teach yet: the song has no bars."
    rows = ["| | bars | time | | say | play |", "|--:|---|---|---|---|---|"]
    for cue in cues:
        bars = say_span(cue.from_bar, cue.to_bar).removeprefix("bars ").removeprefix("bar ")
        time = f"{say_time(cue.from_s)}-{say_time(cue.to_s)}"
        rows.append(f"| {cue.n} | {bars} | {time} | {cue.what} | {_plain(cue.say)} | {_plain(cue.play)} |")
    return "\n".join(rows)


def _song_in_phrases(sheet: Sheet) -> str:
    told = phrases(sheet.chart, sheet.grid, sheet.sections, names=piece_names(sheet.kit))
    if not told:
        return ""
    return "\n".join(["## The song in phrases", "", *(f"- {_plain(_sentence(phrase.say))}" for phrase in told)])


def _ladder(sheet: Sheet) -> str:
    if not sheet.chart.strokes or not sheet.grid.bars:
        return ""
    rungs = ladder(goal_bpm(sheet, sheet.chart.strokes[0].bar))
    head = ["## Ladder", "", " ".join(cautions("ladder")), ""]
    return "\n".join([*head, *(_rung(rung) for rung in rungs)])


def _rung(rung: Rung) -> str:
    bpm, _, what = rung.say.partition(": ")
    return f"- [ ] [ ] [ ] **{bpm}** {what}"


def _lost(sheet: Sheet) -> str:
    words = landmark_words(sheet.landmarks, sheet.sections)
    if not words:
        return ""
    return "\n".join(["## If you are lost", "", *(f"- {_plain(_sentence(line))}" for line in words)])


def _cautions(sheet: Sheet) -> str:
    said = [*cautions("page"), *cautions("lesson"), *cautions("export")]
    return "\n".join(["## Take care", "", *(f"- {line}" for line in said)])


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _plain(text: str) -> str:
    """One line without signs that Markdown or HTML act on."""
    line = " ".join(text.split())
    line = _ENTITY.sub("&amp;", line).replace("<", "&lt;").replace(">", "&gt;")
    return "".join(f"\\{sign}" if sign in "\\`*_[]|#" else sign for sign in line)


def _cell(text: str) -> str:
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
