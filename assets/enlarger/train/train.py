"""Trains the enlarger and the judge on one GPU.

usage: train.py TILES OUT [--minutes 16] [--judge-minutes 1.5] [--from 0 --to 1 --state FILE]

OUT gets enlarger.pt (running averages, as written), judge.pt and state.pt; --from and --to run a part of the
learning-rate schedule, so that a training can be cut in two. The schedule follows the clock: seeds are fixed,
but the number of steps, and so the result, differs a little from run to run.
"""
import argparse
import math
import os
import time

import numpy as np
import torch

from damage import TERMS, Damage
from net import Enlarger, Judge, enlarger_loss, judge_loss

DEV, SCALES, PATCH, CHUNK, PASSES = "cuda", (2, 3, 4), 48, 4096, 2
SHARES = (("drawings", 0.40), ("lettering", 0.17), ("photographs", 0.43))


def stock(tiles):
    """Tiles and pairs, on the GPU."""
    load = lambda a: torch.from_numpy(a).to(DEV)
    sets = [(load(np.load(f"{tiles}/{k}.npy")), share) for k, share in SHARES]
    pairs = {}
    for S in SCALES:
        if os.path.exists(f"{tiles}/pairs-{S}.npz"):
            p = np.load(f"{tiles}/pairs-{S}.npz")
            pairs[S] = tuple(load(p[k]) for k in ("art", "whole", "damage", "softness"))
    return sets, pairs


class Feed:
    """Two chunks of pairs a scale: one is used, twice, the second time mirrored and in other company, while the
    other is filled on a stream of its own. Damage, not training, is what takes the time."""

    def __init__(self, damage, batch):
        self.damage, self.batch, self.stream = damage, batch, torch.cuda.Stream()
        self.at, self.now, self.ready = dict.fromkeys(SCALES, 0), dict.fromkeys(SCALES, 0), {}
        self.order, self.left = {}, dict.fromkeys(SCALES, PASSES)
        self.chunks = {S: [self.empty(S) for _ in (0, 1)] for S in SCALES}
        for S in SCALES:
            for k in (0, 1):
                self.fill(S, k)

    @staticmethod
    def empty(S, n=CHUNK):
        byte = lambda size: torch.empty(n, 3, size, size, dtype=torch.uint8, device=DEV)
        return byte(PATCH), byte(PATCH * S), torch.empty(n, TERMS, device=DEV), torch.empty(n, device=DEV), torch.empty(n, device=DEV)

    def fill(self, S, k):
        self.stream.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(self.stream):
            self.damage.make(S, CHUNK, self.chunks[S][k])
            self.ready[S, k] = torch.cuda.Event()
            self.ready[S, k].record(self.stream)

    def next(self, S):
        if self.at[S] + self.batch > CHUNK:
            self.at[S], self.left[S] = 0, self.left[S] - 1
            if not self.left[S]:
                spent = self.now[S]
                self.now[S], self.left[S] = 1 - spent, PASSES
                self.fill(S, spent)
        if self.at[S] == 0:
            torch.cuda.current_stream().wait_event(self.ready[S, self.now[S]])
            self.order[S] = torch.randperm(CHUNK, device=DEV)
        which = self.order[S][self.at[S] : self.at[S] + self.batch]
        self.at[S] += self.batch
        batch = [c[which] for c in self.chunks[S][self.now[S]]]
        return [c.flip(3) if c.dim() == 4 else c for c in batch] if self.left[S] < PASSES else batch


