"""How the manual is built: `python -m sphinx -W --keep-going -b html docs docs/_build`.

The reference is written anew from the code before each build, so it cannot drift.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

import reference_pages

from cutplan.base.version import __version__

reference_pages.write_all(Path(__file__).parent / "reference")

project = "cutplan"
author = "the cutplan contributors"
project_copyright = "the cutplan contributors"
release = version = __version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
templates_path = ["_templates"]
myst_enable_extensions = ["deflist"]
myst_heading_anchors = 3
# A type may bear the name of an attribute elsewhere: `Path`, and `LeadChoice.path`.
suppress_warnings = ["ref.python"]
html_theme = "furo"
html_title = f"cutplan {__version__}"
# Nothing is fetched from elsewhere: no fonts, no scripts, no badges.
html_theme_options = {"footer_icons": []}
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False
autodoc_typehints = "none"
autodoc_member_order = "bysource"
napoleon_google_docstring = False
napoleon_use_rtype = False
