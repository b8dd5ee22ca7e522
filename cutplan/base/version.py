"""The version of the package, said once."""

__all__ = ["__version__"]

__version__ = "0.1.0"
