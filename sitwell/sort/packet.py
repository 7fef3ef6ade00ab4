"""The bytes of an XMP sidecar: what it says, and small edits that leave every other byte alone.

XMP is RDF in XML (ISO 16684-1). A sidecar belongs to whoever wrote it first, so nothing is ever
serialised anew: the standard library's expat finds where things stand, and an edit is a splice
at those places. Document types and entities are refused, and so is deep nesting, so no file can
grow, or keep us, while it is read.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat
from xml.sax.saxutils import escape

from sitwell.base.errors import SidecarError
from sitwell.base.words import tr

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XMP = "http://ns.adobe.com/xap/1.0/"
DC = "http://purl.org/dc/elements/1.1/"
# Our own note beside the rating, so that a rating a person changed is known as theirs.
OURS = "urn:sitwell:xmp:1"
LARGEST_BYTES = 64_000_000
# Sidecars nest some ten deep; far deeper ones take minutes to go through.
DEEPEST = 100
# Far above any: a million empty elements, a sidecar of 6 MB, took minutes.
MOST_ELEMENTS = 200_000

_ATTRIBUTE = re.compile(rb"([^\s=]+)\s*=\s*(\"[^\"]*\"|'[^']*')")
_TAG = re.compile(rb"<(?:[^>\"']|\"[^\"]*\"|'[^']*')*>")
_EMPTY = b"""<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Says:
    """What a sidecar says: its rating as written, its keywords, and the rating we wrote last."""

    rating: float | None = None
    rating_text: str | None = None
    keywords: tuple[str, ...] = ()
    our_rating: float | None = None


@dataclass(slots=True)
class _Element:
    """One element with its byte places: ``start <...> inner ... close </...> end``."""

    name: str
    start: int
    attributes: dict[str, str]
    inner: int = 0
    close: int = 0
    end: int = 0
    text: str = ""
    children: list["_Element"] = field(default_factory=list)


def empty_packet() -> bytes:
    """A new sidecar that says nothing yet."""
    return _EMPTY


def read_packet(data: bytes, name: str = "the sidecar") -> Says:
    """What the sidecar says; ``name`` is how an error calls the file."""
    rdf = rdf_of(data, name)
    place = find_property(rdf, XMP, "Rating")
    ours = find_property(rdf, OURS, "Rating")
    text = None if place is None else place.value(data)
    return Says(
        rating=_number(text),
        rating_text=text,
        keywords=_keywords(rdf),
        our_rating=_number(ours.value(data)) if ours else None,
    )


def set_rating(data: bytes, rating: int, name: str = "the sidecar") -> bytes:
    """The sidecar with ``xmp:Rating`` set, in the form it already has, and our note of it."""
    if rating not in range(-1, 6):
        raise SidecarError(
            tr("The rating {rating} can't be written; a rating is -1 to 5.", rating=rating)
        )
    for namespace, prefix in ((XMP, "xmp"), (OURS, "sitwell")):
        place = find_property(rdf_of(data, name), namespace, "Rating")
        if place:
            data = place.replaced(data, str(rating))
        else:
            data = with_property(data, name, namespace, prefix, "Rating", str(rating))
    return data


def add_keywords(data: bytes, keywords: list[str], name: str = "the sidecar") -> bytes:
    """The sidecar with those ``dc:subject`` keywords that it lacks added after its own."""
    wanted = dict.fromkeys(_writable(keyword) for keyword in keywords)
    missing = [k for k in wanted if k and k not in _keywords(rdf_of(data, name))]
    if not missing:
        return data
    subject = find_property(rdf_of(data, name), DC, "subject")
    if subject is None:
        items = "".join(f"<rdf:li>{_escaped(k)}</rdf:li>" for k in missing)
        return with_property(data, name, DC, "dc", "subject", f"<rdf:Bag>{items}</rdf:Bag>")
    holder = _holder(subject.element) if subject.attribute is None else None
    if holder is None:
        raise SidecarError(
            tr(
                "The keywords in {name} are not a list; mend the file in the program that wrote "
                "it.",
                name=name,
            )
        )
    tag = _tag_name(data, holder)
    item = (tag.rpartition(b":")[0] + b":li").lstrip(b":").decode()
    return _inserted(data, holder, "".join(f"<{item}>{_escaped(k)}</{item}>" for k in missing))


