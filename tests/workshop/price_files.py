"""Invented price lists for the tests."""

from counterpoise.catalog.loader import load_family

FRONT, TOP = load_family("front_loader"), load_family("top_loader")
FAMILIES = {"front_loader": FRONT, "top_loader": TOP}
MAKERS = ("", *(f"Maker {letter}" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
HEAD = "part;number;description;price;pack;kind;lead_days;maker"
# (line in the file, column, the line's text with one thing wrong, a word of what is said)
BROKEN = {
    7: ("part", "front_loader/drain_pmup;N7;Pump;38,00;1;new;3;", "there is no part"),
    50: ("price", "front_loader/drain_pump;N50;Pump;;1;new;3;", "there is no price"),
    99: ("price", "front_loader/drain_pump;N99;Pump;on request;1;new;3;", "is no price"),
    150: ("price", "front_loader/drain_pump;N150;Pump;-38,00;1;new;3;", "below zero"),
    151: ("price", "front_loader/drain_pump;N151;Pump;0,00;1;new;3;", "price is 0"),
    200: ("price", "front_loader/drain_pump;N200;Pump;38.50;1;new;3;", "where this list writes"),
    250: ("price", "front_loader/drain_pump;N250;Pump;NaN;1;new;3;", "is no price"),
    300: ("price", "front_loader/drain_pump;N300;Pump;inf;1;new;3;", "is no price"),
    350: ("price", "front_loader/drain_pump;N350;Pump;38,005;1;new;3;", "parts of a cent"),
    400: ("price", "front_loader/drain_pump;N400;Pump;9999999,00;1;new;3;", "too much for a part"),
    450: ("pack", "front_loader/drain_pump;N450;Pump;38,00;none;new;3;", "no whole number"),
    500: ("pack", "front_loader/drain_pump;N500;Pump;38,00;0;new;3;", "no whole number"),
    550: ("kind", "front_loader/drain_pump;N550;Pump;38,00;1;mended;3;", "no kind of part"),
    600: ("lead_days", "front_loader/drain_pump;N600;Pump;38,00;1;new;soon;", "no whole number"),
    650: ("currency", "front_loader/drain_pump;N650;Pump;38,00 USD;1;new;3;", "the price is in"),
    700: ("part", "drain_pump;N700;Pump;38,00;1;new;3;", "several kinds of machines"),
    750: ("", 'front_loader/drain_pump;N750;"Pump;38,00;1;new;3;', "quotation mark"),
    800: ("", "front_loader/drain_pump;N800;" + "x" * 5000 + ";38,00;1;new;3;", "characters"),
    850: ("price", "front_loader/drain_pump;N850;Pump;3,8,00;1;new;3;", "wrong places"),
    999: (
        "price",
        "front_loader/drain_pump;N999;Pump;1.00.000,00;1;new;3;",
        "where this list writes",
    ),
}


def sound(index):
    """Line ``index`` of a list: a part, a maker, a price, each different from the others."""
    family = FRONT if index % 3 else TOP
    part = list(family.parts)[index % len(family.parts)]
    maker, minor = MAKERS[index % len(MAKERS)], 500 + 7 * index
    return (
        f"{family.id}/{part};N{index};Part {index};{minor // 100},{minor % 100:02};1;new;3;{maker}"
    )


def long_list(lines=1000, broken=BROKEN):
    """A list of a thousand lines under its heads, those of ``broken`` (by their number in the file) spoilt."""
    rows = [broken[i][1] if i in broken else sound(i) for i in range(2, lines + 2)]
    return "\r\n".join([HEAD, *rows, ""]).encode()
