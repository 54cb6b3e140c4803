#!/usr/bin/env python3
"""A folder of recordings: this program's `batch` beside whisper.cpp and faster-whisper, with the same Whisper base.

Takes folders of sound files that have their text beside them (NAME.flac, .opus or .wav, and NAME.txt); prints how many
hours of sound an hour each way hears on two cores, with CPU time, memory, word error rate and names of items
recognised. A way is one command for the whole folder, so loading a model counts, once; every way reads the same files,
one channel of 16 kHz in WAV. The ways take turns, and the median of the turns counts. whisper.cpp is its own program,
built here, with this program's weights (q8_0); faster-whisper has the weights in int8; all follow one way of reading
the sound. Not part of tests/all: it fetches packages and needs cmake and a C++ compiler.

    python3 tests/bench/beside-batch.py samples                     builds this program where it is not built yet
    python3 tests/bench/beside-batch.py samples FOLDER --step 5 --turns 3
    python3 tests/bench/beside-batch.py FOLDER --ways all           every way of using the peers, to find the best
    python3 tests/bench/beside-batch.py FOLDER --ways ours-1,cpp,fw-batched-voice

FOLDER may be one that `samples/speak-corpus testing clean FOLDER` made; its voices take turns by six, so every fifth
recording meets all of them. The samples are never thinned out.
"""

import argparse
import collections
import concurrent.futures
import json
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile

from packages import set_up as set_up_packages
from peers import (
    PACKAGES, ROOT, WHISPER_CPP, cache_folder, machine, measured, megabytes, recordings_in, set_up_model,
    set_up_whisper_cpp, words_wrong,
)

CORES = 2


def main():
    arguments = read_arguments()
    if arguments.role:
        ROLES[arguments.role](arguments)
        return
    cache = cache_folder()
    python = set_up_packages(cache / "packages", PACKAGES)
    program = pathlib.Path(arguments.ours or ROOT / "target/release/spoken-exam").resolve()
    if not program.exists():
        subprocess.run(["cargo", "build", "--release", "--locked"], cwd=ROOT, check=True)
    whisper_cpp = set_up_whisper_cpp(cache / "whisper.cpp", python)
    tools = Tools(program, arguments.models, whisper_cpp, set_up_model(cache / "model", python), python)
    ways = ways_of(arguments.ways, tools)
    files = [file for place in arguments.what for file in some(place, arguments.step)]
    if not files:
        raise SystemExit("nothing to hear: name folders of sound files that have a text beside them")
    with tempfile.TemporaryDirectory() as work:
        folder, seconds = as_wav(files, pathlib.Path(work) / "sound", python)
        say_what(files, seconds)
        turns = hear_in_turns(ways, folder, pathlib.Path(work), arguments.turns)
    texts = {file_key(file): file.with_suffix(".txt").read_text(encoding="utf-8") for file in files}
    rows = [row_of(name, turns[name], texts, tools) for name in ways]
    report(rows, seconds)
    if arguments.save:
        arguments.save.write_text(json.dumps({"seconds": seconds, "rows": rows}, indent=1), encoding="utf-8")


def read_arguments():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", nargs="*", type=pathlib.Path, metavar="FOLDER", help="recordings with texts")
    parser.add_argument("--step", metavar="N", type=int, default=1, help="only every N-th recording of a folder")
    parser.add_argument("--turns", metavar="N", type=int, default=1, help="each way N times; the median counts")
    parser.add_argument("--ways", metavar="WAY,...", default=",".join(USUAL), help=f"all, or of {', '.join(WAYS)}")
    parser.add_argument("--ours", metavar="PROGRAM", help="a built spoken-exam")
    parser.add_argument("--models", metavar="DIR", type=pathlib.Path, default=models_folder(), help="ours, from setup")
    parser.add_argument("--save", metavar="FILE", type=pathlib.Path, help="write all figures and texts as JSON")
    parser.add_argument("--as", dest="role", choices=ROLES, help=argparse.SUPPRESS)
    parser.add_argument("--detail", help=argparse.SUPPRESS)
    return parser.parse_args()


