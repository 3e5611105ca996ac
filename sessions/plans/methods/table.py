"""All methods, by name: a new one is a module beside this, and a row here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from .abx import ABX
from .duo_trio import DUO_TRIO
from .hidden_reference import HIDDEN_REFERENCE
from .method import Method
from .multi_stimulus import MULTI_STIMULUS
from .preference import PREFERENCE
from .rated_ballot import RATED_BALLOT
from .round_robin import ROUND_ROBIN
from .same_different import SAME_DIFFERENT
from .tetrad import TETRAD
from .triangle import TRIANGLE
from .word_ballot import WORD_BALLOT

METHODS: Mapping[str, Method] = {
    method.name: method
    for method in (
        ABX,
        PREFERENCE,
        TRIANGLE,
        DUO_TRIO,
        TETRAD,
        SAME_DIFFERENT,
        HIDDEN_REFERENCE,
        MULTI_STIMULUS,
        ROUND_ROBIN,
        replace(WORD_BALLOT, rated_form=RATED_BALLOT),
    )
}


def of(document: Mapping[str, Any]) -> Method:
    """The method of a plan's document, with the labels and the words that it asks for."""
    return METHODS[document["method"]].of_document(document)
