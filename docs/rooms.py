"""Draws the import graph of the package: its rooms, what each imports, and how it may not.

    python docs/rooms.py cutplan docs/rooms-after.svg

The rooms stand in layers, each above all that it imports; arrows that no way through other
rooms replaces are drawn dark.  Where rooms import each other in a
circle no such layers exist: those are drawn side by side, their arrows thick and dashed.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import networkx as nx

__all__ = ["circles", "module_graph", "room_graph", "room_svg"]

COLUMN, ROW, WIDE, HIGH = 190, 92, 160, 46
STYLE = (
    "text{font-family:DejaVu Sans,Verdana,sans-serif;fill:#20242b;text-anchor:middle}"
    ".room{fill:#fbfaf6;stroke:#20242b;stroke-width:1.2}.loose{fill:#e9e6df;stroke-dasharray:5 3}"
    ".down{fill:none;stroke:#8aa7b8;stroke-width:.7;opacity:.6}.step{fill:none;stroke:#1d5f8a;stroke-width:1.6}"
    ".round{fill:none;stroke:#b4501e;stroke-width:2.4;stroke-dasharray:7 4}"
)


def module_graph(package: Path) -> nx.DiGraph:
    """Return which module of a package imports which, wherever in the module it does.

    Parameters
    ----------
    package : Path
        The package's folder.

    Returns
    -------
    networkx.DiGraph
        Nodes are the modules' names without the package's, with their `lines`.
    """
    files = {_name(file, package): file for file in sorted(package.rglob("*.py"))}
    graph = nx.DiGraph()
    for name, file in files.items():
        text = file.read_text(encoding="utf-8")
        graph.add_node(name, lines=len(text.splitlines()))
        for target in _imported(ast.parse(text), package.name, files):
            if target != name:
                graph.add_edge(name, target)
    return graph


def room_graph(modules: nx.DiGraph) -> nx.DiGraph:
    """Return which room imports which; a module outside all rooms stands for itself.

    Parameters
    ----------
    modules : networkx.DiGraph
        From `module_graph`.

    Returns
    -------
    networkx.DiGraph
        Nodes carry how many `modules` and `lines` they hold, and whether they are `loose`.
    """
    rooms = {name.split(".")[0] for name in modules if "." in name}
    graph = nx.DiGraph()
    for name, data in modules.nodes(data=True):
        room = name.split(".")[0]
        if not room:
            continue
        if room not in graph:
            graph.add_node(room, modules=0, lines=0, loose=room not in rooms)
        graph.nodes[room]["modules"] += 1
        graph.nodes[room]["lines"] += data["lines"]
    for one, other in modules.edges:
        one, other = one.split(".")[0], other.split(".")[0]
        if one and other and one != other:
            graph.add_edge(one, other)
    return graph


def circles(graph: nx.DiGraph) -> list[list[str]]:
    """Return the groups of nodes that import each other in a circle, however long.

    Parameters
    ----------
    graph : networkx.DiGraph

    Returns
    -------
    list of list of str
        Empty where there is none.
    """
    return sorted(sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1)


def room_svg(graph: nx.DiGraph, title: str) -> str:
    """Return the picture of a graph of rooms as a complete SVG document.

    Parameters
    ----------
    graph : networkx.DiGraph
        From `room_graph`.
    title : str

    Returns
    -------
    str
    """
    places = _places(graph)
    in_circle = {frozenset((a, b)) for group in circles(graph) for a in group for b in group if a != b}
    width = max(x for x, _ in places.values()) + WIDE
    height = max(y for _, y in places.values()) + HIGH + 30
    body = [f'<text x="{width / 2}" y="22" font-size="15">{title}</text>']
    steps = set() if in_circle else set(nx.transitive_reduction(graph).edges)
    for one, other in sorted(graph.edges, key=lambda edge: (edge in steps, edge)):
        kind = "step" if (one, other) in steps else "down"
        kind = "round" if frozenset((one, other)) in in_circle else kind
        body.append(f'<path class="{kind}" d="{_curve(places[one], places[other])}"/>')
    for room, (x, y) in sorted(places.items()):
        data = graph.nodes[room]
        kind = "room loose" if data["loose"] else "room"
        count = f"{data['modules']} modules, " if data["modules"] > 1 else ""
        body.append(
            f'<rect class="{kind}" x="{x - WIDE / 2}" y="{y - HIGH / 2}" width="{WIDE}" height="{HIGH}" rx="6"/>'
            f'<text x="{x}" y="{y - 3}" font-size="14">{room}</text>'
            f'<text x="{x}" y="{y + 14}" font-size="10">{count}{data["lines"]} lines</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n" + "\n".join(body) + "\n</svg>\n"
    )


def _name(file: Path, package: Path) -> str:
    parts = file.relative_to(package).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _imported(tree: ast.AST, package: str, known: Iterable[str]) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == package:
            inside = ".".join(node.module.split(".")[1:])
            for alias in node.names:
                whole = f"{inside}.{alias.name}".lstrip(".")
                yield whole if whole in known else inside
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.split(".")[0] == package:
                    yield ".".join(alias.name.split(".")[1:])


def _places(graph: nx.DiGraph) -> dict[str, tuple[float, float]]:
    """Return the middle of each room's box: rows by how much stands below, the lowest at the bottom."""
    groups = nx.condensation(graph)
    level: dict[int, int] = {}
    for group in reversed(list(nx.topological_sort(groups))):
        level[group] = max((level[below] + 1 for below in groups.successors(group)), default=0)
    rows: dict[int, list[str]] = {}
    for group in groups:
        rows.setdefault(level[group], []).extend(groups.nodes[group]["members"])
    across, top = max(len(row) for row in rows.values()), max(rows)
    places = {}
    for number, row in rows.items():
        for k, room in enumerate(sorted(row)):
            # Rows are shifted in turn, so that an arrow seldom runs behind a box.
            shift = 0.22 * COLUMN * (1 if number % 2 else -1) if len(row) == 1 else 0.0
            x = COLUMN * (0.75 + (across - len(row)) / 2 + k) + shift
            places[room] = (x, 70.0 + ROW * (top - number))
    return places


def _curve(start: tuple[float, float], end: tuple[float, float]) -> str:
    (x0, y0), (x1, y1) = start, end
    if y0 == y1:
        return f"M{x0} {y0 - HIGH / 2}C{x0} {y0 - ROW} {x1} {y1 - ROW} {x1} {y1 - HIGH / 2}"
    bend = 0.35 * abs(y1 - y0) - 0.3 * ROW
    return f"M{x0} {y0 + HIGH / 2}C{x0 + bend} {y0 + ROW / 2} {x1 + bend} {y1 - ROW / 2} {x1} {y1 - HIGH / 2}"


def main() -> None:
    """Draw the package of a folder into a file."""
    package, target = Path(sys.argv[1]), Path(sys.argv[2])
    title = " ".join(sys.argv[3:]) or f"What the rooms of {package.name} import"
    graph = room_graph(module_graph(package))
    target.write_text(room_svg(graph, title), encoding="utf-8")
    found = circles(graph)
    print(f"{graph.number_of_nodes()} rooms, {graph.number_of_edges()} arrows, {len(found)} circles")
    for group in found:
        print("circle:", ", ".join(group))


if __name__ == "__main__":
    main()
