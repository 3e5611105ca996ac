"""Which loudspeaker each channel of a file belongs to, and what it weighs in loudness.

Position names: L, R, C; Ls, Rs (side or surround, 60° to 120° from the front); Lb, Rb (back, beyond 120°); Cb
(behind); LFE (low-frequency effects, not counted); and "other" for anything else, height loudspeakers
included.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import MeasureError

# ITU-R BS.1770-5 Annexes 1 and 3: 1.41 for azimuths from 60° to 120° below 30° of elevation, else 1.00; the
# low-frequency effects channel is left out.
WEIGHTS = {
    "L": 1.0, "R": 1.0, "C": 1.0, "Ls": 1.41, "Rs": 1.41,
    "Lb": 1.0, "Rb": 1.0, "Cb": 1.0, "other": 1.0, "LFE": 0.0,
}  # fmt: skip
# The order of WAVE files whose header names no positions, by number of channels (common practice, no source).
# With four to six channels the rear pair is the surround pair of ITU-R BS.775 (110°); with seven or eight
# there is a side pair as well, and one or two loudspeakers behind it.
WAVE_ORDER = {
    1: ("C",),
    2: ("L", "R"),
    3: ("L", "R", "C"),
    4: ("L", "R", "Ls", "Rs"),
    5: ("L", "R", "C", "Ls", "Rs"),
    6: ("L", "R", "C", "LFE", "Ls", "Rs"),
    7: ("L", "R", "C", "LFE", "Cb", "Ls", "Rs"),
    8: ("L", "R", "C", "LFE", "Lb", "Rb", "Ls", "Rs"),
}

# The bits of a WAVE header's channel mask, lowest first (Microsoft, WAVEFORMATEXTENSIBLE): front left and right,
# centre, LFE, back left and right, left and right of centre, back centre, side left and right, above. A back pair
# without a side pair is the surround pair, as in 5.1 files of either kind.
MASK_BITS = ("L", "R", "C", "LFE", "Lb", "Rb", "other", "other", "Cb", "Ls", "Rs")
BACK_BITS, SIDE_BITS = 0x30, 0x600


def positions(channels: int, mask: int | None = None) -> tuple[str, ...] | None:
    """The loudspeaker of each channel by the mask; without one by the usual order; None where neither tells.

    One channel is the centre and two are left and right whatever is said of them. Channels beyond those of the mask
    belong to no loudspeaker that is known ("other").
    """
    if not mask or channels <= 2:
        return WAVE_ORDER.get(channels)
    surround = {"Lb": "Ls", "Rb": "Rs"} if mask & BACK_BITS and not mask & SIDE_BITS else {}
    named = [MASK_BITS[bit] if bit < len(MASK_BITS) else "other" for bit in range(32) if mask >> bit & 1]
    found = [surround.get(name, name) for name in named[:channels]]
    return (*found, *["other"] * (channels - len(found)))


def weights(channels: int, positions: Sequence[str] | None = None) -> tuple[float, ...]:
    """Loudness weight of each channel; `positions` None means the usual WAVE order for that number of channels.

    Raises
    ------
    MeasureError
        If the order is not given and not known, or a position name is unknown, or their number is wrong.
    """
    names = WAVE_ORDER.get(channels) if positions is None else tuple(positions)
    if names is None:
        raise MeasureError(
            f"cannot tell which loudspeakers {channels} channels belong to; "
            "give their positions, or measure up to 8 channels"
        )
    if len(names) != channels:
        raise MeasureError(f"{len(names)} positions were given for {channels} channels; give one for each")
    unknown = [name for name in names if name not in WEIGHTS]
    if unknown:
        raise MeasureError(f"unknown position {unknown[0]!r}; known are {', '.join(WEIGHTS)}")
    return tuple(WEIGHTS[name] for name in names)
