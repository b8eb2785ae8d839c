"""Checkpoint to the weight file that ships: normalisation folded in, 16-bit floats, one NPZ.

    python -m training.export OUT/ears.pt src/fourlimb/listen/weights/ears.npz --name ears-1
    python -m training.export LAST/ears.pt OUT.npz --with BEFORE/ears.pt   the mean of two runs

A checkpoint named twice counts twice.

Names inside: `front0` ... (3 x 3 convolutions as (9 channels, out), taps in time-then-frequency order), `join`,
`before0.wide`, `before0.back` ..., `down`, `attention0.ask` ..., `up`, `after0.wide` ..., `head`, `near`, each with
`.weight` (inputs, outputs) and `.bias`; `sounds`, `name`, `level_floor_db`, `before`, `after`, `heads`.
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch
from torch import nn

from training.features import BANDS
from training.network import Network, Shape
from training.sounds import LEVEL_FLOOR_DB, SOUNDS

SHIPPED = 2 * len(SOUNDS) + 4
"""Outputs that the package reads; strokes by machine and ringing hats were not learned well enough (RUNS.md)."""

Arrays = dict[str, npt.NDArray[Any]]


def main(argv: list[str] | None = None) -> None:
    """Convert one checkpoint, or the mean of several."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("checkpoint", type=Path)
    p.add_argument("out", type=Path)
    p.add_argument("--name", default="ears")
    p.add_argument(
        "--with", dest="others", type=Path, nargs="*", default=[], help="checkpoints to take the mean with"
    )
    a = p.parse_args(argv)
    write(mean([read_checkpoint(path) for path in (*a.others, a.checkpoint)]), a.out, a.name)
    print(f"{a.out}: {a.out.stat().st_size / 1e6:.2f} MB")


def read_checkpoint(path: Path) -> Network:
    """The averaged network of a checkpoint, ready to answer."""
    stored = torch.load(path, map_location="cpu", weights_only=True)
    shape = Shape(**{k: tuple(v) if isinstance(v, list) else v for k, v in stored["shape"].items()})
    network = Network(shape)
    network.load_state_dict(stored["average"])
    return network.eval()


@torch.no_grad()
def mean(networks: list[Network]) -> Network:
    """The network whose weights are the mean of these; they must come from runs that continue one another.

    An output that a network has not learned yet (`unfold` leaves its weights 0) is left out of the mean.
    """
    states = [n.state_dict() for n in networks]
    learned = torch.stack([(s["head.weight"].abs().flatten(1).amax(1) > 0).float() for s in states])
    share = learned / learned.sum(0).clamp_min(1)

    def of(key: str) -> torch.Tensor:
        stack = torch.stack([s[key].float() for s in states])
        if not key.startswith("head."):
            return stack.mean(0)
        return (stack * share.view(*share.shape, *[1] * (stack.dim() - 2))).sum(0)

    networks[-1].load_state_dict({k: of(k).to(v.dtype) for k, v in states[-1].items()})
    return networks[-1]


def write(network: Network, out: Path, name: str) -> None:
    """Write the weight file; its bytes depend on the weights and the name only."""
    arrays = {k: v.astype(np.float16) for k, v in fold(network).items()}
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        out,
        sounds=np.array(SOUNDS),
        name=np.array(name),
        level_floor_db=np.array(LEVEL_FLOOR_DB),
        before=np.array(network.shape.before),
        after=np.array(network.shape.after),
        heads=np.array(network.shape.heads),
        allow_pickle=False,
        **arrays,
    )


@torch.no_grad()
def fold(network: Network) -> Arrays:
    """All weights as matrices (inputs, outputs), with normalisation folded in."""
    out: Arrays = {}
    for i, layer in enumerate(network.front):
        kernel, bias = _folded(layer.conv.weight, None, layer.norm)
        out[f"front{i}.weight"] = kernel.permute(2, 3, 1, 0).flatten(0, 2).numpy()
        out[f"front{i}.bias"] = bias.numpy()
    join, bias = _folded(network.join[0].weight, None, network.join[1])
    bands = BANDS // 8
    out["join.weight"] = join[:, :, 0].view(len(join), -1, bands).permute(2, 1, 0).flatten(0, 1).numpy()
    out["join.bias"] = bias.numpy()
    for part in ("before", "after"):
        for i, layer in enumerate(getattr(network, part)):
            wide, bias = _folded(layer.wide.weight, None, layer.norm)
            out[f"{part}{i}.wide.weight"] = wide.permute(2, 1, 0).flatten(0, 1).numpy()
            out[f"{part}{i}.wide.bias"] = bias.numpy()
            _linear(out, f"{part}{i}.back", layer.back.weight[:, :, 0], layer.back.bias)
    _conv_down_up(out, network)
    for i, layer in enumerate(network.attention):
        for name in ("norm1", "norm2"):
            norm = getattr(layer, name)
            out[f"attention{i}.{name}.weight"], out[f"attention{i}.{name}.bias"] = (
                norm.weight.numpy(),
                norm.bias.numpy(),
            )
        for name in ("ask", "out", "wide", "narrow"):
            _linear(out, f"attention{i}.{name}", getattr(layer, name).weight, getattr(layer, name).bias)
    assert network.head.bias is not None
    assert network.near.bias is not None
    _linear(out, "head", network.head.weight[:SHIPPED, :, 0], network.head.bias[:SHIPPED])
    _linear(out, "near", network.near.weight[:, :, 0], network.near.bias)
    return out


def _conv_down_up(out: Arrays, network: Network) -> None:
    down, up = network.down, network.up
    assert down.bias is not None
    assert up.bias is not None
    out["down.weight"] = down.weight.permute(2, 1, 0).flatten(0, 1).numpy()
    out["down.bias"] = down.bias.numpy()
    out["up.weight"] = up.weight.permute(0, 2, 1).flatten(1, 2).numpy()
    out["up.bias"] = up.bias.repeat(4).numpy()


def _linear(out: Arrays, name: str, weight: torch.Tensor, bias: torch.Tensor) -> None:
    out[f"{name}.weight"] = weight.T.contiguous().numpy()
    out[f"{name}.bias"] = bias.numpy()


def _folded(kernel: torch.Tensor, bias: torch.Tensor | None, norm: nn.Module) -> tuple[torch.Tensor, torch.Tensor]:
    mean, var = norm.get_buffer("running_mean"), norm.get_buffer("running_var")
    scale = norm.get_parameter("weight") / torch.sqrt(var + 1e-5)
    shift = norm.get_parameter("bias") - mean * scale
    if bias is not None:
        shift = shift + bias * scale
    return kernel * scale.view(-1, *[1] * (kernel.dim() - 1)), shift


if __name__ == "__main__":
    main()
