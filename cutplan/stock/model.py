"""Plates and remnants on offer."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.geometry import Path, area, bounds

__all__ = ["MATERIALS", "PASSING_MM", "Keepout", "Material", "Plate"]

Material = str
MM3_PER_M3 = 1e9
MATERIALS: tuple[Material, ...] = ("mild steel", "stainless", "aluminium")


PASSING_MM = 5.0
"""Air that must stay between a clamp and the torch that passes over it, mm (common practice)."""


@dataclass(frozen=True)
class Keepout:
    """A place on a plate that no part may touch: a clamp, a weight, a defect.

    Attributes
    ----------
    outline : Path
        Closed contour, plate coordinates.
    height_mm : float or None
        How far it stands above the plate's face, 0 for what does not; None where that is not
        known: then the torch never passes over it.
    """

    outline: Path
    height_mm: float | None = None

    @property
    def stands(self) -> bool:
        """Whether it may be in the way of the torch at all."""
        return self.height_mm is None or self.height_mm > 0.0

    def bars(self, torch_height_mm: float) -> bool:
        """Whether a torch at a height over the plate cannot pass over it."""
        if self.height_mm is None:
            return True
        return self.height_mm > 0.0 and self.height_mm + PASSING_MM > torch_height_mm


@dataclass(frozen=True, repr=False)
class Plate:
    """A plate or remnant, `quantity` of the same.

    Attributes
    ----------
    id : str
        Unique in a job.
    outline : Path
        Counter-clockwise contour with its bounding box's lower left corner at the origin.
    thickness : float
        mm.
    grade : str
    material : str
        Material group, one of `MATERIALS`.
    quantity : int
        How many are on offer.
    heat : str or None
        Heat number.
    price_per_kg : float or None
    density_kg_m3 : float
    rolling_direction : {"x", "y"}
        Direction of rolling in plate coordinates.
    keepouts : tuple of Keepout
        Places no part may touch (defects, clamps).
    is_remnant : bool
    voids : tuple of Path
        Holes in the plate: no part may touch them either, and there is no metal in them.
    face : str or None
        What its good face is ("checker", "coated"); nothing is mirrored on such a plate.
    face_up : bool
        The good face lies up.
    """

    id: str
    outline: Path
    thickness: float
    grade: str
    material: Material
    quantity: int = 1
    heat: str | None = None
    price_per_kg: float | None = None
    density_kg_m3: float = 7850.0
    rolling_direction: str = "x"
    keepouts: tuple[Keepout, ...] = ()
    is_remnant: bool = False
    voids: tuple[Path, ...] = ()
    face: str | None = None
    face_up: bool = True

    @property
    def lying(self) -> str:
        """How parts may lie on it: "x" or "y" by its rolling, with "face" where none may be mirrored."""
        return f"{self.rolling_direction} face" if self.face else self.rolling_direction

    def __repr__(self) -> str:
        _, _, length, width = bounds(self.outline)
        return f"<Plate {self.id!r}: {length:g} × {width:g} × {self.thickness:g} mm {self.grade}>"

    @property
    def barred(self) -> tuple[Path, ...]:
        """All that no part and no torch may enter: keep-outs and voids."""
        return (*(keepout.outline for keepout in self.keepouts), *self.voids)

    @property
    def metal_mm2(self) -> float:
        """Area of the plate's face, voids taken out."""
        return abs(area(self.outline)) - sum(abs(area(void)) for void in self.voids)

    def mass_kg(self, area_mm2: float | None = None) -> float:
        """Return the mass of the plate, or of so much of its face, kg.

        Parameters
        ----------
        area_mm2 : float, optional

        Returns
        -------
        float
        """
        surface = self.metal_mm2 if area_mm2 is None else area_mm2
        return surface * self.thickness * self.density_kg_m3 / MM3_PER_M3
