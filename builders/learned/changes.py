"""Batches of invented pictures changed on the accelerator, so that no look of theirs is learned.

Pictures are moved, cut at an edge, given other surroundings (often other people's), other tones of
hair, hats and beards, other light, and what cameras, old plates and small files do to them.
"""

import math
from dataclasses import dataclass

import torch
from torch import Tensor, nn

from sitwell.face.features import CROP_PX
from sitwell.face.parts import Part
from sitwell.face.points import MIRRORED

IGNORED = 255  # the label of a pixel of which nothing is taught
_JUDGED_MIRRORED = (*range(7), 8, 7)


@dataclass(slots=True, kw_only=True)
class Batch:
    """Pictures (B, 3, S, S) of 0..1, labels (B, S, S), places (B, P, 2), which of them are
    ``shown`` (B, P), and what is judged (B, J).
    """

    rgb: Tensor
    label: Tensor
    places: Tensor
    shown: Tensor
    judged: Tensor


def changed(batch: Batch) -> Batch:
    """The batch, every picture changed at random."""
    mirrored(batch)
    moved(batch)
    surrounded(batch)
    for part, share in ((Part.HAIR, 0.3), (Part.HAT, 0.5), (Part.BEARD, 0.25), (Part.CLOTHES, 0.4)):
        recoloured(batch, part, share)
    batch.rgb = photographed(relit(batch.rgb))
    patched(batch)
    return batch


def mirrored(batch: Batch) -> None:
    """Half of them as in a mirror."""
    chosen = torch.rand(len(batch.rgb), device=batch.rgb.device) < 0.5
    batch.rgb[chosen] = batch.rgb[chosen].flip(-1)
    batch.label[chosen] = batch.label[chosen].flip(-1)
    turned = batch.places[chosen][:, list(MIRRORED)]
    turned[..., 0] = CROP_PX - turned[..., 0]
    batch.places[chosen] = turned
    batch.shown[chosen] = batch.shown[chosen][:, list(MIRRORED)]
    batch.judged[chosen] = batch.judged[chosen][:, list(_JUDGED_MIRRORED)]


def _grid(
    count: int, device: torch.device, angle: float, size: float, move: float
) -> tuple[Tensor, Tensor, Tensor]:
    """Random turns (B, 2, 2) and shifts (B, 2) in pixels, and the grid that samples by them."""
    turn = torch.randn(count, device=device) * math.radians(angle)
    grow = torch.exp(torch.randn(count, device=device) * size)
    shift = torch.randn(count, 2, device=device) * move
    c, s = torch.cos(turn) * grow, torch.sin(turn) * grow
    matrix = torch.stack([torch.stack([c, -s], -1), torch.stack([s, c], -1)], dim=1)
    half = CROP_PX / 2
    theta = torch.cat([matrix, (shift / half)[:, :, None]], dim=2)
    grid = nn.functional.affine_grid(theta, [count, 1, CROP_PX, CROP_PX], align_corners=False)
    return matrix, shift, grid


def moved(batch: Batch) -> None:
    """Turned, grown and moved by a little; some end at an edge, whose pixels go on beyond it."""
    count, device = len(batch.rgb), batch.rgb.device
    matrix, shift, grid = _grid(count, device, 4.0, 0.05, 4.0)
    # left, top, right, bottom ends of the file, in the grid's units
    ends = torch.tensor([-2.0, -2.0, 2.0, 2.0], device=device).repeat(count, 1)
    cut = torch.rand(count, 4, device=device) < torch.tensor([0.03, 0.1, 0.03, 0.05], device=device)
    where = torch.rand(count, 4, device=device) * 0.6 + 0.4
    sign = torch.tensor([-1.0, -1.0, 1.0, 1.0], device=device)
    ends = torch.where(cut, where * sign, ends)
    low, high = ends[:, None, None, :2], ends[:, None, None, 2:]
    inside = ((grid >= low) & (grid <= high) & (grid.abs() <= 1.0)).all(-1)
    held = torch.minimum(torch.maximum(grid, low), high)
    batch.rgb = nn.functional.grid_sample(
        batch.rgb, held, padding_mode="border", align_corners=False
    )
    label = nn.functional.grid_sample(
        batch.label[:, None].float(),
        held,
        mode="nearest",
        padding_mode="border",
        align_corners=False,
    )[:, 0].round()
    batch.label = torch.where(inside, label, torch.full_like(label, IGNORED)).to(torch.uint8)
    half = CROP_PX / 2
    off = batch.places - half - shift[:, None]
    batch.places = torch.einsum("bij,bpj->bpi", torch.linalg.inv(matrix), off) + half


