"""Ask whether a pinned release has a known hole: ``python -m builders.packaging.known_holes``.

pip-audit asks the package index for each release in ``requirements/``: what the checks install, and
the reference that tests hold the landmarks against. It ends with 1 where a hole is known. What
could not be asked is said and is no failure: an index or a mirror may not serve what is known of a
single release, and there may be no network.
"""

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
LOCKS = tuple(ROOT / "requirements" / name for name in ("test.txt", "reference.txt"))
LONGEST_S = 300
# Holes that do not concern us, by their number, each with its reason.
HARMLESS: dict[str, str] = {}


def main() -> None:
    """Ask, tell, and fail where something is known."""
    text, why = asked()
    lines, known = told(text, HARMLESS)
    for line in (*lines, *([why] if why else [])):
        print(line)
    sys.exit(1 if known else 0)


def asked() -> tuple[str, str]:
    """pip-audit's answer as JSON, and a sentence where it could give none."""
    command = [sys.executable, "-m", "pip_audit", "--disable-pip", "--format", "json"]
    command += ["--progress-spinner", "off"]
    command += [word for lock in LOCKS for word in ("--requirement", str(lock))]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, check=False, timeout=LONGEST_S
        )
    except subprocess.TimeoutExpired:
        return "", f"Known holes were not asked for: no answer within {LONGEST_S} s."
    if done.stdout.strip():
        return done.stdout, ""
    last = (done.stderr.strip().splitlines() or ["pip-audit said nothing"])[-1]
    return "", f"Known holes were not asked for: {last}"


def told(text: str, harmless: Mapping[str, str]) -> tuple[list[str], int]:
    """What an answer says, line by line, and how many holes it knows that concern us."""
    packages: list[dict[str, Any]] = json.loads(text)["dependencies"] if text else []
    answered = [package for package in packages if "vulns" in package]
    holes = [(package, hole) for package in answered for hole in package["vulns"]]
    known = [hole for _, hole in holes if hole["id"] not in harmless]
    lines = []
    for package, hole in holes:
        mended = ", ".join(hole["fix_versions"]) or "no release yet"
        said = harmless.get(hole["id"], f"mended in {mended}")
        lines.append(f"{package['name']} {package['version']}: {hole['id']} ({said})")
    if packages:
        lines.append(
            f"Known holes: {len(known)} in the {len(answered)} of {len(packages)} pinned releases "
            "that the index tells of."
        )
    return lines, len(known)


if __name__ == "__main__":
    main()
