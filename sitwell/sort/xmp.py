"""Ratings and keywords in XMP sidecars beside the photographs, merged into what is there.

Two names are in use: ``NAME.xmp``, shared by a raw file and its JPEG, and ``NAME.EXT.xmp`` for
one file. Where both exist the second is the more specific and is the one that counts; neither
is ever written over by the other. A rating that a person gave is never changed.
"""

import contextlib
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import SidecarError
from sitwell.base.files import make_atomically
from sitwell.base.words import tr
from sitwell.sort import packet
from sitwell.sort.regions import Regions, add_regions

_TEMPORARY = re.compile(r"^\..+-[a-z0-9_]{8}\.part\.xmp$", re.IGNORECASE)
FORMS = ("NAME.xmp", "NAME.EXT.xmp")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sidecar:
    """What the sidecar of one photograph says; ``by_person`` when the rating is not ours."""

    path: Path
    rating: float | None
    keywords: tuple[str, ...]
    by_person: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What became of one rating: the sidecar, whether it changed, and why not where not."""

    path: Path
    changed: bool
    why: str = ""


def sidecar_names(photo: Path) -> tuple[Path, Path]:
    """Both sidecar names of a photograph, the more specific one first."""
    return photo.with_name(photo.name + ".xmp"), photo.with_suffix(".xmp")


def find_sidecars(photo: Path) -> list[Path]:
    """The sidecars that exist, the more specific first; ``.XMP`` counts as well."""
    found = []
    for path in sidecar_names(photo):
        spellings = (path, path.with_suffix(".XMP"))
        found += [spelling for spelling in spellings if spelling.is_file()][:1]
    return found


def read_sidecar(photo: Path) -> Sidecar | None:
    """What the most specific sidecar says that has a rating, or else the most specific one."""
    read = [_read(path) for path in find_sidecars(photo)]
    rated = [sidecar for sidecar in read if sidecar.rating is not None]
    return next(iter(rated + read), None)


def write_sidecar(
    photo: Path,
    rating: int | None = None,
    keywords: Sequence[str] = (),
    form: str | None = None,
    person: bool = False,
    faces: Regions | None = None,
) -> Written:
    """Merge a rating, keywords and ``faces`` into the sidecar of ``photo``; atomic.

    Written twice is as written once.

    ``form`` is one of ``FORMS``; left out, the sidecar that exists is used, and ``NAME.xmp`` for
    a new one. ``person`` says that this rating is a person's own, which alone may change one.
    """
    path = _path_for(photo, form)
    before = path.read_bytes() if path.exists() else None
    data = packet.empty_packet() if before is None else before
    why = ""
    if rating is not None:
        theirs = None if person else _persons_rating(photo)
        if theirs is None:
            data = packet.set_rating(data, rating, path.name)
        elif theirs.rating != rating:
            why = _theirs(theirs)
    data = packet.add_keywords(data, list(keywords), path.name)
    if faces is not None:
        data = add_regions(data, faces, path.name)
    changed = data != before and (before is not None or data != packet.empty_packet())
    if changed:
        _replace(path, before, data)
    return Written(path=path, changed=changed, why=why)


def sweep(folder: Path, older_than_s: float = 60.0) -> None:
    """Remove half-written temporary files of ours that a killed run left behind."""
    for path in folder.rglob(".*-*.part.*"):
        with contextlib.suppress(OSError):
            old = time.time() - path.stat().st_mtime > older_than_s
            if old and _TEMPORARY.match(path.name):
                path.unlink()


def _path_for(photo: Path, form: str | None) -> Path:
    if form not in (None, *FORMS):
        raise SidecarError(
            tr(
                "The sidecar form '{form}' is not known; choose one of {forms}.",
                form=form,
                forms=FORMS,
            )
        )
    specific, shared = sidecar_names(photo)
    existing = find_sidecars(photo)
    if form is None:
        chosen = existing[0] if existing else shared
    else:
        wanted = specific if form == "NAME.EXT.xmp" else shared
        chosen = next((path for path in existing if path.stem == wanted.stem), wanted)
    # A sidecar may be a link to a file elsewhere: that file is the one to write.
    return chosen.resolve() if chosen.is_symlink() else chosen


def _persons_rating(photo: Path) -> Sidecar | None:
    """The sidecar in which a person spoke, in either form; theirs always wins."""
    return next((s for s in map(_read, find_sidecars(photo)) if s.by_person), None)


def _read(path: Path) -> Sidecar:
    says = packet.read_packet(path.read_bytes(), path.name)
    return Sidecar(
        path=path, rating=says.rating, keywords=says.keywords, by_person=_is_persons(says)
    )


def _is_persons(says: packet.Says) -> bool:
    """Whether a person decided: a rating that is not what we wrote, or ours taken away.

    A plain 0 means unrated and is written unasked by many programs, so it decides nothing
    unless it replaces a rating of ours. A rating that is no number is left to its owner.
    """
    if says.our_rating is not None:
        return says.rating != says.our_rating
    return bool(says.rating_text) and says.rating != 0


def _theirs(sidecar: Sidecar) -> str:
    if sidecar.rating is None:
        return tr("a person took its rating away in {file}", file=sidecar.path.name)
    return tr(
        "a person rated it {rating} in {file}",
        rating=f"{sidecar.rating:g}",
        file=sidecar.path.name,
    )


def _replace(path: Path, before: bytes | None, data: bytes) -> None:
    mode = path.stat().st_mode & 0o777 if before is not None else None

    def make(temporary: Path) -> None:
        temporary.write_bytes(data)
        # Another program may have written while we merged; its words must not be lost.
        if (path.read_bytes() if path.exists() else None) != before:
            raise SidecarError(
                tr("{file} changed while it was read; write the rating again.", file=path.name)
            )

    make_atomically(path, make)
    if mode is not None:
        path.chmod(mode)
