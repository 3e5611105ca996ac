"""Who may come in: joining codes that people read and type, tokens that browsers keep, and a limit on guessing.

Pure but for its random numbers: the time is given. A token is known here by its hash alone.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections import defaultdict, deque
from dataclasses import dataclass, field
from typing import Literal

from ..casebook.ids import ALPHABET
from ..chair.sitting import Doing

CODE_LENGTH = 6  # 30 random bits: at 30 tries a minute one is guessed in some thirty years, on average
DESK_LENGTH = 16  # 80 bits: whoever holds it works the desk, or reads what is swapped
TOKEN_BYTES = 32
WINDOW_S, FROM_ONE, FROM_ALL = 60.0, 6, 30  # wrong codes within a minute, from one address and from all of them
TOO_MANY = "Too many wrong codes. Wait a minute, then type it as it stands at the desk."
WRONG = "This is not the code. It stands at the desk, or on the operator's screen."

Role = Literal["listener", "desk", "assistant"]


class Refused(Exception):
    """Somebody who may not come in; the message is for them."""


@dataclass(frozen=True)
class Claim:
    """What a listener sits down for, by their names.

    Attributes
    ----------
    plan
        Empty for free listening, which is of none.
    doing
        The plan itself, which counts, or what never does.
    about
        What that is of: setups listened to freely, or the exercise.
    """

    plan: str
    listener: str
    doing: Doing = "plan"
    about: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """What stands at the desk for the plan."""
        if self.doing == "plan":
            return self.plan
        return "free listening" if self.doing == "free" else f"{self.plan}, {self.doing}"


@dataclass
class Guest:
    """A browser that came in: what it may see, who sits at it, and when it was heard of last (by any one clock)."""

    key: str
    role: Role
    claim: Claim | None = None
    seen: float = 0.0


@dataclass
class Guests:
    """All who came in since the pages were opened, the codes by which others may, and the address on this machine."""

    code: str = field(default_factory=lambda: new_code(CODE_LENGTH))
    desk_code: str = field(default_factory=lambda: new_code(DESK_LENGTH))
    assistant_code: str = field(default_factory=lambda: new_code(DESK_LENGTH))
    address: str = ""
    inside: dict[str, Guest] = field(default_factory=dict)
    ended: dict[str, str] = field(default_factory=dict)
    _wrong: dict[str, deque[float]] = field(default_factory=lambda: defaultdict(deque))

    def join(self, role: Role, code: str, address: str, now: float) -> str:
        """A fresh token for whoever gives the right code.

        Raises
        ------
        Refused
            If it is the wrong one, or too many wrong ones were given lately.
        """
        if self._blocked(address, now):
            raise Refused(TOO_MANY)
        right = {"listener": self.code, "desk": self.desk_code, "assistant": self.assistant_code}[role]
        if not hmac.compare_digest(normalised(code).encode(), normalised(right).encode()):
            self._wrong[address].append(now)
            raise Refused(WRONG)
        token = secrets.token_urlsafe(TOKEN_BYTES)
        key = hashed(token)
        self.inside[key] = Guest(key, role, seen=now)
        return token

    def of(self, token: str | None, role: Role) -> Guest | None:
        """Who has this token, if it is of that role."""
        found = self.inside.get(hashed(token)) if token else None
        return found if found is not None and found.role == role else None

    def sitting(self, claim: Claim) -> Guest | None:
        """Whose page a listener of a plan is at."""
        return next((one for one in self.inside.values() if one.claim == claim), None)

    def end(self, guest: Guest, why: str = "") -> None:
        """Let a token count no longer; `why` is for whoever's page still has it, where that was done from elsewhere."""
        self.inside.pop(guest.key, None)
        if why:
            self.ended[guest.key] = why

    def why_ended(self, token: str | None) -> str:
        """Why a token counts no longer; empty where whoever has it did that, or never came in."""
        return self.ended.get(hashed(token), "") if token else ""

    def _blocked(self, address: str, now: float) -> bool:
        for given in list(self._wrong):
            while self._wrong[given] and now - self._wrong[given][0] > WINDOW_S:
                self._wrong[given].popleft()
            if not self._wrong[given]:
                del self._wrong[given]
        own = len(self._wrong.get(address, ()))
        return own >= FROM_ONE or sum(map(len, self._wrong.values())) >= FROM_ALL


def new_code(length: int) -> str:
    """A fresh code to be read and typed, in groups of three or four: ``K7P-3QF``."""
    drawn = "".join(secrets.choice(ALPHABET) for _ in range(length)).upper()
    group = 3 if length % 4 else 4
    return "-".join(drawn[at : at + group] for at in range(0, length, group))


def normalised(code: str) -> str:
    """A code as it is compared: letters and digits alone, and what is easily misread as what it was read for.

    >>> normalised(" k7p 3qo"), normalised("K7P-3Q0")
    ('k7p3q0', 'k7p3q0')
    """
    kept = "".join(letter for letter in code.lower() if letter.isascii() and letter.isalnum())
    return kept.replace("o", "0").replace("i", "1").replace("l", "1").replace("u", "v")


def hashed(token: str) -> str:
    """What is known here of a token."""
    return hashlib.sha256(token.encode()).hexdigest()
