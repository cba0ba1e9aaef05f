"""Trains the enlarger and the judge on one GPU.

usage: train.py TILES OUT [--minutes 19] [--judge-minutes 1.5] [--from 0 --to 1 --state FILE]

OUT gets enlarger.pt (running averages, as written), judge.pt and state.pt, the first and last also on the way; --from
and --to run a part of the learning-rate schedule, so that a training can be cut in two. The schedule follows the
clock: seeds are fixed, but the number of steps, and so the result, differs from run to run.
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
TURNS = (2, 3, 4, 2, 4, 3, 4)
SHARES = {"drawings": 0.44, "lettering": 0.18, "photographs": 0.38}


def stock(tiles):
    """Tiles and pairs, on the GPU."""
    load = lambda a: torch.from_numpy(a).to(DEV)
    sets = [(load(np.load(f"{tiles}/{k}.npy")), share) for k, share in SHARES.items()]
    pairs = {}
    for S in SCALES:
        if os.path.exists(f"{tiles}/pairs-{S}.npz"):
            p = np.load(f"{tiles}/pairs-{S}.npz")
            pairs[S] = tuple(load(p[k]) for k in ("art", "whole", "damage", "softness"))
    return sets, pairs


class Feed:
    """Two chunks of pairs a scale: one is used twice, the second time mirrored and in other company, while the
    other is filled on a stream of its own, a group now and then, so that neither waits for the other."""

    def __init__(self, damage, batch):
        self.damage, self.batch, self.stream = damage, batch, torch.cuda.Stream()
        self.chunks = {S: [self.empty(S) for _ in (0, 1)] for S in SCALES}
        self.now, self.used, self.filled = dict.fromkeys(SCALES, 1), {}, dict.fromkeys(SCALES, 0)
        self.order = {}
        for S in SCALES:
            self.fill(S, CHUNK)
            self.turn(S)

    @staticmethod
    def empty(S, n=CHUNK):
        byte = lambda size: torch.empty(n, 3, size, size, dtype=torch.uint8, device=DEV)
        return byte(PATCH), byte(PATCH * S), torch.empty(n, TERMS, device=DEV), torch.empty(n, device=DEV), torch.empty(n, device=DEV)

    def fill(self, S, up_to):
        """The chunk that is not in use, up to so many pairs."""
        while self.filled[S] < min(up_to, CHUNK):
            with torch.cuda.stream(self.stream):
                self.damage.fill(S, self.chunks[S][1 - self.now[S]], self.filled[S])
            self.filled[S] += self.damage.group

    def turn(self, S):
        """Takes the filled chunk into use; the other is free."""
        self.fill(S, CHUNK)
        torch.cuda.current_stream().wait_stream(self.stream)
        self.stream.wait_stream(torch.cuda.current_stream())
        self.now[S], self.used[S], self.filled[S] = 1 - self.now[S], 0, 0

    def next(self, S):
        a_pass = CHUNK // self.batch
        if self.used[S] == PASSES * a_pass:
            self.turn(S)
        mirrored, i = divmod(self.used[S], a_pass)
        if i == 0:
            self.order[S] = torch.randperm(CHUNK, device=DEV)
        self.used[S] += 1
        self.fill(S, CHUNK * self.used[S] / (PASSES * a_pass) - self.damage.group)
        which = self.order[S][i * self.batch : (i + 1) * self.batch]
        batch = [c[which] for c in self.chunks[S][self.now[S]]]
        return [c.flip(3) if c.dim() == 4 and mirrored else c for c in batch]


class Learner:
    """A net, its optimiser and running average; one CUDA graph a scale and a kind of numbers."""

    def __init__(self, net, rate, batch, loss, kinds=(torch.float32,)):
        self.net = net.to(DEV)
        self.batch, self.loss, self.rate, self.kinds = batch, loss, rate, kinds
        self.params = list(self.net.parameters())
        self.lr = torch.tensor(0.0, device=DEV)
        tails = {S: [p for k, p in self.net.named_parameters() if k.startswith(f"tail.{S}.")] for S in SCALES}
        tailed = {id(p) for ps in tails.values() for p in ps}
        self.parts = {0: [p for p in self.params if id(p) not in tailed]} | {S: ps for S, ps in tails.items() if ps}
        self.opts = {k: torch.optim.Adam(ps, lr=self.lr, betas=(0.9, 0.99), fused=True, capturable=True)
                     for k, ps in self.parts.items()}
        self.average = [p.detach().clone() for p in self.params]
        self.graphs, self.inputs, self.shown = {}, {}, {}

    def step(self, S, kind):
        used = [k for k in (0, S) if k in self.parts]
        for k in used:
            self.opts[k].zero_grad(set_to_none=False)
        loss = self.loss(self.net, S, kind, *self.inputs[S])
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
            for kind in self.kinds:
                side.wait_stream(torch.cuda.current_stream())
                with torch.cuda.stream(side):
                    for _ in range(3):
                        self.step(S, kind)
                torch.cuda.synchronize()
                self.graphs[S, kind] = torch.cuda.CUDAGraph()
                with torch.cuda.graph(self.graphs[S, kind]):
                    self.step(S, kind)
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

    def run(self, feed, minutes, start=0.0, end=1.0, coarse=0.0, save=lambda: None):
        """`coarse`: up to this part of the schedule the first kind of numbers, from there the last."""
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
                kind = self.kinds[0 if part < coarse else -1]
                if gone - told > 0.1:
                    told = gone
                    shown = (f"{self.shown[S].item() * 1e3:.2f}" for S in SCALES)
                    print(f"  {part:.3f}, {n} rounds, {time.time() - begun:.0f} s:", *shown, flush=True)
                    save()
            S = TURNS[n % len(TURNS)]
            for to, new in zip(self.inputs[S], feed.next(S)):
                to.copy_(new)
            self.graphs[S, kind].replay()
            n += 1
        print(f"  {n} rounds in {time.time() - begun:.0f} s", flush=True)
        save()

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


def enlarging(net, S, kind, art, whole, told, damage, softness):
    return enlarger_loss(net(scaled(art), S, told, kind), whole.float().div(255), S)


def judging(net, S, kind, art, whole, told, damage, softness):
    return judge_loss(net(scaled(art)), damage, softness)


def asked():
    ask = argparse.ArgumentParser()
    ask.add_argument("tiles")
    ask.add_argument("out")
    ask.add_argument("--minutes", type=float, default=19)
    ask.add_argument("--judge-minutes", type=float, default=1.5)
    ask.add_argument("--from", dest="start", type=float, default=0)
    ask.add_argument("--to", dest="end", type=float, default=1)
    ask.add_argument("--state")
    ask.add_argument("--batch", type=int, default=64)
    ask.add_argument("--channels", type=int, default=24)
    ask.add_argument("--layers", type=int, default=14)
    ask.add_argument("--coarse", type=float, default=0.6, help="convolutions in bfloat16 up to this part of the schedule")
    ask.add_argument("--seed", type=int, default=21)
    return ask.parse_args()


def main():
    a = asked()
    torch.backends.cuda.matmul.allow_tf32 = False  # the damage is counted exactly
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    os.makedirs(a.out, exist_ok=True)
    torch.manual_seed(a.seed)
    sets, pairs = stock(a.tiles)
    print({k: len(t) for k, (t, _) in zip(SHARES, sets)}, {S: len(p[0]) for S, p in pairs.items()}, flush=True)
    if a.judge_minutes:
        print("judge", flush=True)
        judge = Learner(Judge(), 2e-3, 128, judging)
        judge.capture()
        judge.run(Feed(Damage(sets, pairs, DEV, a.seed + 1000), 128), a.judge_minutes)
        torch.save(judge.written(), a.out + "/judge.pt")
    if a.minutes:
        print("enlarger", flush=True)
        kinds = (torch.bfloat16, torch.float32) if a.coarse else (torch.float32,)
        rate = 1.2e-3 * math.sqrt(a.batch / 48)
        learner = Learner(Enlarger(a.channels, a.layers, SCALES), rate, a.batch, torch.compile(enlarging, dynamic=False), kinds)
        learner.capture()
        if a.state:
            learner.resume(torch.load(a.state, map_location=DEV))

        def save():
            torch.save(learner.state(), a.out + "/state.pt")
            torch.save(learner.written(), a.out + "/enlarger.pt")

        feed = Feed(Damage(sets, pairs, DEV, a.seed + int(1000 * a.start)), a.batch)
        learner.run(feed, a.minutes, a.start, a.end, a.coarse, save)


if __name__ == "__main__":
    main()
