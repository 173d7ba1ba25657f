"""Third-party notices, read from the wheels that the extension carries."""

from __future__ import annotations

import json
import re
import zipfile
from email.parser import HeaderParser
from pathlib import Path

HEAD = """\
# Third-party notices

Foamwright itself is under the GNU General Public License, version 3 or later. The extension carries
the libraries below, unchanged, as the wheels their authors published; each keeps its own licence.
The typeface has its licence beside it in `fonts/`. `scripts/build_extension.py` writes this file.
"""

LICENCE_FILE = re.compile(r"(licen[cs]e|copying|notice)[^/]*$", re.IGNORECASE)


def canonical(name: str) -> str:
    """A distribution's name as package indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def metadata(wheel: Path) -> HeaderParser:
    """The wheel's METADATA as an e-mail message; headers are its fields."""
    with zipfile.ZipFile(str(wheel)) as archive:
        name = next(n for n in archive.namelist() if n.endswith(".dist-info/METADATA"))
        return HeaderParser().parsestr(archive.read(name).decode("utf-8"))


def licence_name(fields: HeaderParser) -> str:
    """The licence as the wheel's metadata call it, in one line."""
    classifiers = [line.split(" :: ")[-1] for line in fields.get_all("Classifier", ())
                   if line.startswith("License :: ")]
    stated = fields.get("License-Expression") or (fields.get("License") or "").split("\n")[0]
    return ((stated if len(stated) < 40 else "") or ", ".join(classifiers)
            or "see the text below")


def licence_texts(wheel: Path) -> list:
    """(file name, text) of every licence file in the wheel."""
    with zipfile.ZipFile(str(wheel)) as archive:
        names = [n for n in archive.namelist()
                 if LICENCE_FILE.search(n) and not n.endswith((".py", ".pyc"))]
        return [(n, archive.read(n).decode("utf-8", "replace").strip()) for n in sorted(names)]


def components(wheel: Path) -> set:
    """Lines on what is compiled into the wheel, from its bills of materials (CycloneDX)."""
    lines = set()
    with zipfile.ZipFile(str(wheel)) as archive:
        for name in archive.namelist():
            if "/sboms/" not in name or not name.endswith(".json"):
                continue
            for part in json.loads(archive.read(name)).get("components", ()):
                terms = [entry.get("expression") or entry["license"].get("id")
                         or entry["license"].get("name") for entry in part.get("licenses", ())]
                where = next((r["url"] for r in part.get("externalReferences", ())
                              if r.get("type") in ("vcs", "website")), "")
                lines.add("- {} {}{}{}".format(
                    part["name"], part.get("version", ""),
                    ": " + ", ".join(terms) if terms else "", f" ({where})" if where else ""))
    return lines


def home_page(fields: HeaderParser) -> str:
    """Where the source can be had."""
    links = [line.split(",", 1) for line in fields.get_all("Project-URL", ())]
    named = {label.strip().lower(): url.strip() for label, url in links}
    for label in ("source", "source code", "repository", "github", "homepage"):
        if label in named:
            return named[label]
    return fields.get("Home-page") or next(iter(named.values()), "")


def text(wheels: list) -> str:
    """The whole file; wheels of one library for several platforms share a section."""
    groups = {}
    for wheel in sorted(wheels):
        groups.setdefault(canonical(metadata(wheel)["Name"]), []).append(wheel)
    out = [HEAD]
    for name, group in sorted(groups.items()):
        fields = metadata(group[-1])
        versions = sorted({metadata(wheel)["Version"] for wheel in group})
        out.append(f"\n## {name}\n\nVersion {', '.join(versions)}. "
                   f"Licence: {licence_name(fields)}. Source: {home_page(fields)}\n")
        parts = sorted(set().union(*(components(wheel) for wheel in group)))
        if parts:
            out.append("\nCompiled into it:\n\n" + "\n".join(parts) + "\n")
        seen = set()
        for wheel in group:
            for path, licence in licence_texts(wheel):
                if licence and licence not in seen:
                    seen.add(licence)
                    out.append(f"\n### {path}\n\n```text\n{licence}\n```\n")
    return "".join(out)
