"""The character networks, their larger teachers, and how a batch of glyphs is varied while they learn."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

__all__ = [
    "ALNUM_CLASSES",
    "DIGIT_CLASSES",
    "Closer",
    "Network",
    "Teacher",
    "average_weights",
    "residual",
    "step",
    "varied",
]

ALNUM_CLASSES = 38  # 36 characters, no clean character, nothing but dirt
DIGIT_CLASSES = 12  # 10 digits and the same two


def step(wide_in: int, wide: int, stride: int | tuple[int, int] = 1) -> nn.Sequential:
    """A convolution of 3 x 3, normalised, its negative part cut off."""
    return nn.Sequential(
        nn.Conv2d(wide_in, wide, 3, stride, 1, bias=False), nn.BatchNorm2d(wide), nn.ReLU(inplace=True)
    )


class Network(nn.Module):
    """One that is shipped: reads digits (``classes`` 12), or digits and letters (38).

    Takes float32 (n, 28, 28), ink 0 to 1; gives logits (n, ``classes``).
    """

    def __init__(self, classes: int, widths: tuple[int, int, int]) -> None:
        super().__init__()
        a, b, c = widths
        self.body = nn.Sequential(
            step(1, a), nn.MaxPool2d(2), step(a, a), step(a, b, 2), step(b, b), step(b, b), step(b, c, 2)
        )
        self.gather = nn.Conv2d(c, c, 4, groups=c)
        self.head = nn.Linear(c, classes)

    def forward(self, glyphs: Tensor) -> Tensor:
        """The logits."""
        gathered: Tensor = self.head(self.gather(self.body(glyphs.unsqueeze(1))).flatten(1))
        return gathered


class _Residual(nn.Module):
    def __init__(self, wide_in: int, wide: int, stride: int | tuple[int, int]) -> None:
        super().__init__()
        self.main = nn.Sequential(
            step(wide_in, wide, stride), nn.Conv2d(wide, wide, 3, 1, 1, bias=False), nn.BatchNorm2d(wide)
        )
        same = wide_in == wide and stride == 1
        self.side = nn.Identity() if same else nn.Sequential(
            nn.Conv2d(wide_in, wide, 1, stride, bias=False), nn.BatchNorm2d(wide)
        )  # fmt: skip

    def forward(self, x: Tensor) -> Tensor:
        return functional.relu(self.main(x) + self.side(x))


def residual(wide_in: int, wide: int, stride: int | tuple[int, int]) -> nn.Module:
    """Two such steps with a way past them."""
    return _Residual(wide_in, wide, stride)


class Teacher(nn.Module):
    """A residual network of 4 million weights, with a head for all characters and one for digits; never shipped."""

    def __init__(self) -> None:
        super().__init__()
        self.body = nn.Sequential(
            step(1, 48), _Residual(48, 48, 1), _Residual(48, 128, 2), _Residual(128, 128, 1),
            _Residual(128, 256, 2), _Residual(256, 256, 1), _Residual(256, 256, 1),
            nn.AdaptiveAvgPool2d(1), nn.Flatten(), nn.Dropout(0.3),
        )  # fmt: skip
        self.alnum = nn.Linear(256, ALNUM_CLASSES)
        self.digits = nn.Linear(256, DIGIT_CLASSES)

    def forward(self, glyphs: Tensor) -> tuple[Tensor, Tensor]:
        """Both heads' logits."""
        gathered = self.body(glyphs.unsqueeze(1).contiguous(memory_format=torch.channels_last))
        return self.alnum(gathered), self.digits(gathered)


class Closer(nn.Module):
    """The shipped residual network of 1.8 million weights that takes a closer look at single digits; as Network."""

    def __init__(self, classes: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            step(1, 32), _Residual(32, 64, 2), _Residual(64, 64, 1), _Residual(64, 128, 2), _Residual(128, 128, 1),
            _Residual(128, 128, 1), _Residual(128, 256, 2),
        )  # fmt: skip
        self.gather = nn.Conv2d(256, 256, 4, groups=256)
        self.head = nn.Linear(256, classes)

    def forward(self, glyphs: Tensor) -> Tensor:
        """The logits."""
        shown = glyphs.unsqueeze(1).contiguous(memory_format=torch.channels_last)
        gathered: Tensor = self.head(self.gather(self.body(shown)).flatten(1))
        return gathered


