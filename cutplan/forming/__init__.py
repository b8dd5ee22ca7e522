"""Blanks that bend: force, die, radius, shortest flange, warnings."""
