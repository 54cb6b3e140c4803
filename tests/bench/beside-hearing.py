#!/usr/bin/env python3
"""Hearing: this program beside faster-whisper, with the very same Whisper base weights, on the same recordings.

Takes sound files that have their text beside them (NAME.flac, .opus or .wav, and NAME.txt), alone or by folders;
prints time, memory and word error rate of each way of hearing. faster-whisper runs in int8 on one thread of the
processor, with a beam of 1 and of 5, without and with its finding of voice, all else as it comes. Every run is a
process of its own, and the ways take turns at each recording. Both texts are spelled by Whisper's own normaliser before
they are compared, so that "35.2" and "thirty-five point two" are the same. Not part of tests/all: it fetches packages.

    python3 tests/bench/beside-hearing.py samples                     builds this program where it is not built yet
    python3 tests/bench/beside-hearing.py samples --people            people's recordings too (people_speaking.py)
    python3 tests/bench/beside-hearing.py samples --ways ours-1,peer-5 --first 2
    python3 tests/bench/beside-hearing.py samples --also "greedy=--threads 1 --model tiny.en"
"""

import argparse
import hashlib
import json
import os
import pathlib
import resource
import shlex
import statistics
import subprocess
import sys
import tempfile
import wave

from packages import set_up as set_up_packages
from peers import PACKAGES, cache_folder, cpu_seconds, machine, recordings_in, set_up_model, words_wrong
from peers import measured as measured_text

ROOT = pathlib.Path(__file__).resolve().parents[2]
PEOPLE = pathlib.Path(__file__).with_name("people_speaking.py")


def main():
    arguments = read_arguments()
    if arguments.role:
        ROLES[arguments.role](arguments)
        return
    cache = cache_folder()
    python = set_up_packages(cache / "packages", PACKAGES)
    model = set_up_model(cache / "model", python)
    groups = [(place.name, recordings_in([place])) for place in arguments.what]
    if arguments.people:
        groups += people(cache, python)
    groups = [(name, files[: arguments.first]) for name, files in groups if files]
    if not groups:
        raise SystemExit("nothing to hear: name folders or sound files that have a text beside them, or say --people")
    ways = ways_of(arguments, python, model)
    say_where(ways)
    starts = {name: start_of(way) for name, way in ways.items()}
    rows = [row for name, files in groups for row in hear_all(name, files, ways, arguments)]
    rate(rows, python)
    report(rows, ways, starts, arguments.each)
    if arguments.save:
        arguments.save.write_text(json.dumps({"starts": starts, "rows": rows}, indent=1), encoding="utf-8")


def read_arguments():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", nargs="*", type=pathlib.Path, help="folders or sound files")
    parser.add_argument("--people", action="store_true", help="fetch and hear recordings of people")
    parser.add_argument("--ours", metavar="PROGRAM", help="a built spoken-exam")
    parser.add_argument("--ways", metavar="WAY,...", help=f"only these of {', '.join(PEER)}, ours-1, ours-2")
    parser.add_argument("--also", metavar="NAME=ARGUMENTS", action="append", default=[], help="another way of ours")
    parser.add_argument("--first", metavar="N", type=int, help="only the first N recordings of each group")
    parser.add_argument("--turns", metavar="N", type=int, default=1, help="the fewest CPU seconds of N runs count")
    parser.add_argument("--each", action="store_true", help="a line for each recording too")
    parser.add_argument("--save", metavar="FILE", type=pathlib.Path, help="write all figures and texts as JSON")
    parser.add_argument("--as", dest="role", choices=ROLES, help=argparse.SUPPRESS)
    parser.add_argument("--peer", metavar="WAY", help=argparse.SUPPRESS)
    parser.add_argument("--model", type=pathlib.Path, help=argparse.SUPPRESS)
    return parser.parse_args()


# --- faster-whisper, in a process of its own ---

PEER = {
    "peer-1": {"beam_size": 1, "vad_filter": False},
    "peer-1-voice": {"beam_size": 1, "vad_filter": True},
    "peer-5": {"beam_size": 5, "vad_filter": False},
    "peer-5-voice": {"beam_size": 5, "vad_filter": True},
}


def run_peer(arguments):
    from faster_whisper import WhisperModel

    model = WhisperModel(
        str(arguments.model), device="cpu", compute_type="int8", cpu_threads=1, num_workers=1, local_files_only=True
    )
    start = cpu_seconds(resource.getrusage(resource.RUSAGE_SELF))
    said = {"start": start}
    for file in arguments.what:  # none: only the start is measured
        segments, about = model.transcribe(str(file), language="en", **PEER[arguments.peer])
        said |= {"text": " ".join(segment.text.strip() for segment in segments), "seconds": about.duration}
    print(json.dumps(said))


ROLES = {"peer": run_peer}


# --- What is needed ---


def people(cache, python):
    """Groups of recordings of people; the folder's name goes with the script that fills it."""
    folder = cache / f"people-{hashlib.sha256(PEOPLE.read_bytes()).hexdigest()[:12]}"
    subprocess.run([python, PEOPLE, folder], check=True)
    return [(f"people: {source.name}", recordings_in([source])) for source in sorted(folder.glob("[!.]*"))]