def models_folder():
    data = os.environ.get("XDG_DATA_HOME") or pathlib.Path.home() / ".local/share"
    return pathlib.Path(os.environ.get("SPOKEN_EXAM_MODELS") or pathlib.Path(data) / "spoken-exam/models")


# --- The ways of hearing a folder: each gives the command that writes into `out`, and how its texts are read ---

Tools = collections.namedtuple("Tools", "program models cpp fw python")


def drafts_in(out):
    """Recording → text, out of the drafts that this program wrote."""
    drafts = [json.loads(file.read_text(encoding="utf-8")) for file in (out / "drafts").rglob("*.json")]
    said = {pathlib.Path(draft["source"]["file_name"]).stem: draft["transcript"] for draft in drafts}
    return {name: "\n".join(utterance["text"] for utterance in utterances) for name, utterances in said.items()}


def texts_in(out):
    return {file.name.split(".")[0]: file.read_text(encoding="utf-8") for file in out.glob("*.txt")}


def ours(*more):
    """This program. The contract of `batch` stands here and in `drafts_in`."""
    def command(tools, sound, out):
        return [tools.program, "batch", sound, "--to", out, "--threads", str(CORES), *more]
    return command, drafts_in


def one_by_one(*more):
    """This program without `batch`: `draft` for each recording."""
    def command(tools, sound, out):
        detail = {"program": str(tools.program), "more": more, "sound": str(sound), "out": str(out)}
        return [tools.python, __file__, "--as", "one-by-one", "--detail", json.dumps(detail)]
    return command, drafts_in


def cpp(*more, processes=1):
    """whisper.cpp's program; with two processes each has one thread and every other recording."""
    def command(tools, sound, out):
        detail = {"program": str(tools.cpp), "processes": processes, "sound": str(sound), "out": str(out)}
        detail["more"] = ["-m", str(tools.models / "ggml-base-q8_0.bin"), "-bs", "1", "-bo", "1", *more]
        if "--vad" in more:
            detail["more"] += ["-vm", str(tools.models / "ggml-silero-v6.2.0.bin")]
        return [tools.python, __file__, "--as", "cpp", "--detail", json.dumps(detail)]
    return command, texts_in


def fw(threads, workers, batched=False, **more):
    """faster-whisper with so many threads for each of so many recordings at once."""
    def command(tools, sound, out):
        detail = {"model": str(tools.fw), "threads": threads, "workers": workers, "batched": batched, "more": more}
        detail |= {"sound": str(sound), "out": str(out)}
        return [tools.python, __file__, "--as", "fw", "--detail", json.dumps(detail)]
    return command, texts_in


WAYS = {
    "ours-1": ours("--hearings", "1"),
    "ours-3": ours(),
    "each-1": one_by_one("--hearings", "1"),
    "each-3": one_by_one(),
    "cpp": cpp(),
    "cpp-plain": cpp("-nfa"),
    "cpp-voice": cpp("--vad"),
    "cpp-two": cpp(processes=2),
    "cpp-two-voice": cpp("--vad", processes=2),
    "fw": fw(2, 1, vad_filter=False),
    "fw-voice": fw(2, 1, vad_filter=True),
    "fw-two": fw(1, 2, vad_filter=False),
    "fw-two-voice": fw(1, 2, vad_filter=True),
    "fw-batched": fw(2, 1, batched=True, vad_filter=False),
    "fw-batched-voice": fw(2, 1, batched=True, vad_filter=True),
    "fw-batched-two": fw(1, 2, batched=True, vad_filter=False),
    "fw-batched-two-voice": fw(1, 2, batched=True, vad_filter=True),
}
USUAL = ["ours-1", "ours-3", "cpp", "cpp-two", "fw-two", "fw-batched-two-voice"]


