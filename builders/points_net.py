"""The small net that finds named points in a face's picture: a U of convolutions (PyTorch).

A map of scores for each point; where its softmax has its mean is the place, how wide it lies the
spread. Both are taught by the likelihood of the true place.
"""

from collections.abc import Sequence
from itertools import pairwise

import torch
from torch import Tensor, nn

from builders.parts_net import mixed
from sitwell.face.points import CELL_PX, HIGH_PX, LEAST_SPREAD_PX, NAMES, WIDE_PX

WIDTHS = (20, 32, 48, 72, 96)  # channels at each halving of the picture
_TAILS = 8.0  # degrees of freedom: how calmly a far miss is taken


class PointsNet(nn.Module):
    """Pictures (B, 3, H, W) of 0..1 to scores (B, points, H / CELL, W / CELL)."""

    def __init__(self, widths: Sequence[int] = WIDTHS) -> None:
        super().__init__()
        self.stem = mixed(5, widths[0], 5, step=CELL_PX)
        self.down = nn.ModuleList(
            [mixed(widths[0], widths[0])]
            + [nn.Sequential(mixed(b, w), mixed(w, w)) for b, w in pairwise(widths)]
        )
        pairs = list(pairwise(widths))
        self.narrow = nn.ModuleList(mixed(deep, here, 1) for here, deep in pairs)
        self.up = nn.ModuleList(mixed(2 * here, here) for here, _ in pairs)
        self.last = nn.Conv2d(widths[0], len(NAMES), 1)
        across = torch.linspace(-1.0, 1.0, WIDE_PX).reshape(1, 1, 1, -1)
        self.register_buffer("across", across, persistent=False)
        along = torch.linspace(-1.0, 1.0, HIGH_PX).reshape(1, 1, -1, 1)
        self.register_buffer("along", along, persistent=False)

    def forward(self, rgb: Tensor) -> Tensor:
        """Scores before the softmax over all cells."""
        nothing = rgb[:, :1] * 0.0
        places = [nothing + self.across, nothing + self.along]
        here = self.stem(torch.cat([(rgb - 0.45) * 4.0, *places], dim=1))
        kept = []
        for level, block in enumerate(self.down):
            if level:
                here = nn.functional.max_pool2d(here, 2)
            here = block(here)
            kept.append(here)
        for level in reversed(range(len(self.up))):
            narrow = self.narrow[level](here)
            wide = nn.functional.interpolate(narrow, scale_factor=2.0, mode="nearest")
            here = self.up[level](torch.cat([wide, kept[level]], dim=1))
        return self.last(here)


def moments(scores: Tensor) -> tuple[Tensor, Tensor]:
    """Means (B, P, 2) in crop pixels and covariances (B, P, 3: xx, yy, xy) of score maps."""
    count, points, high, wide = scores.shape
    likely = scores.float().flatten(2).softmax(dim=2).reshape(count, points, high, wide)
    x = (torch.arange(wide, device=scores.device) + 0.5) * CELL_PX
    y = (torch.arange(high, device=scores.device) + 0.5) * CELL_PX
    across, down = likely.sum(2), likely.sum(3)
    mean = torch.stack([across @ x, down @ y], dim=-1)
    dx, dy = x - mean[..., :1], y - mean[..., 1:]
    xx, yy = (across * dx**2).sum(-1), (down * dy**2).sum(-1)
    xy = torch.einsum("bpyx,bpy,bpx->bp", likely, dy, dx)
    least = LEAST_SPREAD_PX**2
    return mean, torch.stack([xx + least, yy + least, xy], dim=-1)


def loss_of(scores: Tensor, places: Tensor, by_cell: float) -> Tensor:
    """How unlikely the true places (B, P, 2) are, by mean and spread; and, weighted, by cell."""
    mean, (xx, yy, xy) = (m := moments(scores))[0], m[1].unbind(-1)
    off = places - mean
    area = (xx * yy - xy**2).clamp_min(1e-4)
    dx, dy = off.unbind(-1)
    apart = (yy * dx**2 - 2 * xy * dx * dy + xx * dy**2) / area
    unlikely = 0.5 * torch.log(area) + (_TAILS + 2) / 2 * torch.log1p(apart / _TAILS)
    total = unlikely.mean()
    if by_cell > 0.0:
        total = total + by_cell * _by_cell(scores, places)
    return total


def _by_cell(scores: Tensor, places: Tensor) -> Tensor:
    """Cross entropy against a small round patch about the true place."""
    _, _, high, wide = scores.shape
    x = (torch.arange(wide, device=scores.device) + 0.5) * CELL_PX
    y = (torch.arange(high, device=scores.device) + 0.5) * CELL_PX
    patch_x = (-0.5 * ((x - places[..., :1]) / CELL_PX) ** 2).softmax(-1)
    patch_y = (-0.5 * ((y - places[..., 1:]) / CELL_PX) ** 2).softmax(-1)
    logs = scores.float().flatten(2).log_softmax(2).reshape(scores.shape)
    return -torch.einsum("bpyx,bpy,bpx->bp", logs, patch_y, patch_x).mean()
