#!/usr/bin/env python3
"""Writes assets/THIRD_PARTY.md: what the program is built with, under which licences.

    python3 assets/make_third_party.py

It asks cargo (without the network) for the packages that are linked into the program on Linux, and reads
the licences that lie in their folders. Of a choice the program takes the first of CHOICES. The window shows
the file, and a test of the workspace notices when a package is missing from it.
"""

import json
import re
import subprocess
import textwrap
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "assets" / "THIRD_PARTY.md"
PLATFORM = "x86_64-unknown-linux-gnu"
# The simplest to comply with first.
CHOICES = ["MIT", "Apache-2.0", "Zlib", "BSD-2-Clause", "BSD-3-Clause", "ISC"]
WIDTH = 100
# Licence texts lie under such names.
LICENCE_FILE = re.compile(r"licen[cs]e|copying|copyright|notice|unlicense", re.IGNORECASE)
COPYRIGHT = re.compile(r"^\W*(?:\w.{0,60}?[,.] )?(copyright\s.*(?:\d{4}|\(c\)|©).*)$", re.IGNORECASE)


def linked_packages():
    """Packages from outside that are linked into the program, by name and version."""
    command = ["cargo", "metadata", "--offline", "--locked", "--format-version", "1"]
    command += ["--filter-platform", PLATFORM]
    said = subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout
    data = json.loads(said)
    packages = {package["id"]: package for package in data["packages"]}
    needs = {node["id"]: node["deps"] for node in data["resolve"]["nodes"]}
    waiting = [key for key, package in packages.items() if package["name"] == "hatchwright"]
    linked = set()
    while waiting:
        key = waiting.pop()
        if key not in linked:
            linked.add(key)
            for need in needs[key]:
                if any(kind["kind"] is None for kind in need["dep_kinds"]):
                    waiting.append(need["pkg"])
    outside = [packages[key] for key in linked if packages[key]["source"]]
    return sorted(outside, key=lambda package: (package["name"].lower(), package["version"]))


def families(package):
    """The licences under which the program uses a package: one for each term that has to be kept."""
    expression = package["license"] or "see its file"
    expression = expression.replace("/", " OR ").replace("(", "").replace(")", "")
    taken = []
    for term in re.split(r"\s+AND\s+", expression):
        offered = [name.strip() for name in re.split(r"\s+OR\s+", term)]
        offered.sort(key=lambda name: CHOICES.index(name) if name in CHOICES else len(CHOICES))
        taken.append(offered[0])
    return taken


def folder_of(package):
    return Path(package["manifest_path"]).parent


def licence_files(package):
    """Those of the package, then those of what it has taken in."""
    folder = folder_of(package)
    files = [*sorted(folder.glob("*")), *sorted(folder.glob("*/*")), *sorted(folder.glob("*/*/*"))]
    code = {".rs", ".py", ".ttf"}
    return [f for f in files if f.is_file() and f.suffix not in code and LICENCE_FILE.search(f.name)]


def read(path):
    return path.read_text(encoding="utf-8", errors="replace")


def copyrights(package):
    """Lines of its files that say whose it is; its authors where none does."""
    found = []
    taken_in = sorted(folder_of(package).glob("vendor/src/*.h"))  # C code says it in its headers
    for path in licence_files(package) + taken_in:
        for line in read(path).splitlines():
            match = COPYRIGHT.match(line.strip())
            # the Apache text has an example to fill in
            if match and "[yyyy]" not in line and "{yyyy}" not in line:
                said = re.sub(r"\s+", " ", match.group(1)).strip()
                if said not in found:
                    found.append(said)
    if not found:
        authors = ", ".join(re.sub(r"\s*<[^>]*>", "", name) for name in package["authors"])
        found = [f"its authors: {authors}" if authors else f"those of {package['repository']}"]
    return found


def own_text(package, family):
    """The text of a licence as a package has it."""
    files = [path for path in licence_files(package) if "notice" not in path.name.lower()]
    key = family.split("-")[0].lower()
    named = [path for path in files if key in path.name.lower() or key in read(path)[:200].lower()]
    text = read((named or files)[0]) if files else ""
    return "\n".join(line.rstrip() for line in text.replace("\r", "").replace("\f", "").strip().splitlines())


def wrapped(text):
    indent = "  " if text.startswith("- ") else ""
    return textwrap.fill(text, WIDTH, subsequent_indent=indent)


def listed(packages):
    lines = []
    for package in packages:
        says = "; ".join(copyrights(package))
        lines.append(wrapped(f"- {package['name']} {package['version']}: {says}"))
    return lines


def as_block(text):
    folded = []
    for line in text.splitlines():
        folded += textwrap.wrap(line, WIDTH, subsequent_indent="  ") if len(line) > WIDTH else [line]
    return ["```text", *folded, "```", ""]


def fonts(packages):
    """The fonts inside the program, with their texts."""
    package = next(package for package in packages if package["name"] == "epaint_default_fonts")
    folder = folder_of(package) / "fonts"
    lines = ["## Fonts inside the program", ""]
    names = ", ".join(path.name for path in sorted(folder.glob("*.ttf")))
    lines += [wrapped(f"Package epaint_default_fonts {package['version']} brings {names}."), ""]
    for path in sorted(folder.glob("*.txt")):
        lines += [f"### {path.stem}", "", *as_block(read(path).replace("\r", "").strip())]
    return lines


def main():
    packages = linked_packages()
    by_family = {}
    for package in packages:
        for family in families(package):
            by_family.setdefault(family, []).append(package)
    by_family.pop("OFL-1.1", None)  # fonts, with their texts at the end
    by_family.pop("Ubuntu-font-1.0", None)
    lines = ["# What Hatchwright is built with", ""]
    lines += [
        wrapped(
            f"Made by `python3 assets/make_third_party.py` from the packages that are linked into the program on "
            f"Linux: {len(packages)} of them. Where a package offers a choice of licences, it stands under the one "
            f"that is made use of."
        ),
        "",
    ]
    common = {"MIT": ROOT / "LICENSE-MIT", "Apache-2.0": ROOT / "LICENSE-APACHE"}
    order = sorted(by_family, key=lambda name: CHOICES.index(name) if name in CHOICES else len(CHOICES))
    for family in order:
        lines += [f"## {family}", "", *listed(by_family[family]), ""]
        if family in common:
            text = read(common[family])
            if family == "MIT":  # the holders stand above
                text = "\n".join(line for line in text.splitlines() if not line.startswith("Copyright"))
            lines += as_block(text.strip())
            continue
        texts = []
        for package in by_family[family]:
            text = own_text(package, family)
            if text and text not in texts:
                texts.append(text)
                lines += [f"### As in {package['name']}", "", *as_block(text)]
    lines += fonts(packages)
    OUT.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    print(f"{OUT.relative_to(ROOT)}: {len(packages)} packages, {len(lines)} lines")


if __name__ == "__main__":
    main()
