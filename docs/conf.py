"""How Sphinx builds these pages: offline, from the package's own docstrings and commands.

sphinx-build -W --keep-going -n -b html docs docs/_build/html
"""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, Any

from docutils import nodes
from latex2mathml.converter import convert
from numpy.typing import ArrayLike
from sphinx.util.typing import stringify_annotation

import panelshift
from panelshift.outline.bezier import FloatArray, IntArray

if TYPE_CHECKING:
    from sphinx.application import Sphinx

project = "panelshift"
author = "the panelshift authors"
version = release = panelshift.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "numpydoc", "sphinx_click"]
exclude_patterns = ["_build"]
highlight_language = "text"
default_role = "code"
nitpicky = True

myst_heading_anchors = 3
myst_enable_extensions = ["dollarmath"]
html_math_renderer = "mathml"

# -- docstrings ---------------------------------------------------------------------------

autodoc_member_order = "bysource"
autodoc_default_options = {"members": True}
python_use_unqualified_type_names = True
python_maximum_signature_line_length = 72
add_module_names = False

numpydoc_show_class_members = False
numpydoc_class_members_toctree = False

# Types that have no entry here: other people's, as offline theirs is not at hand, and our names
# for arrays.
nitpick_ignore_regex = [
    (r"py:.*", r"(numpy|np|npt|collections|os|pathlib|concurrent|typing)\..*"),
    (
        r"py:.*",
        r"panelshift\.(job\.model\.JobFile|job\.resolved\.Job|construction\.leeway\.Leeway)",
    ),
]

# -- pages --------------------------------------------------------------------------------

html_theme = "furo"
html_title = "panelshift"
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False
html_show_copyright = False


_ARRAYS = {
    stringify_annotation(ArrayLike, "smart"): "~numpy.typing.ArrayLike",
    stringify_annotation(FloatArray, "smart"): "~numpy.ndarray",
    stringify_annotation(IntArray, "smart"): "~numpy.ndarray",
}
"""What numpy's types of arrays are written out as, and what reads better."""


class _Open:
    """Stands for a default that is made afresh for each object."""

    def __repr__(self) -> str:
        return "..."


def _short_signature(
    app: Sphinx,
    what: str,
    name: str,
    obj: object,
    options: object,
    signature: str | None,
    returns: str | None,
) -> tuple[str, str | None] | None:
    """Make a signature short enough to read.

    A class's parameters are given without types: these stand in words below it, with shapes and
    units.
    """
    if signature is None:
        return None
    if isinstance(obj, type):
        return _of_class(obj), None
    for long, short in _ARRAYS.items():
        signature = signature.replace(long, short)
        returns = returns and returns.replace(long, short)
    return signature, returns


def _of_class(obj: type) -> str:
    if getattr(obj, "_is_protocol", False) or issubclass(obj, OSError | ValueError):
        return ""
    parameters = []
    for parameter in inspect.signature(obj).parameters.values():
        afresh = "factory" in repr(parameter.default)
        default = _Open() if afresh else parameter.default
        parameters.append(parameter.replace(annotation=parameter.empty, default=default))
    return str(inspect.Signature(parameters))


def _formula(page: Any, node: Any, display: str) -> None:
    """Write a formula as MathML, which browsers set by themselves: nothing is loaded for it."""
    written = convert(node.astext(), display=display)
    page.body.append(f'<div class="math">{written}</div>' if display == "block" else written)
    raise nodes.SkipNode


def setup(app: Sphinx) -> None:
    """Connect what this file adds."""
    app.add_html_math_renderer(
        "mathml",
        (lambda page, node: _formula(page, node, "inline"), None),
        (lambda page, node: _formula(page, node, "block"), None),
    )
    app.connect("autodoc-process-signature", _short_signature)
