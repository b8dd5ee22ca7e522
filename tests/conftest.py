"""Puts the replay of programs where all tests can import it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
