"""The usual cautions of a process, a material and its gases, for setup sheet and program head.

Common practice; local codes, the shop's own rules and the makers' manuals go before them.
"""

from __future__ import annotations

from collections.abc import Iterable

from cutplan.process.model import CutData, Process

__all__ = ["cautions_of", "water_cautions"]

OXYFUEL = "oxygen and fuel gas: check hoses, flashback arrestors and leaks, keep oil away from oxygen"
ACETYLENE = "acetylene: never above 1.03 bar gauge, and never drawn faster than its cylinders give"
OXYGEN_PLASMA = "oxygen plasma: keep oil and grease away from the gas lines"
ALUMINIUM = (
    "aluminium over or under water gives off hydrogen: keep the table vented and stirred, "
    "and let no pocket of gas form under the plate"
)
STAINLESS = (
    "stainless steel: the fume holds chromium(VI) and nickel, the arc makes ozone: extract at the "
    "table, and wear a respirator where the extraction does not do"
)
INERT = "nitrogen and argon displace air unnoticed: watch the oxygen in pits and low rooms"
HYDROGEN = (
    "hydrogen in the plasma gas burns and rises: leak test, vent under the roof, none on a water table "
    "that is not vented under the plate"
)
UNDER_WATER_STEEL = "cut under water where you can: it holds fume, glare and noise"
LOWER_WATER = (
    "lower the water below the plate's underside before lighting the flame: oxy-fuel is never cut under water"
)
WATER_LEVEL = "check the water level against this sheet before the first cut: the feed was set for it"


def cautions_of(process: Process, material: str, gases: Iterable[str]) -> tuple[str, ...]:
    """Return what the operator should know of a process, a material and its gases.

    Parameters
    ----------
    process : {"plasma", "oxyfuel"}
    material : str
        Material group.
    gases : iterable of str
        All gases that flow.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    used = set(gases)
    inert = any(gas.startswith(("nitrogen", "argon")) for gas in used)
    told = (
        (OXYFUEL, process == "oxyfuel"),
        (ACETYLENE, "acetylene" in used),
        (OXYGEN_PLASMA, process == "plasma" and "oxygen" in used),
        (ALUMINIUM, material == "aluminium"),
        (STAINLESS, material == "stainless"),
        (INERT, inert),
        (HYDROGEN, any(gas.endswith("-hydrogen") for gas in used)),
    )
    return tuple(words for words, applies in told if applies)


def water_cautions(data: CutData, *, water_table: bool) -> tuple[str, ...]:
    """Return what the operator should know of the water, on a table that has it.

    Parameters
    ----------
    data : CutData
    water_table : bool

    Returns
    -------
    tuple of str
    """
    if not water_table:
        return ()
    if data.process == "oxyfuel":
        return (LOWER_WATER,)
    return (WATER_LEVEL, UNDER_WATER_STEEL) if data.material == "mild steel" else (WATER_LEVEL,)
