"""A line of text while it is being typed: characters at its end, of any script, taken back one by one."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from . import keyboard


@dataclass
class LineEditor:
    """The line so far, and the most characters it may have."""

    text: str = ""
    longest: int = 60

    def turn(self, key: str) -> bool:
        """Take a key that changes the line; False if it is another key.

        An accent that is typed after its letter (as some keyboards send it) becomes one character with it.
        """
        if key == keyboard.BACKSPACE:
            self.text = self.text[:-1]
        elif key == keyboard.CLEAR:
            self.text = ""
        elif len(key) == 1:
            self.text = unicodedata.normalize("NFC", self.text + key)[: self.longest]
        else:
            return False
        return True

    @property
    def full(self) -> bool:
        """Whether no further character has room."""
        return len(self.text) >= self.longest

    @property
    def words(self) -> str:
        """The text without blanks around it, and with one between its words."""
        return " ".join(self.text.split())
