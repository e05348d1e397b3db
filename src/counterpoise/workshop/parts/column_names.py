"""What suppliers call the columns of their lists."""

from __future__ import annotations

import re
from collections.abc import Mapping

# "Stück" and "Stueck" are one head
_FOLDED = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "é": "e", "è": "e"})
_LETTERS = re.compile(r"[^a-z0-9]+")

# letters and digits only (common practice in English, German, French, Dutch; from memory)
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "part": (
        "part", "partid", "ourpart", "ourid", "ourno", "ournumber", "id", "unserenr", "unserteil",
        "teil", "notreref", "piece", "onsnummer", "onderdeel",
    ),
    "number": (
        "number", "suppliersnumber", "suppliernumber", "itemno", "itemnumber", "articleno",
        "article", "sku", "orderno", "artikelnr", "artikelnummer", "bestellnr", "reference", "ref",
        "artnr",
    ),
    "description": (
        "description", "title", "name", "text", "bezeichnung", "beschreibung", "designation",
        "libelle", "omschrijving",
    ),
    "price": (
        "price", "netprice", "unitprice", "net", "preis", "nettopreis", "ek", "eknetto", "prix",
        "prixht", "prijs",
    ),
    "currency": ("currency", "curr", "waehrung", "wahrung", "devise", "valuta"),
    "pack": (
        "pack", "packsize", "setsize", "set", "pieces", "unit", "per", "ve", "vpe", "menge",
        "stueck", "conditionnement", "lot", "verpakking",
    ),
    "kind": (
        "kind", "quality", "condition", "type", "art", "qualitaet", "zustand", "qualite", "etat",
        "soort", "kwaliteit",
    ),
    "lead_days": (
        "leaddays", "leadtime", "days", "delivery", "deliverydays", "lieferzeit", "liefertage",
        "delai", "levertijd",
    ),
    "maker": (
        "maker", "fits", "make", "brand", "for", "hersteller", "marke", "marque", "fabricant",
        "merk",
    ),
}  # fmt: skip
_COLUMN_OF = {name: column for column, names in COLUMNS.items() for name in names}


def column_of(plain: str) -> str:
    """The column that suppliers call so, by a head as :func:`plain_name` writes it; or empty."""
    return _COLUMN_OF.get(plain, "")


def plain_name(head: str) -> str:
    """Letters and digits of a head, small, umlauts and accents written out; or empty."""
    return _LETTERS.sub("", head.casefold().translate(_FOLDED))
