"""What a listener is told of what went wrong: nothing of the machine on which it did. Pure.

A listener's page may be on anybody's phone. Where casebooks, recordings and commands lie on the host is the operator's
alone: they read the whole sentence at the desk and in the host's terminal.
"""

from __future__ import annotations

import re

from audio.errors import AudioError, FileError

from ..errors import CasebookError, SessionsError

HOST = (
    "Something is wrong at the host. Tell whoever runs this test: the reason stands at the desk and in the host's "
    "terminal. What you answered is kept."
)
# of folders, serial ports and commands; names that hold a stroke go with them, and no stroke that stands alone
PLACES = re.compile(r"/(?=\S)|(?<=\S)/|\\|--casebook")


def told(error: BaseException) -> str:
    """The sentence of an error, if it may be told.

    >>> told(SessionsError("hear 2 before you answer"))
    'hear 2 before you answer'
    >>> told(CasebookError("casebook.db is damaged; use a backup copy")) == told(OSError("it broke")) == HOST
    True
    """
    ours = isinstance(error, SessionsError | AudioError) and not isinstance(error, CasebookError | FileError)
    return plain(str(error)) if ours else HOST


def plain(sentence: str) -> str:
    r"""A sentence, if it names no place on the host.

    >>> plain("the switch's serial port /dev/ttyUSB0 does not work") == plain(r"C:\switch.bat is not there") == HOST
    True
    """
    return HOST if PLACES.search(sentence) else sentence
