#!/usr/bin/env python3
"""Finding phrases: this program beside rapidfuzz and spaCy's PhraseMatcher, on one core, same phrases, same lines.

Takes 200 phrases of the lexicon and 10,000 lines of the corpus, both by a fixed rule; prints lines a second, the ratio to
this program, how many matches each finds, and where they differ. Not part of tests/all: it fetches packages.

    python3 tests/bench/beside.py                    builds the bench with cargo, which takes a while the first time
    python3 tests/bench/beside.py --ours PROGRAM     uses a built tests/bench/phrases.rs
"""

import argparse
import json
import os
import pathlib
import platform
import re
import subprocess
import tempfile
import time
import tomllib

from packages import set_up as set_up_packages

PACKAGES = ["numpy==2.4.6", "rapidfuzz==3.14.6", "spacy==3.8.18"]
PHRASES = 200
LINES = 10_000
TURNS = 3  # each library runs so often, in turn; its best counts
LONG_ENOUGH = 1.0  # seconds of CPU time that a way of looking is repeated for
NEAR = 90  # from this likeness on rapidfuzz's matches count as near ones

ROOT = pathlib.Path(__file__).resolve().parents[2]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--ours", metavar="PROGRAM", help="a built tests/bench/phrases.rs")
    parser.add_argument("--as", dest="role", choices=ROLES, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=pathlib.Path, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.role:
        ROLES[arguments.role](arguments.folder)
        return
    cache = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or pathlib.Path.home() / ".cache")
    python = set_up_packages(cache / "spoken-exam-beside", PACKAGES)
    program = arguments.ours or build_ours()
    keep_to_one_core()
    with tempfile.TemporaryDirectory() as folder:
        race(pathlib.Path(folder), python, program)


# --- Phrases and lines ---


