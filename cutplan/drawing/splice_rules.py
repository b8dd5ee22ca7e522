"""What a shop allows of splices: where a part longer than every plate may be parted and welded again."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from cutplan.base.files import FileModel

__all__ = ["PartSplices", "Splices"]

Millimetres = Annotated[float, Field(ge=0, le=50_000)]
Zone = tuple[Millimetres, Millimetres]


class Splices(FileModel):
    """Where and how parts longer than every plate are split.

    The distances are those of common practice (from memory) where the design says nothing else:
    welds apart from each other, from holes and from corners of the outline, where stress gathers.

    Attributes
    ----------
    zones : list of [from, to]
        Where splices may lie, mm from the part's start; anywhere where none is named.
    least_piece : float
        No piece is shorter, mm.
    clearance : float
        From a splice to holes, cut-outs and corners of the outline, along the part, mm.
    bend_clearance : float
        From a splice to bend lines across the part, mm.
    stagger : float
        From the splices of a beam's web to those of its flanges, mm.
    gap : float
        Left between the pieces for the weld, mm.
    preparation : str
        Of the edges to weld, in the words of the joint list.
    fit_up_mm : float
        From a splice to the lines that are marked on both pieces to measure over, mm; 0 for none.
    most : int
        Splices of one part at most.
    """

    zones: tuple[Zone, ...] = ()
    least_piece: Annotated[float, Field(gt=0, le=50_000)] = 1000.0
    clearance: Millimetres = 100.0
    bend_clearance: Millimetres = 150.0
    stagger: Millimetres = 300.0
    gap: Annotated[float, Field(ge=0, le=20)] = 2.0
    preparation: Annotated[str, Field(max_length=120)] = ""
    fit_up_mm: Millimetres = 100.0
    most: Annotated[int, Field(ge=1, le=20)] = 6

    @field_validator("zones")
    @classmethod
    def _zones_run_forwards(cls, zones: Any) -> Any:
        for start, end in zones:
            if end < start:
                raise ValueError(f"zone [{start:g}, {end:g}] must be [from, to] with from up to to")
        return zones

    @model_validator(mode="after")
    def _marks_lie_on_the_pieces(self) -> Splices:
        if self.fit_up_mm >= self.least_piece:
            raise ValueError("fit_up_mm must be less than least_piece: the lines lie on the pieces")
        return self


class PartSplices(Splices):
    """How one part is split: the keys of [splices], and its place in a beam.

    Attributes
    ----------
    beam : str or None
        The beam that it belongs to: splices of web and flanges of one beam keep `stagger`.
    member : {"web", "flange"}
        What of the beam it is.
    offset : float
        From the beam's start to the part's, mm.
    at : list of float
        Places of its splices, mm from the part's start, instead of those that a search finds; the
        rules hold all the same.
    """

    beam: Annotated[str, Field(min_length=1, max_length=60)] | None = None
    member: Literal["web", "flange"] = "web"
    offset: Annotated[float, Field(ge=-50_000, le=50_000)] = 0.0
    at: Annotated[tuple[Annotated[float, Field(gt=0, le=50_000)], ...], Field(max_length=20)] = ()

    @field_validator("at")
    @classmethod
    def _places_are_in_order(cls, at: tuple[float, ...]) -> tuple[float, ...]:
        if list(at) != sorted(set(at)):
            raise ValueError(f"places {list(at)} must be in order, and each named once")
        return at

    def over(self, usual: Splices) -> PartSplices:
        """Return these with the job's own for every key that is not given.

        Parameters
        ----------
        usual : Splices

        Returns
        -------
        PartSplices

        Raises
        ------
        ValidationError
            If the keys do not go together.
        """
        given = usual.model_dump(exclude_unset=True) | self.model_dump(exclude_unset=True)
        return PartSplices.model_validate(given)
