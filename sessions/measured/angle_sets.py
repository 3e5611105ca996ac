"""Which file holds which direction: a folder of files named by angle, or a small table that names them."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import CatalogueError
from .conditions import Direction, Plane, direction

CANDIDATE = re.compile(
    r"(?:(?<![a-z])(?P<plane>horizontal|hor|h|vertical|vert|ver|v)(?P<between>[ _.]*))?"
    r"(?P<sign>[+-])?(?<![\d.,])(?P<number>\d+(?:[.,]\d+)?) ?(?P<degrees>deg(?:rees?)?|°)?(?![a-z0-9°])",
    re.IGNORECASE,
)
WRITTEN = str.maketrans("\u2212\u2013\u2010\u2011\ufe63\uff0d\u00ba\u02da", "------°°")  # minus and degree signs
WORDS_OF_PLANE = re.compile(r"(?<![a-z])(hor|horizontal|ver|vert|vertical)(?![a-z])", re.IGNORECASE)
COUNTER = re.compile(
    r"(?:take|track|run|ver|version|rev|v|no|nr|number|mic|microphone|ch|channel|part|sample|measurement|meas|test|day|"
    r"unit|pair|room|point|position|pos|seat|set|driver|woofer|tweeter)[ _.#-]*$",
    re.IGNORECASE,
)
UNIT_AFTER = re.compile(
    r"^[ _]*(?:k?hz|[mck]?m|in|inch|ft|[mu]?s|m?v|w|db|spl|ohms?|bit|oct|c|%)(?![a-z])", re.IGNORECASE
)
SIDE_WORD = re.compile(r"(?<![a-z])(left|right|down|up)(?![a-z])", re.IGNORECASE)
SIDE_LETTER = re.compile(  # behind the number, or glued before it
    r"(?P<number>\d ?(?:deg(?:rees?)?|°)?[ _.]*(?:(?<![a-z])(?:h|hor|horizontal|v|ver|vert|vertical)[ _.]*)?)"
    r"(?<![a-z])(?P<after>[lrud])(?![a-z0-9])|(?<![a-z0-9])(?P<before>[lrud])(?=\d)",
    re.IGNORECASE,
)
MAY_BE_SIDE = re.compile(r"(?<![a-z0-9])l(?![a-z0-9])", re.IGNORECASE)
GLUED_LETTER = re.compile(r"(?<![a-z0-9])[hvlrud](\d{1,9})(?![a-z0-9.,°])", re.IGNORECASE)
PLAINLY = re.compile(
    r"\d ?(?:deg|°)|(?<![a-z])(?:hor|horizontal|ver|vert|vertical|left|right|up|down)(?![a-z])", re.IGNORECASE
)
SIGN_WORD = re.compile(r"(?<![a-z0-9])(?:(minus|m(?=\d))|(?:plus|p(?=\d)))[ _]*(?=(\d+(?:[.,]\d+)?))", re.IGNORECASE)
SIDES: dict[str, tuple[int, str]] = {"l": (-1, "h"), "r": (1, "h"), "d": (-1, "v"), "u": (1, "v")}  # by first letter
STEP_DEG = 2.5  # a bare number among other words is an angle only as a multiple of it; our choice
PLANES: dict[str, Plane] = {"horizontal": "horizontal", "vertical": "vertical"}


@dataclass(frozen=True)
class DirectedFile:
    """A file, and the direction in which it was measured."""

    path: Path
    direction: Direction


@dataclass(frozen=True)
class _Name:
    """A name without the words of a side: what they make of its angle (-1, 1; 0: nothing), and of which planes."""

    text: str
    sign: int
    planes: frozenset[str]


def _without_sides(name: str) -> _Name:
    text = SIGN_WORD.sub(_as_sign, name.translate(WRITTEN))
    said = [match[1].lower()[0] for match in SIDE_WORD.finditer(text)]
    # a hyphen stays joined to a word that is taken out, so that it is asked what it is
    text = SIDE_WORD.sub(lambda match: ("x" if text[match.end() :][:1] == "-" else " ") * len(match[0]), text)
    if not said:
        said = [(match["after"] or match["before"]).lower() for match in SIDE_LETTER.finditer(text)]
        text = SIDE_LETTER.sub(lambda match: (match["number"] or "") + " ", text)
    signs = {SIDES[one][0] for one in said}
    if len(signs) > 1:
        raise CatalogueError(f"the name {name!r} says both a negative and a positive side; keep one")
    return _Name(text, sum(signs), frozenset(SIDES[one][1] for one in said))


def _as_sign(match: re.Match[str]) -> str:
    """A minus or plus in words, as a sign; a lone letter only before what is surely an angle."""
    if len(match[0].strip(" _")) == 1 and float(match[2].replace(",", ".")) % STEP_DEG:
        return match[0]
    return "-" if match[1] else "+"


def direction_of(name: str, plane: Plane = "horizontal") -> Direction:
    """The direction in a file's name, such as ``hor +30.txt``, ``V-22.5deg.frd`` or ``30.wav`` (then in `plane`).

    A plane or a degree sign beside a number makes it the angle. A number without either is one only if it stands alone,
    has a sign, or is a multiple of 2.5 that counts nothing (``take 5``) and has no other unit (``30 cm``). Left, down,
    minus and a letter L or D beside the number make it negative, where it has no sign of its own.

    Raises
    ------
    CatalogueError
        If the name holds no clear angle between -180 and 180, or more than one.

    >>> for name in ("sallow_h_-30deg", "vert 10", "60", "hor \u221222,5°"):
    ...     print(direction_of(name))
    horizontal -30°
    vertical 10°
    horizontal 60°
    horizontal -22.5°
    """
    own = _without_sides(name)
    text = own.text
    found = [match for match in CANDIDATE.finditer(text) if not UNIT_AFTER.match(text[match.end() :])]
    named = [match for match in found if match["degrees"] or (match["plane"] and not _a_version(match))]
    clear = named or [match for match in found if not match["plane"] and _may_be_angle(text, match)]
    if len(clear) != 1:
        raise CatalogueError(
            f"the name {name!r} holds {'more than one number' if len(clear) > 1 else 'no angle'}; name files like "
            "'hor 30', or list them in a table with the columns file, plane, angle"
        )
    angle = _signed(text, clear[0])
    if angle and not clear[0]["sign"]:
        if not own.sign and (letter := MAY_BE_SIDE.search(text)):
            raise CatalogueError(
                f"the name {name!r}: is {letter[0]!r} the angle's side or the loudspeaker's? Name files like "
                f"'hor {-angle:g}' or 'hor +{angle:g}'"
            )
        angle *= own.sign or 1
    if abs(angle) > 180:
        raise CatalogueError(f"the name {name!r} says {angle:g}°; angles go from -180 to 180, the left negative")
    planes = {word.lower()[0] for word in WORDS_OF_PLANE.findall(text)} | (
        {(clear[0]["plane"] or "").lower()[:1]} - {""}
    )
    planes |= set() if clear[0]["sign"] else own.planes
    if len(planes) > 1:
        raise CatalogueError(f"the name {name!r} says both horizontal and vertical; keep one")
    return direction("vertical" if "v" in planes else "horizontal" if planes else plane, angle)


def direction_of_one(name: str, plane: Plane = "horizontal") -> Direction:
    """The direction in the name of a single file; on the axis where the name holds no number for it.

    As in a folder, but for a letter glued to a whole number without a sign or degrees (``u0``, ``v10``): in a folder
    the other names tell that it is a plane or a side, in a single name it may as well be a unit's or a version's.

    Raises
    ------
    CatalogueError
        If a number in it may be an angle or may count something else.

    >>> str(direction_of_one("osk hor 30")), str(direction_of_one("osk axis take 2"))
    ('horizontal 30°', 'horizontal 0°')
    """
    if (glued := GLUED_LETTER.search(name)) and not PLAINLY.search(name.translate(WRITTEN)):
        if not int(glued[1]):
            return direction(plane, 0)
        if not int(glued[1]) % 5 and int(glued[1]) <= 180:
            raise CatalogueError(
                f"is {glued[0]!r} in the name {name!r} an angle? Say --plane and --angle, or --angle 0 for the axis"
            )
    text = _without_sides(name).text
    found = [match for match in CANDIDATE.finditer(text) if not UNIT_AFTER.match(text[match.end() :])]
    named = [match for match in found if match["degrees"] or (match["plane"] and not _a_version(match))]
    if not named and not any(not match["plane"] and _may_be_angle(text, match) for match in found):
        return direction(plane, 0)
    try:
        toward = direction_of(name, plane)
    except CatalogueError as error:
        raise CatalogueError(f"{error}; or say --plane and --angle") from None
    alone = re.fullmatch(r"[^a-z0-9]*\d+([.,]\d+)?[^a-z0-9]*", text, re.IGNORECASE)
    signed = any(match["sign"] for match in found)
    if named or toward.angle == 0 or (alone and (signed or toward.angle % STEP_DEG == 0)):
        return toward
    raise CatalogueError(
        f"is the number in {name!r} its angle? Say --angle {toward.angle:g}, or --angle 0 for the axis"
    )


def _a_version(match: re.Match[str]) -> bool:
    """Whether a lone v before a number is more likely a version's than the vertical plane's, as in ``sallow v2``."""
    glued = match["plane"].lower() == "v" and not match["between"] and not match["sign"]
    return glued and bool(_number(match) % 5)


def _may_be_angle(text: str, match: re.Match[str]) -> bool:
    """Whether a number without plane and degree sign can be the angle."""
    if _number(match) > 180 or COUNTER.search(text[: match.start()]):
        return False
    alone = not re.search(r"[a-z0-9]", text[: match.start()] + text[match.end() :], re.IGNORECASE)
    signed = match["sign"] is not None and not _glued(text, match)
    return alone or signed or _number(match) % STEP_DEG == 0


def _glued(text: str, match: re.Match[str]) -> bool:
    """Whether a hyphen follows a word or a number at once, so that it joins the two."""
    before = text[: match.start("sign")]
    return match["sign"] == "-" and not match["plane"] and bool(before) and before[-1].isalnum()


def _number(match: re.Match[str]) -> float:
    return float(match["number"].replace(",", "."))


def _signed(text: str, match: re.Match[str]) -> float:
    if match["sign"] == "-" and _glued(text, match) and _number(match):
        raise CatalogueError(
            f"the name {text!r}: is its hyphen a minus? Name files like 'hor -30', or list them in a table with the "
            "columns file, plane, angle"
        )
    return -_number(match) if match["sign"] == "-" else _number(match)


def named_by_angle(folder: Path, plane: Plane, endings: Sequence[str]) -> list[DirectedFile]:
    """The files of a folder that end so, each with the direction in its name.

    Raises
    ------
    CatalogueError
        If there are none, a name holds no angle, or two name the same direction.
    """
    sources = sorted(path for path in folder.iterdir() if path.suffix.lower() in endings)
    if not sources:
        raise CatalogueError(
            f"{folder} holds no curves; they are text (.txt, .frd, .csv …) or impulse responses (.wav …)"
        )
    seen: dict[Direction, Path] = {}
    for source in sources:
        found = direction_of(source.stem, plane)
        other = seen.setdefault(found, source)
        if other is not source:
            raise CatalogueError(f"{other.name} and {source.name} both name {found}; keep one of them there")
    return [DirectedFile(source, found) for found, source in seen.items()]


def signs_in_words(members: Sequence[DirectedFile]) -> list[str]:
    """That names say a negative side in words, with the first of them as it was read; nothing where none does."""
    own = [one for one in members if one.direction.angle < 0 and "-" not in one.path.stem.translate(WRITTEN)]
    if not own:
        return []
    names = "1 name says" if len(own) == 1 else f"{len(own)} names say"
    return [f"{names} a negative side in words: {own[0].path.stem!r} is read as {own[0].direction}"]


def listed_in_table(path: Path) -> list[DirectedFile]:
    """The files that a table with the columns file, plane, angle names; empty if it is no such table.

    Raises
    ------
    CatalogueError
        If a line names no file, or no plane or angle that there is.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return []
    try:
        rows = list(csv.DictReader(text.splitlines()))
    except csv.Error:
        return []
    if not rows or not {"file", "angle"} <= {name.strip().lower() for name in rows[0] if name}:
        return []
    members = []
    for number, row in enumerate(rows, 2):
        own = {str(name).strip().lower(): str(value or "").strip() for name, value in row.items()}
        source = path.parent / own["file"]
        plane = PLANES.get(own.get("plane") or "horizontal")
        angle = angle_of(own["angle"])
        if plane is None or not source.is_file() or angle is None:
            raise CatalogueError(
                f"{path}, line {number}: a line names a file, a plane (horizontal or vertical), an angle (-180 to 180)"
            )
        members.append(DirectedFile(source, direction(plane, angle)))
    return members


def angle_of(text: str) -> float | None:
    """An angle as people write it, with decimals, a typographic minus or a degree sign; None if it is none.

    >>> angle_of("\u221222.5°"), angle_of("+30"), angle_of("270"), angle_of("left")
    (-22.5, 30.0, None, None)
    """
    found = re.fullmatch(
        r"([+-]?\d+(?:[.,]\d+)?) ?(?:deg(?:rees?)?|°)?", text.strip().translate(WRITTEN), re.IGNORECASE
    )
    angle = float(found[1].replace(",", ".")) if found else None
    return None if angle is None or abs(angle) > 180 else angle
