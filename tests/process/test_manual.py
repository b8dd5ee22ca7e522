"""Every key that the manual's page on cutting data should explain stands in it."""

from dataclasses import fields
from pathlib import Path

import pytest

from cutplan.estimating import EstimateOptions
from cutplan.process.datafile import (
    COMMON_COLUMNS,
    OXYFUEL_COLUMNS,
    OXYFUEL_OPTIONAL,
    PLASMA_COLUMNS,
    PLASMA_OPTIONAL,
    QUALITY_COLUMNS,
    DataFile,
)
from cutplan.process.rules import RULE_NAMES

PAGE = (Path(__file__).parents[2] / "docs/cutting-data.md").read_text(encoding="utf-8")
COLUMNS = (
    *COMMON_COLUMNS,
    *PLASMA_COLUMNS,
    *PLASMA_OPTIONAL,
    *OXYFUEL_COLUMNS,
    *OXYFUEL_OPTIONAL,
    *QUALITY_COLUMNS,
)
HEADER = [field.alias or name for name, field in DataFile.model_fields.items()]
ESTIMATE = [field.name for field in fields(EstimateOptions)]


@pytest.mark.parametrize("key", sorted({*COLUMNS, *HEADER, *RULE_NAMES, *ESTIMATE}))
def test_the_manual_explains_every_key(key: str) -> None:
    assert f"`{key}`" in PAGE