class Learner:
    """A net, its optimiser and running average; one CUDA graph a scale."""

    def __init__(self, net, rate, batch, loss):
        self.net = net.to(DEV).to(memory_format=torch.channels_last)
        self.batch, self.loss, self.rate = batch, loss, rate
        self.params = list(self.net.parameters())
        self.lr = torch.tensor(0.0, device=DEV)
        tails = {S: [p for k, p in self.net.named_parameters() if k.startswith(f"tail.{S}.")] for S in SCALES}
        tailed = {id(p) for ps in tails.values() for p in ps}
        self.parts = {0: [p for p in self.params if id(p) not in tailed]} | {S: ps for S, ps in tails.items() if ps}
        self.opts = {k: torch.optim.Adam(ps, lr=self.lr, betas=(0.9, 0.99), fused=True, capturable=True)
                     for k, ps in self.parts.items()}
        self.average = [p.detach().clone() for p in self.params]
        self.graphs, self.inputs, self.shown = {}, {}, {}

    def step(self, S):
        used = [k for k in (0, S) if k in self.parts]
        for k in used:
            self.opts[k].zero_grad(set_to_none=False)
        loss = self.loss(self.net, S, *self.inputs[S])
        loss.backward()
        torch.nn.utils.clip_grad_norm_([p for k in used for p in self.parts[k]], 1.0, foreach=True)
        for k in used:
            self.opts[k].step()
        self.shown[S].lerp_(loss.detach(), 0.01)
        torch._foreach_lerp_(self.average, [p.detach() for p in self.params], 0.001)

    def capture(self):
        keep = [p.detach().clone() for p in self.params]
        side = torch.cuda.Stream()
        for S in SCALES:
            self.inputs[S] = [t.random_(0, 255) if t.dtype == torch.uint8 else t.zero_() for t in Feed.empty(S, self.batch)]
            self.shown[S] = torch.tensor(0.1, device=DEV)
            side.wait_stream(torch.cuda.current_stream())
            with torch.cuda.stream(side):
                for _ in range(3):
                    self.step(S)
            torch.cuda.synchronize()
            self.graphs[S] = torch.cuda.CUDAGraph()
            with torch.cuda.graph(self.graphs[S]):
                self.step(S)
        torch.cuda.synchronize()
        with torch.no_grad():
            for p, a, k in zip(self.params, self.average, keep):
                p.copy_(k)
                a.copy_(k)
        for v in self.moments():
            v.zero_()

    def moments(self):
        return [st[name] for k, ps in self.parts.items() for st in (self.opts[k].state[p] for p in ps)
                for name in ("step", "exp_avg", "exp_avg_sq")]

    def state(self):
        return {"params": [p.detach() for p in self.params], "average": self.average, "moments": self.moments()}

    def resume(self, saved):
        with torch.no_grad():
            for name, mine in self.state().items():
                for a, b in zip(mine, saved[name]):
                    a.copy_(b)

    def run(self, feed, minutes, start=0.0, end=1.0):
        begun, n, told = time.time(), 0, 0.0
        while True:
            if n % 50 == 0:
                torch.cuda.synchronize()
                gone = (time.time() - begun) / (minutes * 60)
                if gone >= 1:
                    break
                part = start + (end - start) * gone
                warm = min(1, (n + 50) / 1000)
                self.lr.fill_(self.rate * warm * (0.002 + 0.998 * 0.5 * (1 + math.cos(math.pi * part))))
                if gone - told > 0.1:
                    told = gone
                    print(f"  {n} rounds, {time.time() - begun:.0f} s:", *(f"{self.shown[S].item() * 1e3:.2f}" for S in SCALES), flush=True)
            S = SCALES[n % 3]
            for to, new in zip(self.inputs[S], feed.next(S)):
                to.copy_(new)
            self.graphs[S].replay()
            n += 1
        print(f"  {n} rounds in {time.time() - begun:.0f} s", flush=True)

    def written(self):
        keep = [p.detach().clone() for p in self.params]
        with torch.no_grad():
            for p, a in zip(self.params, self.average):
                p.copy_(a)
            out = {k: v.detach().float().cpu().clone() for k, v in self.net.written().items()}
            for p, k in zip(self.params, keep):
                p.copy_(k)
        return out


def scaled(art):
    return art.float().div(255).contiguous(memory_format=torch.channels_last)


def enlarging(loss, half):
    def of(net, S, art, whole, told, damage, softness):
        with torch.autocast("cuda", torch.bfloat16, enabled=half, cache_enabled=False):
            out = net(scaled(art), S, told)
        return loss(out.float(), whole.float().div(255), S)

    return of


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("tiles")
    ask.add_argument("out")
    ask.add_argument("--minutes", type=float, default=16)
    ask.add_argument("--judge-minutes", type=float, default=1.5)
    ask.add_argument("--from", dest="start", type=float, default=0)
    ask.add_argument("--to", dest="end", type=float, default=1)
    ask.add_argument("--state")
    ask.add_argument("--batch", type=int, default=48)
    ask.add_argument("--channels", type=int, default=24)
    ask.add_argument("--layers", type=int, default=12)
    ask.add_argument("--half", action="store_true", help="convolutions in bfloat16")
    ask.add_argument("--seed", type=int, default=21)
    a = ask.parse_args()
    torch.backends.cuda.matmul.allow_tf32 = False  # the damage is counted exactly
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    os.makedirs(a.out, exist_ok=True)
    torch.manual_seed(a.seed)
    sets, pairs = stock(a.tiles)
    print({k: len(t) for (k, _), (t, _) in zip(SHARES, sets)}, {S: len(p[0]) for S, p in pairs.items()}, flush=True)
    if a.judge_minutes:
        print("judge", flush=True)
        judge = Learner(Judge(), 2e-3, 128, lambda net, S, art, whole, told, d, s: judge_loss(net(scaled(art)), d, s))
        judge.capture()
        judge.run(Feed(Damage(sets, pairs, DEV, a.seed + 1000), 128), a.judge_minutes)
        torch.save(judge.written(), a.out + "/judge.pt")
    if a.minutes:
        print("enlarger", flush=True)
        learner = Learner(Enlarger(a.channels, a.layers, SCALES), 1.2e-3, a.batch,
                          enlarging(torch.compile(enlarger_loss, dynamic=False), a.half))
        learner.capture()
        if a.state:
            learner.resume(torch.load(a.state, map_location=DEV))
        learner.run(Feed(Damage(sets, pairs, DEV, a.seed + int(1000 * a.start)), a.batch), a.minutes, a.start, a.end)
        torch.save(learner.state(), a.out + "/state.pt")
        torch.save(learner.written(), a.out + "/enlarger.pt")


if __name__ == "__main__":
    main()
