"""Damages pictures on the GPU as the world does, and says how much: pairs of weak art and its original.

Two numbers are told to the net with each picture:
  damage    0 clean .. 1 JPEG quality 30: (100 - quality) / 70; noise and dither count as some of it
  softness  0 as reduced by area, above it blurred, below it sharpened: (0.858 - contrast) / 0.5, where
            contrast is what is left of a wave of 0.3 cycles an art pixel (0.858 after an area average)
Each may be unknown.
"""
import math

import numpy as np
import torch
import torch.nn.functional as F

from resizing import WAVE, contrast, resizing, softness_of

TERMS = 8
BAYER = (np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]]) + 0.5) / 16 - 0.5


def terms(damage, softness, damage_known, softness_known):
    """The eight terms that a net's gains and offsets are linear in; tensors of one length."""
    zero, e = torch.zeros_like(damage), torch.exp(-20 * damage)
    d = torch.stack([damage, damage * damage, e], -1) * damage_known[..., None]
    s = torch.stack([softness, softness * softness, softness * e * damage_known], -1) * softness_known[..., None]
    flags = torch.stack([1 - damage_known + zero, 1 - softness_known + zero], -1)
    return torch.cat([d, flags[..., :1], s, flags[..., 1:]], -1)


def to_linear(x):
    return torch.where(x <= 0.04045, x / 12.92, ((x.clamp(min=0.04045) + 0.055) / 1.055) ** 2.4)


def to_encoded(x):
    return torch.where(x <= 0.0031308, 12.92 * x, 1.055 * x.clamp(min=0.0031308) ** (1 / 2.4) - 0.055)


LUMA = [16,11,10,16,24,40,51,61,12,12,14,19,26,58,60,55,14,13,16,24,40,57,69,56,14,17,22,29,51,87,80,62,
        18,22,37,56,68,109,103,77,24,35,55,64,81,104,113,92,49,64,78,87,103,121,120,101,72,92,95,98,112,100,103,99]
CHROMA = np.full((8, 8), 99)
CHROMA[:4, :4] = [[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]]


