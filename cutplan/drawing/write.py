"""Writing paths to DXF exactly: lines and arcs as polylines with bulges, texts as TEXT."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import OutputError
from cutplan.drawing.model import BendLine, MarkText, Part
from cutplan.geometry import Path, polyline

__all__ = ["part_layers", "write_dxf"]

# Value of the header variable $INSUNITS for millimetres (DXF reference).
MILLIMETRE = 4
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")

Item = Path | MarkText


def part_layers(parts: Iterable[Part]) -> dict[str, list[Item]]:
    """Return what parts hold by layer, by names that the reader takes for the same roles.

    Parameters
    ----------
    parts : iterable of Part

    Returns
    -------
    dict of str to list of Item
    """
    layers: dict[str, list[Item]] = {"OUTLINE": [], "HOLES": [], "MARK": [], "BEND": []}
    for part in parts:
        layers["OUTLINE"].append(part.outer)
        layers["HOLES"] += part.holes
        layers["MARK"] += [*part.marks, *part.texts]
        for bend in part.bends:
            layers["BEND"] += [polyline([bend.start, bend.end]), _bend_note(bend)]
    return {name: items for name, items in layers.items() if items}


def _bend_note(bend: BendLine) -> MarkText:
    """Return the note that stands at a bend line, as the reader understands it."""
    words = [bend.direction.upper() if bend.direction else "", f"{bend.angle_deg:g}°"]
    if bend.radius_mm is not None:
        words.append(f"R{bend.radius_mm:g}")
    return MarkText(" ".join(word for word in words if word), bend.start, 5.0)


def write_dxf(
    file: str | os.PathLike[str], layers: Mapping[str, Iterable[Item]], *, version: str = "R2010"
) -> None:
    """Write paths and texts on named layers, in millimetres.

    Parameters
    ----------
    file : path
    layers : mapping of layer name to paths and texts
        `part_layers` makes one from parts.
    version : {"R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"}

    Raises
    ------
    OutputError
        If the version is unknown or the file cannot be written.

    Notes
    -----
    The same input gives the same bytes.  R12 knows no header variable for units, so a reader
    has to be told.
    """
    import ezdxf

    if version not in VERSIONS:
        raise OutputError(f"no DXF version {version!r}", remedy=f"choose one of {', '.join(VERSIONS)}")
    # Without this the library writes the time and fresh identifiers into every file.
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new(version, units=MILLIMETRE)
        space = document.modelspace()
        for name, items in layers.items():
            if name not in document.layers:
                document.layers.add(name)
            for item in items:
                _add(space, item, {"layer": name}, flat_polylines=version == "R12")
        # The library gathers the classes in use from a set, in a different order each time.
        for kind in sorted({entity.dxftype() for entity in document.entitydb.values()}):
            document.classes.add_class(kind)
        document.saveas(FilePath(file))
    except OSError as error:
        raise OutputError(
            f"the drawing cannot be written ({error.strerror or error})",
            where=str(file),
            remedy="check the folder and its permissions",
        ) from error
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _add(space: Any, item: Item, attributes: dict[str, str], *, flat_polylines: bool) -> None:
    if isinstance(item, MarkText):
        attributes |= {"height": item.height, "rotation": item.rotation_deg, "insert": item.place}  # type: ignore[dict-item]
        space.add_text(item.text, dxfattribs=attributes)
        return
    add = space.add_polyline2d if flat_polylines else space.add_lwpolyline
    add(item.vertices.tolist(), format="xyb", close=item.closed, dxfattribs=attributes)
