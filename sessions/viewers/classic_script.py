"""Our plain modules as one classic script: what a page opened from a disk may run, where modules are refused. Pure.

Each module becomes a function of its own, so that names never meet. It knows the forms of import and export that our
modules use, and refuses all others, rather than make a script that fails in somebody's browser.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

_IMPORT = re.compile(r"^import \{([^}]*)\} from \"\./([a-z_]+)\.js\";\n", re.MULTILINE)
_LIST = re.compile(r"^export \{([^}]*)\};\n", re.MULTILINE)
_DECLARED = re.compile(r"^export ((?:async )?function|class|const) ([A-Za-z_$][\w$]*)", re.MULTILINE)
_LEFT = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


def bundled(modules: Mapping[str, str], first: str) -> str:
    """One script that does what the module called `first` does.

    Parameters
    ----------
    modules
        Their text, by their names without ``.js``.

    Raises
    ------
    ValueError
        If a module is missing, two need each other, or one uses a form that is not known here.
    """
    done: dict[str, str] = {}
    _take(modules, first, done, ())
    return '"use strict";\nconst modules = {};\n' + "".join(done.values())


def _take(modules: Mapping[str, str], name: str, done: dict[str, str], above: tuple[str, ...]) -> None:
    if name in done:
        return
    if name in above or name not in modules:
        raise ValueError(f"the module {name} is {'needed by itself' if name in above else 'missing'}")
    text = modules[name]
    for one in _IMPORT.finditer(text):
        _take(modules, one[2], done, (*above, name))
    exported = [found[2] for found in _DECLARED.finditer(text)]
    exported += [part for found in _LIST.finditer(text) for part in _names(found[1])]
    inner = _IMPORT.sub(lambda one: f"const {{ {', '.join(_names(one[1]))} }} = modules.{one[2]};\n", text)
    inner = _DECLARED.sub(lambda one: f"{one[1]} {one[2]}", _LIST.sub("", inner))
    left = _LEFT.search(inner)
    if left:
        raise ValueError(f"the module {name} has a line that is not known here: {left[0]}")
    done[name] = f"modules.{name} = (() => {{\n{inner}return {{ {', '.join(exported)} }};\n}})();\n"


def _names(text: str) -> list[str]:
    names = [part.strip() for part in text.split(",") if part.strip()]
    for name in names:
        if " " in name:
            raise ValueError(f"a name is taken over as another one, which is not known here: {name}")
    return names
