"""The verdict on a program."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Fault", "Verdict"]


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a program.

    Attributes
    ----------
    code : str
        Short stable name ("pierce-on-part", "lit-rapid", "part-not-free", …).
    message : str
    line : int or None
        Line of the program.
    place : tuple of float or None
        mm, plate coordinates.
    part : str or None
    copy : int or None
    """

    code: str
    message: str
    line: int | None = None
    place: tuple[float, float] | None = None
    part: str | None = None
    copy: int | None = None


@dataclass(frozen=True)
class Verdict:
    """What the program really does, held against the drawings.

    Attributes
    ----------
    passed : bool
    faults : tuple of Fault
    worst_bite_mm : float
        Deepest cut into a finished part.
    worst_left_mm : float
        Thickest metal left on a finished part, the fillets of the round jet set aside.
    worst_bite_at, worst_left_at : tuple of float or None
    parts_freed : int
    pierces : int
    cut_length_mm : float
    """

    passed: bool
    faults: tuple[Fault, ...]
    worst_bite_mm: float
    worst_left_mm: float
    worst_bite_at: tuple[float, float] | None = None
    worst_left_at: tuple[float, float] | None = None
    parts_freed: int = 0
    pierces: int = 0
    cut_length_mm: float = 0.0
