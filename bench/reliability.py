"""Kill fourlimb at random moments and look at what is left.

    python -m bench.reliability [--kills 200] [--seed 1]

Runs `fourlimb lesson`, `fourlimb correct` and `fourlimb chart --level` on the demo song in processes of their own and
ends each with SIGKILL at a moment drawn evenly over its usual length (half of the moments from its last fifth, where
it writes). Every time the folder must then hold, byte for byte, the lesson before or the lesson after: never a
mixture.
"""

import argparse
import hashlib
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from fourlimb import demo, lesson
from fourlimb.model import LessonError

State = dict[str, str]


def state(folder: Path) -> State:
    """Names and digests of everything visible in a lesson folder, after opening it; empty when it holds no lesson."""
    try:
        lesson.read_lesson(folder)
    except LessonError:
        return {}
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    }


@dataclass
class Job:
    """One command, the folder it starts from, and the states allowed when it is killed."""

    name: str
    arguments: list[str]
    start: Path | None
    before: State
    after: State
    seconds: float


def command(arguments: list[str], folder: Path) -> list[str]:
    """The command line of a job in a folder."""
    return [sys.executable, "-m", "fourlimb.cli", *[word.replace("{folder}", str(folder)) for word in arguments]]


def prepare(work: Path) -> list[Job]:
    """Make the folders that the jobs start from and run each job once to its end, timing it."""
    song = work / "song.ogg"
    song.write_bytes(demo.recording())
    base = work / "base.lesson"
    lesson.make(song, base)
    rows = [
        ("lesson", ["lesson", str(song), "-o", "{folder}", "-q"], None),
        ("lesson --again", ["lesson", str(song), "-o", "{folder}", "--again", "-q"], base),
        ("correct", ["correct", "{folder}", "bar 6: kick 1 2& 3; snare 2 4", "-q"], base),
        ("chart --level", ["chart", "{folder}", "--level", "steady", "-q"], base),
    ]
    jobs = []
    for name, arguments, start in rows:
        folder = work / "once.lesson"
        if start:
            shutil.copytree(start, folder)
        before = state(folder) if start else {}
        began = time.perf_counter()
        subprocess.run(command(arguments, folder), check=True, stdout=subprocess.DEVNULL)
        jobs.append(Job(name, arguments, start, before, state(folder), time.perf_counter() - began))
        shutil.rmtree(folder)
    return jobs


def kill_once(job: Job, folder: Path, moment_s: float) -> str:
    """Start a job, end it at a moment, and say what is left: "before", "after", or what is wrong."""
    if job.start:
        shutil.copytree(job.start, folder)
    process = subprocess.Popen(command(job.arguments, folder), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(timeout=moment_s)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        process.wait()
    left = state(folder) if folder.exists() else {}
    shutil.rmtree(folder, ignore_errors=True)
    if left == job.before:
        return "before"
    return "after" if left == job.after else f"MIXTURE ({sorted(set(left.items()) ^ set(job.after.items()))[:3]})"


def run(kills: int, seed: int, work: Path) -> Counter[tuple[str, str]]:
    """Kill `kills` times, the jobs in turn; what was left, counted."""
    draw = random.Random(seed)
    jobs = prepare(work)
    found: Counter[tuple[str, str]] = Counter()
    for number in range(kills):
        job = jobs[number % len(jobs)]
        late = draw.random() < 0.5
        share = draw.uniform(0.8, 1.05) if late else draw.uniform(0.0, 1.0)
        found[job.name, kill_once(job, work / "killed.lesson", share * job.seconds)] += 1
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as work:
        found = run(options.kills, options.seed, Path(work))
    for (name, left), count in sorted(found.items()):
        print(f"{name:16s} left the lesson {left:8s} {count:4d} times")
    wrong = sum(count for (_, left), count in found.items() if left.startswith("MIXTURE"))
    print(f"{options.kills} kills, {wrong} damaged lessons")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
