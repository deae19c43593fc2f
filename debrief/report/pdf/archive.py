"""What makes the painted file one for an archive (PDF/A-1b): bookmarks, metadata, fonts and colours that are declared.

The painter writes most of it. Here stands what a validator found missing or too much in its output.
"""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

if TYPE_CHECKING:
    import pikepdf

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

_XMP = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/">
   <xmp:CreatorTool>{creator}</xmp:CreatorTool>
   <xmp:CreateDate>{instant}</xmp:CreateDate>
   <xmp:ModifyDate>{instant}</xmp:ModifyDate>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
   <pdf:Producer>{producer}</pdf:Producer>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
   <pdfaid:part>1</pdfaid:part>
   <pdfaid:conformance>B</pdfaid:conformance>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"""
"""What the file says of itself: the same as its table of information, and nothing that PDF/A-1 does not know."""


def archived(data: bytes, bookmarks: Sequence[tuple[str, int]]) -> bytes:
    """Return the painted PDF as an archive file.

    Parameters
    ----------
    data : bytes
        As painted.
    bookmarks : sequence of (str, int)
        Titles with the numbers of their pages, from 0.
    """
    import pikepdf

    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as document:
        with document.open_outline() as outline:
            outline.root.extend(pikepdf.OutlineItem(title, page) for title, page in bookmarks)
        _mend_fonts(document)
        _drop_unused_colours(document)
        _describe(document)
        document.Root.PageMode = pikepdf.Name.UseOutlines
        document.Root.Lang = pikepdf.String("en")
        document.Root.ViewerPreferences = pikepdf.Dictionary(DisplayDocTitle=True)
        _pack(document)
        # PDF/A-1 is PDF 1.4, which knows no object streams.
        document.save(
            out,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
            stream_decode_level=pikepdf.StreamDecodeLevel.none,
            compress_streams=False,
            preserve_pdfa=True,
        )
    return out.getvalue()


def _mend_fonts(document: pikepdf.Pdf) -> None:
    """Let the blank be a blank in copied text, and name each subset of a font alike everywhere.

    Notes
    -----
    The font has one glyph for the tab, the blank and the hard blank, and the writer notes the first of them as
    its meaning. It also leaves the subset's tag out of the font's own name, which an archive file wants.
    """
    import pikepdf

    for thing in document.objects:
        if not isinstance(thing, pikepdf.Dictionary):
            continue
        if "/ToUnicode" in thing:
            meanings = thing.ToUnicode.read_bytes()
            thing.ToUnicode.write(meanings.replace(b"<0009>", b"<0020>").replace(b"<00A0>", b"<0020>"))
        if thing.get("/Subtype") == "/Type0":
            inner = thing.DescendantFonts[0]
            inner.BaseFont = thing.BaseFont = inner.FontDescriptor.FontName


def _drop_unused_colours(document: pikepdf.Pdf) -> None:
    """Leave out the colour spaces of printing inks, which the writer lists and no page uses.

    Notes
    -----
    An archive file whose output intent is a screen's may not name them.
    """
    import pikepdf

    for page in document.pages:
        spaces = page.Resources.get("/ColorSpace")
        if isinstance(spaces, pikepdf.Dictionary):
            for name in [name for name in spaces.keys() if "cmyk" in name]:  # noqa: SIM118 (no plain mapping)
                del spaces[name]


def _describe(document: pikepdf.Pdf) -> None:
    """Say in both places where a PDF says it what the file is and when it was made, in the same words."""
    import pikepdf

    information = document.docinfo
    told = {str(name): _NOT_XML.sub("\ufffd", str(value)) for name, value in information.items()}
    for name in told:
        del information[name]
    for name in ("/Title", "/Creator", "/Producer"):
        information[name] = pikepdf.String(told.get(name, ""))
    now = datetime.now(UTC).replace(microsecond=0)
    for name in ("/CreationDate", "/ModDate"):
        information[name] = pikepdf.String(now.strftime("D:%Y%m%d%H%M%S+00'00'"))
    text = _XMP.format(
        title=escape(told.get("/Title", "")),
        creator=escape(told.get("/Creator", "")),
        producer=escape(told.get("/Producer", "")),
        instant=now.strftime("%Y-%m-%dT%H:%M:%S+00:00"),
    )
    if "/Names" in document.Root and not document.Root.Names:
        del document.Root.Names
    document.Root.Metadata = pikepdf.Stream(
        document, text.encode("utf-8"), Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML
    )


def _pack(document: pikepdf.Pdf) -> None:
    """Compress every stream but the metadata, which an archive file holds as plain text.

    Notes
    -----
    The compressed bytes may happen to end in a carriage return. Together with the line end before ``endstream``
    that is one line end to some readers, and the length in the file is then wrong to them: such a stream is
    written in hexadecimal digits.
    """
    import pikepdf

    for thing in document.objects:
        if not isinstance(thing, pikepdf.Stream) or thing.get("/Type") == "/Metadata":
            continue
        packed = zlib.compress(thing.read_bytes(), 6)
        if packed.endswith(b"\r"):
            names = pikepdf.Array([pikepdf.Name.ASCIIHexDecode, pikepdf.Name.FlateDecode])
            thing.write(packed.hex().encode("ascii") + b">", filter=names)
        else:
            thing.write(packed, filter=pikepdf.Name.FlateDecode)
