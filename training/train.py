"""Train the ears. One process a GPU; what is learnt lies in a checkpoint that the next run goes on from.

    python -m training.train PACK OUT --minutes 8                      one GPU (or --device cpu)
    torchrun --nproc_per_node 2 -m training.train PACK OUT --minutes 8 several GPUs of one host
    ... --resume OUT/ears.pt --lr 1e-3                                 go on from a checkpoint

Every batch is planned by worker processes, rendered on the GPU and used once. The learning rate warms up, then falls
along a cosine of the wall time that `--minutes` allows. What ships is a running average of the weights.
"""

import argparse
import copy
import csv
import json
import math
import os
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as fn

from training.audible import hide_inaudible
from training.features import LogMel
from training.losses import Loss, loss
from training.material import Index, open_pack
from training.mixdown import Batch
from training.network import Network, Shape
from training.plan import Planner, Recipe, batch
from training.render import Renderer, vary

WARM_UP_STEPS = 300
LAST_SHARE = 0.02
"""Learning rate at the end, as a share of the highest."""

EMA = 0.999
WEIGHT_DECAY = 0.01
BETAS = (0.9, 0.98)
CLIP_NORM = 1.0
SPARE_S = 12.0
"""Time kept for writing checkpoints."""

TILT_SD, TILT_KNOTS = 0.03, 10
MASK_SHARE = 0.12
GAIN_DB = 6.0


@dataclass(frozen=True)
class Settings:
    """One run. `steps` 0: as many as `minutes` allow."""

    minutes: float = 8.0
    steps: int = 0
    batch: int = 36
    seconds: float = 16.0
    rate: float = 2e-3
    seed: int = 1
    workers: int = 12
    variants: int = 3
    compiled: bool = True
    log_every: int = 100
    recipe: Recipe = field(default_factory=Recipe)
    shape: Shape = field(default_factory=Shape)


@dataclass(frozen=True)
class Team:
    """One process among those that train together."""

    rank: int
    size: int
    device: torch.device

    def share(self, values: torch.Tensor) -> torch.Tensor:
        """Mean over the team, in place."""
        if self.size > 1:
            torch.distributed.all_reduce(values)
            values /= self.size
        return values


def main(argv: list[str] | None = None) -> None:
    """Train and write OUT/ears.pt and OUT/curve.csv."""
    a = _arguments(argv)
    team = _team(a.device)
    recipe = replace(Recipe(), **json.loads(a.recipe))
    shape = replace(Shape(), **{k: tuple(v) if isinstance(v, list) else v for k, v in json.loads(a.shape).items()})
    settings = Settings(
        a.minutes, a.steps, a.batch, a.seconds, a.lr, a.seed, a.workers, a.variants, not a.plain, a.log_every,
        recipe, shape,
    )  # fmt: skip
    run(a.pack, a.out, settings, team, a.resume)
    if team.size > 1:
        torch.distributed.destroy_process_group()


def run(pack: Path, out: Path, settings: Settings, team: Team, resume: Path | None = None) -> Path:
    """Train with these settings; returns the checkpoint's path (written by rank 0)."""
    started = time.monotonic()
    torch.manual_seed(settings.seed + 1000 * team.rank)
    _fast_kernels(team.device)
    index, renderer = prepare_rendering(pack, settings, team.device)
    network = Network(settings.shape).to(team.device)
    if resume:
        network.load_state_dict(torch.load(resume, map_location=team.device)["average"])
    average = copy.deepcopy(network).eval().requires_grad_(False)
    curve = _loop(index, renderer, network, average, settings, team, started)
    path = out / "ears.pt"
    if team.rank == 0:
        out.mkdir(parents=True, exist_ok=True)
        torch.save({"average": average.state_dict(), "shape": average.describe()}, path)
        with (out / "curve.csv").open("w", newline="") as f:
            csv.writer(f).writerows([("step", "seconds", "rate", "hits", "levels", "pulse", "waited"), *curve])
        (out / "settings.json").write_text(json.dumps(asdict(settings), indent=1))
    return path


