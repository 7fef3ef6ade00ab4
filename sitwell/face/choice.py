"""Which face of a photograph is the sitter's: the only one, the far larger one, or the one named.

Faces are counted from camera left, starting at 1.
"""

from collections.abc import Sequence

from sitwell.base.errors import FaceError
from sitwell.base.words import tr
from sitwell.face.landmarks import FaceReading

# A face this many times as large as the next is the sitter's; the other is a passer-by.
_CLEARLY_LARGER = 2.0


def choose_face(faces: Sequence[FaceReading], name: str, face: int | None = None) -> FaceReading:
    """The sitter's face out of those found in the photograph ``name``.

    Raises FaceError when there is none, when several could be meant, or when ``face`` counts past
    those that were found.
    """
    if not faces:
        raise FaceError(
            tr(
                "No face was found in '{name}'; give a frame that shows both eyes, turned less "
                "than about 50 degrees, with the face larger in the picture.",
                name=name,
            )
        )
    if face is not None:
        if not 1 <= face <= len(faces):
            raise FaceError(
                tr(
                    "There is no face {face} in '{name}'; choose from 1 to {count}, counted "
                    "from camera left.",
                    face=face,
                    name=name,
                    count=len(faces),
                )
            )
        return faces[face - 1]
    by_size = sorted(faces, key=lambda f: -f.side_px)
    if len(faces) > 1 and by_size[0].side_px < _CLEARLY_LARGER * by_size[1].side_px:
        raise FaceError(
            tr(
                "There are {count} faces in '{name}'; say which is the sitter's, from 1 at "
                "camera left to {count} at camera right.",
                count=len(faces),
                name=name,
            )
        )
    return by_size[0]
