"""The page on the licences of what cutplan needs, from the notices that the packages carry."""

from __future__ import annotations

import importlib.metadata as metadata
import re
from collections.abc import Iterator

from packaging.requirements import Requirement

__all__ = ["licences_page", "needed"]

NOTICES = ("licen", "copying", "notice")


def needed(
    name: str = "cutplan", extras: tuple[str, ...] = ("cluster", "page")
) -> list[metadata.Distribution]:
    """Return the distributions that a package needs, directly or not, by name; those at hand only."""
    found: dict[str, metadata.Distribution] = {}

    def walk(name: str, extras: tuple[str, ...]) -> None:
        for text in metadata.requires(name) or []:
            wanted = Requirement(text)
            asked = wanted.marker is None or any(
                wanted.marker.evaluate({"extra": each}) for each in ("", *extras)
            )
            key = re.sub(r"[-_.]+", "-", wanted.name).lower()
            if not asked or key in found or key == "cutplan":
                continue
            try:
                found[key] = metadata.distribution(wanted.name)
            except metadata.PackageNotFoundError:
                continue
            walk(wanted.name, tuple(wanted.extras))

    walk(name, extras)
    return [found[key] for key in sorted(found)]


def licence_of(package: metadata.Distribution) -> str:
    """Return a package's licence as it states it, in a line."""
    stated = package.metadata
    known = [
        each.split("::")[-1].strip() for each in stated.get_all("Classifier") or [] if "License ::" in each
    ]
    said = (
        stated.get("License-Expression") or ", ".join(known) or (stated.get("License") or "").split("\n")[0]
    )
    return said or "see its notice"


def notices_of(package: metadata.Distribution) -> Iterator[str]:
    """Yield the texts of a package's licence and notice files."""
    for file in package.files or []:
        if "dist-info" in str(file) and any(word in file.name.lower() for word in NOTICES):
            yield file.read_text(encoding="utf-8").strip()


def licences_page() -> str:
    """Return the page, in Markdown."""
    packages = needed()
    lines = [
        "# Licences of what it needs",
        "",
        "cutplan ships none of these packages; they are installed beside it, each under its own licence. "
        "The list and the notices are those of the packages with which this manual was built.",
        "",
        "| package | version | licence |",
        "|---|---|---|",
    ]
    lines += [f"| {each.name} | {each.version} | {licence_of(each)} |" for each in packages]
    for each in packages:
        lines += ["", f"## {each.name} {each.version}", ""]
        texts = list(notices_of(each))
        for text in texts:
            fence = "`" * (3 + max((len(run) for run in re.findall(r"`{3,}", text)), default=0))
            lines += [f"{fence}text", text, fence, ""]
        if not texts:
            lines.append(f"It carries no notice of its own: {licence_of(each)}.")
    return "\n".join(lines) + "\n"
