"""What an archive file (PDF/A-1b, ISO 19005-1) must be and must not hold, as far as its objects tell.

Each rule names the clause of ISO 19005-1:2005 that it is from. This is no validator: see DEVELOPERS.md for those
that the paper was run through.
"""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Iterator
from datetime import datetime

import pikepdf

_ACTIVE = ("/JavaScript", "/JS", "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/URI", "/GoToR")
_FILTERS = ("/FlateDecode", "/ASCIIHexDecode")


def archive_faults(data: bytes) -> list[str]:
    """Return a sentence for each rule that a file breaks."""
    with pikepdf.open(io.BytesIO(data)) as document:
        return [
            *_file_faults(data, document),
            *_catalogue_faults(document),
            *_metadata_faults(document),
            *_object_faults(document),
        ]


def _file_faults(data: bytes, document: pikepdf.Pdf) -> Iterator[str]:
    lines = re.split(rb"\r\n|\r|\n", data[:64])
    if lines[0] != b"%PDF-1.4":
        yield "6.1.2: the header is not that of PDF 1.4"
    if not (lines[1][:1] == b"%" and len(lines[1]) >= 5 and all(byte > 127 for byte in lines[1][1:5])):
        yield "6.1.2: no comment of four bytes above 127 follows the header"
    if "/ID" not in document.trailer:
        yield "6.1.3: the trailer has no ID"
    if "/Encrypt" in document.trailer:
        yield "6.1.3: the file is encrypted"
    if not re.search(rb"%%EOF\r?\n?\Z", data):
        yield "6.1.3: something follows the end of the file"
    if document.is_linearized or b"/ObjStm" in data or b"/XRef" in data:
        yield "6.1.4: the table of objects is not a plain one"


def _catalogue_faults(document: pikepdf.Pdf) -> Iterator[str]:
    root = document.Root
    for key, clause in (
        ("/OpenAction", "6.6.1"),
        ("/AA", "6.6.2"),
        ("/AcroForm", "6.9"),
        ("/OCProperties", "6.1.13"),
    ):
        if key in root:
            yield f"{clause}: the catalogue has {key}"
    if "/Names" in root:
        yield "6.1.11: the catalogue has names, which may be of embedded files"
    intents = root.get("/OutputIntents", [])
    if len(intents) != 1 or intents[0].get("/S") != "/GTS_PDFA1":
        yield "6.2.2: there is not one output intent"
        return
    profile = intents[0].DestOutputProfile.read_bytes()
    if profile[36:40] != b"acsp" or profile[16:20] != b"RGB " or int(intents[0].DestOutputProfile.N) != 3:
        yield "6.2.2: the output intent's profile is not one of a screen's colours"
    if int.from_bytes(profile[:4], "big") != len(profile):
        yield "6.2.2: the output intent's profile has another length than it says"


def _metadata_faults(document: pikepdf.Pdf) -> Iterator[str]:
    stream = document.Root.get("/Metadata")
    if stream is None:
        yield "6.7.2: no metadata"
        return
    if "/Filter" in stream:
        yield "6.7.2: the metadata are compressed"
    if b"bytes=" in stream.read_bytes() or b"encoding=" in stream.read_bytes():
        yield "6.7.5: the packet header has attributes that are not allowed"
    information = document.docinfo
    with document.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as metadata:
        for key, name in (
            ("/Title", "dc:title"),
            ("/Creator", "xmp:CreatorTool"),
            ("/Producer", "pdf:Producer"),
        ):
            if str(information.get(key)) != metadata.get(name):
                yield f"6.7.3: {key} is {information.get(key)} and {name} is {metadata.get(name)}"
        for key, name in (("/CreationDate", "xmp:CreateDate"), ("/ModDate", "xmp:ModifyDate")):
            told = datetime.strptime(str(information[key]).replace("'", ""), "D:%Y%m%d%H%M%S%z")
            if told != datetime.fromisoformat(str(metadata[name])):
                yield f"6.7.3: {key} and {name} differ"
        for key in ("/Author", "/Subject", "/Keywords", "/Trapped"):
            if key in information:
                yield f"6.7.3: {key} has no equal in the metadata"
        if (metadata.get("pdfaid:part"), metadata.get("pdfaid:conformance")) != ("1", "B"):
            yield "6.7.11: the file does not say that it is PDF/A-1b"


