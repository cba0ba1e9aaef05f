#!/usr/bin/env python3
"""Runs the program on some 300 hostile files and holds it to its limits: at most 1.5 GB of memory, itself and
the children that draw for it together; at most 60 s of a processor (four times that by the clock, as the machine
may have other work); an end by itself, with exit code 0 or 1; one line on standard error, without a word of a panic.

    run.py PROGRAM            all of them, some minutes
    run.py PROGRAM --short    every ninth, and those known to have ended the program once, without the slow ones

Needs Linux (/proc) and python3-pil.
"""

import argparse
import concurrent.futures
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

sys.dont_write_bytecode = True

import drawings
import jobs
import measured
import pictures

MOST_BYTES = 1_500_000_000
MOST_PROCESSOR_SECONDS = 60.0
MOST_CLOCK_SECONDS = 240.0
# Nothing here may take the machine down with it.
GUARD_BYTES = 6 << 30
TICK_SECONDS = 0.01

# Each ended the program, or took gigabytes, before drawings had a process of their own.
KILLERS = {
    "fax-columns.pdf", "braces.pdf", "clip-paths-50000.svg", "masks-50000.svg", "inline-60000.pdf",
    "image-60000-1bit.pdf", "content-bomb.pdf", "dashes-one.pdf", "png-1bit-60000.svg", "outside.svg", "outside.pdf",
    "attributes.cxf",
}
# Known to run until the limit on processor time ends them.
SLOW = {"text-long.svg", "turbulence.svg"}
PANIC = ("panicked at", "RUST_BACKTRACE", "has overflowed its stack", "memory allocation of", "fatal runtime error")


def resident(pid):
    """Bytes in memory of a process and its descendants, now."""
    total, todo = 0, [pid]
    page = os.sysconf("SC_PAGE_SIZE")
    while todo:
        one = todo.pop()
        try:
            total += int(pathlib.Path(f"/proc/{one}/statm").read_text().split()[1]) * page
            for task in os.listdir(f"/proc/{one}/task"):
                todo += map(int, pathlib.Path(f"/proc/{one}/task/{task}/children").read_text().split())
        except (OSError, IndexError, ValueError):
            continue
    return total


class Run:
    """One run of the program and what it took."""

    def __init__(self, name, command, home):
        self.name, self.verb = name, command[1]
        started = time.monotonic()
        environment = {**os.environ, **{f"XDG_{kind}_HOME": str(home) for kind in ("CONFIG", "DATA", "STATE", "CACHE")}}

        process = subprocess.Popen(
            ["prlimit", f"--as={GUARD_BYTES}", "--core=0", "--", *map(str, command)],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
            env=environment, start_new_session=True,
        )
        said = []
        reader = threading.Thread(target=lambda: said.append(process.stderr.read(1 << 16)))
        reader.start()
        self.peak, self.over_time, status = 0, False, None
        while status is None:
            self.peak = max(self.peak, resident(process.pid))
            done, code, usage = os.wait4(process.pid, os.WNOHANG)
            if done:
                status = code
                break
            if time.monotonic() - started > MOST_CLOCK_SECONDS:
                self.over_time = True
                os.killpg(process.pid, signal.SIGKILL)
            time.sleep(TICK_SECONDS)
        process.returncode = os.waitstatus_to_exitcode(status)
        self.clock_seconds = time.monotonic() - started
        # Of the program and of the children that it has waited for.
        self.seconds = usage.ru_utime + usage.ru_stime
        # Kilobytes; of the largest process.
        self.peak = max(self.peak, usage.ru_maxrss * 1024)
        self.code = process.returncode
        reader.join()
        process.stderr.close()
        self.said = b"".join(said).decode(errors="replace").strip()

    def faults(self):
        if self.peak > MOST_BYTES:
            yield f"{self.peak / 1e6:.0f} MB"
        if self.seconds > MOST_PROCESSOR_SECONDS:
            yield f"{self.seconds:.0f} s of a processor"
        if self.over_time:
            yield f"{self.clock_seconds:.0f} s by the clock"
        if self.code < 0 and not self.over_time:
            yield f"ended by {signal.Signals(-self.code).name}"
        elif self.code not in (0, 1) and not self.over_time:
            yield f"exit code {self.code}"
        yield from (f'says "{words}"' for words in PANIC if words in self.said)
        lines = self.said.splitlines()
        if self.code == 1 and len(lines) != 1:
            yield f"{len(lines)} lines on standard error"
        if self.code == 0 and any("error" in line for line in lines):
            yield "success with an error"
        if len(self.said) > 2000 or any(ord(letter) < 32 for letter in self.said.replace("\n", "")):
            yield "words that are too long or not clean"

    def kind(self):
        """What sort of file it was, by the end of its name."""
        return self.name.rsplit(".", 1)[1]

    def line(self):
        faults = "; ".join(self.faults())
        end = self.said.replace("\n", " | ")[:150] if self.code else "done"
        return f"{'FAULT' if faults else 'ok':5} {self.peak / 1e6:6.0f} MB {self.seconds:5.1f} s  {self.verb:8} {self.name}: {faults or end}"