@dataclass(frozen=True, slots=True)
class Place:
    """Where a property stands: an element of its own, or an attribute of a description."""

    element: _Element
    attribute: str | None

    def value(self, data: bytes) -> str:
        """What is written there, without the white space around it."""
        if self.attribute is not None:
            return self.element.attributes[self.attribute].strip()
        return self.element.text.strip()

    def replaced(self, data: bytes, value: str) -> bytes:
        """The sidecar with another value there, in the same form."""
        element = self.element
        if self.attribute is None:
            if b"<" in data[element.inner : element.close]:
                raise SidecarError(
                    tr(
                        "The rating is written in a form that can't be changed safely: {written}; "
                        "change it in the program that wrote it.",
                        written=data[element.start : element.end].decode()[:80],
                    )
                )
            if element.inner == element.end:
                return _inserted(data, element, value)
            return data[: element.inner] + value.encode() + data[element.close :]
        start, end = _attribute_span(data, element, self.attribute)
        return data[: start + 1] + value.encode() + data[end - 1 :]


def find_property(rdf: _Element, namespace: str, local: str) -> Place | None:
    """The first place of a property in the top descriptions; nested structures don't count."""
    wanted = f"{namespace} {local}"
    for description in _descriptions(rdf):
        if wanted in description.attributes:
            return Place(description, wanted)
        for child in description.children:
            if child.name == wanted:
                return Place(child, None)
    return None


def _descriptions(rdf: _Element) -> Iterator[_Element]:
    return (child for child in rdf.children if child.name == f"{RDF} Description")


def _holder(subject: _Element) -> _Element | None:
    lists = {f"{RDF} {kind}" for kind in ("Bag", "Seq", "Alt")}
    return next((child for child in subject.children if child.name in lists), None)


def _keywords(rdf: _Element) -> tuple[str, ...]:
    place = find_property(rdf, DC, "subject")
    holder = _holder(place.element) if place and place.attribute is None else None
    return tuple(item.text for item in holder.children) if holder else ()


def _number(text: str | None) -> float | None:
    try:
        return float(text) if text else None
    except ValueError:
        return None


def _writable(text: str) -> str:
    # XML 1.0 has no way to write control characters, lone surrogates, U+FFFE and U+FFFF.
    return re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]", "", text).strip()


def _escaped(text: str) -> str:
    return escape(text, {"\r": "&#13;"})


def with_property(
    data: bytes, name: str, namespace: str, prefix: str, local: str, inner: str
) -> bytes:
    """The sidecar with a property in a description of its own, so that no other is touched."""
    rdf = rdf_of(data, name)
    about = next((d.attributes.get(f"{RDF} about", "") for d in _descriptions(rdf)), "")
    block = (
        f'<rdf:Description xmlns:rdf="{RDF}" rdf:about="{escape(about, {chr(34): "&quot;"})}"'
        f' xmlns:{prefix}="{namespace}">'
        f"<{prefix}:{local}>{inner}</{prefix}:{local}></rdf:Description>\n "
    )
    return _inserted(data, rdf, block)


def _inserted(data: bytes, element: _Element, inner: str) -> bytes:
    """New content at the end of an element, opened first where it was written ``<a/>``."""
    if element.inner < element.end:
        return data[: element.close] + inner.encode() + data[element.close :]
    tag = data[element.start : element.end]
    opened = tag[: tag.rindex(b"/")].rstrip() + b">" + inner.encode()
    closed = b"</" + _tag_name(data, element) + b">"
    return data[: element.start] + opened + closed + data[element.end :]


