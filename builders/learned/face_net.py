"""The small net that sees a face (PyTorch): a U of convolutions with three things to say.

Each cell's part; for each named point a place and a covariance, from a map whose softmax gathers
where it lies and what the picture looks like there; and what is in the way, of the whole picture.
"""

from collections.abc import Sequence
from itertools import pairwise

import torch
from torch import Tensor, nn

from sitwell.face.features import CELL_PX, CROP_PX, JUDGED
from sitwell.face.parts import Part
from sitwell.face.points import NAMES

WIDTHS = (26, 44, 80, 118, 142, 142)  # channels at each halving of the picture
_GATHERED, _HIDDEN = 24, 48
_TAILS = 6.0  # degrees of freedom: how calmly a far miss is taken


def mixed(before: int, after: int, size: int = 3, step: int = 1) -> nn.Sequential:
    """A convolution of so many channels to so many, normed and cut off at 0."""
    return nn.Sequential(
        nn.Conv2d(before, after, size, step, padding=size // 2, bias=False),
        nn.BatchNorm2d(after),
        nn.ReLU(inplace=True),
    )


class FaceNet(nn.Module):
    """Pictures (B, 3, S, S) of 0..1 to scores (B, parts, S / 2, S / 2), points (B, P, 5: x, y in
    crop pixels, logarithms of both spreads, correlation) and what is judged (B, J), before the
    sigmoid; S is CROP_PX.
    """

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
        top = widths[0]
        self.parts = nn.Conv2d(top, len(Part), 1)
        self.before_maps = mixed(top, 40)
        self.maps = nn.Conv2d(40, len(NAMES), 1)
        self.gathered = nn.Conv2d(40, _GATHERED, 1)
        self.first = nn.Linear(_GATHERED + 5, _HIDDEN)
        self.by_point = nn.Parameter(torch.randn(1, len(NAMES), _HIDDEN) * 0.1)
        self.last = nn.Linear(_HIDDEN, 5)
        nn.init.normal_(self.last.weight, std=0.01)
        nn.init.zeros_(self.last.bias)
        # on maps, parts and features of the whole picture
        self.whole = nn.Sequential(
            nn.Linear(widths[-1] + widths[-2] + len(Part) * 16, 96),
            nn.ReLU(),
            nn.Linear(96, len(JUDGED)),
        )
        ramp = torch.linspace(-1.0, 1.0, CROP_PX)
        self.register_buffer("across", ramp.reshape(1, 1, 1, -1), persistent=False)
        self.register_buffer("along", ramp.reshape(1, 1, -1, 1), persistent=False)
        cells = CROP_PX // CELL_PX
        centre = (torch.arange(cells) + 0.5) / cells * 2.0 - 1.0
        x = centre.reshape(1, -1).expand(cells, cells).reshape(1, 1, -1)
        y = centre.reshape(-1, 1).expand(cells, cells).reshape(1, 1, -1)
        self.register_buffer("places", torch.cat([x, y], dim=1), persistent=False)

    def forward(self, rgb: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Scores, points and what is judged."""
        nothing = rgb[:, :1] * 0.0
        places = [nothing + self.across, nothing + self.along]
        here = self.stem(torch.cat([(rgb - 0.45) * 4.0, *places], dim=1))
        kept = []
        for level, block in enumerate(self.down):
            if level:
                here = nn.functional.max_pool2d(here, 2)
            here = block(here)
            kept.append(here)
        deepest = here.mean(dim=(2, 3))
        for level in reversed(range(len(self.up))):
            narrow = self.narrow[level](here)
            wide = nn.functional.interpolate(narrow, scale_factor=2.0, mode="nearest")
            here = self.up[level](torch.cat([wide, kept[level]], dim=1))
            if level == len(self.up) - 1:
                wider = here.mean(dim=(2, 3))
        scores = self.parts(here)
        shares = nn.functional.avg_pool2d(scores.softmax(dim=1), CROP_PX // CELL_PX // 4)
        judged = self.whole(torch.cat([deepest, wider, shares.flatten(1)], dim=1))
        here = self.before_maps(here)
        if torch.is_autocast_enabled(here.device.type):
            with torch.autocast(here.device.type, enabled=False):
                return scores, self._points(here.float()), judged
        return scores, self._points(here), judged

    def _points(self, here: Tensor) -> Tensor:
        """Points by maps, in full precision: a place is a small difference of large sums."""
        likely = self.maps(here).flatten(2).softmax(dim=2)
        seen = self.gathered(here).flatten(2)
        x, y = self.places[:, :1] + seen[:, :1] * 0.0, self.places[:, 1:] + seen[:, :1] * 0.0
        from_maps = torch.cat([x, y, x * x, y * y, x * y, seen], dim=1)
        got = torch.matmul(likely, from_maps.transpose(1, 2))
        mx, my = got[..., 0:1], got[..., 1:2]
        half = CROP_PX / 2.0
        vx = (got[..., 2:3] - mx * mx) * half**2
        vy = (got[..., 3:4] - my * my) * half**2
        least = float(CELL_PX * 0.5) ** 2
        sx, sy = (
            0.5 * torch.log(vx.clamp_min(0.0) + least),
            0.5 * torch.log(vy.clamp_min(0.0) + least),
        )
        both = (got[..., 4:5] - mx * my) * half**2 * torch.exp(-sx - sy)
        about = torch.cat([mx, my, sx - 1.0, sy - 1.0, both, got[..., 5:]], dim=2)
        more = self.last(torch.relu(self.first(about) + self.by_point))
        return torch.cat(
            [
                mx * half + half + more[..., 0:1],
                my * half + half + more[..., 1:2],
                sx - 0.5 + 2.0 * more[..., 2:3],
                sy - 0.5 + 2.0 * more[..., 3:4],
                0.98 * torch.tanh(both + more[..., 4:5]),
            ],
            dim=2,
        )


def points_loss(told: Tensor, places: Tensor, weight: Tensor) -> Tensor:
    """How unlikely the true places (B, P, 2) are by what was told; ``weight`` (B, P)."""
    dx, dy = (places - told[..., :2]).unbind(-1)
    lx, ly = told[..., 2].clamp(-1.6, 5.0), told[..., 3].clamp(-1.6, 5.0)
    rho = told[..., 4]
    u, v = dx * torch.exp(-lx), dy * torch.exp(-ly)
    free = (1.0 - rho**2).clamp_min(0.03)
    apart = (u * u - 2 * rho * u * v + v * v) / free
    unlikely = lx + ly + 0.5 * torch.log(free)
    unlikely = unlikely + (_TAILS + 2) / 2 * torch.log1p(apart / _TAILS)
    return (unlikely * weight).sum() / weight.sum().clamp_min(1.0)


def calm_loss(told: Tensor, places: Tensor, weight: Tensor) -> Tensor:
    """How far off the places are, in pixels, far ones counted calmly: for the beginning."""
    off = nn.functional.smooth_l1_loss(told[..., :2], places, beta=4.0, reduction="none").sum(-1)
    return (off * weight).sum() / weight.sum().clamp_min(1.0)
