"""The enlarger and the judge as PyTorch modules, and what is written of them."""
import math

import torch
import torch.nn as nn
import torch.nn.functional as F

from damage import TERMS


class Convs(nn.Module):
    """A run of 3x3 convolutions of one shape, each learned as direct + (3x3 to wide, 1x1 back) + identity.

    All are folded at once on every step. The eight terms give each output channel a gain and an offset:
    y = (conv(x) + bias) (1 + terms.gain) + terms.offset.
    """

    def __init__(self, count, n_in, n_out, wide=96, identity=False, start=1.0):
        super().__init__()
        self.gain = nn.Parameter(torch.zeros(count, TERMS, n_out))
        self.offset = nn.Parameter(torch.zeros(count, TERMS, n_out))
        self.weight = nn.Parameter(torch.randn(count, n_out, n_in, 3, 3) * math.sqrt(start * 2 / (9 * n_in)) * 0.7)
        self.bias = nn.Parameter(torch.zeros(count, n_out))
        self.out = nn.Parameter(torch.randn(count, n_out, wide) * math.sqrt(start / wide))
        self.inner = nn.Parameter(torch.randn(count, wide, n_in * 9) * math.sqrt(1 / (9 * n_in)))
        one = torch.zeros(n_out, n_in, 3, 3)
        if identity:
            one[range(n_out), range(n_out), 1, 1] = 1
        self.register_buffer("one", one)

    def folded(self):
        return self.weight + (self.out @ self.inner).view_as(self.weight) + self.one

    def ready(self, told):
        """For each convolution its weights, and a gain and an offset for each picture and channel."""
        rows = self.folded().permute(0, 1, 3, 4, 2).contiguous().permute(0, 1, 4, 2, 3)  # channels last
        gain = 1 + told @ self.gain
        offset = gain * self.bias[:, None] + told @ self.offset
        return list(zip(rows.unbind(), gain[..., None, None].unbind(), offset[..., None, None].unbind()))

    def written(self, names):
        folded = self.folded()
        return {f"{name}.{part}": of[i] for i, name in enumerate(names)
                for part, of in (("weight", folded), ("bias", self.bias), ("gain", self.gain), ("offset", self.offset))}


def conv(x, weight, gain, offset):
    y = F.conv2d(x, weight.to(x.dtype), padding=1)
    return torch.addcmul(offset.to(y.dtype), y, gain.to(y.dtype))


class Enlarger(nn.Module):
    """3 to C, L layers C to C, plus the first features, tail to 3 S S, shuffled over the nearest enlargement."""

    def __init__(self, channels=24, layers=12, scales=(2, 3, 4), wide=96):
        super().__init__()
        self.scales, self.layers = scales, layers
        self.head = Convs(1, 3, channels, wide)
        self.body = Convs(layers, channels, channels, wide, True, 0.3)
        self.slope = nn.ParameterList([nn.Parameter(torch.full((channels,), 0.1)) for _ in range(layers + 1)])
        self.tail = nn.ModuleDict({str(s): Convs(1, channels, 3 * s * s, wide, start=0.02) for s in scales})

    def bend(self, x, i):
        return F.prelu(x, self.slope[i].to(x.dtype))

    def forward(self, x, S, told, kind=torch.float32):
        """kind: the numbers of the convolutions."""
        first = self.bend(conv((x - 0.5).to(kind), *self.head.ready(told)[0]), 0)
        y = first
        for i, layer in enumerate(self.body.ready(told)):
            y = self.bend(conv(y, *layer), i + 1)
        z = conv(y + first, *self.tail[str(S)].ready(told)[0])
        return F.pixel_shuffle(z.float() + x.repeat_interleave(S * S, 1), S)

    def written(self):
        out = self.head.written(["head"]) | self.body.written([f"body{i}" for i in range(self.layers)])
        for s in self.scales:
            out |= self.tail[str(s)].written([f"tail{s}"])
        return out | {f"slope{i}": s for i, s in enumerate(self.slope)}


class Judge(nn.Module):
    """How damaged, how soft is it? Five 3x3 layers without border, mean over the tile, two small layers.

    Five numbers: damage, its log spread, softness, its log spread, log odds that it is clean.
    """

    def __init__(self, channels=16, layers=5):
        super().__init__()
        self.conv = nn.ModuleList([nn.Conv2d(3 if i == 0 else channels, channels, 3) for i in range(layers)])
        self.slope = nn.ParameterList([nn.Parameter(torch.full((channels,), 0.1)) for _ in range(layers)])
        self.hidden, self.last = nn.Linear(channels, 24), nn.Linear(24, 5)

    def forward(self, x):
        x = (x - 0.5) * 4
        for conv, slope in zip(self.conv, self.slope):
            x = F.prelu(conv(x), slope)
        return self.last(F.leaky_relu(self.hidden(x.mean((2, 3)) * 4), 0.1))

    def written(self):
        out = {"judge.hidden.weight": self.hidden.weight, "judge.hidden.bias": self.hidden.bias,
               "judge.last.weight": self.last.weight, "judge.last.bias": self.last.bias}
        for i, (conv, slope) in enumerate(zip(self.conv, self.slope)):
            out |= {f"judge.conv{i}.weight": conv.weight, f"judge.conv{i}.bias": conv.bias, f"judge.slope{i}": slope}
        return out


def judge_loss(out, damage, softness):
    """Laplace likelihoods: a tile that tells little says so by its spread."""
    clean = (damage == 0).float()
    d_spread, s_spread = out[:, 1].clamp(-4, 2), out[:, 3].clamp(-4, 2)
    d = ((out[:, 0] - damage).abs() * torch.exp(-d_spread) + d_spread) * (1 - clean)
    s = (out[:, 2] - softness).abs() * torch.exp(-s_spread) + s_spread
    return d.mean() + s.mean() + F.binary_cross_entropy_with_logits(out[:, 4], clean)


LUMA = (0.2568, 0.5041, 0.0979)


def soft_abs(d):
    return (d * d + 1e-4).sqrt().mean()


def enlarger_loss(out, original, S, colour=0.5, tone=0.5):
    """Round absolute errors of RGB, luma and colour; of luma's steps; and of the mean over 4 x 4 art pixels."""
    d = out - original
    y = LUMA[0] * d[:, 0] + LUMA[1] * d[:, 1] + LUMA[2] * d[:, 2]
    loss = soft_abs(d) + soft_abs(y)
    loss = loss + colour * (soft_abs(0.564 * (d[:, 2] - y / 0.859)) + soft_abs(0.713 * (d[:, 0] - y / 0.859)))
    loss = loss + 0.05 * ((y[:, 1:] - y[:, :-1]).abs().mean() + (y[:, :, 1:] - y[:, :, :-1]).abs().mean())
    return loss + tone * F.avg_pool2d(d, 4 * S).abs().mean()
