"""cutplan: from part drawings to proved cutting programs for plasma and oxy-fuel."""

__version__ = "0.1.0"
