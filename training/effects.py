"""What a studio, a room, a broadcast and a codec do to sound, drawn at random for a whole batch.

Each effect has a likelihood and a range in the code that applies it. They are judged by ear against records; no
source. The order is a studio's: pieces on two buses, each with equaliser, room, compressor and drive; balance;
master.
"""

import numpy as np
import torch
import torch.nn.functional as fn

from training.material import RATE_HZ
from training.mixdown import Batch, Mixdown
from training.sounds import INDEX

ENVELOPE_SAMPLES = 64
LONGEST_ROOM_SAMPLES = 32000
FIRST_GOOD_SIZE = 1.03
"""FFT sizes exceed the clip by at least this, so that rooms ring out."""


class Effects:
    """All effects for clips of `samples` on `device`."""

    def __init__(self, samples: int, device: torch.device) -> None:
        self.samples = samples
        self.device = device
        self.size = _good_size(int(samples * FIRST_GOOD_SIZE) + LONGEST_ROOM_SAMPLES)
        self.hz = torch.fft.rfftfreq(self.size, 1 / RATE_HZ, device=device)

    def produce(
        self,
        batch: Batch,
        drums: torch.Tensor,
        band: torch.Tensor,
        strong: float,
        balance_db: tuple[float, float],
        alone: float,
    ) -> Mixdown:
        """Two dry buses to a finished mix."""
        drums = self._drum_bus(drums, strong)
        band = self._band_bus(band, batch, strong)
        drums, band = self._balance(batch, drums, band, balance_db, alone)
        return Mixdown(self._master(drums + band, strong), drums, band)

    def _drum_bus(self, drums: torch.Tensor, strong: float) -> torch.Tensor:
        size = len(drums)
        spectrum = torch.fft.rfft(drums, self.size) * self._equaliser(size, self._between(size, 0, 4.5 * strong))
        spectrum = spectrum * (1 + self._room(size, 0.65 * strong, -22, -3))
        low_pass = torch.where(self._chance(size, 0.12 * strong), self._between(size, 5000, 12000), 2e4)
        spectrum = spectrum / (1 + (self.hz / low_pass[:, None]) ** 8).sqrt()
        drums = torch.fft.irfft(spectrum, self.size)[:, : self.samples]
        drums = self._compressor(drums, 0.55 * strong, (-6, 8), (0.3, 2.2), 16)
        peak = drums.abs().amax(1, keepdim=True) + 1e-6
        return self._drive(drums, peak, 0.4 * strong, (-1.0, 1.8))

    def _band_bus(self, band: torch.Tensor, batch: Batch, strong: float) -> torch.Tensor:
        size = len(band)
        spectrum = torch.fft.rfft(band, self.size) * self._equaliser(size, self._between(size, 0, 5.0 * strong))
        spectrum = spectrum * (1 + self._room(size, 0.6 * strong, -20, -4))
        band = torch.fft.irfft(spectrum, self.size)[:, : self.samples]
        peak = torch.quantile(band.abs()[:, ::37], 0.99, dim=1, keepdim=True) + 1e-6
        band = self._drive(band, peak, 0.5 * strong, (-0.5, 3.2))
        band = self._presence(band, 0.35 * strong)
        return band * (1 - self._duck(batch, strong))

    def _presence(self, x: torch.Tensor, share: float) -> torch.Tensor:
        """A shelf of 3 to 12 dB from 2-5 kHz up: bright guitars and voices are what hides hats on records."""
        size = len(x)
        corner = self._between(size, 2000, 5000)[:, None]
        lift = 10 ** (self._between(size, 3, 12) / 20)[:, None] * self._chance(size, share)[:, None]
        high = (self.hz / corner) ** 2 / (1 + (self.hz / corner) ** 2)
        return torch.fft.irfft(torch.fft.rfft(x, self.size) * (1 + lift * high), self.size)[:, : self.samples]

    def _balance(
        self, batch: Batch, drums: torch.Tensor, band: torch.Tensor, balance_db: tuple[float, float], alone: float
    ) -> tuple[torch.Tensor, torch.Tensor]:
        size = len(drums)
        over = (torch.randn(size, device=self.device) * balance_db[1] + balance_db[0]).clamp(-16, 12)
        over = torch.where(self._chance(size, alone), 60.0, over)
        has = batch["has_drums"]
        loud, other = _active_rms(drums), _active_rms(band)
        drum_gain = torch.where(has > 0, 1 / loud, 0.0)
        band_gain = torch.where(has > 0, 10 ** (-over / 20), 1.0) / other * (other > 2e-6)
        return drums * drum_gain[:, None], band * band_gain[:, None]

    def _master(self, mix: torch.Tensor, strong: float) -> torch.Tensor:
        size = len(mix)
        spectrum = torch.fft.rfft(mix, self.size) * self._equaliser(size, self._between(size, 0, 3.5 * strong))
        spectrum = spectrum * (1 + self._room(size, 0.08 * strong, -12, 0))
        low_pass = torch.where(self._chance(size, 0.45 * strong), self._between(size, 8000, 15000), 3e4)
        low_pass = torch.where(self._chance(size, 0.05 * strong), self._between(size, 3500, 7000), low_pass)
        high_pass = torch.where(self._chance(size, 0.3 * strong), self._between(size, 25, 200), 1.0)
        spectrum = spectrum / (1 + (self.hz / low_pass[:, None]) ** 16).sqrt()
        spectrum = spectrum / (1 + (high_pass[:, None] / (self.hz + 1e-3)) ** 4).sqrt()
        mix = torch.fft.irfft(spectrum, self.size)[:, : self.samples]
        mix = self._compressor(mix, 0.5 * strong, (-4, 6), (0.3, 2.0), 30)
        peak = torch.quantile(mix.abs()[:, ::37], 0.999, dim=1, keepdim=True) + 1e-6
        mix = self._drive(mix, peak, 0.45 * strong, (-1.5, 1.6))
        rms = mix.square().mean(1, keepdim=True).sqrt() + 1e-6
        hiss_db = torch.where(self._chance(size, 0.4 * strong), self._between(size, -70, -36), -90.0)
        mix = mix + torch.randn_like(mix) * rms * 10 ** (hiss_db / 20)[:, None]
        return self._coarse(self._codec(mix, 0.15 * strong), 0.2 * strong)

    def _between(self, size: int, low: float, high: float) -> torch.Tensor:
        return torch.rand(size, device=self.device) * (high - low) + low

    def _chance(self, size: int, share: float) -> torch.Tensor:
        return torch.rand(size, device=self.device) < share

    def _equaliser(self, size: int, spread_db: torch.Tensor, knots: int = 7) -> torch.Tensor:
        """Smooth magnitude curves through random knots in log frequency, 40 Hz to 15 kHz."""
        levels = torch.randn(size, 1, knots, device=self.device) * spread_db[:, None, None]
        fine = fn.interpolate(levels, size=256, mode="linear", align_corners=True)[:, 0]
        place = (self.hz.clamp(40, 15000) / 40).log() / np.log(375.0) * 255
        i = place.long().clamp_max(254)
        return torch.as_tensor(10 ** (torch.lerp(fine[:, i], fine[:, i + 1], place - i) / 20))

    def _room(self, size: int, share: float, low_db: float, high_db: float) -> torch.Tensor:
        """Spectrum of decaying noise: 30-400 ms time constant, up to 20 ms late, dull to bright."""
        tau = torch.exp(self._between(size, np.log(0.03), np.log(0.4)))[:, None]
        late = self._between(size, 0, 0.02)[:, None]
        t = torch.arange(LONGEST_ROOM_SAMPLES, device=self.device) / RATE_HZ
        tail = torch.randn(size, len(t), device=self.device) * torch.exp(-(t - late).clamp_min(0) / tau) * (t >= late)
        bright = self._between(size, 2000, 12000)[:, None]
        spectrum = torch.fft.rfft(tail, self.size) / (1 + (self.hz / bright) ** 2)
        spectrum = spectrum * (self.hz / 150) / (1 + self.hz / 150)
        level = 3 * 10 ** (self._between(size, low_db, high_db) / 20) * self._chance(size, share)
        return spectrum * (level[:, None] / (tail.square().sum(1, keepdim=True).sqrt() + 1e-6))

    def _compressor(
        self,
        x: torch.Tensor,
        share: float,
        threshold_db: tuple[float, float],
        log_ratio: tuple[float, float],
        hold: int,
    ) -> torch.Tensor:
        """Feed-forward, on blocks of 2 ms; the threshold is relative to the clip's own RMS."""
        size = len(x)
        power = x.reshape(size, -1, ENVELOPE_SAMPLES).square().mean(2)
        mean = power.mean(1, keepdim=True) + 1e-9
        power = fn.avg_pool1d(fn.pad(power[:, None], (24, 0)), 25, 1)[:, 0]
        over_db = 10 * torch.log10(power / mean + 1e-6) - self._between(size, *threshold_db)[:, None]
        ratio = torch.exp(self._between(size, *log_ratio))[:, None]
        gain_db = -over_db.clamp_min(0) * (1 - 1 / ratio)
        gain_db = fn.avg_pool1d(fn.pad(gain_db[:, None], (hold, 0)), hold + 1, 1)
        gain_db = fn.interpolate(gain_db, size=x.shape[1], mode="linear")[:, 0]
        return torch.where(self._chance(size, share)[:, None], x * 10 ** (gain_db / 20), x)

    def _drive(
        self, x: torch.Tensor, peak: torch.Tensor, share: float, log_drive: tuple[float, float]
    ) -> torch.Tensor:
        drive = torch.exp(self._between(len(x), *log_drive))[:, None]
        return torch.where(self._chance(len(x), share)[:, None], torch.tanh(x / peak * drive) / drive * peak, x)

    def _duck(self, batch: Batch, strong: float) -> torch.Tensor:
        """The band turned down by the kick, as dance records do; shape (batch, samples)."""
        kick = (batch["hits"][:, :, INDEX["kick"]] == 255).float()
        fall = torch.exp(-torch.arange(40, device=self.device) / 9.0).flip(0)
        down = fn.conv1d(fn.pad(kick[:, None], (39, 0)), fall[None, None]).clamp_max(1)
        depth = self._chance(len(kick), 0.15 * strong) * self._between(len(kick), 0.3, 0.95)
        return fn.interpolate(down, size=self.samples, mode="linear")[:, 0] * depth[:, None]

    def _codec(self, x: torch.Tensor, share: float) -> torch.Tensor:
        """Weak bins between strong ones vanish, which is what cheap coding sounds like."""
        which = torch.nonzero(self._chance(len(x), share))[:, 0]
        if not len(which):
            return x
        window = torch.hann_window(1024, device=self.device)
        bins = torch.stft(x[which], 1024, 256, 1024, window, return_complex=True)
        size = bins.abs()
        flat = size.transpose(1, 2).reshape(-1, 1, size.shape[1])
        around = fn.avg_pool1d(flat, 17, 1, 8).view(size.shape[0], -1, size.shape[1]).transpose(1, 2)
        keep = size > around * 10 ** (self._between(len(which), -12, 1)[:, None, None] / 20)
        x = x.clone()
        x[which] = torch.istft(bins * keep, 1024, 256, 1024, window, length=x.shape[1])
        return x

    def _coarse(self, x: torch.Tensor, share: float) -> torch.Tensor:
        """Few bits a band: everything rounded to steps of the band's own size, the top cut off, attacks blurred."""
        which = torch.nonzero(self._chance(len(x), share))[:, 0]
        if not len(which):
            return x
        window = torch.hann_window(1024, device=self.device).sqrt()
        bins = torch.stft(x[which], 1024, 512, 1024, window, return_complex=True)
        step_db, steeper_db = self._between(len(which), -12, 3), self._between(len(which), 0, 9)
        top_hz = self._between(len(which), 7000, 16000)
        band = _bands(bins.shape[1]).to(self.device)
        power = torch.zeros(len(which), int(band[-1]) + 1, bins.shape[2], device=self.device)
        power = power.index_add(1, band, bins.abs().square()) / torch.bincount(band)[:, None]
        height = torch.linspace(0, 1, len(band), device=self.device)
        share_db = step_db[:, None] + steeper_db[:, None] * height
        step = power.sqrt()[:, band] * 10 ** (share_db / 20)[:, :, None] + 1e-9
        bins = torch.complex(torch.round(bins.real / step), torch.round(bins.imag / step)) * step
        hz = torch.fft.rfftfreq(1024, 1 / RATE_HZ, device=self.device)
        bins = bins * (hz[None, :] < top_hz[:, None])[:, :, None]
        x = x.clone()
        x[which] = torch.istft(bins, 1024, 512, 1024, window, length=x.shape[1])
        return x


def _bands(bins: int) -> torch.Tensor:
    """The band of every bin, wider towards the top, as coders share out their bits; shape (bins,)."""
    edges = np.unique(np.round(np.geomspace(3, bins, 22)).astype(int))
    return torch.from_numpy(np.searchsorted(edges, np.arange(bins), side="right"))


def _active_rms(x: torch.Tensor) -> torch.Tensor:
    """RMS of the tenths of a second that sound, shape (batch,)."""
    power = x.reshape(len(x), -1, RATE_HZ // 10).square().mean(2)
    sounds = (power > power.amax(1, keepdim=True) * 1e-3).float()
    return torch.as_tensor(((power * sounds).sum(1) / (sounds.sum(1) + 1e-3)).sqrt() + 1e-6)


def _good_size(least: int) -> int:
    """Smallest product of 2s, 3s and 5s that is even and not below `least`."""
    best = 1 << (least - 1).bit_length()
    for fives in range(5):
        for threes in range(8):
            odd = 5**fives * 3**threes
            twos = max(1, int(np.ceil(np.log2(max(1.0, least / odd)))))
            if odd << twos >= least:
                best = min(best, odd << twos)
    return best
