#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The command on changed inputs: one file of the small model, or a result, changed in one to four places.

  python3 tests/fuzz/mutated.py [--runs 2000] [--seed 1] COMMAND...

COMMAND: build/fuzz/holdfast, or with a checker before it, as: valgrind -q --error-exitcode=99 build/dev/holdfast.
Every run ends with 0, 1 or 2 and says nothing of a sanitizer; what does not is kept in a folder that is named.
"""
import argparse
import collections
import os
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile

here = pathlib.Path(__file__).resolve().parent
words = [b"-1", b"0", b"1e999", b".nan", b"99999999999", b"null", b"[", b"{", b"]", b"}", b'"', b"\n", b",", b": ", b"\xff", b"\xe2\x80\xae"]


def changed(data, draw):
    data = bytearray(data)
    for _ in range(draw.randint(1, 4)):
        if len(data) < 3:
            break
        at = draw.randrange(len(data))
        size = draw.randint(1, 30)
        kind = draw.randrange(6)
        if kind == 0:
            data[at] = draw.randrange(256)
        elif kind == 1:
            del data[at : at + size]
        elif kind == 2:
            data[at:at] = data[at : at + size]
        elif kind == 3:
            data[at : at + draw.randint(0, 4)] = draw.choice(words)
        elif kind == 4:
            other = draw.randrange(len(data))
            data[at:at] = data[other : other + size]
        else:
            data[at] ^= 1 << draw.randrange(8)
    return bytes(data)


def questions():
    """What is changed, and what is asked then."""
    ends = ["--from", "hatch", "--to", "bench"]
    model = [["check", "model"], ["route", "model", *ends, "--json"], ["home", "model", "--to", "hatch"],
             ["cable", "model", "--cable", "cord", "--from", "plug-a", "--to", "plug-b"], ["route", "model", *ends, "--load", "crate"],
             ["tether", "model", *ends, "--tether", "reel", "--anchor", "hook"], ["reach", "model", "seat", "--for", "plug-b"],
             ["sight", "model"], ["plan", "model", "model/excursion.yaml"]]
    for file in ["model/structure.yaml", "model/kit.yaml", "model/rails.csv"]:
        for words_ in model:
            yield file, words_
    for _ in range(8):
        yield "model/excursion.yaml", ["plan", "model", "model/excursion.yaml", "--json"]
    yield "model/tasks.csv", ["plan", "model", "model/table.yaml"]
    yield "model/tasks.csv", ["plan", "model", "model/table.yaml", "--json"]
    yield "block.obj", ["rails", "block.obj"]
    yield "block.obj", ["rails", "block.obj", "--json"]
    for seed in sorted((here / "seeds/result").iterdir()):
        yield f"result/{seed.name}", ["draw", "model", f"result/{seed.name}", "--svg", "a.svg"]
    yield "result/route", ["tether", "model", "result/route", "--tether", "reel", "--anchor", "hook"]
    yield "result/stage", ["cable", "model", "--cable", "cord", "--laid", "result/stage", "--to", "plug-b"]
    yield "cache", ["route", "model", *ends]
    yield "cache", ["cable", "model", "--cable", "cord", "--from", "plug-a", "--to", "plug-b"]


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--runs", type=int, default=2000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("command", nargs=argparse.REMAINDER)
    asked = options.parse_args()
    command = [str(pathlib.Path(w).resolve()) if os.path.exists(w) else w for w in asked.command]
    draw = random.Random(asked.seed)
    every = list(questions())
    codes = collections.Counter()
    bad = []
    with tempfile.TemporaryDirectory() as scratch:
        sound = pathlib.Path(scratch) / "sound"
        shutil.copytree(here / "model", sound / "model")
        shutil.copytree(here / "seeds/result", sound / "result")
        shutil.copy(here / "block.obj", sound)
        (sound / "model/tasks.csv").write_bytes((here / "seeds/table/tasks").read_bytes()[1:])
        (sound / "model/table.yaml").write_text(
            "holdfast: excursion/1\nname: t\ncrew:\n  - {id: EV1, start: hatch, sequence: [return]}\n"
            "items:\n  - {id: bag, load: bag, at: hatch}\norbit: {period: 92 min, night: 35 min, first_sunset: 20 min}\n"
            "windows:\n  - {id: contact, from: 0:10:00, to: 0:40:00}\ntask_files: [tasks.csv]\n")
        folder = pathlib.Path(scratch) / "run"

        def run(words_):
            try:
                ran = subprocess.run([*command, *words_], cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, timeout=600,
                                     env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache")})
            except subprocess.TimeoutExpired:
                return "timeout", b""
            return ran.returncode, ran.stderr

        for number in range(asked.runs):
            file, words_ = every[number % len(every)]
            shutil.rmtree(folder, ignore_errors=True)
            shutil.copytree(sound, folder)
            if file == "cache":
                run(words_)
                targets = sorted(p for p in (folder / "cache").rglob("*") if p.is_file())
            else:
                targets = [folder / file]
            for target in targets:
                target.write_bytes(changed(target.read_bytes(), draw))
            code, errors = run(words_)
            codes[code] += 1
            if code not in (0, 1, 2) or b"Sanitizer" in errors or b"runtime error" in errors or b"== Invalid" in errors:
                kept = tempfile.mkdtemp(prefix=f"holdfast-mutated-{asked.seed}-{number}-")
                shutil.copytree(folder, kept, dirs_exist_ok=True)
                bad.append(f"{code}: holdfast {' '.join(words_)} in {kept}, {file} changed: {errors[-400:].decode(errors='replace')}")
                print(bad[-1], flush=True)
    print(f"{asked.runs} changed inputs, seed {asked.seed}: exit codes {dict(sorted(codes.items(), key=str))}, {len(bad)} bad")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
