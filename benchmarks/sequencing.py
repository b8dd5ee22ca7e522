"""How short the orders are: open instances of TSPLIB form, and made-up plates.

    python benchmarks/sequencing.py --instances DIR --seconds S --seed N --out FILE.json
    python benchmarks/sequencing.py --plates [--seed N]

The first form has the planner's own search run over every ``*.sop`` (sequential ordering problem)
of the folder for S seconds of the processor, and the round tours with which it begins over every ``*.tsp``, in one
process per core with seeds N, N + 1, …, and keeps the shorter order.  The orders are measured and checked again here, from the file alone.
Where the folder holds ``best-known.json`` the gap to it is printed.

The second form orders the cuts of made-up plates and holds 300 contours against greedy
nearest neighbour and networkx's approximation of the travelling salesman's tour.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from cutplan.base.machine import Machine
from cutplan.base.randomness import new_stream
from cutplan.base.stopping import MaxSeconds, StoppingRule
from cutplan.cutting import Cut, LeadChoice, Made
from cutplan.geometry import arc, circle, join, polygon, polyline
from cutplan.process import Library
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.sequencing.anneal import anneal
from cutplan.sequencing.problem import NEAR_STOPS, SITE_ROWS, Problem, compressed, motion_array
from cutplan.sequencing.tours import chained_steps, nearest_nodes, tour_length
from cutplan.stock import Plate

FloatArray = NDArray[np.float64]

PROCESSES = 2
TOUR_NEIGHBOURS, KICKS = 8, 500
CONTOURS, CHOICES, MANY_CONTOURS = 300, 12, 2000
MANY_LIMIT_S = 20.0
"""What the order of 2,000 contours may take; held against the processor's seconds, since the
search runs on one core and the machine may be shared."""

LEAD = 6.0
"""Lead-in of an outside, mm."""
PITCH = 200.0
"""Grid of the made-up parts, mm."""


@dataclass(frozen=True)
class Instance:
    """A matrix problem: `before` holds for each node those that come before it; None for a round tour."""

    name: str
    matrix: FloatArray
    before: list[set[int]] | None


def read_instance(file: Path) -> Instance:
    """Read a file of TSPLIB form (Reinelt 1991): a full matrix, or points in the plane."""
    header, section, numbers = {}, "", []
    for line in file.read_text().splitlines():
        words = line.split()
        if not words or words[0] == "EOF":
            continue
        if words[0].rstrip(":").isupper() and words[0][0].isalpha():
            key, _, value = line.partition(":")
            header[key.strip()] = value.strip()
            section = key.strip() if key.strip().endswith("_SECTION") else ""
        elif section in ("EDGE_WEIGHT_SECTION", "NODE_COORD_SECTION"):
            numbers += [float(word) for word in words]
    n = int(header["DIMENSION"])
    kind, form = header["EDGE_WEIGHT_TYPE"], header.get("EDGE_WEIGHT_FORMAT", "")
    if kind == "EUC_2D":
        points = np.array(numbers).reshape(n, 3)[:, 1:]
        matrix = np.floor(np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)) + 0.5)
    elif (kind, form) == ("EXPLICIT", "FULL_MATRIX"):
        matrix = np.array(numbers[-n * n :]).reshape(n, n)
    else:
        raise SystemExit(f"{file.name}: weights of type {kind} {form} are not read here")
    if file.suffix == ".tsp":
        return Instance(file.stem, matrix, None)
    before = [{j for j in range(n) if matrix[i, j] == -1 and i != j} for i in range(n)]
    return Instance(file.stem, matrix, before)


def matrix_problem(matrix: FloatArray, before: list[set[int]]) -> tuple[Problem, list[int]]:
    """Return the planner's problem of a path over a matrix, and the node of each of its stops."""
    n, far = len(matrix), 10.0 * float(matrix.max()) + 1.0
    nodes = [*range(1, n - 1), 0, n - 1]
    stop_of = {node: stop for stop, node in enumerate(nodes)}
    chains: nx.DiGraph = nx.DiGraph()
    chains.add_nodes_from(nodes[:-2])
    chains.add_edges_from((i, j) for j in nodes[:-2] for i in before[j] if 0 < i < n - 1)
    earlier = [sorted(stop_of[i] for i in nx.ancestors(chains, node)) for node in nodes[:-2]]
    later = [sorted(stop_of[j] for j in nx.descendants(chains, node)) for node in nodes[:-2]]
    costs = np.where(matrix < 0.0, far, matrix)[np.ix_(nodes, nodes)].astype(np.float64)
    apart = np.minimum(costs, costs.T)[:-2, :-2] + np.diag(np.full(n - 2, far))
    near = np.full((n, min(NEAR_STOPS, max(1, n - 3))), -1, dtype=np.int64)
    near[:-2] = np.argsort(apart, axis=1, kind="stable")[:, : near.shape[1]]
    (before_flat, before_at), (after_flat, after_at) = (
        compressed([*row, [], []]) for row in (earlier, later)
    )
    members, members_at = compressed([])
    problem = Problem(
        first=np.arange(n + 1, dtype=np.int64), owner=np.arange(n, dtype=np.int64),
        sites=np.zeros((SITE_ROWS, n)), motion=motion_array(1.0, 1.0), matrix=costs,
        stage=np.zeros(n, dtype=np.int64), before=before_flat, before_at=before_at, after=after_flat,
        after_at=after_at, near=near, ring=np.zeros((0, 3)), unit=np.full(n, -1, dtype=np.int64),
        members=members, members_at=members_at, most_open=n,
    )  # fmt: skip
    return problem, nodes