def prepare_rendering(pack: Path, settings: Settings, device: torch.device) -> tuple[Index, Renderer]:
    """Open the pack, colour the one-shots, and put all sound on the device."""
    index, sounds = open_pack(pack, settings.variants)
    groups = [g for kind in (index.groups, index.held_groups) for gs in kind.values() for g in gs]
    strokes = vary(torch.from_numpy(sounds.oneshots).to(device), groups, settings.variants, settings.seed)
    half = torch.float16
    flat = torch.cat([strokes.to(half), torch.from_numpy(sounds.rest).to(device, half)])
    compiled = settings.compiled and device.type == "cuda"
    band = torch.from_numpy(sounds.band).to(half)
    return index, Renderer(flat, band, settings.seconds, device, compiled)


def augment(pictures: torch.Tensor) -> torch.Tensor:
    """Tilt the bands a little, alike in all frames, and blank some bands of a few clips."""
    size, device = len(pictures), pictures.device
    tilt = fn.interpolate(torch.randn(size, 2, TILT_KNOTS, device=device) * TILT_SD, size=80, mode="linear")
    tilt = torch.stack([tilt[:, 0], tilt[:, 0] + 0.3 * tilt[:, 1]], 1)
    bands = torch.arange(80, device=device)[None]
    low = torch.randint(0, 70, (size, 1), device=device)
    wide = torch.randint(3, 14, (size, 1), device=device)
    blank = (bands >= low) & (bands < low + wide) & (torch.rand(size, 1, device=device) < MASK_SHARE)
    return (pictures + tilt[:, :, None]).masked_fill(blank[:, None, None], -0.5)


def _loop(
    index: Index, renderer: Renderer, network: Network, average: Network, settings: Settings,
    team: Team, started: float,
) -> list[tuple[float, ...]]:  # fmt: skip
    device = team.device
    pictures = LogMel().to(device)
    optimiser = torch.optim.AdamW(
        network.parameters(), lr=settings.rate, weight_decay=WEIGHT_DECAY, betas=BETAS, fused=device.type == "cuda"
    )
    forward = torch.compile(network, dynamic=False) if renderer_compiled(settings, device) else network
    network.train()
    curve: list[tuple[float, ...]] = []
    begun, progress, step, waited, asked = 0.0, 0.0, 0, 0.0, 0.0
    for work in _batches(index, settings, team):
        begun = begun or time.monotonic()
        waited += time.monotonic() - asked if asked else 0.0
        rate = settings.rate * min(1.0, (step + 1) / WARM_UP_STEPS) * _cosine(progress)
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.no_grad():
            mixdown = renderer(work, settings.recipe.effects, settings.recipe.balance_db, settings.recipe.drums_alone)
            gain = 10 ** ((torch.rand(len(mixdown.mix), device=device) * 2 - 1) * GAIN_DB / 20)
            seen = augment(pictures(mixdown.mix, gain))
            if settings.recipe.masked:
                work["known"] = hide_inaudible(work, *pictures.short(mixdown.drums, mixdown.band))
        with torch.autocast(device.type, dtype=torch.bfloat16):
            answer = forward(seen)
        parts = loss(answer, work)
        optimiser.zero_grad(set_to_none=True)
        parts.total().backward()
        progress = _share_gradients(network, team, _progress(settings, started, begun, step + 1))
        torch.nn.utils.clip_grad_norm_(network.parameters(), CLIP_NORM)
        optimiser.step()
        _follow(average, network, min(EMA, (step + 1) / (step + 10)))
        step += 1
        if team.rank == 0 and (step % settings.log_every == 0 or step <= 3):
            curve.append(_report(step, time.monotonic() - started, rate, parts, waited))
        asked = time.monotonic()
        if progress >= 1:
            break
    if team.rank == 0:
        clips = step * settings.batch * team.size
        print(f"{step} steps, {clips} clips, {clips * settings.seconds / 3600:.0f} h of sound", flush=True)
    return curve


def renderer_compiled(settings: Settings, device: torch.device) -> bool:
    """Compilation pays on a GPU only, and only in runs of some minutes."""
    return settings.compiled and device.type == "cuda"


def _progress(settings: Settings, started: float, begun: float, step: int) -> float:
    if settings.steps:
        return step / settings.steps
    now = time.monotonic()
    return (now - begun) / max(1.0, settings.minutes * 60 - SPARE_S - (begun - started))


