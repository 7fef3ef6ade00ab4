"""Sitwell plans a portrait from this sitter's face: pose, camera, light and crop together.

    import sitwell

    brief = sitwell.open_brief("mara.toml")
    sitters = sitwell.read(brief)
    made = sitwell.plan(brief, sitters)
    sitwell.write_sheets(made, "sheets")

The names in ``__all__`` are for scripts and notebooks (docs/python.md); each is looked up when it
is first used, so that importing costs next to nothing.

The folders are listed in the order of the work, and a folder imports only from those above it:
base, brief, face, head, scene, search, sheet, shoot, sort, store, ui.
``flow.py`` puts them together.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sitwell.brief.request import Brief, SitterBrief, brief_of, open_brief, save_brief
    from sitwell.flow import picture, plan, read, rows, sort_frames, watch_folder, write_sheets
    from sitwell.scene.measures import measure
    from sitwell.scene.setup import Setup

__version__ = "0.1.0"

_HOMES = {
    "sitwell.brief.request": ("Brief", "SitterBrief", "brief_of", "open_brief", "save_brief"),
    "sitwell.flow": (
        *("read", "plan", "write_sheets", "watch_folder", "sort_frames", "rows", "picture"),
    ),
    "sitwell.scene.measures": ("measure",),
    "sitwell.scene.setup": ("Setup",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [  # noqa: RUF022 - in the order of the work
    "Brief",
    "SitterBrief",
    "brief_of",
    "open_brief",
    "save_brief",
    "read",
    "plan",
    "rows",
    "write_sheets",
    "watch_folder",
    "sort_frames",
    "Setup",
    "measure",
    "picture",
]


def __getattr__(name: str) -> Any:
    """Look a public name up where it lives."""
    if name not in _HOME_OF:
        raise AttributeError(f"module 'sitwell' has no attribute '{name}'")
    return getattr(import_module(_HOME_OF[name]), name)


def __dir__() -> list[str]:
    """The public names."""
    return sorted([*__all__, "__version__"])