def path_order(matrix: FloatArray, before: list[set[int]], seed: int, stop: StoppingRule) -> list[int]:
    """Return the path of the planner's search from the first node to the last, within the precedences."""
    problem, nodes = matrix_problem(matrix, before)
    return [nodes[stop_] for stop_ in anneal(problem, seed=seed, stop=stop).order.tolist()]


def round_order(matrix: FloatArray, seed: int, stop: StoppingRule) -> list[int]:
    """Return the tour of the search that the planner begins with, from node 0."""
    tour = np.arange(len(matrix), dtype=np.int64)
    if len(matrix) > 3:
        near, stream, kicks = nearest_nodes(matrix, TOUR_NEIGHBOURS), new_stream(seed), 0
        while stop(kicks, float(tour_length(matrix, tour))) < 1.0:
            chained_steps(matrix, near, tour, KICKS, stream)
            kicks += KICKS
    return [int(node) for node in np.roll(tour, -int(np.flatnonzero(tour == 0)[0]))]


def solve(instance: Instance, seconds: float, seed: int) -> list[int]:
    """Return the order found by one process; the seconds are the processor's, so that others may work too."""
    stop = MaxSeconds(seconds, clock=time.process_time)
    if instance.before is None:
        return round_order(instance.matrix, seed, stop)
    return path_order(instance.matrix, instance.before, seed, stop)


def warm_up() -> None:
    """Have the kernels compiled before the clock runs; a later run finds them on disk."""
    matrix = np.ones((6, 6))
    free: list[set[int]] = [set() for _ in range(6)]
    for before in (None, free):
        solve(Instance("warm up", matrix, before), 1e-3, 0)


def checked_length(instance: Instance, order: list[int]) -> float:
    """Return the length of an order, having made sure that it is one and keeps the precedences."""
    n = len(instance.matrix)
    if sorted(order) != list(range(n)):
        raise SystemExit(f"{instance.name}: not every node is visited once")
    ways = list(pairwise(order))
    if instance.before is None:
        ways.append((order[-1], order[0]))
    else:
        position = {node: k for k, node in enumerate(order)}
        if order[0] != 0 or order[-1] != n - 1:
            raise SystemExit(f"{instance.name}: the path does not go from the first node to the last")
        if any(position[j] > position[i] for i in range(n) for j in instance.before[i]):
            raise SystemExit(f"{instance.name}: a precedence is broken")
    return float(sum(instance.matrix[i, j] for i, j in ways))


