"""The stand-alone program of the sealing rule, for whoever checks a plan without earwitness, and the rule itself."""

from __future__ import annotations

import re
from importlib.resources import files as package_files

from ..errors import CasebookError

PROGRAM = "check.py"


def rule() -> str:
    """The sealing rule, with its program."""
    return (package_files("sessions.plans") / "sealing.md").read_text(encoding="utf-8")


def program() -> str:
    """The program of the rule.

    Raises
    ------
    CasebookError
        If the rule that was installed holds none.
    """
    found = re.search(r"```python\n(.*?)```", rule(), flags=re.DOTALL)
    if found is None:
        raise CasebookError("the sealing rule that is installed here holds no program; install earwitness anew")
    return found[1]
