"""Words as they are compared: without capitals and accents, and by what their forms have in common. Pure.

The forms are those in which descriptors are said: plurals, -er, -est, -ness, -ly, -y. A net that is rather too wide
than too narrow (base is found with bass): whoever searches sees each word as it was typed.
"""

from __future__ import annotations

import re
import unicodedata

TOKEN = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
VOWELS = frozenset("aeiouy")
LEAST = 3  # letters that an ending must leave, one of them a vowel: "best" and "only" keep theirs
ENDINGS = ("ness", "est", "er", "ly")
DECLINED = ("es", "er", "en", "em", "e")  # German, before a noun
PLURALS_IN_ES = ("ses", "xes", "zes", "ches", "shes")


def folded(text: str) -> str:
    """A text without capitals, accents and spare spaces.

    >>> folded("  Métallique  und Süß ")
    'metallique und suss'
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(letter for letter in apart if not unicodedata.combining(letter)).casefold().split())


def compared_of(word: str) -> list[str]:
    """What a folded word may be a form of, as descriptors are compared and named: without its -er, -est, -ness or -ly.

    >>> compared_of("boomier"), compared_of("thinnest")
    (['boomi', 'boomie', 'boomy'], ['thinn', 'thinne', 'thin'])
    """
    left = _without_ending(word)
    if left == word or " " in word:
        return []
    forms = [left, left + "e"]
    if left.endswith("i"):
        forms.append(left[:-1] + "y")
    if left[-1] == left[-2] and left[-1] not in VOWELS:
        forms.append(left[:-1])
    return forms


def declined_of(word: str) -> list[str]:
    """What a folded German adjective may be without the ending that it has before a noun.

    >>> declined_of("helles")
    ['hell']
    """
    stems = [word.removesuffix(end) for end in DECLINED if word.endswith(end)]
    return [stem for stem in stems if _is_enough(stem)]


def roots(text: str) -> list[str]:
    """What the forms of each word of a text have in common, in their order.

    >>> roots("Brighter voices, a bit boomy")
    ['bright', 'voic', 'a', 'bit', 'bom']
    """
    return [_root(word) for word in TOKEN.findall(folded(text))]


def _root(word: str) -> str:
    """A folded word without its endings.

    The plural's goes first, then -ness, -est, -er and -ly, as often as there is one (harsh-li-ness), then a last y or i
    behind a consonant (airy, airi-er), a last e (coarse, coars-er); a double letter counts once (thin, thinn-er).
    """
    left = _singular(re.split("['’]", word)[0])
    while (shorter := _without_ending(left)) != left:
        left = shorter
    if left[-1:] in ("y", "i") and left[-2:-1] not in VOWELS and _is_enough(left[:-1]):
        left = left[:-1]
    if left.endswith("e") and _is_enough(left[:-1]):
        left = left[:-1]
    return re.sub(r"(.)\1", r"\1", left)


def _singular(word: str) -> str:
    if word.endswith(PLURALS_IN_ES) and _is_enough(word[:-2]):
        return word[:-2]
    if word.endswith("s") and not word.endswith(("ss", "us", "is")) and _is_enough(word[:-1]):
        return word[:-1]
    return word


def _without_ending(word: str) -> str:
    return next((word[: -len(end)] for end in ENDINGS if word.endswith(end) and _is_enough(word[: -len(end)])), word)


def _is_enough(left: str) -> bool:
    return len(left) >= LEAST and not VOWELS.isdisjoint(left)