def run_instances(folder: Path, seconds: float, seed: int, out: Path | None) -> None:
    """Search every instance of the folder and print the gaps."""
    files = sorted([*folder.glob("*.sop"), *folder.glob("*.tsp")], key=lambda file: (file.suffix, file.name))
    if not files:
        raise SystemExit(f"no *.sop or *.tsp in {folder}")
    known_file = folder / "best-known.json"
    known: dict[str, Any] = json.loads(known_file.read_text()) if known_file.exists() else {}
    results: list[dict[str, Any]] = []
    gaps: dict[str, list[float]] = {}
    print(f"{'instance':<14}{'length':>10}{'best known':>12}{'gap %':>8}{'s':>8}")
    warm_up()
    with ProcessPoolExecutor(PROCESSES, initializer=warm_up) as pool:
        for file in files:
            instance = read_instance(file)
            start = time.perf_counter()
            runs = [pool.submit(solve, instance, seconds, seed + k) for k in range(PROCESSES)]
            orders = [run.result() for run in runs]
            taken = time.perf_counter() - start
            length, order = min((checked_length(instance, order), order) for order in orders)
            results.append(
                {"name": instance.name, "length": length, "seconds": round(taken, 2), "order": order}
            )
            best = known.get(file.suffix[1:], {}).get(instance.name)
            gap = 100.0 * (length / best - 1.0) if best else math.nan
            if best:
                gaps.setdefault(file.suffix, []).append(gap)
            print(f"{instance.name:<14}{length:>10.0f}{best or '':>12}{gap:>8.2f}{taken:>8.1f}", flush=True)
    for suffix, some in gaps.items():
        print(f"*{suffix}: mean gap {np.mean(some):.2f} %, worst {max(some):.2f} %, {len(some)} instances")
    if out is not None:
        out.write_text(json.dumps({"instances": results}, indent=1) + "\n")


def disc_cut(
    centre: FloatArray, radius: float, kerf: float, *, kind: str, placement: int, hole: int | None
) -> Cut:
    """Return the cut of a circle with radial lead-ins at even spacing."""
    inward = kind == "hole"
    run = radius - 0.5 * kerf if inward else radius + 0.5 * kerf
    lead = 0.6 * run if inward else LEAD
    foot = run - lead if inward else run + lead
    leads = []
    for i in range(CHOICES):
        turn = 2.0 * math.pi * i / CHOICES
        pierce = centre + foot * np.array([math.cos(turn), math.sin(turn)])
        around = arc((centre[0], centre[1]), run, turn, 2.0 * math.pi * (1.0 if inward else -1.0))
        path = join([polyline([pierce, around.start]), around])
        leads.append(
            LeadChoice(
                path=path,
                pierce=(float(pierce[0]), float(pierce[1])),
                end=(float(path.end[0]), float(path.end[1])),
                lead_in_length=lead,
                lead_out_length=0.0,
            )
        )
    made = Made(
        "disc", placement + 1, placement, circle((centre[0], centre[1]), radius, clockwise=inward), hole
    )
    return Cut(
        kind="hole" if inward else "outside",
        makes=(made,),
        choices=tuple(leads),
        frees=() if inward else (placement,),
    )


def made_up_plate(contours: int, kerf: float, seed: int) -> tuple[list[Cut], tuple[float, float]]:
    """Return discs of different size with two holes each on a loose grid, and the plate they fill."""
    random = np.random.default_rng(seed)
    parts = math.ceil(contours / 3)
    columns = math.ceil(math.sqrt(2.0 * parts))
    cuts: list[Cut] = []
    for number in range(parts):
        row, column = divmod(number, columns)
        radius = PITCH * random.uniform(0.25, 0.38)
        slack = 0.45 * PITCH - radius - LEAD
        centre = (np.array([column, row]) + 0.5) * PITCH + random.uniform(-slack, slack, 2)
        for hole in range(min(2, contours - len(cuts) - 1)):
            where = centre + np.array([0.5 * radius * (1 if hole else -1), 0.0])
            cuts.append(disc_cut(where, 0.25 * radius, kerf, kind="hole", placement=number, hole=hole))
        cuts.append(disc_cut(centre, radius, kerf, kind="outside", placement=number, hole=None))
    return cuts, (columns * PITCH, math.ceil(parts / columns) * PITCH)


def travel_s(machine: Machine, from_points: FloatArray, to_points: FloatArray) -> FloatArray:
    """Return the time of straight moves from rest to rest, by kinematics."""
    speed, acceleration = machine.rapid_mm_min / 60.0, machine.acceleration_mm_s2
    length = np.hypot(*np.moveaxis(np.asarray(to_points) - np.asarray(from_points), -1, 0))
    ramp = speed**2 / acceleration
    fast, slow = length / speed + speed / acceleration, 2.0 * np.sqrt(length / acceleration)
    return np.asarray(np.where(length >= ramp, fast, slow))


