"""cutplan: from part drawings to proved cutting programs for plasma and oxy-fuel."""

from cutplan.base.version import __version__

__all__ = ["__version__"]
