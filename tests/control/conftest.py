"""Puts the table of the standard's rules and the random programs where the tests can import them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
