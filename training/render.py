"""Plans into sound, a batch at a time, on the GPU: sample events, then rooms, equalisers, compression, loss.

Nothing is stored: every clip is heard once. Strokes are cut into pieces of `CHUNK` samples, gathered from one
flat array with linear interpolation, shaped by their envelope, and summed by index.
"""

from collections.abc import Callable

import numpy as np
import torch

from training.effects import Effects
from training.material import RATE_HZ, Group
from training.mixdown import Batch, Mixdown
from training.sounds import CYMBALS

CHUNK = 2048
PIECES_AT_ONCE = 16384
RINGING_SNARES = 0.4
RING_HZ, RING_S, RING_DB = (170.0, 900.0), (0.03, 0.5), (-24.0, -8.0)
"""A share of the coloured snares rings like a drum with loose wires: place, decay and level against its peak (ours).
On kits never heard, such snares were taken for a high tom sounding with them."""


class Renderer:
    """Renders batches of `seconds` on `device`. `strokes`: one flat array; `band`: the accompaniment."""

    def __init__(
        self, strokes: torch.Tensor, band: torch.Tensor, seconds: float, device: torch.device, compiled: bool = False
    ) -> None:
        self.strokes = strokes.to(device)
        self.band = band.to(device)
        self.samples = int(seconds * RATE_HZ)
        self.device = device
        self.effects = Effects(self.samples, device)
        self.steps = torch.arange(CHUNK, device=device)
        self.pieces: Callable[..., tuple[torch.Tensor, torch.Tensor]] = (
            torch.compile(_pieces, dynamic=True) if compiled else _pieces
        )

    @torch.no_grad()
    def __call__(self, batch: Batch, strong: float, balance_db: tuple[float, float], alone: float) -> Mixdown:
        """Sound of a batch. `strong` scales all effects; `balance_db`: mean and spread of drums over band."""
        drums, notes = self._events(batch).unbind(1)
        band = self._with_clips(batch, notes)
        return self.effects.produce(batch, drums, band, strong, balance_db, alone)

    def _events(self, batch: Batch) -> torch.Tensor:
        """Shape (batch, 2, samples): the drum bus and the band's single notes, dry."""
        size = batch["hits"].shape[0]
        n = self.samples
        out = torch.zeros(size * 2 * n + CHUNK, device=self.device)
        length, start, ratio, gain, gate, release, bus = batch["table"].unbind(1)
        wanted = torch.minimum(length / ratio - 2, (gate + release) * RATE_HZ).clamp_min(64)
        wanted = torch.minimum(wanted, n - start.clamp_min(0) * RATE_HZ).clamp_min(0)
        pieces = (wanted / CHUNK).ceil().long()
        event = torch.repeat_interleave(torch.arange(len(pieces), device=self.device), pieces)
        number = torch.arange(len(event), device=self.device) - (torch.cumsum(pieces, 0) - pieces)[event]
        row = (batch["clip"] * 2 + bus.long()) * n
        first = (start * RATE_HZ).round().long()
        for a in range(0, len(event), PIECES_AT_ONCE):
            e = event[a : a + PIECES_AT_ONCE]
            place = (number[a : a + PIECES_AT_ONCE] * CHUNK)[:, None] + self.steps
            sound, at = self.pieces(
                self.strokes,
                batch["offset"][e],
                place,
                ratio[e],
                gain[e],
                gate[e],
                release[e],
                wanted[e],
                first[e],
                n,
            )
            out.index_add_(0, (row[e, None] + at).clamp_(0, size * 2 * n - 1).reshape(-1), sound.reshape(-1))
        return out[: size * 2 * n].view(size, 2, n)

    def _with_clips(self, batch: Batch, notes: torch.Tensor) -> torch.Tensor:
        has = (batch["clip_start"] >= 0).float()[:, None]
        place = torch.arange(self.samples, device=self.device)[None] * batch["clip_ratio"][:, None]
        whole = place.long()
        at = (batch["clip_start"].clamp_min(0)[:, None] + whole).clamp_max(len(self.band) - 2)
        clip = torch.lerp(self.band[at].float(), self.band[at + 1].float(), place - whole)
        rms = clip.square().mean(1, keepdim=True).sqrt() + 1e-4
        other = notes.square().mean(1, keepdim=True).sqrt()
        over = 10 ** (torch.empty_like(other).uniform_(-6, 8) / 20)
        level = torch.where(other > 1e-4, other * over, torch.full_like(other, 0.1))
        return notes + clip / rms * level * has