def ways_of(arguments, python, model):
    """The ways of hearing: name → the command, to which the sound file is added."""
    program = pathlib.Path(arguments.ours or ROOT / "target/release/spoken-exam").resolve()
    draft = [str(program), "draft", "--format", "json"]
    ways = {f"ours-{threads}": [*draft, "--threads", str(threads)] for threads in [1, 2]}
    for name in PEER:
        ways[name] = [str(python), __file__, "--as", "peer", "--peer", name, "--model", str(model)]
    if arguments.ways:
        names = arguments.ways.split(",")
        if unknown := [name for name in names if name not in ways]:
            raise SystemExit(f"no way of hearing is called {', '.join(unknown)}; there are {', '.join(ways)}")
        ways = {name: ways[name] for name in names}
    for also in arguments.also:
        name, _, more = also.partition("=")
        ways[name] = draft + shlex.split(more)
    if not program.exists():
        subprocess.run(["cargo", "build", "--release", "--locked"], cwd=ROOT, check=True)
    return ways


# --- Measuring ---


def measured(command):
    """Runs a command; gives wall and CPU seconds, peak memory in megabytes, and what it printed as JSON."""
    wall, cpu, peak, said = measured_text(command)
    if not said:
        raise SystemExit(f"{shlex.join(map(str, command))} printed nothing")
    return wall, cpu, peak, json.loads(said)


def start_of(command):
    """CPU seconds before hearing begins: ours with a second of silence, the peer with its model loaded."""
    if "--as" in command:
        return statistics.median(measured(command)[3]["start"] for _ in range(3))
    with tempfile.TemporaryDirectory() as folder:
        silence = f"{folder}/silence.wav"
        with wave.open(silence, "wb") as file:
            file.setparams((1, 2, 16_000, 0, "NONE", ""))
            file.writeframes(bytes(2 * 16_000))
        return statistics.median(measured([*command, silence])[1] for _ in range(3))


def hear_all(group, files, ways, arguments):
    """Every way hears every file, in turn; gives a row for each."""
    rows = []
    for file in files:
        for name, command in ways.items():
            runs = [measured([*command, str(file)]) for _ in range(arguments.turns)]
            wall, cpu, peak, said = min(runs, key=lambda run: run[1])
            if "transcript" in said:  # ours
                said["text"] = " ".join(utterance["text"] for utterance in said["transcript"])
                said["seconds"] = said["source"]["length_ms"] / 1000
            row = {"group": group, "file": file.name, "way": name, "wall": wall, "cpu": cpu, "peak": peak}
            row |= {"seconds": said["seconds"], "heard": said["text"]}
            rows.append(row | {"reference": file.with_suffix(".txt").read_text(encoding="utf-8")})
        print(f"{group}: heard {file.name}", file=sys.stderr)
    return rows


def rate(rows, python):
    """Adds to each row its words and words wrong."""
    counts = words_wrong([[row["reference"], row["heard"]] for row in rows], python)
    for row, (words, wrong) in zip(rows, counts):
        row |= {"words": words, "wrong": wrong}


# --- Telling ---


def say_where(ways):
    print(machine())
    print(", ".join(PACKAGES))
    if any(name.startswith("ours") for name in ways):
        print("ours leans towards the lexicon's phrases; it has no switch to hear without (if it gets one: --also)")
    print("starting: ours with a second of silence, the peer until its model is loaded; what is left is hearing alone")


def report(rows, ways, starts, each):
    print(f"load at the end {os.getloadavg()[0]:.2f}")
    groups = list(dict.fromkeys(row["group"] for row in rows))
    for group in groups:
        table(group, [row for row in rows if row["group"] == group], ways, starts, each)
    humans = [row for row in rows if row["group"].startswith("people: ")]
    if len({row["group"] for row in humans}) > 1:
        table("all people", humans, ways, starts, False)


HEADS = [
    ["wall", "CPU", "of it", "CPU s a", "hearing", "times", "peak", "words", "error"],
    ["seconds", "seconds", "starting", "s of sound", "alone", "real time", "MB", "wrong", "rate"],
]


def table(title, rows, ways, starts, each):
    files = len({(row["group"], row["file"]) for row in rows})
    first = [row for row in rows if row["way"] == rows[0]["way"]]
    seconds = sum(row["seconds"] for row in first)
    print(f"\n{title}: {files} recordings, {seconds:.0f} s of sound, {sum(row['words'] for row in first):,} words")
    for heads in HEADS:
        print(f"{'':16}" + "".join(f"{head:>11}" for head in heads))
    for name in ways:
        line(name, [row for row in rows if row["way"] == name], seconds, starts[name])
    for row in rows if each else []:
        line(row["way"], [row], row["seconds"], starts[row["way"]], row["file"])


def line(name, rows, seconds, start, file=""):
    wall, cpu, start = sum(row["wall"] for row in rows), sum(row["cpu"] for row in rows), start * len(rows)
    wrong, words = sum(row["wrong"] for row in rows), sum(row["words"] for row in rows)
    peak = max(row["peak"] for row in rows)
    print(
        f"{name:16}{wall:11.1f}{cpu:11.1f}{start:11.1f}{cpu / seconds:11.3f}{(cpu - start) / seconds:11.3f}"
        f"{seconds / wall:11.1f}{peak:11.0f}{wrong:11,}{wrong / words:11.3f}  {file}".rstrip()
    )


if __name__ == "__main__":
    main()
