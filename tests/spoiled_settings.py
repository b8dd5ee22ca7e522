"""Settings spoiled on purpose, seeded: job files, prices, cutting data and post-processors in TOML, plans in JSON."""

from __future__ import annotations

import random

from line_edits import line_gone, line_twice, one_replaced
from nasty_names import NASTY_NAMES

FIGURES = (
    "1e300", "-1", "0", "-0.0", "nan", "inf", "-inf", "9" * 5000, "1e-300", "0x7fffffffffffffff", "99999999999",
    "1_000", "true", '"12"', "[]", "{}", "2027-01-31", "[[1]]", "0.1", "1e999",
)  # fmt: skip
TEXTS = (
    "\\u0000",
    "\\u001b[2J",
    "a" * 3000,
    "../" * 400,
    "a/" + "n" * 300,
    "\\n",
    "",
    " ",
    "\\u202e",
    "/dev/zero",
    ".",
)


def spoiled_text(text: str, seed: int) -> bytes:
    """Return a text of settings spoiled in one to four places: the same seed, the same bytes."""
    dice = random.Random(seed)
    for _ in range(dice.randint(1, 4)):
        text = dice.choice((_figure, _figure, _word, _word, line_gone, line_twice, _key, _nested, _cut))(
            text, dice
        )
    data = bytearray(text.encode("utf-8", "surrogatepass"))
    if dice.random() < 0.2:
        for _ in range(dice.choice((1, 10))):
            data[dice.randrange(len(data))] = dice.randrange(256)
    return bytes(data)


def _figure(text: str, dice: random.Random) -> str:
    return one_replaced(r"(?<=[=:\[, ])-?\d+(?:\.\d+)?", text, dice.choice(FIGURES), dice)


def _word(text: str, dice: random.Random) -> str:
    words = [
        *TEXTS,
        *(
            name.encode("unicode_escape").decode().replace("\\x", "\\u00").replace('"', '\\"')
            for name in NASTY_NAMES
        ),
    ]
    return one_replaced(r'(?<=")[^"\n]+(?=")', text, dice.choice(words), dice)


def _key(text: str, dice: random.Random) -> str:
    return one_replaced(
        r"(?m)^\w+(?= *=)", text, dice.choice(("quantity", "zz", "a.b.c.d", '""', "part", "gap")), dice
    )


def _nested(text: str, dice: random.Random) -> str:
    deep = dice.choice((50, 500, 5000))
    return (
        text
        + "\n"
        + dice.choice(
            ("[" * deep + "]" * deep, "x = " + "[" * deep + "]" * deep, "[" + ".".join("a" * deep) + "]")
        )
    )


def _cut(text: str, dice: random.Random) -> str:
    return text[: dice.randrange(1, len(text) + 1)]
