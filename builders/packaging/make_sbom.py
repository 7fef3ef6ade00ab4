"""List what an installation holds, as CycloneDX.

``python -m builders.packaging.make_sbom PYTHON [FILE]`` needs ``pip install cyclonedx-bom`` in the
environment that runs this; PYTHON is the interpreter of the environment to describe. Names,
releases, licences and what asks for what; a place on this machine is taken out, and the file is
written to build/ unless another is named.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from sitwell.base.files import write_atomically

ROOT = Path(__file__).resolve().parents[2]


def main() -> None:
    """Describe the environment of an interpreter."""
    if len(sys.argv) < 2:
        sys.exit("Name the interpreter of the environment to describe, such as .venv/bin/python.")
    out = Path(sys.argv[2]) if len(sys.argv) > 2 else ROOT / "build" / "sitwell.cdx.json"
    command = [sys.executable, "-m", "cyclonedx_py", "environment", sys.argv[1]]
    command += ["--pyproject", str(ROOT / "pyproject.toml"), "--output-reproducible"]
    made = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    bill = without_places(json.loads(made.stdout))
    write_atomically(out, json.dumps(bill, indent=1, ensure_ascii=False) + "\n")
    print(f"{len(bill['components'])} components are listed in {out}")


def without_places(value: Any) -> Any:
    """The same without links to files of this machine."""
    if isinstance(value, dict):
        return {name: without_places(item) for name, item in value.items()}
    if isinstance(value, list):
        return [without_places(item) for item in value if not _is_place(item)]
    return value


def _is_place(item: Any) -> bool:
    return isinstance(item, dict) and str(item.get("url", "")).startswith("file:")


if __name__ == "__main__":
    main()
