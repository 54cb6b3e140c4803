"""Four workers on a bucket, one of them killed, one standing still, one started twice.

Takes the built program; starts moto's server on a free port of this machine, with versions kept, so that every write can be
counted. Gives a line a check, and ends with 1 at the first that fails. What is expected is what a single worker makes of the
same files in a folder.
"""

import json
import os
import pathlib
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT / "tests/bench"))
PROGRAM = ROOT / "target/release/spoken-exam"
PACKAGES = ["moto[server]==5.2.5"]
RECORDINGS = [
    "quick-term-boy.flac",
    "bedside-round.opus",
    "girl-on-the-ward.opus",
    "preterm-in-the-side-room.opus",
    "second-thoughts.opus",
]
HEARING = ["--hearings", "1", "--threads", "1", "--jobs", "1"]


def main():
    import packages

    cache = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or pathlib.Path.home() / ".cache")
    python = packages.set_up(cache / "spoken-exam" / "bucket-tests", PACKAGES)
    if os.environ.get("SPOKEN_EXAM_BUCKET_TEST") != "inside":
        os.execve(python, [str(python), __file__], os.environ | {"SPOKEN_EXAM_BUCKET_TEST": "inside"})
    with tempfile.TemporaryDirectory() as folder:
        check_all(pathlib.Path(folder), python)


def check_all(folder, python):
    address = f"http://127.0.0.1:{free_port()}"
    server = subprocess.Popen(
        [python, "-m", "moto.server", "-H", "127.0.0.1", "-p", address.rsplit(":", 1)[1]],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(lambda: answers(address), "the server answers")
        bucket = Bucket(address)
        source = make_source(folder / "visits")
        expected = by_one_worker(source, folder / "alone")
        bucket.upload(source, "visits")
        by_four_workers(bucket, expected)
        in_one_row(bucket, expected)
    finally:
        server.terminate()
        server.wait()


def free_port():
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]


def answers(address):
    try:
        return urllib.request.urlopen(f"{address}/moto-api/data.json", timeout=2).status == 200
    except OSError:
        return False


def wait_for(condition, what, seconds=90):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return
        time.sleep(0.1)
    raise SystemExit(f"failed: {what}: not within {seconds} s")


def check(condition, what, more=""):
    if not condition:
        raise SystemExit(f"failed: {what}\n{more}")
    print(f"ok: {what}", flush=True)


class Bucket:
    """The bucket, seen by another program than ours."""

    def __init__(self, address):
        import boto3

        self.environment = {
            "AWS_ACCESS_KEY_ID": "test",
            "AWS_SECRET_ACCESS_KEY": "test",
            "AWS_REGION": "us-east-1",
            "AWS_ENDPOINT_URL": address,
            "AWS_ALLOW_HTTP": "true",
        }
        about = {"aws_access_key_id": "test", "aws_secret_access_key": "test", "region_name": "us-east-1"}
        self.client = boto3.client("s3", endpoint_url=address, **about)
        self.client.create_bucket(Bucket="ward")
        self.client.put_bucket_versioning(Bucket="ward", VersioningConfiguration={"Status": "Enabled"})

    def upload(self, folder, prefix):
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                self.client.upload_file(str(file), "ward", f"{prefix}/{file.relative_to(folder).as_posix()}")

    def names(self, prefix):
        pages = self.client.get_paginator("list_objects_v2").paginate(Bucket="ward", Prefix=f"{prefix}/")
        return {one["Key"].removeprefix(f"{prefix}/") for page in pages for one in page.get("Contents", [])}

    def read(self, name):
        return self.client.get_object(Bucket="ward", Key=name)["Body"].read()

    def drafts(self, prefix):
        """Every draft: its bytes, and how often something was written under its name, each time with which content."""
        pages = self.client.get_paginator("list_object_versions").paginate(Bucket="ward", Prefix=f"{prefix}/drafts/")
        marks = {}
        for one in (version for page in pages for version in page.get("Versions", [])):
            marks.setdefault(one["Key"], []).append(one["ETag"])
        return {name.removeprefix(f"{prefix}/"): (self.read(name), written) for name, written in marks.items()}


def make_source(folder):
    for number in range(40):
        place = folder / f"bay {number % 4}"
        place.mkdir(parents=True, exist_ok=True)
        (place / f"größe {number}.txt").write_text(f"Head circumference {30 + number % 8}.{number % 10} cm.\nNote {number}.\n")
    for name in RECORDINGS:
        shutil.copy(ROOT / "samples" / name, folder / name)
    (folder / "empty.wav").write_bytes(b"")
    return folder


def by_one_worker(source, to):
    done = subprocess.run([PROGRAM, "batch", source, "--to", to, *HEARING], capture_output=True, text=True)
    check(done.returncode == 1, "one worker does a folder; the empty file fails", done.stderr)
    return {
        file.relative_to(to).as_posix(): file.read_bytes()
        for file in sorted((to / "drafts").rglob("*.json"))
    }


