"""The network that reads dates, numbers and unit numbers in free writing, and how a batch of lines is varied."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.network import residual, step

__all__ = ["NumberNetwork", "varied_lines"]


class _Along(nn.Module):
    """What stands beside: a residual step along the line alone."""

    def __init__(self, wide: int) -> None:
        super().__init__()
        self.main = nn.Sequential(
            nn.Conv1d(wide, wide, 5, 1, 2, bias=False), nn.BatchNorm1d(wide), nn.ReLU(inplace=True),
            nn.Conv1d(wide, wide, 3, 1, 1, bias=False), nn.BatchNorm1d(wide),
        )  # fmt: skip

    def forward(self, x: Tensor) -> Tensor:
        return functional.relu(x + self.main(x))


class NumberNetwork(nn.Module):
    """Takes float32 (n, 40, width), ink 0 to 1; gives logits (n, width / 4, ``classes``), CTC's blank first.

    It sees a digit and what stands beside it and no more: what numbers people write is for settling to say.
    """

    def __init__(self, classes: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            step(1, 32), nn.MaxPool2d(2), residual(32, 64, 1), residual(64, 96, 2), residual(96, 128, (2, 1)),
            residual(128, 128, 1),
        )  # fmt: skip
        self.upright = nn.Sequential(
            nn.Conv2d(128, 192, (5, 1), bias=False), nn.BatchNorm2d(192), nn.ReLU(inplace=True)
        )
        self.along = nn.Sequential(_Along(192), nn.Dropout(0.2), _Along(192), nn.Dropout(0.2))
        self.head = nn.Conv1d(192, classes, 1)

    def forward(self, lines: Tensor) -> Tensor:
        """The logits."""
        seen = self.upright(self.body(lines.unsqueeze(1))).squeeze(2)
        found: Tensor = self.head(self.along(seen)).transpose(1, 2)
        return found


def varied_lines(lines: Tensor, generator: torch.Generator) -> Tensor:
    """The batch (n, 40, width), every line varied: leant, stretched, moved, bent, its pen thicker, thinner or broken,
    a band or a spot of it gone, specks added, and now and then coarse or in black and white.
    """
    n, high, wide = lines.shape
    device = lines.device

    def normal(*shape: int) -> Tensor:
        return torch.randn(*shape, device=device, generator=generator)

    def uniform(*shape: int) -> Tensor:
        return torch.rand(*shape, device=device, generator=generator)

    tall, broad = torch.exp(normal(n) * 0.10).clamp(0.8, 1.35), torch.exp(normal(n).abs() * 0.12).clamp(1.0, 1.4)
    lean = normal(n) * 0.12 * high / wide * 2
    # A line is laid from its left end: nothing written may leave the picture.
    affine = torch.stack([
        torch.stack([broad, lean, broad - 1 - 0.02 * uniform(n)], 1),
        torch.stack([normal(n) * 0.02, tall, normal(n) * 0.05], 1),
    ], 1)  # fmt: skip
    grid = functional.affine_grid(affine, [n, 1, high, wide], align_corners=False)
    columns = max(4, wide // 24)
    bend = functional.interpolate(normal(n, 2, 4, columns), size=(high, wide), mode="bicubic", align_corners=True)
    strength = uniform(n, 1, 1, 1) * (uniform(n, 1, 1, 1) < 0.7)
    reach = torch.tensor([2.2 / wide * 2, 1.6 / high * 2], device=device).view(1, 2, 1, 1)
    x = functional.grid_sample(
        lines.unsqueeze(1), grid + (bend * strength * reach).permute(0, 2, 3, 1), align_corners=False
    )
    share, kind = uniform(n, 1, 1, 1), uniform(n, 1, 1, 1)
    thicker, thinner = functional.max_pool2d(x, 3, 1, 1), -functional.max_pool2d(-x, 3, 1, 1)
    x = torch.where(kind < 0.25, x + (thicker - x) * share, x)
    x = torch.where(kind > 0.8, x + (thinner - x) * share * 0.7, x)
    rows, across = torch.arange(high, device=device).view(1, 1, high, 1), torch.arange(wide, device=device)
    at = (uniform(n, 1, 1, 1) * high).floor()
    band = (uniform(n, 1, 1, 1) < 0.12) & ((rows - at).abs() < 1 + (uniform(n, 1, 1, 1) < 0.3))
    x = x.masked_fill(band, 0.0)
    spot_x = uniform(n, 1, 1, 1) * wide
    spot = ((across.view(1, 1, 1, wide) - spot_x) / 3.0) ** 2 + ((rows - at) / 2.5) ** 2 < 1
    x = x.masked_fill(spot & (uniform(n, 1, 1, 1) < 0.15), 0.0)
    broken = functional.interpolate(normal(n, 1, 20, wide // 2), size=(high, wide), mode="bilinear") > 1.6
    x = torch.where((uniform(n, 1, 1, 1) < 0.15) & broken, x * 0.2, x)
    specks = (uniform(n, 1, high, wide) > 0.9985) & (uniform(n, 1, 1, 1) < 0.25)
    x = torch.where(functional.max_pool2d(specks.float(), 2, 1, 1)[..., :high, :wide] > 0, x.clamp(min=0.8), x)
    coarse = functional.avg_pool2d(x, 3, 1, 1)
    level = 0.25 + 0.4 * uniform(n, 1, 1, 1)
    black, scan = torch.sigmoid((coarse * 0.5 + x * 0.5 - level) * 14), uniform(n, 1, 1, 1)
    x = torch.where(scan < 0.1, coarse * 1.3, torch.where(scan > 0.85, black, x))
    x = x * (0.8 + 0.5 * uniform(n, 1, 1, 1)) + normal(n, 1, high, wide) * 0.03 * uniform(n, 1, 1, 1)
    return x.clamp(0, 1).squeeze(1)
