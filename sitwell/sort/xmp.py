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
from sitwell.base.replacing import replace_known
from sitwell.base.words import tr
from sitwell.sort import packet
from sitwell.sort.regions import Regions, add_regions

_TEMPORARY = re.compile(r"^\..+(-[a-z0-9_]{8}\.part\.xmp|\.xmp\.sitwell-lock)$", re.IGNORECASE)
# How often a rating is merged anew because another program wrote meanwhile.
_TRIES = 20
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

    What another program writes meanwhile is merged into, never written over.

    Written twice is as written once.

    ``form`` is one of ``FORMS``; left out, the sidecar that exists is used, and ``NAME.xmp`` for
    a new one. ``person`` says that this rating is a person's own, which alone may change one.
    """
    path = _path_for(photo, form)
    for attempt in range(_TRIES):
        # Whoever wrote while we did had the last word, also against a choice made with us.
        newest = person and attempt == 0
        written = _merged(photo, path, rating, keywords, newest, faces)
        if written is not None:
            return written
    raise SidecarError(
        tr(
            "{file} is being written by another program without a pause; rate again when it "
            "is done.",
            file=path.name,
        )
    )


def _merged(
    photo: Path,
    path: Path,
    rating: int | None,
    keywords: Sequence[str],
    person: bool,
    faces: Regions | None,
) -> Written | None:
    """One try; None where another program wrote meanwhile, whose words are then merged into."""
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
    if changed and not replace_known(path, before, data):
        return None
    return Written(path=path, changed=changed, why=why)


def sweep(folder: Path, older_than_s: float = 60.0) -> None:
    """Remove half-written temporary files of ours that a killed run left behind."""
    for path in folder.rglob(".*"):
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
    _refuse_what_is_no_file(photo)
    specific, shared = sidecar_names(photo)
    existing = find_sidecars(photo)
    if form is None:
        chosen = existing[0] if existing else shared
    else:
        wanted = specific if form == "NAME.EXT.xmp" else shared
        chosen = next((path for path in existing if path.stem == wanted.stem), wanted)
    # A sidecar may be a link to a file elsewhere: that file is the one to write.
    return chosen.resolve() if chosen.is_symlink() else chosen


def _refuse_what_is_no_file(photo: Path) -> None:
    """What a link to nowhere is meant to say can't be known, so nothing is written past it."""
    for path in sidecar_names(photo):
        for link in (path, path.with_suffix(".XMP")):
            if link.is_symlink() and not link.exists():
                raise SidecarError(
                    tr(
                        "{file} is a link to '{target}', which is not there; put that file back "
                        "or remove the link.",
                        file=link.name,
                        target=link.readlink(),
                    )
                )
            if link.exists() and not link.is_file():  # a pipe would be waited for
                raise SidecarError(
                    tr("{file} is a folder, a pipe or a device; move it away.", file=link.name)
                )


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
