"""The sound of each block, from the stimuli and the wish: copying and fading, nothing else. Knows no device.

Everything is allocated beforehand. `render` fills every sample of the block it is given (a device's buffer holds old
sound on entry), takes the wish once per block, and runs in time bounded by the block's length.

A switch fades out over `fade` frames, changes, and fades in over as many (raised cosine, no cross-fade): the same for
every request, be it to another stimulus, to a twin, or to the one that plays. The music's clock runs on during fades,
so a switch keeps the place to the frame. After the passage there are `pause` frames of silence; then it starts again.

A loop is a part of the passage that is played instead of it: taken over like a switch, with the same pause after its
end, and with a fade of its own where it cuts into the music. Those fades lie in its first and last frames, for all
stimuli alike.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from . import fields as at
from .fields import Fields, Wish

Sound = NDArray[np.float32]


class Bank:
    """The stimuli of one trial: shape (stimuli, frames, channels), with the pause and the fade in frames.

    `routes` names the device's channels that each stimulus plays on, from 0; None: the first ones for all.
    """

    def __init__(self, stimuli: Sound, pause: int, fade: int, routes: Sequence[Sequence[int]] | None = None) -> None:
        self.stimuli = stimuli
        self.frames = stimuli.shape[1]
        self.channels = stimuli.shape[2]
        first = range(self.channels)
        self.routes = [tuple(route) for route in (routes or [first] * stimuli.shape[0])]
        self.fade = fade
        self.pause = pause
        self.rise = rise(fade)
        self.fall = self.rise[::-1].copy()


def rise(fade: int) -> Sound:
    """The gains of a fade in, frame by frame, none of them 0 or 1; shape (fade,). A fade out takes them backwards."""
    steps = (np.arange(fade) + 0.5) / max(fade, 1)
    return (0.5 - 0.5 * np.cos(np.pi * steps)).astype(np.float32)


class Renderer:
    """The state of the playback: what sounds, where in the music, how far into a fade."""

    def __init__(self, fields: Fields) -> None:
        self._fields = fields
        self._bank: Bank | None = None
        self._wish_seen = int(fields[at.WISH])
        self._wish = Wish.unpacked(self._wish_seen)
        self._restarts = self._wish.restarts
        self._turning = False  # a wish waits for the fade out to end
        self._stimulus = -1
        self._running = False
        self._place = 0
        self._first, self._end = 0, 0  # of what is played: the passage, or a loop in it
        self._step = 0  # 0 silent … fade: full
        self._heard_from = -1

    def load(self, bank: Bank) -> None:
        """Put new stimuli under the callback; only while it is silent. One assignment, so no block sees half of it."""
        self._place, self._first, self._end = 0, 0, bank.frames
        self._stimulus = -1
        self._running = False
        self._turning = False
        self._bank = bank
        self._fields[at.BANK] += 1

    def render(self, out: Sound) -> None:
        """Fill a block, shape (frames, channels of the device); channels off the stimulus's route are silent."""
        fields, bank = self._fields, self._bank
        self._take_wish()
        frames, filled = out.shape[0], 0
        out.fill(0)
        if bank is None:
            self._turning = False
        else:
            while filled < frames:
                if self._turning and self._step == 0:
                    self._turn(filled)
                if not self._running and self._step == 0:
                    break
                filled += self._stretch(bank, out, filled)
        fields[at.BLOCKS] += 1
        fields[at.FRAMES] += frames
        fields[at.STIMULUS] = self._stimulus
        fields[at.POSITION] = self._place
        fields[at.SOUNDING] = int(self._step > 0 or self._running)

    def silence(self, out: Sound) -> None:
        """Fill a block with silence and end what sounded; for when rendering failed."""
        out.fill(0)
        self._step = 0
        self._running = False
        self._turning = False

    def _take_wish(self) -> None:
        number = int(self._fields[at.WISH])
        if number != self._wish_seen:
            self._wish_seen = number
            self._wish = Wish.unpacked(number)
            self._turning = True
            self._fields[at.SEEN] = self._wish.serial

    def _turn(self, offset: int) -> None:
        """Take over the wish, in silence."""
        self._turning = False
        if self._heard_from >= 0:
            self._heard(self._place)
        wish, bank = self._wish, self._bank
        self._take_loop()
        if wish.stimulus < 0:
            self._place = self._first
        elif wish.restarts != self._restarts:
            start = int(self._fields[at.START])  # named before a loop that may have been asked for since
            self._place = start if self._first <= start < self._end else self._first
        if bank is not None and not self._first <= self._place < self._end + bank.pause:
            self._place = self._first
        self._restarts = wish.restarts
        known = bank is not None and wish.stimulus < bank.stimuli.shape[0]
        self._stimulus = wish.stimulus if known else -1
        self._running = self._stimulus >= 0 and not wish.paused
        self._fields[at.APPLIED_AT] = self._fields[at.FRAMES] + offset
        if self._running and bank is not None and self._place < self._end:
            self._heard_from = self._place

    def _take_loop(self) -> None:
        """Take over the part of the passage that is to be played: all of it where none was asked for."""
        frames = self._bank.frames if self._bank is not None else 0
        first, end = at.unpacked_loop(int(self._fields[at.LOOP]))
        self._first, self._end = (first, end) if first < end <= frames else (0, frames)

    def _stretch(self, bank: Bank, out: Sound, filled: int) -> int:
        """Render up to the next turn of the passage or the fade; how many frames."""
        inside = self._place < self._end
        length = min(out.shape[0] - filled, self._end + (0 if inside else bank.pause) - self._place)
        step = self._step
        direction = -1 if self._turning else 1 if step < bank.fade else 0
        if direction < 0:
            length = min(length, step)
        elif direction > 0:
            length = min(length, bank.fade - step)
        if inside:
            sound = bank.stimuli[self._stimulus, self._place : self._place + length]
            for channel, output in enumerate(bank.routes[self._stimulus]):
                block = out[filled : filled + length, output]
                if direction > 0:
                    np.multiply(sound[:, channel], bank.rise[step : step + length], out=block)
                elif direction < 0:
                    np.multiply(sound[:, channel], bank.rise[step - length : step][::-1], out=block)
                else:
                    np.copyto(block, sound[:, channel])
                self._round_off(bank, block)
        self._step += direction * length
        self._place += length
        if inside and self._place == self._end:
            self._heard(self._end)
        if self._place >= self._end + bank.pause:
            self._place = self._heard_from = self._first
        return int(length)

    def _round_off(self, bank: Bank, block: Sound) -> None:
        """Fade what begins at the present place, where a loop cuts into the music; shape (frames,)."""
        begins, ends = self._place, self._place + len(block)
        if self._first > 0 and begins < self._first + bank.fade:
            stop = min(ends, self._first + bank.fade)
            block[: stop - begins] *= bank.rise[begins - self._first : stop - self._first]
        falls = self._end - bank.fade
        if self._end < bank.frames and ends > falls:
            start = max(begins, falls)
            block[start - begins :] *= bank.fall[start - falls : ends - falls]

    def _heard(self, to_frame: int) -> None:
        """Write one audition into the ring; its count rises last."""
        if 0 <= self._heard_from < to_frame:
            count = int(self._fields[at.AUDITIONS])
            place = at.RING + (count % at.RING_PLACES) * at.RING_WIDTH
            self._fields[place] = self._stimulus
            self._fields[place + 1] = self._heard_from
            self._fields[place + 2] = to_frame
            self._fields[at.AUDITIONS] = count + 1
        self._heard_from = -1
