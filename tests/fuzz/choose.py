#!/usr/bin/env python3
"""Brings tests/corpus down to the inputs that take most branches.

Each reader's inputs (target/fuzz/found, and tests/corpus as it is) are given to the instrumented program once; what each takes stands in the
control file of its -merge=1. Then the input that takes most branches that none before it took is chosen, again and again, the shorter one of equals,
until 200 are chosen or no branch is left. Inputs above 10 kB are left out. Files of tests/corpus that are neither chosen nor in faults.txt are removed.

usage: choose.py [MOST]      (from the top of the repository, after tests/fuzz/run.sh)
"""

import hashlib
import heapq
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

MOST = int(sys.argv[1]) if len(sys.argv) > 1 else 200
LONGEST = 10_000
PROGRAM = Path("target/fuzz/release/changed")
CORPUS = Path("tests/corpus")
FAULTS = {line for line in Path("tests/fuzz/faults.txt").read_text().splitlines() if not line.startswith("#")}


def branches(control):
    """Branches by file of a control file: features are eight to a counter, by how often it was passed."""
    names, taken = [], {}
    lines = control.read_text().splitlines()
    count = int(lines[0])
    names = lines[2 : 2 + count]
    for line in lines[2 + count :]:
        words = line.split()
        if words[0] == "FT":
            taken.setdefault(names[int(words[1])], set()).update(int(word) // 8 for word in words[2:])
    return taken


def of_reader(reader, place):
    """Inputs of a reader and the branches that each takes."""
    inputs = place / f"{reader}-inputs"
    inputs.mkdir()
    known = [path for path in CORPUS.glob(f"{reader}-*") if path.name not in FAULTS]
    for path in [*known, *Path("target/fuzz/found", reader).glob("*")]:
        data = path.read_bytes()
        if len(data) <= LONGEST:
            (inputs / hashlib.sha256(data).hexdigest()[:12]).write_bytes(data)
    control, chosen = place / f"{reader}-control", place / f"{reader}-chosen"
    chosen.mkdir()
    # Its own choice is not used, but without set cover it tells of each input only what is new.
    command = [PROGRAM, "-set_cover_merge=1", "-timeout=20", "-rss_limit_mb=2048", f"-merge_control_file={control}", chosen, inputs]
    subprocess.run(command, check=True, capture_output=True, env={**os.environ, "READER": reader, "RAYON_NUM_THREADS": "1"})
    return {Path(name): taken for name, taken in branches(control).items() if taken}


def greedy(inputs, most):
    """At most so many inputs, each in its turn the one that takes most branches that none before it took; and all that they take.

    What an input adds can only fall, so that only the first of the queue is counted anew until it stays the first.
    """
    queue = [(-len(taken), path.stat().st_size, reader, path.name, at) for at, (reader, path, taken) in enumerate(inputs)]
    heapq.heapify(queue)
    chosen, covered = [], set()
    while queue and len(chosen) < most:
        *_, at = first = heapq.heappop(queue)
        added = len(inputs[at][2] - covered)
        if added == 0:
            continue
        if queue and (-added, *first[1:]) > queue[0]:
            heapq.heappush(queue, (-added, *first[1:]))
            continue
        chosen.append(inputs[at])
        covered |= inputs[at][2]
    return chosen, covered


def main():
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        all_inputs = []
        for reader in sorted(path.name for path in Path("target/fuzz/found").iterdir()):
            of_this = of_reader(reader, place)
            all_inputs += [(reader, path, taken) for path, taken in of_this.items()]
            print(f"{reader}: {len(of_this)} inputs take {len(set().union(*of_this.values()))} branches", flush=True)
        whole = set().union(*(taken for _, _, taken in all_inputs))
        old = {path.name for path in CORPUS.iterdir()} - FAULTS
        before = set().union(*(taken for reader, path, taken in all_inputs if f"{reader}-{path.name}" in old))
        chosen, covered = greedy(all_inputs, MOST - len(FAULTS))
        names = {f"{reader}-{path.name}" for reader, path, _ in chosen}
        for name in old - names:
            (CORPUS / name).unlink()
        for reader, path, _ in chosen:
            shutil.copyfile(path, CORPUS / f"{reader}-{path.name}")
        print(f"all {len(all_inputs)} take {len(whole)} branches, the {len(old)} of tests/corpus took {len(before)}, the {len(chosen)} chosen take {len(covered)}")
        print(f"{len(old & names)} of the old ones stay, {sum((CORPUS / name).stat().st_size for name in names)} bytes together; so do {len(FAULTS)} that failed once")


if __name__ == "__main__":
    main()
