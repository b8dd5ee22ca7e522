"""The command line: commands and their display."""

from cutplan.cli.commands import app

__all__ = ["app"]
