#!/usr/bin/env python3
"""What the program is built from, and what it touches when it runs.

- Licences, sources and banned libraries of everything that is built, by the lists of .deny.toml; the program itself and its tests apart.
- Every library that Cargo.toml asks for is used.
- A run opens no socket, writes nowhere but into the folder it was given, and reads nothing of the user's but the paths it was given.

Each part is first shown something wrong and must say so.

usage: check.py PROGRAM        (from the top of the repository; needs cargo and strace)
"""

import json
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

PROGRAM = str(Path(sys.argv[1]).resolve())
CRATES_IO = "registry+https://github.com/rust-lang/crates.io-index"


def output(*command, **more):
    return subprocess.run(command, check=True, capture_output=True, text=True, **more).stdout


def permitted(expression, allowed):
    """Whether an SPDX expression can be met by the allowed licences. A slash is an old way to write OR."""
    words = re.findall(r"\(|\)|[^\s()]+", expression.replace("/", " OR "))

    def either():
        met = both()
        while words and words[0] == "OR":
            words.pop(0)
            met = both() or met
        return met

    def both():
        met = one()
        while words and words[0] == "AND":
            words.pop(0)
            met = one() and met
        return met

    def one():
        word = words.pop(0)
        if word == "(":
            met = either()
            words.pop(0)
            return met
        if words and words[0] == "WITH":
            word = f"{word} WITH {words[1]}"
            del words[:2]
        return word in allowed

    return either()


def built(edges):
    """Name and version of each package that a build for this machine compiles."""
    lines = output("cargo", "tree", "--locked", "--prefix", "none", "--no-dedupe", "-e", edges, "-f", "{p}").splitlines()
    return {tuple(line.split()[:2]) for line in lines if line.strip()}


def faults_of(packages, rules, shipped):
    """What is wrong with packages (as cargo metadata gives them); exceptions are for what is not shipped."""
    allowed = set(rules["licenses"]["allow"])
    exceptions = {each["crate"]: set(each["allow"]) for each in rules["licenses"]["exceptions"]}
    for package in packages:
        name, licence = package["name"], package["license"] or "none stated"
        more = set() if shipped else exceptions.get(name, set())
        if not permitted(licence, allowed | more):
            yield f"{name}: licence {licence}"
        if package["source"] not in (None, CRATES_IO):
            yield f"{name}: comes from {package['source']}"
        if name in rules["bans"]["deny"]:
            yield f"{name}: is banned"


def libraries():
    rules = tomllib.loads(Path(".deny.toml").read_text(encoding="utf-8"))
    known = {(each["name"], f"v{each['version']}"): each for each in json.loads(output("cargo", "metadata", "--locked", "--format-version", "1"))["packages"]}
    shipped, all_ = built("normal,build"), built("normal,build,dev")
    for what, names, is_shipped in [("program", shipped, True), ("tests", all_ - shipped, False)]:
        faults = list(faults_of((known[name] for name in names), rules, is_shipped))
        assert not faults, faults
        print(f"{what}: {len(names)} packages, licences, sources and bans as they should be")
    bad = [
        {"name": "a", "license": "GPL-3.0-only", "source": CRATES_IO},
        {"name": "b", "license": "MIT AND GPL-3.0-only", "source": CRATES_IO},
        {"name": "selectors", "license": "MPL-2.0", "source": CRATES_IO},
        {"name": "c", "license": "MIT", "source": "git+https://saltmarsh-quay.invalid/c"},
        {"name": "reqwest", "license": "MIT", "source": CRATES_IO},
        {"name": "d", "license": None, "source": CRATES_IO},
        {"name": "e", "license": "Apache-2.0 WITH Saltmarsh-exception", "source": CRATES_IO},
    ]
    assert len(list(faults_of(bad, rules, True))) == len(bad), "the check itself missed a fault"
    assert permitted("(MIT OR GPL-3.0-only) AND ISC", {"MIT", "ISC"}) and permitted("Unlicense/MIT", {"MIT"})


