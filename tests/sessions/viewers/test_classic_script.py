"""Modules become one classic script that does the same, and what would not is refused while it is made."""

from __future__ import annotations

import pytest

from sessions.viewers.classic_script import bundled


def test_each_module_stands_once_behind_what_it_needs_with_names_of_its_own() -> None:
    modules = {
        "first": 'import { two } from "./other.js";\nimport { one } from "./deep.js";\nconst own = one + two;\n',
        "other": 'import { one } from "./deep.js";\nconst own = 1;\nexport { one };\nexport const two = own + one;\n',
        "deep": "export async function one() {}\nexport class Three {}\n",
        "unused": "export default 3;\n",
    }
    script = bundled(modules, "first")
    heads = [line.split(" = ")[0] for line in script.splitlines() if line.startswith("modules.")]
    assert heads == ["modules.deep", "modules.other", "modules.first"]
    assert "export" not in script
    assert "import" not in script
    assert "return { two, one };" in script
    assert "const { one } = modules.deep;" in script


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("export default 3;\n", "not known here: export default"),
        ('import * as all from "./deep.js";\n', "not known here: import"),
        ('import { one as two } from "./deep.js";\n', "as another one"),
        ('import { one } from "/deep.js";\n', "not known here: import"),
        ('import { one } from "./gone.js";\n', "gone is missing"),
        ('import { one } from "./first.js";\n', "needed by itself"),
    ],
)
def test_what_would_fail_in_a_browser_is_refused(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        bundled({"first": text, "deep": "export const one = 1;\n"}, "first")
