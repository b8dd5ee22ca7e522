"""Which material group a grade belongs to, by the designations of public standards.

The table ships as ``grades.toml``; a job may add grades of its own.  What the group means
for cutting is left to `process`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from cutplan.base.errors import StockError
from cutplan.stock.model import MATERIALS, Material

__all__ = ["DENSITY_KG_M3", "Grade", "density_of", "grade_of", "material_of", "plain_designation"]

TABLE = Path(__file__).with_name("grades.toml")

DENSITY_KG_M3: Mapping[Material, float] = {"mild steel": 7850.0, "stainless": 7900.0, "aluminium": 2700.0}
"""Density of each group where no standard says more (EN 10088-1, EN 573; from memory)."""

# Words before the designation proper: standards bodies and standard numbers.
PREFIXES = re.compile(
    r"(DIN|BS|NF|UNI|ISO|EN(1\d{4}\d?|573\d?|485\d?)?|ASTM|ASME|AISI|SAE|JIS|GB/?T?|AW|GRADE|GR\.?|TYPE|AL(?=\d))"
)


@dataclass(frozen=True)
class Grade:
    """A grade of a standard.

    Attributes
    ----------
    name : str
        Designation in the table, without quality, condition or temper.
    standard : str
    material : str
        Material group, one of `MATERIALS`.
    density_kg_m3 : float
    cev_limits : tuple of (float, float)
        Highest carbon equivalent the standard allows, percent, up to a thickness in mm;
        empty where it is not in the table.
    """

    name: str
    standard: str
    material: Material
    density_kg_m3: float
    cev_limits: tuple[tuple[float, float], ...] = ()

    def highest_cev(self, thickness: float) -> float | None:
        """Return the highest carbon equivalent allowed at a thickness, percent, if known."""
        for up_to, cev in self.cev_limits:
            if thickness <= up_to:
                return cev
        return None


def material_of(grade: str, extra: Mapping[str, str] | None = None) -> Material:
    """Return the material group of a grade.

    Parameters
    ----------
    grade : str
        Designation as on the plate: "S355J2+N", "A572 Gr 50", "1.4404", "EN AW-5083-H111".
    extra : mapping, optional
        Material group by grade, before the table that ships.

    Returns
    -------
    Material

    Raises
    ------
    StockError
        If the grade is unknown, or `extra` names a group that does not exist.

    Examples
    --------
    >>> material_of("S355J2+N")
    'mild steel'
    """
    found = _extra_material(grade, extra or {})
    return found if found is not None else grade_of(grade).material


def density_of(grade: str, extra: Mapping[str, str] | None = None) -> float:
    """Return the density of a grade, kg/m³; that of its group where it comes from `extra`.

    Parameters
    ----------
    grade : str
        As on the plate, "S355".
    extra : mapping of str to str, optional
        Material group by grade, beyond the table that ships.

    Returns
    -------
    float
        kg/m³.
    """
    found = _extra_material(grade, extra or {})
    return DENSITY_KG_M3[found] if found is not None else grade_of(grade).density_kg_m3


def grade_of(grade: str) -> Grade:
    """Return what the shipped table knows of a grade.

    Parameters
    ----------
    grade : str
        As on the plate, "S355".

    Returns
    -------
    Grade

    Raises
    ------
    StockError
        If the grade is unknown; the message asks for its material group.
    """
    plain = plain_designation(grade)
    for known, pattern in _table():
        if pattern.fullmatch(plain):
            return known
    raise StockError(
        f"unknown grade {grade!r}",
        remedy=f"say its material: {', '.join(MATERIALS)} (a line under [grades] in the job file)",
    )


def _extra_material(grade: str, extra: Mapping[str, str]) -> Material | None:
    wanted = plain_designation(grade)
    for name, material in extra.items():
        if material not in MATERIALS:
            raise StockError(
                f"unknown material {material!r} for grade {name!r}", remedy=f"use {', '.join(MATERIALS)}"
            )
        if plain_designation(name) == wanted:
            return material
    return None


def plain_designation(grade: str) -> str:
    """Return a designation in capitals, without spaces, hyphens and standards' names."""
    text = re.sub(r"[\s_\-]", "", grade.upper().replace(",", "."))
    while match := PREFIXES.match(text):
        if match.end() == len(text):
            break
        text = text[match.end() :]
    return text


@lru_cache(maxsize=1)
def _table() -> tuple[tuple[Grade, re.Pattern[str]], ...]:
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    cev = content["cev"]
    return tuple(
        (
            Grade(
                name=name,
                standard=family["standard"],
                material=family["material"],
                density_kg_m3=float(family["density_kg_m3"]),
                cev_limits=tuple((float(up_to), float(limit)) for up_to, limit in cev.get(name, ())),
            ),
            re.compile(re.escape(name) + family["suffix"]),
        )
        for family in content["family"]
        for name in family["names"]
    )
