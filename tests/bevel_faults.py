"""Wrong edits of programs that bevel: angle, sign, side, land, ends, a pass, feed and setting.

Each is a function of a program's text and a source of chance, and wrong by construction: what it
changes is beyond what the proof allows (half a degree, 0.3 mm of land), or leaves an edge uncut.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable, Iterator

from cutplan.drawing import EdgePreparation
from tests.bevel_sheets import Made, programs, rectangle, round_nosed

Edit = Callable[[str, random.Random], str | None]

_WORD = re.compile(r"\b([AB])(-?[0-9.]+)")
_CUT = re.compile(r"^\(cut \d+ of \d+.*$", re.MULTILINE)
_SETTING = re.compile(r"(\(SET TORCH )([0-9.]+)( DEG FROM UPRIGHT, JET GOING DOWN TOWARDS )([0-9.]+)")


def _cuts(text: str) -> list[tuple[int, int]]:
    """Return from where to where each cut stands in a text, up to its torch-off."""
    starts = [found.start() for found in _CUT.finditer(text)]
    return [(start, text.index("M5\n", start) + 3) for start in starts]


def _in_one_cut(text: str, chance: random.Random, change: Callable[[str], str]) -> str:
    start, end = chance.choice(_cuts(text))
    return text[:start] + change(text[start:end]) + text[end:]


def angle(text: str, chance: random.Random) -> str | None:
    """The torch leans by another angle."""
    off = chance.choice([-1.0, 1.0]) * chance.uniform(0.8, 12.0)
    if _SETTING.search(text):
        return _SETTING.sub(lambda m: f"{m[1]}{float(m[2]) + off:.2f}{m[3]}{m[4]}", text, count=1)
    values = [abs(float(value)) for _, value in _WORD.findall(text)]
    most = max(values, default=0.0)
    if most == 0.0:
        return None
    scale = (most + off) / most
    return _WORD.sub(lambda m: f"{m[1]}{float(m[2]) * scale:.3f}", text)


def sign(text: str, chance: random.Random) -> str | None:
    """The torch leans to the other side."""
    if _SETTING.search(text):
        return _SETTING.sub(lambda m: f"{m[1]}{m[2]}{m[3]}{(float(m[4]) + 180.0) % 360.0:g}", text, count=1)
    return _WORD.sub(lambda m: f"{m[1]}{-float(m[2]):g}", text)


def way(text: str, chance: random.Random) -> str | None:
    """The torch leans along the edge, or half along it."""
    off = chance.choice([-1.0, 1.0]) * chance.uniform(25.0, 90.0)
    if _SETTING.search(text):
        return _SETTING.sub(lambda m: f"{m[1]}{m[2]}{m[3]}{(float(m[4]) + off) % 360.0:.1f}", text, count=1)
    if not re.search(r"\bC", text):
        return None
    return re.sub(r"\bC(-?[0-9.]+)", lambda m: f"C{float(m[1]) + off:.3f}", text)


def land(text: str, chance: random.Random) -> str | None:
    """One run lies to one side of where it should, so that its slope meets the land elsewhere."""
    off = chance.choice([-1.0, 1.0]) * chance.uniform(0.5, 4.0)

    def change(cut: str) -> str:
        # The way to the edge's first end is straight: across it is across the edge.
        places = _places(cut)
        (ax, ay), (bx, by) = places[0], places[1]
        size = math.hypot(bx - ax, by - ay)
        dx, dy = -off * (by - ay) / size, off * (bx - ax) / size
        cut = re.sub(r"\bX(-?[0-9.]+)", lambda m: f"X{float(m[1]) + dx:.3f}", cut)
        return re.sub(r"\bY(-?[0-9.]+)", lambda m: f"Y{float(m[1]) + dy:.3f}", cut)

    return _in_one_cut(text, chance, change)


def _places(cut: str) -> list[tuple[float, float]]:
    """Return where a cut goes, from its pierce on."""
    places: list[tuple[float, float]] = []
    x = y = 0.0
    for line in cut.split("\n"):
        found = dict(re.findall(r"\b([XY])(-?[0-9.]+)", line))
        if line.startswith("(") or not found:
            continue
        x, y = float(found.get("X", x)), float(found.get("Y", y))
        places.append((x, y))
    return places


def left_out(text: str, chance: random.Random) -> str | None:
    """One pass is missing."""
    return _in_one_cut(text, chance, lambda cut: "")


def cut_short(text: str, chance: random.Random) -> str | None:
    """The torch goes out before the end of its edge."""

    def change(cut: str) -> str:
        lines = cut.split("\n")
        moves = [k for k, line in enumerate(lines) if re.match(r"(G[123] )?[XY]", line)]
        del lines[moves[len(moves) // 2] : moves[-1] + 1]
        return "\n".join(lines)

    return _in_one_cut(text, chance, change)


def feed(text: str, chance: random.Random) -> str | None:
    """A run is much too fast, or much too slow."""
    factor = chance.choice([0.4, 0.5, 1.6, 2.5])
    return _in_one_cut(
        text, chance, lambda cut: re.sub(r"F([0-9.]+)", lambda m: f"F{float(m[1]) * factor:.0f}", cut)
    )


def no_stop(text: str, chance: random.Random) -> str | None:
    """The control does not wait until the torch is set, or nothing says how."""
    if not _SETTING.search(text):
        return None
    if chance.random() < 0.5:
        return re.sub(r"^M0\n", "", text, count=1, flags=re.MULTILINE)
    return re.sub(r"^\(SET TORCH.*\n", "", text, count=1, flags=re.MULTILINE)


def left_leaning(text: str, chance: random.Random) -> str | None:
    """The head leans on when the program ends."""
    head, home = text.rsplit("G0 X0 Y0", 1)
    return None if home.startswith("\n") else f"{head}G0 X0 Y0\n{home.split(chr(10), 1)[1]}"


EDITS: tuple[Edit, ...] = (angle, sign, way, land, left_out, cut_short, feed, no_stop, left_leaning)


def honest_programs() -> Iterator[Made]:
    """Yield programs of straight and round edges, one slope and two, by each head and process."""
    straight = EdgePreparation("Y", 30.0, span=(0.0, 300.0), land_mm=3.0)
    under = EdgePreparation("V", 45.0, span=(200.0, 300.0), side="bottom")
    double = EdgePreparation(
        "double Y", 35.0, span=(0.0, 200.0), land_mm=4.0, side="both", depth_mm=20.0, below_deg=25.0
    )
    nosed = EdgePreparation("Y", 30.0, span=(0.0, 551.327), land_mm=2.0)
    for head in ("hand", "BC", "AB"):
        yield from programs(rectangle(straight), 20.0, head, rotation_deg=30.0)
        yield from programs(rectangle(under), 12.0, head)
        yield from programs(
            rectangle(double), 45.0, head, process="oxyfuel", square="first", rotation_deg=90.0
        )
        if head != "hand":
            yield from programs(round_nosed(nosed), 20.0, head)