def phrases_of_lexicon(lines):
    """Names and values that are nothing but letters and blanks: those that most lines have, and every n-th of the rest."""
    phrases = set()
    for file in sorted((ROOT / "lexicon/newborn-neuro").glob("*.toml")):
        for item in tomllib.loads(file.read_text(encoding="utf-8")).values():
            said = list(item.get("names", []))
            for value in item.get("values", {}).values():
                said += value.get("alone", []) + value.get("say", [])
            phrases.update(phrase for phrase in said if re.fullmatch("[a-z]+( [a-z]+)*", phrase))
    plain = [" " + re.sub("[^a-z]+", " ", line.lower()) + " " for line in lines]
    in_lines = {phrase: sum(f" {phrase} " in line for line in plain) for phrase in phrases}
    in_order = sorted(phrases, key=lambda phrase: (-in_lines[phrase], phrase))
    often, rest = in_order[: PHRASES // 2], sorted(in_order[PHRASES // 2 :])
    return often + rest[:: len(rest) // (PHRASES - len(often))][: PHRASES - len(often)]


def lines_of_corpus():
    """The lines of the corpus in order of its files."""
    lines = []
    for file in sorted((ROOT / "tests/corpus").glob("*.txt")):
        lines += [line for line in file.read_text(encoding="utf-8").splitlines() if line.strip()]
    return lines


def write_task(folder):
    """Writes the task for all: the same phrases as a list and as a lexicon of one item, and the lines."""
    different = lines_of_corpus()
    phrases = phrases_of_lexicon(different)
    lines = (different * (LINES // len(different) + 1))[:LINES]  # the corpus again and again
    (folder / "phrases.txt").write_text("\n".join(phrases) + "\n", encoding="utf-8")
    (folder / "lines.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "lexicon").mkdir()
    names = json.dumps(phrases)
    item = f'[phrase]\nname = "phrase"\nregion = "all"\nsides = "single"\nnames = {names}\n'
    (folder / "lexicon/phrases.toml").write_text(item, encoding="utf-8")
    return phrases, lines


def read_task(folder):
    phrases = (folder / "phrases.txt").read_text(encoding="utf-8").splitlines()
    return phrases, (folder / "lines.txt").read_text(encoding="utf-8").splitlines()


# --- The libraries, each in a process of its own ---


def measure(what, round):
    """Prints how long a round takes on the CPU and how many matches it gives; gives the matches."""
    rounds, start = 0, time.process_time()
    while time.process_time() - start < LONG_ENOUGH:
        found = round()
        rounds += 1
    print(f"{what} {(time.process_time() - start) / rounds:.6f} {len(found)}", flush=True)
    return found


def write_found(folder, role, found):
    text = "".join(f"{line}\t{how}\t{phrase}\n" for line, how, phrase in found)
    (folder / f"{role}.tsv").write_text(text, encoding="utf-8")


def run_spacy(folder):
    import spacy
    from spacy.matcher import PhraseMatcher

    phrases, lines = read_task(folder)
    nlp = spacy.blank("en")
    matcher = PhraseMatcher(nlp.vocab, attr="LOWER")
    for number, phrase in enumerate(phrases):
        matcher.add(str(number), [nlp.make_doc(phrase)])
    docs = [nlp.make_doc(line) for line in lines]
    measure("words", lambda: [len(nlp.make_doc(line)) for line in lines])
    measure("matching", lambda: [match for doc in docs for match in matcher(doc)])
    measure("exact", lambda: [match for line in lines for match in matcher(nlp.make_doc(line))])
    numbers = {nlp.vocab.strings[str(number)]: phrase for number, phrase in enumerate(phrases)}
    found = [(at, "exact", numbers[match]) for at, doc in enumerate(docs) for match, _, _ in matcher(doc)]
    write_found(folder, "spacy", found)


def run_rapidfuzz(folder):
    import numpy
    from rapidfuzz import fuzz, process

    phrases, lines = read_task(folder)

    def one_by_one():
        found = []
        for at, line in enumerate(lines):
            line = line.lower()
            matches = process.extract(line, phrases, scorer=fuzz.partial_ratio, score_cutoff=100, limit=None)
            found += [(at, phrase) for phrase, _, _ in matches if len(phrase) <= len(line)]
        return found

    def all_at_once(likeness):
        lower = [line.lower() for line in lines]
        scores = process.cdist(
            phrases, lower, scorer=fuzz.partial_ratio, score_cutoff=likeness, dtype=numpy.uint8, workers=1
        )
        # The shorter text is looked for in the longer one: a line inside a phrase is no match.
        pairs = zip(*numpy.nonzero(scores.T))
        return [(at, phrases[number]) for at, number in pairs if len(phrases[number]) <= len(lower[at])]

    measure("one-by-one", one_by_one)
    found = measure("exact", lambda: all_at_once(100))
    measure("all", lambda: all_at_once(NEAR))
    write_found(folder, "rapidfuzz", [(at, "exact", phrase) for at, phrase in found])


ROLES = {"spacy": run_spacy, "rapidfuzz": run_rapidfuzz}


# --- The race ---


def build_ours():
    command = ["cargo", "bench", "--bench", "phrases", "--no-run", "--locked", "--message-format", "json"]
    built = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    messages = [json.loads(line) for line in built.stdout.splitlines() if line.startswith("{")]
    return next(m["executable"] for m in messages if m.get("executable") and m["target"]["name"] == "phrases")


def keep_to_one_core():
    for variable in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"]:
        os.environ[variable] = "1"
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


def race(folder, python, program):
    phrases, lines = write_task(folder)
    commands = {
        "ours": [program, folder / "lexicon", folder / "lines.txt", folder / "ours.tsv"],
        "spacy": [python, __file__, "--as", "spacy", "--folder", folder],
        "rapidfuzz": [python, __file__, "--as", "rapidfuzz", "--folder", folder],
    }
    best = {}
    for turn in range(TURNS):
        for role, command in commands.items():
            said = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
            for line in said.splitlines():
                what, seconds, count = line.split()
                known = best.get((role, what))
                if known is None or float(seconds) < known[0]:
                    best[role, what] = (float(seconds), int(count))
    report(phrases, lines, best)
    compare(folder, lines)


ROWS = [
    ("word for word, from text", "exact", [("ours", "exact"), ("spacy", "exact"), ("rapidfuzz", "exact")]),
    ("the same, rapidfuzz line by line", "exact", [("rapidfuzz", "one-by-one")]),
    ("matching alone, words ready", "matching", [("ours", "matching"), ("spacy", "matching")]),
    ("words alone", "words", [("ours", "words"), ("spacy", "words")]),
    ("near matches too, from text", "all", [("ours", "all"), ("rapidfuzz", "all")]),
    ("the same, the whole lexicon", "whole", [("ours", "whole")]),
]


def report(phrases, lines, best):
    versions = ", ".join(PACKAGES) + f", Python {platform.python_version()}"
    print(f"{len(phrases)} phrases, {len(lines)} lines ({len(set(lines))} different), one core; {versions}")
    print(f"{'':34}{'':10}{'lines a second':>15}{'ours is':>10}{'counted':>10}")
    for title, ours, contestants in ROWS:
        for role, what in contestants:
            seconds, count = best[role, what]
            ratio = seconds / best["ours", ours][0]
            print(f"{title:34}{role:10}{len(lines) / seconds:15,.0f}{ratio:9.1f}x{count:10,}")


def found_by(folder, role, lines, how="exact"):
    """Different pairs of a line and a phrase found in it."""
    rows = [row.split("\t") for row in (folder / f"{role}.tsv").read_text(encoding="utf-8").splitlines()]
    return {(lines[int(at)], phrase) for at, found_how, phrase in rows if found_how == how}


def compare(folder, lines):
    ours = found_by(folder, "ours", lines)
    near = found_by(folder, "ours", lines, "near")
    print(f"\ndifferent pairs of line and phrase: ours {len(ours)} word for word and {len(near)} near ones")
    for role in ["spacy", "rapidfuzz"]:
        others = found_by(folder, role, lines)
        print(f"{role} {len(others)}: {len(ours - others)} found by ours alone, {len(others - ours)} by {role} alone")
        for whose, pairs in [("ours", ours - others), (role, others - ours)]:
            for line, phrase in sorted(pairs)[:4]:
                print(f"    {whose} alone: {phrase!r} in {line!r}")


if __name__ == "__main__":
    main()