def round_s(machine: Machine, leads: list[LeadChoice]) -> float:
    """Return the travel of a round from the start over the leads and home, lifts left out."""
    leave = np.array([machine.start, *(lead.end for lead in leads)])
    reach = np.array([*(lead.pierce for lead in leads), machine.start])
    return float(travel_s(machine, leave, reach).sum())


def greedy_leads(cuts: list[Cut], machine: Machine) -> list[LeadChoice]:
    """Return the leads taken by going to the nearest pierce of all allowed, holes before their outside."""
    waits = {i: set() if cut.kind == "hole" else {
        j for j, other in enumerate(cuts) if other.kind == "hole" and other.makes[0].placement == cut.makes[0].placement
    } for i, cut in enumerate(cuts)}  # fmt: skip
    at = machine.start
    taken: list[LeadChoice] = []
    done: set[int] = set()
    while len(done) < len(cuts):
        _, i, lead = min(
            ((math.dist(at, lead.pierce), i, k) for i, cut in enumerate(cuts)
             if i not in done and waits[i] <= done for k, lead in enumerate(cut.choices)),
        )  # fmt: skip
        done.add(i)
        taken.append(cuts[i].choices[lead])
        at = taken[-1].end
    return taken


def fixed_leads(cuts: list[Cut], machine: Machine) -> list[LeadChoice]:
    """Return the first lead of each cut in the order of networkx's approximation, precedence left out.

    Christofides 1976, at most half longer than the best round between the fixed pierces.
    """
    points = np.array([machine.start, *(cut.choices[0].pierce for cut in cuts)])
    costs = travel_s(machine, points[:, None], points[None])
    graph = nx.complete_graph(len(points))
    for i, j in graph.edges:
        graph.edges[i, j]["weight"] = float(costs[i, j])
    tour = nx.approximation.christofides(graph)[:-1]
    begin = tour.index(0)
    return [cuts[i - 1].choices[0] for i in [*tour[begin + 1 :], *tour[:begin]]]


def run_plates(seed: int) -> bool:
    """Order the cuts of two made-up plates; return whether all limits are kept."""
    machine = Machine()
    library = Library.load()
    data = library.choose("plasma", "mild steel", 10.0)
    options = SequenceOptions(crossing_weight_s=0.0)
    for contours in (12, CONTOURS, MANY_CONTOURS):
        cuts, (length, width) = made_up_plate(contours, data.kerf, seed)
        outline = polygon([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])
        plate = Plate(id="made up", outline=outline, thickness=10.0, grade="S355", material="mild steel")
        start, worked = time.perf_counter(), time.process_time()
        order = sequence(cuts, machine, data, plate, options=options, seed=seed)
        taken, worked = time.perf_counter() - start, time.process_time() - worked
        if contours < CONTOURS:
            continue  # the first plate only has the kernels compiled
        own = round_s(machine, [step.lead for step in order.steps])
        gap = 100.0 * order.statistics["gap"]
        print(f"{contours} contours, {CHOICES} choices each: {taken:.1f} s, processor {worked:.1f} s")
        print(f"  travel {own:.1f} s without lifts; with lifts {gap:.1f} % above the lower bound")
        greedy = round_s(machine, greedy_leads(cuts, machine))
        print(f"  greedy nearest neighbour: {greedy:.1f} s, {100.0 * (greedy / own - 1.0):.1f} % more")
        kept = own < greedy
        if contours == CONTOURS:
            fixed = round_s(machine, fixed_leads(cuts, machine))
            print(f"  networkx, fixed pierces: {fixed:.1f} s, {100.0 * (fixed / own - 1.0):.1f} % more")
            kept_all = kept and own < fixed
    return kept_all and kept and worked < MANY_LIMIT_S


def main() -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--instances", type=Path, help="folder of *.sop and *.tsp")
    parser.add_argument("--seconds", type=float, default=10.0, help="search for each instance")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path, help="JSON file for the orders")
    parser.add_argument("--plates", action="store_true", help="order made-up plates")
    arguments = parser.parse_args()
    if arguments.instances is None and not arguments.plates:
        parser.error("give --instances DIR, or --plates")
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    if arguments.instances is not None:
        run_instances(arguments.instances, arguments.seconds, arguments.seed, arguments.out)
    if arguments.plates and not run_plates(arguments.seed):
        sys.exit("a limit was missed")


if __name__ == "__main__":
    main()