def varied(glyphs: Tensor, generator: torch.Generator, reach: tuple[float, float] = (1.0, 1.0)) -> Tensor:
    """The batch (n, 28, 28), every glyph varied: turned, stretched, slanted, bent, thicker or thinner, nicked, and now
    and then as coarse as a fax or in black and white. ``reach``: least and most, of every glyph's own multiple of how
    far it is turned, stretched, slanted and bent."""
    n, side = len(glyphs), glyphs.shape[-1]
    device = glyphs.device

    def normal(*shape: int) -> Tensor:
        return torch.randn(*shape, device=device, generator=generator)

    def uniform(*shape: int) -> Tensor:
        return torch.rand(*shape, device=device, generator=generator)

    far = reach[0] + (reach[1] - reach[0]) * uniform(n)
    turn = (normal(n) * 0.1).clamp(-0.28, 0.28) * far
    wide, high = torch.exp(normal(n) * 0.09 * far), torch.exp(normal(n) * 0.07 * far)
    slant = normal(n) * 0.13 * far
    cos, sin = torch.cos(turn), torch.sin(turn)
    shift = normal(n, 2) * 0.06
    affine = torch.stack([
        torch.stack([cos * wide, sin * wide + slant, shift[:, 0]], 1),
        torch.stack([-sin * high, cos * high, shift[:, 1]], 1),
    ], 1)  # fmt: skip
    grid = functional.affine_grid(affine, [n, 1, side, side], align_corners=False)
    strength = far.view(n, 1, 1, 1) * uniform(n, 1, 1, 1) * 0.11 * (uniform(n, 1, 1, 1) < 0.75)
    bend = functional.interpolate(normal(n, 2, 5, 5), size=(side, side), mode="bicubic", align_corners=True)
    grid = grid + (bend * strength).permute(0, 2, 3, 1)
    x = functional.grid_sample(glyphs.unsqueeze(1), grid, align_corners=False)

    # The pen: thicker or thinner by a part of a pixel.
    share = uniform(n, 1, 1, 1)
    kind = uniform(n, 1, 1, 1)
    thicker = functional.max_pool2d(x, 3, 1, 1)
    thinner = -functional.max_pool2d(-x, 3, 1, 1)
    x = torch.where(kind < 0.25, x + (thicker - x) * share * 0.8, x)
    x = torch.where(kind > 0.82, x + (thinner - x) * share * 0.6, x)
    # A nick: one or two rows or columns without ink.
    at = (uniform(n, 1, 1, 1) * side).floor()
    place = torch.arange(side, device=device, dtype=x.dtype)
    rows, columns = place.view(1, 1, side, 1), place.view(1, 1, 1, side)
    nick = uniform(n, 1, 1, 1)
    across = torch.where(nick < 0.04, (rows - at).abs() < 1, torch.zeros_like(x, dtype=torch.bool))
    down = torch.where((nick > 0.04) & (nick < 0.08), (columns - at).abs() < 1, torch.zeros_like(across))
    x = x.masked_fill(across | down, 0.0)
    coarse = functional.avg_pool2d(x, 3, 1, 1)
    level = 0.25 + 0.4 * uniform(n, 1, 1, 1)
    black = torch.sigmoid((functional.avg_pool2d(x, 3, 1, 1) * 0.5 + x * 0.5 - level) * 14)
    scan = uniform(n, 1, 1, 1)
    x = torch.where(scan < 0.08, coarse * 1.3, torch.where(scan > 0.85, black, x))
    gain = 0.85 + 0.5 * uniform(n, 1, 1, 1)
    x = (x * gain + normal(n, 1, side, side) * 0.03 * uniform(n, 1, 1, 1)).clamp(0, 1)
    return x.squeeze(1)


@torch.no_grad()
def average_weights(mean: nn.Module, model: nn.Module, share: float) -> None:
    """Move the weights of ``mean`` towards those of ``model`` by ``share`` of the way; its counters follow at once."""
    for kept, now in zip(mean.state_dict().values(), model.state_dict().values(), strict=True):
        if kept.dtype.is_floating_point:
            kept.lerp_(now, share)
        else:
            kept.copy_(now)
