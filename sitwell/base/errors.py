"""Every error Sitwell raises on purpose; each message is one sentence that says what to do.

SitwellError                 the input can't serve (exit code 1)
├── PhotoError               a photograph can't be used
├── FaceError                no usable face in a photograph
├── ModelError               the landmark model is missing or altered
├── MarksError               a marks file can't be read
├── HeadError                a head can't be fitted or loaded
├── SetupError               a set-up that can't stand in the studio
├── PlaceError               a place or time without a sun to compute
├── SearchStoppedError       a search was stopped before it had a plan
├── SheetError               a sheet can't be drawn or written
├── PlanFileError            a plan file can't be read
├── StoreError               records can't be opened, kept or found
│   ├── MigrationError       a schema step that can't be registered or applied
│   ├── ConsentError         nobody said yes to keeping this
│   ├── SealError            a passphrase is missing, wrong or too short
│   └── TransferError        a sitting's file can't be written or taken in
├── ShootError               a folder of frames can't be watched
├── SidecarError             an XMP sidecar can't be read or changed safely
├── SortError                a sitting can't be sorted
├── WebError                 a page's papers or an upload can't serve
└── UsageError               the request itself is wrong (exit code 2)
    ├── WishError            an unknown wish, direction or weight
    ├── KitError             a kit that can't be read
    └── RoomError            a room that can't be read
"""


class SitwellError(Exception):
    """The input can't serve; the message is one sentence that says what to do."""

    exit_code = 1


class PhotoError(SitwellError):
    """A photograph can't be used."""


class FaceError(SitwellError):
    """No usable face in a photograph."""


class ModelError(SitwellError):
    """The landmark model is missing or altered."""


class MarksError(SitwellError):
    """A marks file can't be read."""


class HeadError(SitwellError):
    """A head can't be fitted or loaded."""


class SetupError(SitwellError):
    """A set-up that can't stand in the studio."""


class PlaceError(SitwellError):
    """A place or time without a sun to compute."""


class SearchStoppedError(SitwellError):
    """A search was stopped before it had a plan."""


class SheetError(SitwellError):
    """A sheet can't be drawn or written."""


class PlanFileError(SitwellError):
    """A plan file can't be read."""


class ShootError(SitwellError):
    """A folder of frames can't be watched."""


class SidecarError(SitwellError):
    """An XMP sidecar can't be read or changed safely."""


class SortError(SitwellError):
    """A sitting can't be sorted."""


class StoreError(SitwellError):
    """Records can't be opened, kept or found."""


class MigrationError(StoreError):
    """A schema step that can't be registered or applied."""


class ConsentError(StoreError):
    """Nobody said yes to keeping this."""


class SealError(StoreError):
    """A passphrase is missing, wrong or too short."""


class TransferError(StoreError):
    """A sitting's file can't be written or taken in."""


class WebError(SitwellError):
    """A page's papers or an upload can't serve."""


class UsageError(SitwellError):
    """The request itself is wrong."""

    exit_code = 2


class WishError(UsageError):
    """An unknown wish, direction or weight."""


class KitError(UsageError):
    """A kit that can't be read."""


class RoomError(UsageError):
    """A room that can't be read."""