class Jpeg:
    """Baseline JPEG (ITU-T T.81, example tables of annex K) without the entropy coding, which loses nothing."""

    def __init__(self, dev):
        k, n = np.mgrid[0:8, 0:8]
        d = np.where(k == 0, 1, math.sqrt(2)) / math.sqrt(8) * np.cos((2 * n + 1) * k * math.pi / 16)
        self.dct = torch.tensor(d, dtype=torch.float32, device=dev)
        self.luma = torch.tensor(LUMA, dtype=torch.float32, device=dev).view(8, 8)
        self.chroma = torch.tensor(CHROMA, dtype=torch.float32, device=dev)

    def plane(self, x, quality, base):
        scale = torch.where(quality < 50, torch.floor(5000 / quality), 200 - 2 * quality)
        t = torch.clamp(torch.floor((base * scale[:, None, None] + 50) / 100), 1, 255)[:, None, None]
        n, h, w = x.shape
        b = (x - 128).view(n, h // 8, 8, w // 8, 8).permute(0, 1, 3, 2, 4)
        b = self.dct.T @ (torch.round(self.dct @ b @ self.dct.T / t) * t) @ self.dct
        return torch.round(b.permute(0, 1, 3, 2, 4).reshape(n, h, w) + 128).clamp(0, 255)

    @staticmethod
    def twice(x, dim):
        """The decoder's triangle filter for halved colour."""
        n = x.shape[dim]
        before = torch.cat([x.narrow(dim, 0, 1), x.narrow(dim, 0, n - 1)], dim)
        after = torch.cat([x.narrow(dim, 1, n - 1), x.narrow(dim, n - 1, 1)], dim)
        shape = list(x.shape)
        shape[dim] *= 2
        return torch.stack([0.75 * x + 0.25 * before, 0.75 * x + 0.25 * after], dim + 1).reshape(shape)

    def __call__(self, x, quality, halved):
        """x (N,3,H,W) whole numbers 0..255, H and W multiples of 16; quality (N,); halved: 4:2:0 for all."""
        r, g, b = x.unbind(1)
        y = torch.round(0.299 * r + 0.587 * g + 0.114 * b)
        cb = torch.round(-0.168736 * r - 0.331264 * g + 0.5 * b + 128).clamp(0, 255)
        cr = torch.round(0.5 * r - 0.418688 * g - 0.081312 * b + 128).clamp(0, 255)
        y = self.plane(y, quality, self.luma)
        colour = []
        for c in (cb, cr):
            if halved:
                c = torch.floor(F.avg_pool2d(c[:, None], 2)[:, 0] + 0.5)
            c = self.plane(c, quality, self.chroma)
            if halved:
                c = torch.round(self.twice(self.twice(c, 1), 2))
            colour.append(c - 128)
        cb, cr = colour
        return torch.round(torch.stack([y + 1.402 * cr, y - 0.344136 * cb - 0.714136 * cr, y + 1.772 * cb], 1)).clamp(0, 255)


WAYS = [("box", True), ("box", False), ("cubic", False), ("linear", False), ("lanczos", False), ("cubic", True), ("narrow", False)]
ODDS = [0.43, 0.10, 0.18, 0.11, 0.08, 0.06, 0.04]


class Damage:
    """fill(S, out, at) makes a group of n: weak art (n,3,P,P), originals (n,3,PS,PS), terms (n,8), true damage and
    softness (n,)."""

    def __init__(self, tiles, pairs, dev, seed, jpeg=0.66, between=0.13, pair_share=0.07, patch=48, group=256):
        self.tiles, self.pairs, self.dev, self.patch, self.group = tiles, pairs, dev, patch, group
        self.jpeg_share, self.between_share, self.pair_share = jpeg, between, pair_share
        self.rng = np.random.default_rng(seed)
        self.gen = torch.Generator(device=dev)
        self.gen.manual_seed(seed)
        self.jpeg, self.cache = Jpeg(dev), {}
        self.bayer = torch.tensor(BAYER, dtype=torch.float32, device=dev)
        self.share = np.cumsum([w for _, w in tiles])

    def uniform(self, *shape):
        return torch.rand(*shape, generator=self.gen, device=self.dev)

    def whole(self, high, *shape):
        return torch.randint(0, high, shape, generator=self.gen, device=self.dev)

    def turned(self, *pictures):
        """The same turn, mirror, channel order and negative for all."""
        turn, mirror = int(self.rng.integers(0, 4)), self.rng.random() < 0.5
        order = self.rng.permutation(3).tolist() if self.rng.random() < 0.4 else [0, 1, 2]
        negative = self.rng.random() < 0.15
        out = []
        for p in pictures:
            p = torch.rot90(p, turn, (2, 3))
            p = (p.flip(3) if mirror else p)[:, order]
            out.append((255 - p if negative else p).contiguous())
        return out

    def crop(self, n, size):
        """Of four random places the liveliest, for three of four patches."""
        kinds = np.searchsorted(self.share / self.share[-1], self.rng.random(n))
        out, at = torch.empty(n, size, size, 3, dtype=torch.uint8, device=self.dev), 0
        for k, (t, _) in enumerate(self.tiles):
            m = int((kinds == k).sum())
            if not m:
                continue
            room = t.shape[1] - size + 1
            i, y, x = self.whole(t.shape[0], m, 4), self.whole(room, m, 4), self.whole(room, m, 4)
            q = torch.arange(0, size, max(1, size // 12), device=self.dev)
            look = t[i[..., None, None], y[..., None, None] + q[:, None], x[..., None, None] + q]
            lively = look.float().std((2, 3)).sum(2)
            lively[:, 0] = torch.where(self.uniform(m) < 0.25, 1e9, lively[:, 0])
            best = lively.argmax(1, keepdim=True)
            i, y, x = (z.gather(1, best)[:, 0] for z in (i, y, x))
            r = torch.arange(size, device=self.dev)
            out[at : at + m] = t[i[:, None, None], y[:, None, None] + r[:, None], x[:, None, None] + r]
            at += m
        return self.turned(out.permute(0, 3, 1, 2))[0]

    def matrix(self, *key):
        if key not in self.cache:
            m = resizing(*key)
            self.cache[key] = (m, torch.tensor(m, device=self.dev))
        return self.cache[key]

    def qualities(self, n, low=30, high=95):
        return torch.round(low + (high - low) * self.uniform(n))

    def reduced(self, h, S, damage):
        """Originals to art size: at once, or by way of another size, with or without a JPEG there."""
        size = self.patch + 16
        way, linear = WAYS[self.rng.choice(len(WAYS), p=ODDS)]
        sigma = round(float(self.rng.uniform(0.2, 0.8)), 1) if self.rng.random() < 0.13 else 0.0
        between = 0
        if self.rng.random() < self.between_share:
            between = int(self.rng.choice([32, 48, 48, 80, 96, 112]))
        first, on_gpu = self.matrix(between or size, size * S, way, 0.0 if between else sigma)
        x = to_linear(h) if linear else h
        x = on_gpu @ x @ on_gpu.T
        x = to_encoded(x.clamp(0, 1)) if linear else x
        if between:
            x = torch.round(x.clamp(0, 1) * 255)
            if self.rng.random() < 0.65:
                q = self.qualities(len(x), 40)
                x = self.jpeg(x, q, self.rng.random() < 0.6)
                damage = torch.maximum(damage, (100 - q) / 70 * min(1.0, size / between))
            back = str(self.rng.choice(["linear", "cubic", "cubic", "lanczos"]))
            second, on_gpu = self.matrix(size, between, back, 0.0)
            x = on_gpu @ (x / 255) @ on_gpu.T
            first = second @ first
        return x, contrast(first), damage

    def group_of(self, S):
        """One group: all its patches share the way of reducing; strengths differ."""
        n, size = self.group, self.patch + 16
        u = self.crop(n, size * S)
        damage = torch.zeros(n, device=self.dev)
        x, left, damage = self.reduced(u.float() / 255, S, damage)
        if self.rng.random() < 0.09:  # sharpened
            k = float(self.rng.uniform(0.2, 0.9))
            x = x + k * (x - F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1))
            left *= 1 + k * (1 - (1 + 2 * math.cos(2 * math.pi * WAVE)) / 3)
        if self.rng.random() < 0.08:  # noise
            k = self.uniform(n)
            x = x + torch.randn(x.shape, generator=self.gen, device=self.dev) * k[:, None, None, None] * (6 / 255)
            damage = torch.maximum(damage, 0.1 + 0.5 * k)
        x = torch.round(x.clamp(0, 1) * 255)
        if self.rng.random() < 0.025:  # few colours, some with an ordered dither
            levels = float(self.rng.integers(5, 24))
            d = self.bayer.repeat(size // 4, size // 4) if self.rng.random() < 0.5 else 0
            x = torch.round(torch.round(x / 255 * levels + d).clamp(0, levels) / levels * 255)
            damage = damage.clamp(min=0.3)
        if self.rng.random() < 0.9:  # JPEG, for a share of the patches
            halved, q, y = self.rng.random() < 0.7, self.qualities(n), x
            worst = q
            if self.rng.random() < 0.2:  # saved twice, the second time shifted
                dy, dx = self.rng.integers(0, 8, 2).tolist()
                q2 = self.qualities(n, 50)
                y = torch.roll(self.jpeg(torch.roll(y, (-dy, -dx), (2, 3)), q2, self.rng.random() < 0.5), (dy, dx), (2, 3))
                worst = torch.minimum(q, q2)
            on = self.uniform(n) < self.jpeg_share / 0.9
            x = torch.where(on[:, None, None, None], self.jpeg(y, q, halved), x)
            damage = torch.where(on, torch.maximum(damage, (100 - worst) / 70), damage)
        oy, ox = self.rng.integers(2, 15, 2).tolist()
        P = self.patch
        art = x[:, :, oy : oy + P, ox : ox + P].to(torch.uint8)
        return art, u[:, :, oy * S : (oy + P) * S, ox * S : (ox + P) * S], damage, softness_of(left)

    def pair_group(self, S, n):
        """Pairs damaged beforehand on the processor: palettes with dither, WebP, real JPEG chains."""
        art, whole, damage, soft = self.pairs[S]
        i = self.whole(len(art), n)
        a, w = self.turned(art[i].permute(0, 3, 1, 2), whole[i].permute(0, 3, 1, 2))
        return a, w, damage[i], soft[i]

    def fill(self, S, out, at):
        """One group, into the rows of a chunk from `at`."""
        if S in self.pairs and self.rng.random() < self.pair_share:
            art, whole, d, s = self.pair_group(S, self.group)
        else:
            art, whole, d, s = self.group_of(S)
            s = torch.full((self.group,), s, device=self.dev)
        noise = lambda k: k * torch.randn(self.group, generator=self.gen, device=self.dev)
        told_d = torch.where(d > 0, (d + noise(0.06)).clamp(min=0.05), d)  # an estimate is never exact
        told_s = (s + noise(0.10)).clamp(-1.5, 1.6)
        known = (self.uniform(self.group) > 0.2).float(), (self.uniform(self.group) > 0.3).float()
        for to, v in zip(out, (art, whole, terms(told_d, told_s, *known), d, s)):
            to[at : at + self.group].copy_(v)
