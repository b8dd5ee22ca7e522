"""What plasma and oxy-fuel do to plate: cutting data by process, material and thickness."""

from cutplan.process.carbon import (
    PreheatAdvice,
    carbon_equivalent,
    preheat_advice,
    preheat_advice_for_grade,
)
from cutplan.process.cautions import water_cautions
from cutplan.process.data_library import AUTO_PLASMA_LIMIT_MM, Library, load_cutting_data
from cutplan.process.gases import IRON_OXYGEN_M3_KG, gas_density_kg_m3
from cutplan.process.iso9013 import (
    Quality,
    expected_quality,
    limit_deviation_mm,
    perpendicularity_mm,
    quality_shortfalls,
    roughness_um,
)
from cutplan.process.learning import Learned, Readings, learn, read_readings, with_learned
from cutplan.process.model import (
    PROCESS_WORDS,
    SHARP_CORNER_DEG,
    CutData,
    GasFlow,
    GasName,
    Process,
    Rules,
)
from cutplan.process.physics import (
    RowFinding,
    check_cutting_data,
    implied_efficiency,
    kerf_metal_kg_h,
    oxygen_per_kg,
)
from cutplan.process.rules import default_rules
from cutplan.process.table import CuttingTable

__all__ = [
    "AUTO_PLASMA_LIMIT_MM",
    "IRON_OXYGEN_M3_KG",
    "PROCESS_WORDS",
    "SHARP_CORNER_DEG",
    "CutData",
    "CuttingTable",
    "GasFlow",
    "GasName",
    "Learned",
    "Library",
    "PreheatAdvice",
    "Process",
    "Quality",
    "Readings",
    "RowFinding",
    "Rules",
    "carbon_equivalent",
    "check_cutting_data",
    "default_rules",
    "expected_quality",
    "gas_density_kg_m3",
    "implied_efficiency",
    "kerf_metal_kg_h",
    "learn",
    "limit_deviation_mm",
    "load_cutting_data",
    "oxygen_per_kg",
    "perpendicularity_mm",
    "preheat_advice",
    "preheat_advice_for_grade",
    "quality_shortfalls",
    "read_readings",
    "roughness_um",
    "water_cautions",
    "with_learned",
]
