"""Nests open instances of irregular strip packing, or a shop's batch, and checks what comes out.

``python benchmarks/nesting.py --instances DIR --seconds S --seed N --out FILE.json`` packs
every ``*.json`` of the folder for S seconds, checks each layout with shapely and prints the
table against the densities that the literature reports as best.
``python benchmarks/nesting.py --shop`` nests a batch of 500 demo parts and shows how time grows.
``python benchmarks/nesting.py --kinds 50 200 1000`` nests different parts, two copies of each.

An instance holds ``name``, ``strip_width``, ``items`` (``id``, ``quantity``, ``rotations_deg``
or null for free rotation, ``outline``) and ``best_published_density_percent``.
"""

from __future__ import annotations

import argparse
import itertools
import json
import resource
import time
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon, affinity

from cutplan.base.stopping import MaxIterations, MaxSeconds
from cutplan.drawing import Part, ReadOptions, read_drawing
from cutplan.geometry import Path as Contour
from cutplan.geometry import area, circle, polygon, reverse
from cutplan.nesting import Demand, NestGaps, nest
from cutplan.nesting.outline_strip import StripItem, pack_outlines
from cutplan.stock import Plate

# Overlap or protrusion taken as float noise, as a share of the item's area.
NOISE = 1e-6
SHOP_PARTS = (
    "axle-clamp", "coupler-plate", "cross-member-web", "drawbar-eye", "guard-bracket", "gusset",
    "landing-leg-foot", "lashing-plate", "ring-flange", "spring-hanger", "tie-plate", "wear-strip",
)  # fmt: skip
# Gaps of a plasma cut in 10 mm plate, mm.
SHOP_RULES = NestGaps(gap=10.0, edge=10.0)


def pack(instance: dict[str, Any], seconds: float, seed: int, workers: int) -> dict[str, Any]:
    """Pack one instance; the answer has the form that the results file wants."""
    items = [
        StripItem(Polygon(item["outline"]), item["quantity"], item["rotations_deg"])
        for item in instance["items"]
    ]
    began = time.perf_counter()
    answer = pack_outlines(
        items, instance["strip_width"], seed=seed, stop=MaxSeconds(seconds), workers=workers
    )
    placements = [
        {
            "item": instance["items"][place.item]["id"],
            "copy": place.copy,
            "x": place.x,
            "y": place.y,
            "rotation_deg": place.rotation_deg,
        }
        for place in answer.places
    ]
    area = sum(item.outline.area * item.quantity for item in items)
    return {
        "name": instance["name"],
        "strip_width": instance["strip_width"],
        "length": answer.length,
        "density_percent": 100.0 * area / (instance["strip_width"] * answer.length),
        "seconds": time.perf_counter() - began,
        "statistics": answer.statistics,
        "placements": placements,
    }


def check(instance: dict[str, Any], answer: dict[str, Any]) -> list[str]:
    """Return what is wrong with a layout, by shapely alone; an empty list where it is right."""
    wrong: list[str] = []
    outlines = {item["id"]: item for item in instance["items"]}
    shapes = []
    for place in answer["placements"]:
        item = outlines[place["item"]]
        allowed = item["rotations_deg"]
        if allowed is not None and place["rotation_deg"] not in allowed:
            wrong.append(f"{place['item']} is turned by {place['rotation_deg']}")
        turned = affinity.rotate(Polygon(item["outline"]), place["rotation_deg"], origin=(0.0, 0.0))
        shapes.append(affinity.translate(turned, place["x"], place["y"]))
    strip = shapely.box(0.0, 0.0, answer["length"], answer["strip_width"])
    for shape, place in zip(shapes, answer["placements"], strict=True):
        if shape.difference(strip).area > NOISE * shape.area:
            wrong.append(f"{place['item']} copy {place['copy']} leaves the strip")
    for (a, first), (b, second) in itertools.combinations(zip(shapes, answer["placements"], strict=True), 2):
        if a.intersection(b).area > NOISE * min(a.area, b.area):
            wrong.append(f"{first['item']} copy {first['copy']} overlaps {second['item']} {second['copy']}")
    for name, item in outlines.items():
        copies = sorted(p["copy"] for p in answer["placements"] if p["item"] == name)
        if copies != list(range(1, item["quantity"] + 1)):
            wrong.append(f"{name} has copies {copies}")
    return wrong


def run_instances(args: argparse.Namespace) -> int:
    results = []
    differences = []
    print(
        f"{'instance':12}{'density %':>10}{'published':>10}{'difference':>11}{'seconds':>9}  check",
        flush=True,
    )
    for file in sorted(args.instances.glob("*.json")):
        instance = json.loads(file.read_text())
        if args.only and instance["name"] not in args.only.split(","):
            continue
        answer = pack(instance, args.seconds, args.seed, args.workers)
        wrong = check(instance, answer)
        results.append(answer)
        published = instance.get("best_published_density_percent", float("nan"))
        differences.append(answer["density_percent"] - published)
        print(
            f"{instance['name']:12}{answer['density_percent']:10.2f}{published:10.2f}"
            f"{differences[-1]:+11.2f}{answer['seconds']:9.1f}  {'; '.join(wrong) or 'right'}",
            flush=True,
        )
        if wrong:
            return 1
    print(f"mean difference {np.mean(differences):+.2f}, worst {np.min(differences):+.2f}")
    if args.out:
        args.out.write_text(json.dumps({"instances": results}, indent=1))
    return 0


