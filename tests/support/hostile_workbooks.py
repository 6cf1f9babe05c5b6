"""Workbooks that are small on the disk and large in memory, written as the XML they are."""

import io
import zipfile

_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml"'
    ' ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml"'
    ' ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>'
    '<Override PartName="/xl/sharedStrings.xml"'
    ' ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
)
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_RELS = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{}</Relationships>'
_RELATION = '<Relationship Id="r{at}" Type="' + _OFFICE + '/{kind}" Target="{target}"/>'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def raw_workbook(cells: str, strings: tuple[str, ...] = ()) -> bytes:
    """A workbook of one sheet whose rows are the XML given, with shared strings."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", _TYPES)
        packed.writestr(
            "_rels/.rels", _RELS.format(_RELATION.format(at=1, kind="officeDocument", target="xl/workbook.xml"))
        )
        packed.writestr(
            "xl/workbook.xml",
            f'<?xml version="1.0"?><workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">'
            '<sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>',
        )
        relations = _RELATION.format(at=1, kind="worksheet", target="worksheets/sheet1.xml")
        relations += _RELATION.format(at=2, kind="sharedStrings", target="sharedStrings.xml")
        packed.writestr("xl/_rels/workbook.xml.rels", _RELS.format(relations))
        packed.writestr(
            "xl/worksheets/sheet1.xml",
            f'<?xml version="1.0"?><worksheet xmlns="{_MAIN}"><sheetData>{cells}</sheetData></worksheet>',
        )
        shared = "".join(f"<si><t>{one}</t></si>" for one in strings)
        packed.writestr("xl/sharedStrings.xml", f'<?xml version="1.0"?><sst xmlns="{_MAIN}">{shared}</sst>')
    return out.getvalue()


def far_corners(quote: str = '"') -> bytes:
    """Cells A1 and XFD1048576. With single quotes the cells' names are not seen before they are read."""
    first, last = '<row r="1"><c r="A1"><v>1</v></c></row>', '<row r="1048576"><c r="XFD1048576"><v>2</v></c></row>'
    return raw_workbook((first + last).replace('"', quote))


def one_text_many_times(length: int = 90_000, times: int = 60_000, quote: str = '"') -> bytes:
    """One long text that a column of cells repeats."""
    rows = "".join(f'<row r="{at}"><c r="A{at}" t="s"><v>0</v></c></row>' for at in range(1, times + 1))
    return raw_workbook(rows.replace('"', quote), ("x" * length,))
