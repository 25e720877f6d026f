"""How objects show themselves in a notebook."""

from __future__ import annotations

import html
from collections.abc import Iterable


def table_html(rows: Iterable[tuple[str, str]]) -> str:
    """A table of labels and texts; rows without a text are left out."""
    left = 'style="text-align:left"'
    cells = "".join(
        f"<tr><th {left}>{html.escape(label)}</th><td {left}>{html.escape(text)}</td></tr>"
        for label, text in rows
        if text
    )
    # Two dollar signs are no formula; Jupyter would set what stands between them as one.
    return f'<table class="tex2jax_ignore mathjax_ignore">{cells}</table>'