def demo_demands(folder: Path, copies: int) -> list[Demand]:
    """A dozen of the demo parts, as many copies in all, shared out evenly."""
    files = [f"{name}.dxf" for name in SHOP_PARTS]
    parts = [read_drawing(folder / file, ReadOptions(units="mm")).parts[0] for file in files]
    shares = [copies // len(parts) + (k < copies % len(parts)) for k in range(len(parts))]
    return [Demand(part, n, 10.0, "S355") for part, n in zip(parts, shares, strict=True) if n]


def made_up_parts(count: int, seed: int) -> list[Part]:
    """Parts of fabrications, each different: gussets, angles, flanges, webs with slots, discs, channels."""
    chance = np.random.default_rng(seed)
    parts = []
    for n in range(count):
        long, wide = chance.uniform(150.0, 700.0), chance.uniform(80.0, 300.0)
        cut = chance.uniform(0.1, 0.4) * wide
        shape = n % 6
        holes: list[Contour] = []
        if shape == 0:
            outer = polygon([(0, 0), (long, 0), (long, cut), (cut, wide), (0, wide)])
        elif shape == 1:
            outer = polygon([(0, 0), (long, 0), (long, cut), (cut, cut), (cut, wide), (0, wide)])
        elif shape == 2:
            outer = circle((0, 0), 0.5 * wide)
            holes = [reverse(circle((0, 0), 0.3 * wide))]
        elif shape == 3:
            outer = polygon([(cut, 0), (long - cut, 0), (long, cut), (long, wide), (0, wide), (0, cut)])
            holes = [
                reverse(circle((0.3 * long, 0.5 * wide), 12.0)),
                reverse(circle((0.7 * long, 0.5 * wide), 12.0)),
            ]
        elif shape == 4:
            outer = circle((0, 0), 0.4 * wide)
        else:
            inner = long - 2 * cut
            outer = polygon([
                (0, 0), (long, 0), (long, wide), (long - cut, wide), (long - cut, cut), (long - cut - inner, cut),
                (cut, wide), (0, wide),
            ])  # fmt: skip
        parts.append(Part(f"part-{n + 1}", outer, tuple(holes)))
    return parts


def run_kinds(args: argparse.Namespace) -> int:
    """Nest batches of different parts, two copies each: first answer, last answer, memory."""
    outline = polygon([(0.0, 0.0), (3000.0, 0.0), (3000.0, 1500.0), (0.0, 1500.0)])
    plate = Plate("PL10", outline, 10.0, "S355", "mild steel", quantity=1000)
    warm = [Demand(part, 2, 10.0, "S355") for part in made_up_parts(12, 99)]
    nest(warm, [plate], SHOP_RULES, seed=args.seed, workers=args.workers)
    print(
        f"{'kinds':>7}{'first s':>9}{'plates':>8}{'last s':>8}{'cpu s':>8}{'plates':>8}{'bound':>7}{'MB':>7}"
    )
    for count in args.kinds:
        demands = [Demand(part, 2, 10.0, "S355") for part in made_up_parts(count, args.seed)]
        began = time.perf_counter()
        first = nest(demands, [plate], SHOP_RULES, seed=args.seed, stop=MaxIterations(0))
        middle, worked = time.perf_counter(), time.process_time()
        last = nest(demands, [plate], SHOP_RULES, seed=args.seed, workers=args.workers)
        end, worked = time.perf_counter(), time.process_time() - worked
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:7}{middle - began:9.1f}{len(first.plates):8}{end - middle:8.1f}{worked:8.1f}"
            f"{len(last.plates):8}{last.least_plates:7}{memory:7.0f}",
            flush=True,
        )
        if first.unplaced or last.unplaced:
            return 1
    return 0


def run_shop(args: argparse.Namespace) -> int:
    """Nest batches of demo parts on 3000 × 1500 plates: first answer, last answer, memory."""
    outline = polygon([(0.0, 0.0), (3000.0, 0.0), (3000.0, 1500.0), (0.0, 1500.0)])
    plate = Plate("PL10", outline, 10.0, "S355", "mild steel", quantity=1000)
    folder = Path(__file__).parents[1] / "parts"
    nest(demo_demands(folder, 12), [plate], SHOP_RULES, seed=args.seed, workers=args.workers)
    print(
        f"{'copies':>7}{'first s':>9}{'plates':>8}{'last s':>8}{'plates':>8}{'bound':>7}{'used %':>8}{'MB':>7}"
    )
    for copies in args.copies:
        demands = demo_demands(folder, copies)
        began = time.perf_counter()
        first = nest(demands, [plate], SHOP_RULES, seed=args.seed, stop=MaxIterations(0))
        middle = time.perf_counter()
        last = nest(demands, [plate], SHOP_RULES, seed=args.seed, workers=args.workers)
        end = time.perf_counter()
        metal = sum(abs(area(d.part.outer)) * d.quantity for d in demands)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{copies:7}{middle - began:9.1f}{len(first.plates):8}{end - middle:8.1f}{len(last.plates):8}"
            f"{last.least_plates:7}{100.0 * metal / (4.5e6 * len(last.plates)):8.1f}{memory:7.0f}",
            flush=True,
        )
        if first.unplaced or last.unplaced:
            return 1
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--instances", type=Path, help="folder of instances")
    parser.add_argument("--shop", action="store_true", help="nest batches of demo parts instead")
    parser.add_argument("--copies", type=int, nargs="+", default=[500], help="sizes of the batches")
    parser.add_argument("--only", help="names of instances, with commas between")
    parser.add_argument("--seconds", type=float, default=60.0, help="a limit for each instance")
    parser.add_argument("--kinds", type=int, nargs="+", help="batches of so many different parts")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, help="results file")
    args = parser.parse_args()
    if args.kinds:
        return run_kinds(args)
    if args.shop:
        return run_shop(args)
    if args.instances is None:
        parser.error("--instances or --shop is needed")
    return run_instances(args)


if __name__ == "__main__":
    raise SystemExit(main())
