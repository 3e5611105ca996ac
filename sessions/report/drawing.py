"""Pictures of figures, drawn while the rest of a report is gathered: each once, and what was drawn before not again."""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audio.errors import MeasureError

from ..errors import CatalogueError
from ..results import review
from . import kept_pictures, side_by_side
from .kept_pictures import Picture
from .side_by_side import SideBySide

if TYPE_CHECKING:
    from ..measured.figures.figure import FigureData


@dataclass(frozen=True)
class Drawn:
    """A picture as it stands on the page, its caption, and what stands under that, a line each."""

    drawn: str
    caption: str
    below: Sequence[str] = ()


@dataclass(frozen=True, eq=False)
class Sketch:
    """A picture that is still to be drawn: its figure, its caption, and what stands under that."""

    figure: FigureData
    caption: str
    below: Sequence[str] = ()


class Drawing:
    """Sketches that are drawn as they are given."""

    def __init__(self, shared: SideBySide[Picture | str]) -> None:
        self._shared = shared
        self._keys: dict[Sketch, str | int] = {}
        self._before: dict[str | int, Picture] = {}
        self._given: list[str | int] = []
        self._here: dict[str | int, Sketch] = {}

    def begin(self, sketch: Sketch) -> Sketch:
        """Let it be drawn as soon as somebody is free; equal ones are drawn once."""
        if sketch in self._keys:
            return sketch
        figure = kept_pictures.packed(sketch.figure)
        name = kept_pictures.key_of(figure)
        key = self._keys[sketch] = name or len(self._keys)
        if key in self._before or key in self._given:
            return sketch
        self._before.update(kept_pictures.kept([name]))
        if not figure:
            self._here[key] = sketch
        elif key not in self._before:
            self._given.append(key)
            self._shared.give(figure)
        return sketch

    def drawn(self) -> dict[Sketch, Drawn]:
        """Each picture, once all are drawn. Asked for once."""
        made = dict(zip(self._given, self._shared.made(), strict=True))
        kept_pictures.keep({key: one for key, one in made.items() if isinstance(key, str) and isinstance(one, Picture)})
        every = self._before | made | {key: _picture(sketch.figure) for key, sketch in self._here.items()}
        return {sketch: _captioned(sketch, every[key]) for sketch, key in self._keys.items()}


@contextmanager
def begun(*, some_will_be_drawn: bool) -> Iterator[Drawing]:
    """Pictures to be drawn; where it is known that some will, who draws them gets ready at once."""
    with side_by_side.begun(_picture_of, _load) as shared:
        if some_will_be_drawn and not kept_pictures.are_there():
            shared.begin()
        yield Drawing(shared)


def whole(pictures: Iterable[Sketch | Drawn], drawn: Mapping[Sketch, Drawn]) -> list[Drawn]:
    """Pictures as they stand on the page, the sketches among them as they were drawn."""
    return [drawn[one] if isinstance(one, Sketch) else one for one in pictures]


def _load() -> None:
    from audio.curves import picture

    picture.load()


def _picture_of(figure: bytes) -> Picture | str:
    found: FigureData = pickle.loads(figure)
    return _picture(found)


def _picture(figure: FigureData) -> Picture | str:
    """The picture of a figure, or why it cannot be drawn."""
    from audio.curves import picture

    def drawn() -> Picture | str:
        try:
            made = figure.drawn()
        except (CatalogueError, MeasureError) as error:  # of what was measured, not of the program
            return str(error)
        return Picture(picture.svg(made), picture.is_hatched(made))

    return review.by_itself(drawn, str)


def _captioned(sketch: Sketch, made: Picture | str) -> Drawn:
    if isinstance(made, str):
        return Drawn("", f"{sketch.caption} It cannot be drawn: {made}", sketch.below)
    return Drawn(made.svg, sketch.caption + (" Hatched: not valid." if made.is_hatched else ""), sketch.below)