def _share_gradients(network: Network, team: Team, progress: float) -> float:
    """Average gradients and progress over the team, in one message."""
    if team.size == 1:
        return progress
    gradients = [p.grad for p in network.parameters() if p.grad is not None]
    flat = torch.cat([g.flatten() for g in gradients] + [torch.tensor([progress], device=team.device)])
    team.share(flat)
    at = 0
    for g in gradients:
        g.copy_(flat[at : at + g.numel()].view_as(g))
        at += g.numel()
    return float(flat[-1])


@torch.no_grad()
def _follow(average: Network, network: Network, keep: float) -> None:
    torch._foreach_lerp_(list(average.parameters()), list(network.parameters()), 1 - keep)
    for old, new in zip(average.buffers(), network.buffers(), strict=True):
        old.copy_(new)


def _cosine(progress: float) -> float:
    return 0.5 * (1 + math.cos(math.pi * min(1.0, progress))) * (1 - LAST_SHARE) + LAST_SHARE


def _report(step: int, seconds: float, rate: float, parts: Loss, waited: float) -> tuple[float, ...]:
    """`waited`: seconds spent waiting for plans; much of it says that more workers are needed."""
    losses = (round(float(x.detach()), 5) for x in (parts.hits, parts.levels, parts.pulse))
    row = (step, round(seconds, 1), rate, *losses, round(waited, 1))
    print("step {} {} s rate {:.1e} hits {} levels {} pulse {} waited {} s".format(*row), flush=True)
    return row


class _Plans(torch.utils.data.IterableDataset[dict[str, torch.Tensor]]):
    """Endless batches of plans; every worker of every process draws its own."""

    def __init__(self, index: Index, settings: Settings, rank: int) -> None:
        self.index, self.settings, self.rank = index, settings, rank

    def __iter__(self) -> Iterator[dict[str, torch.Tensor]]:
        worker = torch.utils.data.get_worker_info()
        number = worker.id if worker else 0
        if worker:
            torch.set_num_threads(1)
        rng = np.random.default_rng([self.settings.seed, self.rank, number])
        planner = Planner(self.index, self.settings.seconds, recipe=self.settings.recipe)
        while True:
            arrays = batch(planner, rng, self.settings.batch)
            yield {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()}


def _batches(index: Index, settings: Settings, team: Team) -> Iterator[Batch]:
    loader = torch.utils.data.DataLoader(
        _Plans(index, settings, team.rank),
        batch_size=None,
        num_workers=settings.workers,
        pin_memory=team.device.type == "cuda",
        prefetch_factor=4 if settings.workers else None,
    )
    for arrays in loader:
        yield {k: v.to(team.device, non_blocking=True) for k, v in arrays.items()}


def _team(device: str) -> Team:
    if "WORLD_SIZE" not in os.environ:
        return Team(0, 1, torch.device(device))
    rank = int(os.environ["LOCAL_RANK"])
    torch.cuda.set_device(rank)
    torch.distributed.init_process_group("nccl")
    return Team(rank, int(os.environ["WORLD_SIZE"]), torch.device("cuda", rank))


def _fast_kernels(device: torch.device) -> None:
    if device.type == "cuda":
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        torch.backends.cudnn.benchmark = True


def _arguments(argv: list[str] | None) -> argparse.Namespace:
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("pack", type=Path)
    p.add_argument("out", type=Path)
    p.add_argument("--minutes", type=float, default=8.0)
    p.add_argument("--steps", type=int, default=0)
    p.add_argument("--batch", type=int, default=36)
    p.add_argument("--seconds", type=float, default=16.0)
    p.add_argument("--lr", type=float, default=2e-3)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--workers", type=int, default=12)
    p.add_argument("--variants", type=int, default=3)
    p.add_argument("--plain", action="store_true", help="do not compile")
    p.add_argument("--log-every", type=int, default=100)
    p.add_argument("--recipe", default="{}", help="JSON of Recipe fields to change")
    p.add_argument("--shape", default="{}", help="JSON of Shape fields to change")
    p.add_argument("--resume", type=Path)
    p.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    return p.parse_args(argv)


if __name__ == "__main__":
    main()
