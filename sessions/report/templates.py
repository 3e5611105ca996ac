"""Templates of a package as pages: what they are filled with is escaped, and nothing may be missing. The only user of
jinja2.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment as Environment


def environment(package: str, folder: str) -> Environment:
    """The templates in a package's folder."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
