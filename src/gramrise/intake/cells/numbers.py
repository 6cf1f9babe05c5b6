"""Numbers as people write them: decimal comma or point, thousands marks, signs and blanks."""

import polars as pl

# A number in each style, whole cell. Digits only: 'nan', 'inf', '1e5' and '1_000' are no numbers here.
_BLANKS = "[\u00a0\u202f\u2009 ]"


def number_expression(column: str, decimal: str, thousands: str = "") -> pl.Expr:
    """f64 from a text column; null where the cell is no plain number of this style.

    decimal    '.' or ','
    thousands  mark between groups of three, '' for none
    """
    text = pl.col(column).str.strip_chars()
    if thousands:
        mark = _BLANKS if thousands == " " else f"\\{thousands}"
        grouped = text.str.contains(rf"^[+-]?\d{{1,3}}({mark}\d{{3}})+([{decimal}]\d+)?$")
        text = pl.when(grouped).then(text.str.replace_all(mark, "")).otherwise(text)
    if decimal == ",":
        text = (
            pl.when(text.str.contains(".", literal=True)).then(None).otherwise(text.str.replace(",", ".", literal=True))
        )
    value = text.cast(pl.Float64, strict=False)
    return pl.when(value.is_finite() & ~text.str.contains_any(["e", "E"])).then(value).otherwise(None)


def numbers_of(cells: pl.Series, decimal: str, thousands: str = "") -> pl.Series:
    """`number_expression` over a whole column; where all cells are plain numbers, without looking twice."""
    plain = cells.cast(pl.Float64, strict=False)
    sound = decimal == "." and plain.null_count() == 0 and plain.is_finite().all()
    if sound and not cells.str.contains_any(["e", "E"]).any():
        return plain
    return cells.to_frame("cells").select(number_expression("cells", decimal, thousands)).to_series()


def read_number(text: str, decimal: str = "") -> float | None:
    """One number as a person writes it in a note: '2', '2.5', '2,5', '1/2', '½', '1 1/2', '2½'; None when it is none.

    `decimal` is '.' or ',' where the file settles it, '' for either.
    """
    trimmed = text.strip()
    for sign, worth in _FRACTION_SIGNS.items():
        if trimmed.endswith(sign):
            whole = trimmed[: -len(sign)].strip()
            return worth if not whole else (int(whole) + worth if whole.isascii() and whole.isdigit() else None)
    whole, _, last = trimmed.rpartition(" ")
    if "/" in last:
        top, _, bottom = last.partition("/")
        if not (_digits(top) and _digits(bottom) and int(bottom)) or (whole and not _digits(whole)):
            return None
        return int(whole or 0) + int(top) / int(bottom)
    if whole:
        return None
    plain = trimmed.replace(",", ".", 1) if decimal != "." else trimmed
    before, point, after = plain.partition(".")
    if point and not before:
        before, plain = "0", f"0{plain}"  # '.5'
    if not _digits(before) or (point and not _digits(after)):
        return None
    return float(plain)


_FRACTION_SIGNS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3}


def _digits(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9
