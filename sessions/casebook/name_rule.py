"""What people may call things, one rule for all: setups, tracks, passages, listeners, plans, operators. Pure.

Names stand in commands that are told to be typed, in menus and tables and beside trials on a phone.
"""

from __future__ import annotations

import re

LONGEST = 60  # letters, which take two lines of a phone at most; our choice
PLACEHOLDER = "NAME"  # in capitals in the commands that are told
RULE = re.compile(r"[^\W_](?:[\w .+&/(),-]{0,58}[\w+)])?", re.UNICODE)


def refusal(whose: str, name: str) -> str:
    """Why that cannot be a name, in one line; empty where it can.

    >>> refusal("a plan's", "evening (2)")
    ''
    >>> refusal("a plan's", "../x").partition(";")[0]
    "'../x' cannot be a plan's name"
    >>> refusal("a listener's", "NAME")
    "give a name of your own in place of NAME, which only holds a listener's place in the command that was told"
    """
    if name == PLACEHOLDER:
        return (
            f"give a name of your own in place of {name}, which only holds {whose} place in the command that was told"
        )
    if RULE.fullmatch(name):
        return ""
    return (
        f"{shown(name)} cannot be {whose} name; use 1 to {LONGEST} letters, digits, spaces and . , - _ + & / ( ), "
        "beginning with a letter or digit"
    )


def shown(name: str) -> str:
    """Something typed as a name, as a line shows it: quoted, and no longer than names are.

    >>> shown("sallow"), shown("n" * 5000) == repr("n" * 60 + "…")
    ("'sallow'", True)
    """
    return repr(name if len(name) <= LONGEST else f"{name[:LONGEST]}…")