def surrounded(batch: Batch) -> None:
    """Two in five before another picture of the batch: other people, nearer, farther or blurred."""
    count, device = len(batch.rgb), batch.rgb.device
    order = torch.randperm(count, device=device)
    _, _, grid = _grid(count, device, 25.0, 0.5, 80.0)
    other = nn.functional.grid_sample(
        batch.rgb[order], grid, padding_mode="reflection", align_corners=False
    )
    other[: count // 2] = softened(other[: count // 2], 1.0 + 7.0 * torch.rand(1).item())
    chosen = torch.rand(count, device=device) < 0.4
    behind = (batch.label == Part.BACKGROUND) & chosen[:, None, None]
    share = nn.functional.avg_pool2d(behind[:, None].float(), 3, 1, 1)
    batch.rgb = batch.rgb * (1.0 - share) + other * share


def recoloured(batch: Batch, part: Part, often: float) -> None:
    """One part of some pictures in another tone and colour, its own contrast more or less."""
    count, device = len(batch.rgb), batch.rgb.device
    chosen = torch.rand(count, device=device) < often
    own = ((batch.label == part) & chosen[:, None, None])[:, None].float()
    bright = batch.rgb.mean(1, keepdim=True).clamp_min(0.02)
    mean = (bright * own).sum((2, 3), keepdim=True) / own.sum((2, 3), keepdim=True).clamp_min(1.0)
    contrast = torch.exp(torch.randn(count, 1, 1, 1, device=device) * 0.4 - 0.2)
    tone = torch.rand(count, 1, 1, 1, device=device)
    if part in (Part.HAIR, Part.BEARD):
        tone = tone**2 * 0.8
        tint = torch.exp(
            torch.rand(count, 1, 1, 1, device=device)
            * torch.tensor([0.15, 0.0, -0.3], device=device).reshape(1, 3, 1, 1)
        )
    else:
        tint = torch.exp(torch.randn(count, 3, 1, 1, device=device) * 0.35)
    made = (bright / mean.clamp_min(0.02)) ** contrast * (0.03 + 0.85 * tone) * tint
    share = nn.functional.avg_pool2d(own, 3, 1, 1)
    batch.rgb = batch.rgb * (1.0 - share) + made.clamp(0.0, 1.0) * share


def relit(rgb: Tensor) -> Tensor:
    """Half of them under light that changes over the picture, some with a sharp shadow's edge."""
    count, device = len(rgb), rgb.device
    field = torch.randn(count, 1, 4, 4, device=device) * 0.4
    field = nn.functional.interpolate(field, size=rgb.shape[2:], mode="bicubic")
    edge = (field > 0.1).float() * torch.randn(count, 1, 1, 1, device=device) * 0.4
    kind = torch.rand(count, 1, 1, 1, device=device)
    field = torch.where(kind < 0.4, field, torch.where(kind < 0.5, edge, torch.zeros_like(field)))
    return (rgb * torch.exp(field)).clamp(0.0, 1.0)


def softened(rgb: Tensor, sigma: float) -> Tensor:
    """Pictures blurred by ``sigma`` pixels."""
    reach = max(1, math.ceil(2.5 * sigma))
    steps = torch.arange(-reach, reach + 1, device=rgb.device).float()
    kernel = torch.exp(-0.5 * (steps / max(sigma, 0.1)) ** 2)
    kernel = (kernel / kernel.sum()).expand(3, 1, 1, -1)
    padded = nn.functional.pad(rgb, (reach,) * 4, mode="replicate")
    once = nn.functional.conv2d(padded, kernel, groups=3)
    return nn.functional.conv2d(once, kernel.transpose(2, 3), groups=3)


def photographed(rgb: Tensor) -> Tensor:
    """Tones, colours, softness, sharpening, grain, and now and then grey, brown or very small."""
    count, device = len(rgb), rgb.device

    def drawn(*shape: int) -> Tensor:
        return torch.randn(count, *shape, device=device)

    order = torch.randperm(count, device=device)
    rgb = rgb.clamp_min(1e-4) ** torch.exp(drawn(1, 1, 1) * 0.25)
    rgb = rgb * torch.exp(drawn(3, 1, 1) * 0.06 + drawn(1, 1, 1) * 0.12)
    grey = rgb.mean(1, keepdim=True)
    rgb = grey + (rgb - grey) * torch.exp(drawn(1, 1, 1) * 0.3)
    lift = torch.rand(count, 1, 1, 1, device=device)
    rgb = torch.where(lift < 0.1, 0.1 + 0.8 * rgb, rgb)
    weights = torch.tensor([0.3, 0.6, 0.1], device=device).reshape(1, 3, 1, 1)
    plain = (rgb * weights).sum(1, keepdim=True)
    tint = 1.0 + torch.rand(count, 1, 1, 1, device=device) * torch.tensor(
        [0.12, 0.0, -0.2], device=device
    ).reshape(1, 3, 1, 1)
    rgb = torch.where(torch.rand(count, 1, 1, 1, device=device) < 0.14, plain * tint, rgb)
    some = order[: count // 4]
    rgb[some] = softened(rgb[some], 0.4 + 1.6 * torch.rand(1).item())
    sharp = order[count // 4 : count // 2]
    edges = rgb[sharp] - softened(rgb[sharp], 1.0 + torch.rand(1).item())
    rgb[sharp] = rgb[sharp] + edges * (0.3 + 1.2 * torch.rand(len(sharp), 1, 1, 1, device=device))
    small = order[count // 2 : count // 2 + count // 10]
    side = int(70 + 120 * torch.rand(1).item())
    few = nn.functional.interpolate(rgb[small], size=(side, side), mode="area")
    rgb[small] = nn.functional.interpolate(few, size=rgb.shape[2:], mode="bilinear")
    grain = torch.rand(count, 1, 1, 1, device=device) ** 3 * 0.08
    return packed((rgb + torch.randn_like(rgb) * grain).clamp(0.0, 1.0))


def packed(rgb: Tensor) -> Tensor:
    """A third of them as a JPEG leaves them: blocks of 8, fine waves in coarse steps."""
    count = len(rgb) // 3
    device = rgb.device
    n = torch.arange(8, device=device).float()
    waves = torch.cos(math.pi / 8 * (n[None] + 0.5) * n[:, None]) * 0.5
    waves[0] = math.sqrt(1 / 8)
    blocks = rgb[:count].reshape(count, 3, CROP_PX // 8, 8, CROP_PX // 8, 8)
    told = torch.einsum("ui,bchiwj,vj->bchuwv", waves, blocks, waves)
    step = (1.0 + n[:, None] + n[None]) * 0.012
    step = step.reshape(8, 1, 8) * torch.rand(count, 1, 1, 1, 1, 1, device=device) ** 2 * 3.0 + 1e-4
    told = torch.round(told / step) * step
    made = torch.einsum("ui,bchuwv,vj->bchiwj", waves, told, waves)
    return torch.cat([made.reshape(count, 3, CROP_PX, CROP_PX).clamp(0, 1), rgb[count:]])


def patched(batch: Batch) -> None:
    """One in ten has a box of another over it, that nothing be guessed surely there."""
    count, device = len(batch.rgb) // 10, batch.rgb.device
    other = batch.rgb.flip(0)[:count]
    x = torch.arange(CROP_PX, device=device)[None, None, None, :]
    y = torch.arange(CROP_PX, device=device)[None, None, :, None]
    ends = torch.rand(count, 4, 1, 1, 1, device=device)
    left, top = ends[:, 0] * CROP_PX, ends[:, 1] * CROP_PX
    inside = (x > left) & (x < left + 15 + ends[:, 2] * 80)
    inside = inside & (y > top) & (y < top + 15 + ends[:, 3] * 80)
    batch.rgb = torch.cat([torch.where(inside, other, batch.rgb[:count]), batch.rgb[count:]])
    batch.label[:count][inside[:, 0]] = IGNORED
    batch.judged[:count] = -1.0