def ways_of(names, tools):
    names = list(WAYS) if names == "all" else names.split(",")
    if unknown := [name for name in names if name not in WAYS]:
        raise SystemExit(f"no way of hearing is called {', '.join(unknown)}; there are {', '.join(WAYS)}")
    return {name: (lambda sound, out, make=WAYS[name][0]: make(tools, sound, out), WAYS[name][1]) for name in names}


# --- Processes of their own ---


def run_one_by_one(arguments):
    way = json.loads(arguments.detail)
    drafts = pathlib.Path(way["out"]) / "drafts"
    drafts.mkdir()
    for file in sorted(pathlib.Path(way["sound"]).iterdir()):
        draft = [way["program"], "draft", "--format", "json", "--threads", str(CORES), *way["more"]]
        if subprocess.run([*draft, "-o", drafts / f"{file.stem}.json", file]).returncode not in [0, 1]:
            raise SystemExit(f"no draft of {file.name}")


def run_cpp(arguments):
    """Runs whisper.cpp in so many processes; prints their peak memory together. It writes beside what it reads."""
    way = json.loads(arguments.detail)
    out = pathlib.Path(way["out"])
    files = sorted(pathlib.Path(way["sound"]).iterdir())
    links = [out / file.name for file in files]
    for link, file in zip(links, files):
        link.symlink_to(file)
    many = way["processes"]
    command = [way["program"], "-t", str(CORES // many), "-np", "-otxt", *way["more"]]
    shares = [links[first::many] for first in range(many)]
    children = [subprocess.Popen([*command, *share], stdout=subprocess.DEVNULL) for share in shares if share]
    peak = 0
    for child in children:
        _, status, usage = os.wait4(child.pid, 0)
        peak += usage.ru_maxrss
        if status:
            raise SystemExit(f"whisper.cpp ended with {os.waitstatus_to_exitcode(status)}")
    print(json.dumps({"peak": megabytes(peak)}))


def run_fw(arguments):
    from faster_whisper import BatchedInferencePipeline, WhisperModel

    way = json.loads(arguments.detail)
    model = WhisperModel(
        way["model"], device="cpu", compute_type="int8", cpu_threads=way["threads"], num_workers=way["workers"],
        local_files_only=True,
    )
    hearer = BatchedInferencePipeline(model) if way["batched"] else model

    def hear(file):
        more = way["more"] | {"language": "en", "beam_size": 1}
        if way["batched"] and not more["vad_filter"]:
            # It wants to be told what to hear then: one half minute behind the other.
            length = (file.stat().st_size - 44) / 32_000
            more["clip_timestamps"] = [{"start": at, "end": min(at + 30, length)} for at in range(0, int(length), 30)]
        segments, _ = hearer.transcribe(str(file), **more)
        text = "\n".join(segment.text.strip() for segment in segments)
        (pathlib.Path(way["out"]) / f"{file.stem}.txt").write_text(text, encoding="utf-8")

    with concurrent.futures.ThreadPoolExecutor(way["workers"]) as pool:
        list(pool.map(hear, sorted(pathlib.Path(way["sound"]).iterdir())))


def run_as_wav(arguments):
    """Writes sound files as WAV, and prints their length together."""
    import wave

    from faster_whisper.audio import decode_audio

    seconds = 0
    for file, to in json.loads(arguments.detail):
        samples = decode_audio(file, sampling_rate=16_000)
        seconds += len(samples) / 16_000
        with wave.open(to, "wb") as written:
            written.setparams((1, 2, 16_000, 0, "NONE", ""))
            written.writeframes((samples.clip(-1, 1) * 32_767).astype("<i2").tobytes())
    print(seconds)


ROLES = {"one-by-one": run_one_by_one, "cpp": run_cpp, "fw": run_fw, "as-wav": run_as_wav}


# --- Measuring ---


def some(place, step):
    files = recordings_in([place])
    return files if place.resolve() == ROOT / "samples" else files[::step]


def file_key(file):
    """The same narration may lie in several folders."""
    return f"{file.resolve().parent.name}--{file.stem}".replace(".", "-")


def as_wav(files, folder, python):
    folder.mkdir()
    pairs = [[str(file), str(folder / f"{file_key(file)}.wav")] for file in files]
    command = [python, __file__, "--as", "as-wav", "--detail", json.dumps(pairs)]
    return folder, float(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout)


def hear_in_turns(ways, folder, work, turns):
    """All turns of each way: wall and CPU seconds, peak memory, texts."""
    all_turns = {name: [] for name in ways}
    for turn in range(turns):
        for name, (command, texts) in ways.items():
            out = work / f"{name}-{turn}"
            out.mkdir()
            load = os.getloadavg()[0]
            wall, cpu, peak, said = measured(command(folder, out))
            if said.startswith('{"peak"'):
                peak = json.loads(said)["peak"]
            all_turns[name].append({"wall": wall, "cpu": cpu, "peak": peak, "load": load, "texts": texts(out)})
            print(f"turn {turn + 1}: {name} {wall:.1f} s, {cpu:.1f} CPU s, load before {load:.2f}", file=sys.stderr)
    return all_turns


def row_of(name, turns, texts, tools):
    """One line of the table: medians of the turns, words and names of the first."""
    row = {"way": name} | {key: statistics.median(turn[key] for turn in turns) for key in ["wall", "cpu", "peak"]}
    heard = turns[0]["texts"]
    if missing := sorted(set(texts) - set(heard)):
        raise SystemExit(f"{name} wrote no text of {', '.join(missing)}")
    counts = words_wrong([[said, heard[key]] for key, said in texts.items()], tools.python)
    row |= {"words": sum(words for words, _ in counts), "wrong": sum(wrong for _, wrong in counts)}
    row |= {"named": 0, "recognised": 0, "put_in": 0, "turns": turns}
    for key, said in texts.items():
        named, found = names_in(said, tools.program), names_in(heard[key], tools.program)
        row["named"] += named.total()
        row["recognised"] += (named & found).total()
        row["put_in"] += (found - named).total()
    return row


def names_in(text, program):
    """How often each item is named, as this program reads the text; of names within names the longer counts."""
    command = [program, "draft", "-", "--show", "mentions"]
    shown = subprocess.run(command, input=text, stdout=subprocess.PIPE, text=True).stdout
    names, last = collections.Counter(), ("", "")
    for line, words, meanings in re.findall(r'^(\d+) \| "(.*?)" [^:]*: (.*)$', shown, re.MULTILINE):
        item = re.search(r"(?:^|, )item ([a-z-]+)", meanings)
        if item and not (last[0] == line and words.lower() in last[1]):
            names[item[1]] += 1
            last = (line, words.lower())
    return names


# --- Telling ---


def say_what(files, seconds):
    print(machine())
    print(", ".join(PACKAGES), "and whisper.cpp out of", "==".join(WHISPER_CPP[:2]))
    print(f"{len(files)} recordings, {seconds:.0f} s of sound: {', '.join(file_key(file) for file in files)}")


HEADS = [
    ["wall", "CPU", "CPU s a", "hours of", "peak", "words", "error", "names", "names", "speed"],
    ["seconds", "seconds", "s of sound", "sound/hour", "MB", "wrong", "rate", "recognised", "put in", "of ours-1"],
]


def report(rows, seconds):
    print(f"load at the end {os.getloadavg()[0]:.2f}; {rows[0]['words']:,} words, {rows[0]['named']:,} names of items")
    for heads in HEADS:
        print(f"{'':21}" + "".join(f"{head:>11}" for head in heads))
    first = next((row["wall"] for row in rows if row["way"] == "ours-1"), rows[0]["wall"])
    for row in rows:
        print(
            f"{row['way']:21}{row['wall']:11.1f}{row['cpu']:11.1f}{row['cpu'] / seconds:11.4f}"
            f"{seconds / row['wall']:11.1f}{row['peak']:11.0f}{row['wrong']:11,}{row['wrong'] / row['words']:11.3f}"
            f"{row['recognised'] / max(row['named'], 1):11.3f}{row['put_in']:11}{first / row['wall']:11.2f}"
        )


if __name__ == "__main__":
    main()
