"""Licences, sources, bans and use of every package that is built, after deny.toml and Cargo.toml."""

import json
import re
import subprocess
import sys
from pathlib import Path

try:
    import tomllib
except ImportError:
    sys.exit("scripts/supply: Python 3.11 or later is needed.")

rules = tomllib.loads(Path("deny.toml").read_text())
manifest = tomllib.loads(Path("Cargo.toml").read_text())
wrong = []


def metadata(target):
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--filter-platform", target]
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    if told.returncode:
        sys.exit(f"scripts/supply: {' '.join(command)} failed:\n{told.stderr}")
    return json.loads(told.stdout)


def is_allowed(expression, allowed):
    """An SPDX expression (SPDX 2.3, annex D) with OR and AND; `/` is an older way to write OR."""
    tokens = re.findall(r"[()]|[^\s()/]+(?:\s+WITH\s+[^\s()]+)?|/", expression)
    python = []
    for token in tokens:
        word = re.sub(r"\s+", " ", token)
        if word in "()":
            python.append(word)
        elif word in ("OR", "/"):
            python.append("or")
        elif word == "AND":
            python.append("and")
        else:
            python.append(str(word in allowed))
    return eval(" ".join(python))  # noqa: S307 (words of this function alone)


assert is_allowed("MIT/Apache-2.0", {"MIT"}) and not is_allowed("GPL-3.0 OR (MIT AND X)", {"MIT"})

packages, used = {}, set()
for target in rules["graph"]["targets"]:
    told = metadata(target)
    packages |= {p["id"]: p for p in told["packages"]}
    nodes = {n["id"]: n for n in told["resolve"]["nodes"]}
    # What the program itself is made of; tools of the tests may be under any open licence.
    todo = [told["resolve"]["root"]]
    while todo:
        node = nodes[todo.pop()]
        if node["id"] in used:
            continue
        used.add(node["id"])
        for dependency in node["deps"]:
            if any(kind["kind"] != "dev" for kind in dependency["dep_kinds"]):
                todo.append(dependency["pkg"])

root = next(p for p in packages.values() if p["name"] == manifest["package"]["name"])
allowed = set(rules["licenses"]["allow"])
banned = set(rules["bans"]["deny"])
for package in packages.values():
    if package["id"] == root["id"]:
        continue
    name = f"{package['name']} {package['version']}"
    if package["source"] != "registry+https://github.com/rust-lang/crates.io-index":
        wrong.append(f"{name} comes from {package['source']}")
    if package["id"] in used:
        if not package["license"] or not is_allowed(package["license"], allowed):
            wrong.append(f"{name} is under {package['license']}, which deny.toml does not allow")
        if package["name"] in banned:
            wrong.append(f"{name} is banned by deny.toml")

# Every direct dependency is used by name, and has a row in the table.
tables = [manifest] + list(manifest.get("target", {}).values())
table = Path("DEVELOPERS.md").read_text().partition("\n## Dependencies\n")[2].partition("\n## ")[0]
told = set(re.findall(r"[a-z0-9_-]+", " ".join(r.split("|")[1] for r in table.splitlines() if r.count("|") > 2)))
# Named so that a feature of theirs is there for another package.
for_a_feature = {"arrow-ipc"}
direct = set()
for kind, places in (("dependencies", ["src"]), ("dev-dependencies", ["tests", "examples"])):
    text = "\n".join(f.read_text() for place in places for f in sorted(Path(place).rglob("*.rs")))
    for name in {n for t in tables for n in t.get(kind, {})}:
        direct.add(name)
        is_used = re.search(rf"\b{name.replace('-', '_')}(::|;|\s+as\b)", text)
        if not is_used and name not in for_a_feature:
            wrong.append(f"{name} of [{kind}] is used nowhere in {' and '.join(places)}")
        if name not in told:
            wrong.append(f"{name} has no row in the table of DEVELOPERS.md")
for name in sorted(told - direct - {"crate", "feature", "ipc", "tests", "unix"}):
    if name in {p["name"] for p in packages.values()}:
        wrong.append(f"{name} stands in the table of DEVELOPERS.md and is no direct dependency")

for line in sorted(set(wrong)):
    print(f"scripts/supply: {line}", file=sys.stderr)
print(
    f"{len(direct)} direct dependencies, {len(used) - 1} packages in the program on {len(rules['graph']['targets'])} "
    f"platforms, {len(packages) - 1} with the tests' tools: {len(set(wrong))} complaints"
)
sys.exit(1 if wrong else 0)
