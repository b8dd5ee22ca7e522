"""Spoiled lists end in entries or in one clean error that names the file."""

import warnings
from pathlib import Path

import pytest
from spoiled_lists import spoiled_list

from cutplan.base.errors import CutplanError
from cutplan.planning.parts_list import read_part_list
from cutplan.stock import read_stock_list


@pytest.mark.parametrize("first", range(0, 400, 100))
def test_a_spoiled_list_is_read_or_refused_by_name(tmp_path: Path, first: int) -> None:
    for seed in range(first, first + 100):
        name, content = spoiled_list(seed)
        file = tmp_path / name
        file.write_bytes(content)
        for read in (read_part_list, read_stock_list):
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    read(file)
            except CutplanError as problem:
                assert name in str(problem), seed
                assert str(problem).replace("\n", "").isprintable(), seed