def _object_faults(document: pikepdf.Pdf) -> Iterator[str]:
    for thing in document.objects:
        if isinstance(thing, pikepdf.Stream):
            yield from _stream_faults(thing)
        if not isinstance(thing, pikepdf.Stream | pikepdf.Dictionary):
            continue
        if thing.get("/Type") == "/Font":
            yield from _font_faults(thing)
        if thing.get("/S") in _ACTIVE or any(key in thing for key in _ACTIVE):
            yield "6.6.1: an action that reaches out of the file"
        if thing.get("/Type") in ("/Filespec", "/EmbeddedFile") or "/EF" in thing:
            yield "6.1.11: an embedded file"
        if thing.get("/Type") == "/Annot":
            yield "6.5: an annotation"
        yield from _see_through(thing)
    for page in document.pages:
        for name, space in page.Resources.get("/ColorSpace", {}).items():
            if "DeviceCMYK" in repr(space):
                yield f"6.2.3.3: the colour space {name} is not one of the output intent's"


def _see_through(thing: pikepdf.Object) -> Iterator[str]:
    if "/SMask" in thing and thing.SMask != "/None":
        yield "6.4: a soft mask"
    if "/BM" in thing and thing.BM not in ("/Normal", "/Compatible"):
        yield "6.4: a blend mode"
    for alpha in ("/ca", "/CA"):
        if alpha in thing and isinstance(thing[alpha], int | float) and float(thing[alpha]) != 1.0:
            yield "6.4: something is transparent"
    group = thing.get("/Group")
    if isinstance(group, pikepdf.Dictionary) and group.get("/S") == "/Transparency":
        yield "6.4: a transparency group"


def _stream_faults(stream: pikepdf.Stream) -> Iterator[str]:
    if stream.read_raw_bytes().endswith(b"\r"):
        yield "6.1.7: a stream's data and the line end after them run together"
    filters = stream.get("/Filter", [])
    for name in [filters] if isinstance(filters, pikepdf.Name) else list(filters):
        if name not in _FILTERS:
            yield f"6.1.10: the filter {name}"
    if any(key in stream for key in ("/F", "/FFilter", "/FDecodeParms")):
        yield "6.1.7: a stream's data are in another file"
    if stream.get("/Subtype") in ("/Image", "/PS"):
        yield "6.2.4: a picture, where the paper has vectors only"


def _font_faults(font: pikepdf.Dictionary) -> Iterator[str]:
    kind, name = font.get("/Subtype"), font.get("/BaseFont")
    if kind == "/Type0":
        if "/ToUnicode" not in font:
            yield f"{name} does not say what its signs mean"
        inner = font.DescendantFonts[0]
        if str(font.get("/Encoding")) not in ("/Identity-H", "/Identity-V"):
            yield f"6.3.3.3: {name} has an encoding that is not in the file"
        if inner.BaseFont != name or inner.FontDescriptor.FontName != name:
            yield f"6.3.3: {name} is named otherwise in another place"
    elif kind in ("/CIDFontType0", "/CIDFontType2"):
        descriptor = font.FontDescriptor
        if not any(key in descriptor for key in ("/FontFile2", "/FontFile3")):
            yield f"6.3.4: {name} is not embedded"
        if kind == "/CIDFontType2" and "/CIDToGIDMap" not in font:
            yield f"6.3.3.2: {name} has no map from its codes to its signs"
        if re.match(r"/[A-Z]{6}\+", str(name)) and "/CIDSet" not in descriptor:
            yield f"6.3.5: {name} is a part of a font and does not say which"
        if "/W" not in font:
            yield f"6.3.6: {name} has no widths"
    else:
        yield f"6.3.4: {name} is a font of the kind {kind}"


def ends_in_carriage_return(data: bytes) -> bool:
    """Return whether the usual compression of a stream's data ends in a carriage return."""
    return zlib.compress(data, 6).endswith(b"\r")
