"""The room in which a panel listens: chairs, one for each device, and who sits in them or waits in line. No web.

Every chair plays on a device of its own; who finds none free waits, and gets the next one that is.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace

from ..casebook.store import open_casebook
from ..chair import kept_answers, waiting, words_offered
from ..chair.chair import Chair
from ..chair.given import Answered, Said
from ..chair.sitting import Sitting
from ..chair.sitting_down import House, seated
from ..chair.sitting_training import Exercises
from ..chair.waiting import Waiting
from ..errors import ListenError
from . import doings, kept_guests
from .at_chair import AtChair, Offered
from .at_desk import AtDesk, progress
from .joining import Claim, Guest, Guests, Role
from .seat import Seat
from .seldom import Seldom

NOBODY = "nobody sits at this page now; sit down again"
FREED = "The operator freed your place. What you answered is kept; come in again to go on."
MOVED = "Another page goes on in place of this one, as whoever opened it said that this one was lost."
UNTOLD = "the listener's browser"  # before it told on what it plays
HERE_S = 20.0  # whoever was heard of within it is there


class Room:
    """Guests, chairs and the line. Safe to be used from several threads."""

    def __init__(
        self,
        house: House,
        guests: Guests,
        devices: Sequence[str | None] = (None,),
        only: str | None = None,
        open_chair: Callable[[House, str, str, str | None], AbstractContextManager[Chair]] = seated,
    ) -> None:
        self.house = house
        self.guests = guests
        self.tell = Seldom(house.tell, house.monotonic)  # the host
        self._only = only
        self._open_chair = open_chair
        self._free = list(devices)
        self._seats: dict[Claim, Seat] = {}
        self._device_of: dict[Claim, str | None] = {}
        self._outputs: dict[Claim, str] = {}
        self._ended: dict[Claim, Seat] = {}
        self._line: list[Claim] = []
        self._lock = threading.RLock()
        self._closed = False

    def join(self, role: Role, code: str, address: str) -> str:
        """A fresh token for whoever gives the right code.

        Raises
        ------
        Refused
            If they may not come in.
        """
        with self._lock:
            token = self.guests.join(role, code, address, self.house.monotonic())
            kept_guests.keep(self.house.folder, self.guests)
            return token

    def waiting(self) -> list[Waiting]:
        """Who can listen, by the casebook."""
        with open_casebook(self.house.folder) as casebook:
            return waiting.waiting(casebook, self._only)

    def offered(self) -> list[Offered]:
        """Who may sit down, and who does."""
        found = self.waiting()
        with self._lock:
            sitting = [(one, self.guests.sitting(Claim(one.plan, one.listener))) for one in found if not one.complete]
            return [Offered(one, by is not None, by is not None and self._is_here(by)) for one, by in sitting]

    def _is_here(self, guest: Guest) -> bool:
        """Whether a guest's page was heard of lately."""
        return self.house.monotonic() - guest.seen <= HERE_S

    def exercises(self) -> Exercises:
        """What can be trained here."""
        return doings.exercises(self.house, self._only)

    def words_offered(self, guest: Guest) -> list[str]:
        """The words offered to a guest where one is to be logged; none to somebody who sits nowhere."""
        if guest.claim is None:
            return []
        with open_casebook(self.house.folder) as casebook:
            if guest.claim.doing == "training":
                return []
            if guest.claim.doing == "free":
                return words_offered.used_by(casebook, guest.claim.listener)
            return words_offered.words_offered(casebook, guest.claim.plan)

    def sit(self, guest: Guest, claim: Claim, output: str | None = None, *, instead: bool = False) -> Seat | None:
        """Sit down, or wait in line (None). A chair that is being opened says so itself.

        Parameters
        ----------
        output
            On what the guest's own browser plays, in words, where it does.
        instead
            Whether to sit there in place of a page that is not connected any more; its token ends.

        Raises
        ------
        ListenError
            If somebody else sits there, this guest sits elsewhere, or nobody of that name is awaited.
        """
        if claim.doing != "plan":
            doings.check(self.house, claim, self._only)
        elif not self._awaited(claim):
            if guest.claim == claim:
                return None  # answered all, before the program was started anew
            raise doings.not_awaited(claim)
        with self._lock:
            other = self.guests.sitting(claim)
            if other is not None and other is not guest and instead and not self._is_here(other):
                self.guests.end(other, MOVED)
            elif other is not None and other is not guest:
                raise ListenError(
                    f"{claim.listener} sits at another page already; if that page is lost, the desk can free the chair"
                )
            if guest.claim not in (None, claim):
                raise ListenError("this page sits elsewhere already; stop there first")
            guest.claim = claim
            kept_guests.keep(self.house.folder, self.guests)
            if claim not in self._seats and claim not in self._line:
                self._ended.pop(claim, None)
                self._line.append(claim)
            if output is not None:
                self._outputs[claim] = output
            self._advance()
            return self._seats.get(claim)

    def _awaited(self, claim: Claim) -> bool:
        """Whether a listener has trials left, by the casebook."""
        return any(claim == Claim(one.plan, one.listener) and not one.complete for one in self.waiting())

    def said_to(self, guest: Guest, given: Answered) -> Said:
        """What is said to an answer of somebody who sits in no chair: the casebook knows whether it is kept."""
        if guest.claim is None or guest.claim.doing != "plan":
            raise ListenError(NOBODY)
        with open_casebook(self.house.folder) as casebook:
            return kept_answers.said_to_one_who_left(casebook, guest.claim.plan, guest.claim.listener, given)

    def has_ended(self, claim: Claim) -> bool:
        """Whether a listener has no trial of a plan left, by the casebook."""
        return claim.doing == "plan" and not self._awaited(claim)

    def rise(self, guest: Guest) -> Seat | None:
        """Leave a chair in which nothing counts, and stay in the room; the chair that is being left."""
        with self._lock:
            claim = guest.claim
            if claim is None or claim.doing == "plan":
                raise ListenError("only practice, training and free listening are left so")
            guest.claim = None
            kept_guests.keep(self.house.folder, self.guests)
            return self._out(claim)

    def stand_up(self, guest: Guest, why: str = "") -> Seat | None:
        """Leave chair or line; the chair that is being left, if there is one. The token counts no longer."""
        with self._lock:
            claim = guest.claim
            self.guests.end(guest, why)
            if not self._closed:
                kept_guests.keep(self.house.folder, self.guests)
            return None if claim is None else self._out(claim)

    def free(self, claim: Claim) -> Seat | None:
        """Free a chair from the desk: whoever sat there stops, and somebody else may sit down."""
        with self._lock:
            guest = self.guests.sitting(claim) or self._sitting_as(claim)
            return self._out(claim) if guest is None else self.stand_up(guest, FREED)

    def _sitting_as(self, told: Claim) -> Guest | None:
        """Who sits there for what never counts, by how the desk was told of it."""
        names = (told.plan, told.listener)
        there = [(one, one.claim) for one in self.guests.inside.values() if one.claim is not None]
        return next((one for one, own in there if own.doing != "plan" and (own.told, own.listener) == names), None)

    def at_chair(self, guest: Guest) -> AtChair:
        """What a guest's page shows."""
        shown = replace(self._at_chair(guest), own_sound=self.house.own_sound, offers=tuple(sorted(self.house.offers)))
        own = guest.claim
        return shown if own is None else replace(shown, doing=own.doing, about=own.about)

    def _at_chair(self, guest: Guest) -> AtChair:
        with self._lock:
            claim = guest.claim
            if claim is None:
                return AtChair("who")
            seat = self._seats.get(claim) or self._ended.get(claim)
            if seat is not None and seat.view is not None and seat.asked is not None:
                message = seat.failed
                asking = "away" if message else seat.view.asking
                return AtChair(asking, claim.plan, claim.listener, 0, seat.asked, seat.view, message)
            if claim in self._line:
                return AtChair("line", claim.plan, claim.listener, self._line.index(claim))
            opening = seat is not None and not seat.over
            message = "" if seat is None else seat.failed
            return AtChair("coming" if opening else "away", claim.plan, claim.listener, message=message)

    def seat_at(self, claim: Claim) -> Seat | None:
        """The chair somebody sits in, if they do."""
        with self._lock:
            return self._seats.get(claim)

    def seat_of(self, guest: Guest) -> Seat:
        """The chair a guest sits in.

        Raises
        ------
        ListenError
            If they sit in none.
        """
        with self._lock:
            seat = None if guest.claim is None else self._seats.get(guest.claim)
        if seat is None:
            raise ListenError(NOBODY)
        return seat

    def is_listened(self, asking: Collection[str]) -> bool:
        """Whether a chair asks for one of these: its listener hears, or is about to."""
        with self._lock:
            return any(seat.view is not None and seat.view.asking in asking for seat in self._seats.values())

    def seated_in(self, plan: str) -> list[str]:
        """Who sits in a chair of a plan now, by name."""
        with self._lock:
            return [claim.listener for claim in self._seats if (claim.plan, claim.doing) == (plan, "plan")]

    def at_desk(self) -> list[AtDesk]:
        """Every listener who is awaited, or who has answered all since the pages were opened."""
        found = self.waiting()
        known = {Claim(one.plan, one.listener) for one in found}
        with self._lock:
            over = [
                _over(claim, seat)
                for claim, seat in self._ended.items()
                if claim not in known and claim.doing == "plan" and not seat.failed
            ]
            besides = [one for one in self.guests.inside.values() if one.claim and one.claim.doing != "plan"]
            uncounted = [self._uncounted(one, one.claim) for one in besides if one.claim]
            return [*(self._desk_row(one) for one in found), *over, *uncounted]

    def _uncounted(self, guest: Guest, claim: Claim) -> AtDesk:
        """Somebody who practises, trains or listens freely."""
        at = self.at_chair(guest)
        answered, trials = (at.view.answered if at.view else 0), (at.asked.trials if at.asked else 0)
        far = progress(claim.doing, answered, trials)
        here, trouble = self._is_here(guest), self._trouble_at(claim)
        return AtDesk(claim.told, claim.listener, at.asking, answered, trials, far, here, trouble)

    def _trouble_at(self, claim: Claim) -> str:
        """What goes wrong at a chair, or did when it was left, in whole."""
        seat = self._seats.get(claim) or self._ended.get(claim)
        return "" if seat is None else seat.trouble

    def _desk_row(self, one: Waiting) -> AtDesk:
        claim = Claim(one.plan, one.listener)
        guest = self.guests.sitting(claim)
        here = guest is not None and self._is_here(guest)
        asking = "end" if one.complete else "" if guest is None else self.at_chair(guest).asking
        far = progress("plan", one.answered, one.trials)
        trouble = "" if guest is None else self._trouble_at(claim)
        return AtDesk(one.plan, one.listener, asking, one.answered, one.trials, far, here, trouble)

    def close(self) -> None:
        """Leave all chairs, and wait until they are left."""
        with self._lock:
            self._closed = True
            self._line.clear()
            seats = list(self._seats.values())
        for seat in seats:
            seat.close()

    # -- chairs ------------------------------------------------------------------------------------------------------
    def _advance(self) -> None:
        """Give free chairs to those in line; those whose pages are gone keep their place in it."""
        for claim in list(self._line):
            if not self._free or self._closed:
                return
            guest = self.guests.sitting(claim)
            if guest is None or not self._is_here(guest):
                continue
            self._line.remove(claim)
            device = self._device_of[claim] = self._free.pop(0)
            if self.house.own_sound:
                device = self._outputs.get(claim, UNTOLD)
            seat = self._seats[claim] = Seat(
                lambda claim=claim, device=device: self._opening(claim, device),  # type: ignore[misc]
                lambda seat, claim=claim: self._was_left(claim, seat),  # type: ignore[misc]
                self.house.monotonic,
                lambda trouble, claim=claim: self.tell(f"{claim.listener} ({claim.told}): {trouble}"),  # type: ignore[misc]
            )
            seat.start()

    def _opening(self, claim: Claim, device: str | None) -> AbstractContextManager[Sitting]:
        if claim.doing != "plan":
            return doings.opening(self.house, claim, device)
        return self._open_chair(self.house, claim.plan, claim.listener, device)

    def _out(self, claim: Claim) -> Seat | None:
        if claim in self._line:
            self._line.remove(claim)
        self._ended.pop(claim, None)
        return self._seats.get(claim)

    def _was_left(self, claim: Claim, seat: Seat) -> None:
        with self._lock:
            self._seats.pop(claim, None)
            self._ended[claim] = seat
            self._free.append(self._device_of.pop(claim))
            self._advance()


def _over(claim: Claim, seat: Seat) -> AtDesk:
    """Somebody of a plan that is over: all have answered."""
    trials = seat.asked.trials if seat.asked else 0
    answered = seat.view.answered if seat.view else 0
    far = progress("plan", answered, trials)
    return AtDesk(claim.plan, claim.listener, "end", answered, trials, far, False, "")
