"""Human grooves with other players and machines added by rule: is the drummer given back."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

import msgspec

from bench.performances import KIT, Performance
from fourlimb.arrange import arrange
from fourlimb.model import Hit, Layer, Listening, Song, Sound

Place = tuple[int, Fraction, Sound]
GRIDS: Final = (Fraction(1, 32), Fraction(1, 24))
LEAST_BARS: Final = 4


def written(performance: Performance) -> dict[Place, Hit]:
    """The performance on the nearest 32nd or 16th triplet, each sound once at a place: what the drummer played."""
    found: dict[Place, Hit] = {}
    for trigger in performance.triggers:
        hit = trigger.hit
        assert hit.bar is not None
        assert hit.position is not None
        bar, position = (
            hit.bar,
            min((round(hit.position / g) * g for g in GRIDS), key=lambda p: abs(p - hit.position)),
        )
        if position >= performance.grid.length(bar):
            bar, position = bar + 1, position - performance.grid.length(bar)
        if not performance.grid.has(bar):
            continue
        old = found.get((bar, position, hit.sound))
        if old is None or hit.loudness_db > old.loudness_db:
            found[bar, position, hit.sound] = msgspec.structs.replace(hit, bar=bar, position=position)
    return found


def added(own: dict[Place, Hit], performance: Performance, tagged: bool) -> Iterator[Hit]:
    """Shaker on every 16th, claps on even beats, a second snare under loud snares and on 4a, low drums on kicks."""
    rows: list[tuple[int, Fraction, Sound, Layer]] = []
    for bar in performance.grid.numbers:
        length = performance.grid.length(bar)
        rows += [(bar, Fraction(n, 16), "shaker", "hand percussion") for n in range(int(length * 16))]
        rows += [(bar, Fraction(n, 4), "clap", "programmed") for n in range(1, int(length * 4), 2)]
        if Fraction(15, 16) < length:
            rows.append((bar, Fraction(15, 16), "snare", "second snare"))
    for (bar, position, sound), hit in own.items():
        if sound == "snare" and hit.loudness_db > -12:
            rows.append((bar, position, "snare", "second snare"))
        if sound == "kick":
            rows.append((bar, position, "tom_floor", "stacked kick"))
    for number, (bar, position, sound, layer) in enumerate(rows):
        time_s = performance.grid.time_at(bar, position)
        yield Hit(id=100_000 + number, time_s=time_s, sound=sound, loudness_db=-12.0, confidence=0.9, bar=bar,
                  position=position, layer=layer if tagged else None)  # fmt: skip


def recovered(performance: Performance, tagged: bool) -> tuple[int, int, int]:
    """(strokes right, strokes written, strokes the drummer played) of the full chart."""
    own = written(performance)
    hits = (*own.values(), *added(own, performance, tagged))
    song = Song(duration_s=performance.grid.end_s, sample_rate_hz=0, sha256="")
    full = arrange(Listening(song=song, grid=performance.grid, hits=hits), KIT, player="advanced").charts["full"]
    made = {(s.bar, s.position, s.piece) for s in full.strokes}
    return len(made & own.keys()), len(made), len(own)


def alone(performance: Performance) -> tuple[int, int, int]:
    """The same without anything added: what the limits alone cost."""
    own = written(performance)
    song = Song(duration_s=performance.grid.end_s, sample_rate_hz=0, sha256="")
    full = arrange(Listening(song=song, grid=performance.grid, hits=tuple(own.values())), KIT, player="advanced")
    made = {(s.bar, s.position, s.piece) for s in full.charts["full"].strokes}
    return len(made & own.keys()), len(made), len(own)