def worker(bucket, target, *more):
    command = [PROGRAM, "batch", "s3://ward/visits", "--to", f"s3://ward/{target}", *HEARING, *more]
    return subprocess.Popen(command, env=os.environ | bucket.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def ended(process, seconds=240):
    out, said = process.communicate(timeout=seconds)
    return process.returncode, out, said


def by_four_workers(bucket, expected):
    workers = {part: worker(bucket, "four", "--shard", f"{part}/4") for part in range(1, 5)}
    # The first that begins to hear a recording is killed amid it.
    def hearing():
        return any(name.startswith("trying/") for name in bucket.names("four"))

    wait_for(hearing, "a worker hears a recording")
    victim = next(part for part, process in workers.items() if is_at_a_recording(bucket, part) and process.poll() is None)
    workers[victim].kill()
    workers[victim].wait()
    results = {part: ended(process) for part, process in workers.items() if part != victim}
    check(all(code in (0, 1) for code, _, _ in results.values()), "three workers end", str(results))
    code, out, said = ended(gathering(bucket, "four"))
    check(code == 1 and f"not ended: part {victim}/4" in out and "missing: " in out, "what the killed one left is told", out + said)
    code, out, said = ended(worker(bucket, "four", "--shard", f"{victim}/4"))
    check(code in (0, 1), "its part is run again", said)
    code, out, said = ended(gathering(bucket, "four"))
    check(code == 1 and "missing" not in out and "not ended" not in out, "nothing is missing then", out + said)
    check("failed: empty.wav" in out, "the empty file is still told", out)
    same(bucket, "four", expected)


def is_at_a_recording(bucket, part):
    """Whether this part holds a claim and one of the recordings that are being tried; told by running out of order is enough."""
    tried = [name for name in bucket.names("four") if name.startswith("trying/")]
    claims = [name for name in bucket.names("four") if name.startswith(f"claims/{part}-of-4/")]
    return bool(tried) and bool(claims) and part in parts_of(bucket, [name.removeprefix("trying/") for name in tried])


def parts_of(bucket, hashes):
    """Parts of recordings, by the mark that the bucket has of their content."""
    import hashlib

    parts = set()
    for name in RECORDINGS:
        content = (ROOT / "samples" / name).read_bytes()
        if hashlib.sha256(content).hexdigest() in hashes:
            mark = bucket.client.head_object(Bucket="ward", Key=f"visits/{name}")["ETag"].strip('"')
            number = int(mark[:16], 16)
            parts.add((number * 0x9E3779B97F4A7C15 % 2**64 >> 32) % 4 + 1)
    return parts


def gathering(bucket, target):
    command = [PROGRAM, "batch", "s3://ward/visits", "--to", f"s3://ward/{target}", "--gather"]
    return subprocess.Popen(command, env=os.environ | bucket.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def same(bucket, target, expected):
    drafts = bucket.drafts(target)
    check({name: content for name, (content, _) in drafts.items()} == expected, "drafts are those of one worker, byte for byte")
    check(all(len(set(marks)) == 1 for _, marks in drafts.values()), "nothing was ever written over by something else")
    manifest = [json.loads(line) for line in bucket.read(f"{target}/manifest.jsonl").decode().splitlines()]
    check(len(manifest) == 46 and len({line["file"] for line in manifest}) == 46, "every file has one line")
    left = {name for name in bucket.names(target) if name.startswith(("claims/", "trying/"))}
    check(not left, "no claim is left behind", str(left))


def in_one_row(bucket, expected):
    """One worker stands still, another takes over, and the first wakes up; and a second one is started beside it."""
    first = worker(bucket, "row")
    wait_for(lambda: any(name.startswith("trying/") for name in bucket.names("row")), "a worker hears a recording")
    # Both at once: while they look whether it lives, the first goes on.
    second, gatherer = worker(bucket, "row"), gathering(bucket, "row")
    for process, what in [(second, "a second worker is refused while the first lives"), (gatherer, "and nothing is gathered")]:
        code, _, said = ended(process)
        check(code == 2 and "is being worked on by another program" in said, what, said)
    if first.poll() is not None:
        raise SystemExit("failed: the first worker ended before it could be stopped")
    first.send_signal(signal.SIGSTOP)
    code, _, said = ended(worker(bucket, "row"))
    check(code == 1, "it takes over from one that stands still", said)
    first.send_signal(signal.SIGCONT)
    code, _, said = ended(first)
    check(code == 2 and "taken over" in said, "which notices when it wakes up", f"{code}: {said}")
    code, out, said = ended(gathering(bucket, "row"))
    check(code == 1 and "missing" not in out, "nothing is missing", out + said)
    same(bucket, "row", expected)


if __name__ == "__main__":
    main()
