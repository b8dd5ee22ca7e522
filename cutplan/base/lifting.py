"""What one person, two persons and the crane may lift, and what that says of a mass.

The limits that hold where a shop says nothing are those of common practice for lifting by hand
now and then, close to the body (ISO 11228-1 has a reference mass of 25 kg for the general working
population, from memory); local rules, age, distance and how often come first, and lower them.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator
from pydantic.dataclasses import dataclass

from cutplan.base.files import FILE_RULES

__all__ = ["LIFTING_CAUTION", "Lifting"]

LIFTING_CAUTION = (
    "Lifting limits are common practice for lifting now and then, close to the body; local rules come first. "
    "Cut edges are sharp and parts are hot: gloves, and wait until they have cooled."
)

Mass = Annotated[float, Field(gt=0, le=1e6)]


@dataclass(frozen=True, config=FILE_RULES)
class Lifting:
    """Masses that may be lifted, kg: the [lifting] section of a shop file.

    Attributes
    ----------
    one_person_kg : float
        By one person; common practice.
    two_persons_kg : float
        By two persons together; common practice.
    crane_kg : float
        By the shop's crane or magnets.
    pallet_kg : float
        Mass on one pallet.
    """

    one_person_kg: Mass = 25.0
    two_persons_kg: Mass = 40.0
    crane_kg: Mass = 5000.0
    pallet_kg: Mass = 1000.0

    @model_validator(mode="after")
    def _rises(self) -> Lifting:
        if not self.one_person_kg <= self.two_persons_kg <= self.crane_kg:
            raise ValueError("one_person_kg, two_persons_kg and crane_kg must not fall from one to the next")
        return self

    def how(self, mass_kg: float) -> str:
        """Return how a mass is lifted: "" by one person, "two persons", "crane" or "beyond the crane".

        Parameters
        ----------
        mass_kg : float

        Returns
        -------
        str
        """
        if mass_kg <= self.one_person_kg:
            return ""
        if mass_kg <= self.two_persons_kg:
            return "two persons"
        return "crane" if mass_kg <= self.crane_kg else "beyond the crane"
