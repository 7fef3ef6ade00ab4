"""Names and versions of the JSON that is written and printed; docs/fields.md tells their fields."""

from collections.abc import Mapping
from typing import Any

VERSIONS = {
    "brief": 1,
    "marks": 1,
    "reading": 1,
    "plan": 1,
    "group": 1,
    "sun": 1,
    "stills": 1,
    "checked frame": 1,
    "sorting": 1,
    "sitting papers": 1,
    "group papers": 1,
    "gear": 1,
}


def format_of(what: str) -> str:
    """The name that a file or an answer carries: "sitwell plan 1"."""
    return f"sitwell {what} {VERSIONS[what]}"


def named(what: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """The content with its format's name before it."""
    return {"format": format_of(what), **content}