def commands(program, job):
    """Every file and how the program is run on it: (name, bytes or what makes them, command without its file's
    folder)."""
    out = "OUT"
    for name, data in pictures.files():
        yield name, data, [program, "prepare", name, "-o", f"{out}.png", "--max-width", "4in", "--max-height", "4in"]
    for name, data in drawings.files():
        yield name, data, [program, "prepare", name, "-o", f"{out}.png", "--max-width", "4in", "--max-height", "4in"]
    for name, data in jobs.files(job):
        yield name, data, [program, "inspect", name]
        yield name, data, [program, "recover", name, "-o", f"{out}.strikeoff"]
    for name, data in measured.measurements():
        yield name, data, [program, "measure", name, "-o", f"{out}.json"]
    for name, data in measured.shelves():
        yield name, data, [program, "calibrate", "--inks", "Kite red", "--shelf", name, "-o", f"{out}.strikeoff"]
    for name, data in measured.wedges():
        yield name, data, [program, "wedge", job, "--scan", name, "-o", f"{out}.strikeoff"]


def in_short_form(number, name):
    return name in KILLERS or (number % 9 == 0 and name not in SLOW)


def good_job(program, folder):
    """A job with stored screens, made by the program."""
    art = folder / "fair.png"
    pictures.picture(size=(160, 120)).save(art)
    job = folder / "fair.strikeoff"
    make = [program, "separate", art, "--garment", "#FFFFFF", "--inks", "Ink black,Brick red", "--ppi", "150", "-o", job]
    done = subprocess.run(list(map(str, make)), capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"the program makes no job to start from: {done.stderr}")
    return job


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", type=pathlib.Path)
    parser.add_argument("--short", action="store_true", help="every ninth file and the known killers")
    parser.add_argument("--only", default="", help="files with this in their name")
    parser.add_argument("--at-once", type=int, default=max(1, (os.cpu_count() or 2) // 2))
    args = parser.parse_args()
    program = args.program.resolve()
    root = pathlib.Path(tempfile.mkdtemp(prefix="hostile-"))
    try:
        sys.exit(run_all(program, root, args))
    finally:
        shutil.rmtree(root, ignore_errors=True)


def run_all(program, root, args):
    job = good_job(program, root)

    def one(number, name, data, command):
        folder = root / str(number)
        folder.mkdir()
        (folder / name).write_bytes(data)
        inside = [folder / part if part == name or str(part).startswith("OUT.") else part for part in command]
        try:
            return Run(name, inside, folder)
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    runs, waiting = [], set()
    with concurrent.futures.ThreadPoolExecutor(args.at_once) as pool:
        for number, (name, data, command) in enumerate(commands(program, job)):
            if args.only not in name or (args.short and not in_short_form(number, name)):
                continue
            # Many files come as a way to make them, so that those left out cost nothing.
            data = data() if callable(data) else data
            waiting.add(pool.submit(one, number, name, data, command))
            # The files are large, so only a few wait.
            if len(waiting) >= 2 * args.at_once:
                done, waiting = concurrent.futures.wait(waiting, return_when=concurrent.futures.FIRST_COMPLETED)
                runs += report(done)
        runs += report(concurrent.futures.wait(waiting).done)
    if not runs:
        sys.exit("no file has that in its name")
    bad = [run for run in runs if any(run.faults())]
    most = max(runs, key=lambda run: run.peak)
    longest = max(runs, key=lambda run: run.seconds)
    print("\n kind        runs refused  faults   most MB  most s")
    for kind in sorted({run.kind() for run in runs}):
        print(row(kind, [run for run in runs if run.kind() == kind]))
    print(row("all", runs))
    print(f"most memory {most.peak / 1e6:.0f} MB ({most.name}), longest {longest.seconds:.1f} s ({longest.name})")
    for run in bad:
        print(run.line())
    return 1 if bad else 0


def row(kind, runs):
    refused, bad = sum(run.code == 1 for run in runs), sum(any(run.faults()) for run in runs)
    most, longest = max(run.peak for run in runs), max(run.seconds for run in runs)
    return f" {kind:10} {len(runs):5} {refused:7} {bad:7} {most / 1e6:9.0f} {longest:7.1f}"


def report(done):
    runs = [future.result() for future in done]
    for run in runs:
        print(run.line(), flush=True)
    return runs


if __name__ == "__main__":
    main()