def _tag_name(data: bytes, element: _Element) -> bytes:
    return re.split(rb"[\s/>]", data[element.start + 1 : element.inner], maxsplit=1)[0]


def _attribute_span(data: bytes, element: _Element, name: str) -> tuple[int, int]:
    """Where the quoted value of an attribute stands; names stand in the order they were read."""
    tag_start = element.start + 1 + len(_tag_name(data, element))
    plain = [
        found.span(2)
        for found in _ATTRIBUTE.finditer(data, tag_start, element.inner)
        if not re.match(rb"xmlns(:|$)", found.group(1))
    ]
    return plain[list(element.attributes).index(name)]


def rdf_of(data: bytes, name: str) -> _Element:
    """The element of a sidecar that holds its descriptions."""
    level = [_parse(data, name)]
    while level:
        for element in level:
            if element.name == f"{RDF} RDF":
                return element
        level = [child for element in level for child in element.children]
    raise SidecarError(
        tr(
            "There is no XMP in {name}; move it away and a new one will be written.",
            name=name,
        )
    )


def _parse(data: bytes, name: str) -> _Element:
    if len(data) > LARGEST_BYTES:
        raise SidecarError(
            tr(
                "{name} is larger than 64 MB; a sidecar never is, so look what it is.",
                name=name,
            )
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in data[:4]:
        raise SidecarError(
            tr("{name} is written in UTF-16 or UTF-32; save it as UTF-8 first.", name=name)
        )
    reader = _Reader(data, name)
    try:
        reader.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise SidecarError(
            tr(
                "{name} can't be read ({error}); move it away and a new one will be written.",
                name=name,
                error=error,
            )
        ) from error
    return reader.top


class _Reader:
    """Expat's events gathered into elements with byte places."""

    def __init__(self, data: bytes, name: str) -> None:
        self.data, self.name = data, name
        self.open: list[_Element] = []
        self.count = 0
        parser = self.parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        parser.StartDoctypeDeclHandler = self._refuse_doctype
        parser.XmlDeclHandler = self._declaration

    def _start(self, name: str, attributes: list[str]) -> None:
        if len(self.open) >= DEEPEST:
            raise SidecarError(
                tr(
                    "{name} nests more than {count} levels deep, which no sidecar does; move it "
                    "away and a new one will be written.",
                    name=self.name,
                    count=DEEPEST,
                )
            )
        self.count += 1
        if self.count > MOST_ELEMENTS:
            raise SidecarError(
                tr(
                    "{name} has more than {count} elements, which no sidecar has; move it away "
                    "and a new one will be written.",
                    name=self.name,
                    count=MOST_ELEMENTS,
                )
            )
        pairs = dict(zip(attributes[::2], attributes[1::2], strict=True))
        element = _Element(name, self.parser.CurrentByteIndex, pairs)
        element.inner = self._after_tag(element.start)
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.top = element
        self.open.append(element)

    def _end(self, name: str) -> None:
        element = self.open.pop()
        if self.data[element.inner - 2 : element.inner] == b"/>":
            element.close = element.end = element.inner
        else:
            element.close = self.parser.CurrentByteIndex
            element.end = self.data.index(b">", element.close) + 1

    def _text(self, text: str) -> None:
        if self.open:
            self.open[-1].text += text

    def _after_tag(self, start: int) -> int:
        return next(_TAG.finditer(self.data, start)).end()

    def _refuse_doctype(self, *_: object) -> None:
        raise SidecarError(
            tr(
                "{name} declares a document type or entities, which no sidecar needs; move it "
                "away and a new one will be written.",
                name=self.name,
            )
        )

    def _declaration(self, version: str, encoding: str | None, standalone: int) -> None:
        if encoding and encoding.lower() not in ("utf-8", "utf8", "us-ascii"):
            raise SidecarError(
                tr(
                    "{name} is written in {encoding}; save it as UTF-8 first.",
                    name=self.name,
                    encoding=encoding,
                )
            )
