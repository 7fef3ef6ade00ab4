"""Where the faces are, as image regions in a sidecar: boxes only, never who it is.

The form is the Metadata Working Group's (centre, width and height as shares of the picture); its
places count in the picture as it is stored, before its orientation is applied (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import PhotoError
from sitwell.brief.pictures import DECODING_ERRORS, exif_of, opened
from sitwell.sort import packet

MWG = "http://www.metadataworkinggroup.com/schemas/regions/"
_AREA = "http://ns.adobe.com/xmp/sType/Area#"
_SIZE = "http://ns.adobe.com/xap/1.0/sType/Dimensions#"
_ORIENTATION = 274

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Regions:
    """The stored picture's size in pixels and its faces: left, top, right, bottom as shares."""

    width_px: int
    height_px: int
    faces: tuple[Box, ...]


def regions_of(photo: Path, upright: Sequence[Sequence[float]]) -> Regions | None:
    """Faces given in the upright picture, as they lie in the stored one; None if unreadable."""
    try:
        with opened(photo) as image:
            (width, height), turned = image.size, exif_of(image).get(_ORIENTATION, 1)
    except (PhotoError, *DECODING_ERRORS):
        return None
    return Regions(
        width_px=width, height_px=height, faces=tuple(_stored(box, turned) for box in upright)
    )


def add_regions(data: bytes, regions: Regions, name: str = "the sidecar") -> bytes:
    """The sidecar with the faces added; regions that stand there already are left as they are."""
    if not regions.faces or packet.find_property(packet.rdf_of(data, name), MWG, "Regions"):
        return data
    items = "".join(_item(box) for box in regions.faces)
    inner = (
        f'<rdf:Description xmlns:stArea="{_AREA}" xmlns:stDim="{_SIZE}">'
        f'<mwg-rs:AppliedToDimensions stDim:w="{regions.width_px}" stDim:h="{regions.height_px}"'
        ' stDim:unit="pixel"/>'
        f"<mwg-rs:RegionList><rdf:Bag>{items}</rdf:Bag></mwg-rs:RegionList></rdf:Description>"
    )
    return packet.with_property(data, name, MWG, "mwg-rs", "Regions", inner)


def _item(box: Box) -> str:
    left, top, right, bottom = box
    return (
        '<rdf:li><rdf:Description mwg-rs:Type="Face"><mwg-rs:Area'
        f' stArea:x="{(left + right) / 2:.6f}" stArea:y="{(top + bottom) / 2:.6f}"'
        f' stArea:w="{right - left:.6f}" stArea:h="{bottom - top:.6f}"'
        ' stArea:unit="normalized"/></rdf:Description></rdf:li>'
    )


def _stored(box: Sequence[float], turned: int) -> Box:
    """A box of the upright picture in the stored one; ``turned`` is the Exif orientation."""
    left, top, right, bottom = (min(1.0, max(0.0, edge)) for edge in box)
    corners = [_stored_point(left, top, turned), _stored_point(right, bottom, turned)]
    across, along = (sorted(values) for values in zip(*corners, strict=True))
    return across[0], along[0], across[1], along[1]


def _stored_point(u: float, v: float, turned: int) -> tuple[float, float]:
    return {
        2: (1 - u, v),
        3: (1 - u, 1 - v),
        4: (u, 1 - v),
        5: (v, u),
        6: (v, 1 - u),
        7: (1 - v, 1 - u),
        8: (1 - v, u),
    }.get(turned, (u, v))
