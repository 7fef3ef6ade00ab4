"""The small net that names the parts of a face's picture: a U of plain convolutions (PyTorch)."""

from collections.abc import Sequence
from itertools import pairwise

import torch
from torch import Tensor, nn

from sitwell.face.parts import CROP_PX, Part

WIDTHS = (12, 24, 40, 56, 64, 64)  # channels at each halving of the picture


def mixed(before: int, after: int, size: int = 3, step: int = 1) -> nn.Sequential:
    """A convolution of so many channels to so many, normed and cut off at 0."""
    return nn.Sequential(
        nn.Conv2d(before, after, size, step, padding=size // 2, bias=False),
        nn.BatchNorm2d(after),
        nn.ReLU(inplace=True),
    )


class PartsNet(nn.Module):
    """Pictures (B, 3, S, S) of 0..1 to scores (B, parts, S, S); S is CROP_PX."""

    def __init__(self, widths: Sequence[int] = WIDTHS) -> None:
        super().__init__()
        before = (5, *widths[:-1])
        self.down = nn.ModuleList(
            nn.Sequential(mixed(b, w), mixed(w, w)) for b, w in zip(before, widths, strict=True)
        )
        pairs = list(pairwise(widths))
        self.narrow = nn.ModuleList(mixed(deep, here, 1) for here, deep in pairs)
        self.up = nn.ModuleList(mixed(2 * here, here) for here, _ in pairs)
        self.last = nn.Conv2d(widths[0], len(Part), 1)
        ramp = torch.linspace(-1.0, 1.0, CROP_PX)
        self.register_buffer("across", ramp.reshape(1, 1, 1, -1), persistent=False)
        self.register_buffer("down_the_side", ramp.reshape(1, 1, -1, 1), persistent=False)

    def forward(self, rgb: Tensor) -> Tensor:
        """Scores before the softmax."""
        nothing = rgb[:, :1] * 0.0
        places = [nothing + self.across, nothing + self.down_the_side]
        here = torch.cat([(rgb - 0.45) * 4.0, *places], dim=1)
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