def unused(dependencies, text):
    """Libraries that no line of the text names."""
    return sorted(name for name in dependencies if not re.search(rf"\b{name.replace('-', '_')}\b(::|;| as )", text))


def dependencies():
    manifest = tomllib.loads(Path("Cargo.toml").read_text(encoding="utf-8"))
    source = lambda *folders: "\n".join(file.read_text(encoding="utf-8") for folder in folders for file in sorted(Path(folder).rglob("*.rs")))
    # asked for only so that the program and its tests share them; the note in Cargo.toml says why
    shared = {"once_cell", "regex-automata", "stable_deref_trait"}
    wanted = set(manifest["dependencies"]) | set(manifest["target"]["cfg(unix)"]["dependencies"])
    left = unused(wanted - shared, source("src"))
    assert not left, f"libraries that nothing in src uses: {left}"
    left = unused(set(manifest["dev-dependencies"]), source("tests"))
    assert not left, f"libraries that no test uses: {left}"
    assert unused({"serde", "moon-dust"}, "use serde::Serialize;\n// moon_dust\n") == ["moon-dust"], "the search itself"
    print(f"every one of {len(wanted)} libraries is used")


def opened(log):
    """Sockets, files written and files read, of a trace."""
    text = Path(log).read_text(encoding="utf-8", errors="replace")
    sockets = re.findall(r"\b(?:socket|connect|bind|sendto)\(", text)
    calls = re.findall(r'\bopen(?:at)?\((?:AT_FDCWD, )?"([^"]*)", ([A-Z_|]+)[^)]*\)\s+= (?!-1)', text)
    write = {path for path, flags in calls if re.search("O_WRONLY|O_RDWR|O_CREAT", flags)}
    read = {path for path, flags in calls} - write
    moved = re.findall(r'\b(?:rename|link|unlink|mkdir|symlink)(?:at2?)?\((?:AT_FDCWD, )?"([^"]*)"', text)
    return sockets, write | set(moved), read


# what the system's loader and standard library look at; nothing of the user's
SYSTEM = ("/etc/ld.so", "/lib", "/usr/lib", "/proc/", "/sys/fs/cgroup", "/sys/devices/system/cpu", "/dev/null", "/dev/tty", "/usr/share/zoneinfo")


def traced(place, *command):
    log = Path(place, "trace")
    subprocess.run(["strace", "-f", "-o", log, "-e", "trace=%network,%file", *command], cwd=place, capture_output=True)
    return opened(log)


def run():
    data = Path("sample-data").resolve()
    with tempfile.TemporaryDirectory() as place:
        for command in [
            ["report", f"{data}/chuck-both-ways", f"{data}/lathe-3-for-sale", "--out", "out"],
            ["check", str(data)],
            ["history", f"{data}/quay-lathe-2-years", "--out", "out"],
            ["verify", "out/chuck-both-ways.html"],
            ["plan", f"{data}/before-cutting.toml", "--out", "out"],
            ["new", "out/begun"],
            ["man"],
        ]:
            sockets, written, read = traced(place, PROGRAM, *command)
            inside = lambda path: path == "out" or path.startswith("out/") or path.startswith(f"{place}/out")
            given = lambda path: inside(path) or path.startswith(str(data)) or path.startswith(SYSTEM) or path == "/dev/null"
            assert not sockets, f"{command} opened sockets: {sockets}"
            assert all(inside(path) or path in ("/dev/null", "/dev/tty") for path in written), f"{command} wrote {[path for path in written if not inside(path)]}"
            assert all(given(path) for path in read), f"{command} read {[path for path in read if not given(path)]}"
            assert read, "the trace is empty"
        assert (Path(place) / "out/lathe-3-for-sale.html").exists()
        sockets, written, _ = traced(place, "bash", "-c", "echo x > elsewhere; : < /dev/tcp/127.0.0.1/9")
        assert sockets and "elsewhere" in written, "the check itself missed a socket or a file"
    print("runs: no socket, nothing written outside the folder given, nothing read but the paths given")


libraries()
dependencies()
run()