def _pieces(
    flat: torch.Tensor, offset: torch.Tensor, place: torch.Tensor, ratio: torch.Tensor, gain: torch.Tensor,
    gate: torch.Tensor, release: torch.Tensor, wanted: torch.Tensor, first: torch.Tensor, n: int,
) -> tuple[torch.Tensor, torch.Tensor]:  # fmt: skip
    steps = place.float()
    exact = steps * ratio[:, None]
    whole = exact.long()
    index = (offset[:, None] + whole).clamp_max(flat.shape[0] - 2)
    value = torch.lerp(flat[index].float(), flat[index + 1].float(), exact - whole)
    envelope = (((gate + release)[:, None] * RATE_HZ - steps) / (release[:, None] * RATE_HZ)).clamp(0, 1)
    at = first[:, None] + place
    inside = (steps < wanted[:, None]) & (at >= 0) & (at < n)
    return value * envelope * envelope * gain[:, None] * inside, at


def vary(oneshots: torch.Tensor, groups: list[Group], copies: int, seed: int) -> torch.Tensor:
    """The one-shots and `copies - 1` coloured versions, one after another.

    All strokes of a kit's sound get the same equaliser, damping and drive: another drum, not another stroke.
    """
    rng = np.random.default_rng(seed)
    versions = [oneshots]
    for _ in range(copies - 1):
        version = oneshots.clone()
        for group in groups:
            _colour(oneshots, version, group, rng)
        versions.append(version)
    return torch.cat(versions)


def _colour(source: torch.Tensor, out: torch.Tensor, group: Group, rng: np.random.Generator) -> None:
    knots = torch.tensor(rng.normal(0, 4.5, 8), dtype=torch.float32, device=source.device)
    damp_s = float(np.exp(rng.uniform(np.log(0.08), np.log(3.0))))
    drive = float(np.exp(rng.uniform(0, 1.6))) if rng.random() < 0.35 else 0.0
    rings = group.sound == "snare" and rng.random() < RINGING_SNARES
    ring = (rng.uniform(*RING_HZ), float(np.exp(rng.uniform(*np.log(RING_S)))), 10 ** (rng.uniform(*RING_DB) / 20))
    for sample in group.samples:
        dry = source[sample.start : sample.start + sample.length]
        n = len(dry)
        size = 1 << int(np.ceil(np.log2(n * 1.1)))
        hz = torch.fft.rfftfreq(size, 1 / RATE_HZ, device=source.device)
        place = (hz.clamp(40, 15000) / 40).log() / np.log(375.0) * 7
        i = place.long().clamp_max(6)
        curve_db = torch.lerp(knots[i], knots[i + 1], place - i)
        wet = torch.fft.irfft(torch.fft.rfft(dry, size) * 10 ** (curve_db / 20), size)[:n]
        if group.sound not in CYMBALS or damp_s > 0.4:
            wet = wet * torch.exp(-torch.arange(n, device=source.device) / RATE_HZ / damp_s)
        wet = wet / wet.abs().max().clamp_min(1e-5)
        if rings:
            wet = wet + _ring(n, sample.onset_s, *ring, source.device)
        if drive:
            wet = torch.tanh(wet * drive) / float(np.tanh(drive))
        out[sample.start : sample.start + n] = wet * 0.9


def _ring(n: int, onset_s: float, hz: float, decay_s: float, level: float, device: torch.device) -> torch.Tensor:
    """A partial that starts with the stroke and dies away, shape (n,)."""
    t = torch.arange(n, device=device) / RATE_HZ - onset_s
    return torch.sin(2 * torch.pi * hz * t) * torch.exp(-t.clamp_min(0) / decay_s) * level * (t >= 0)
