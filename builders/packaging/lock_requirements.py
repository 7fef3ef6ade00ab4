"""Pin all that the checks install, with hashes: ``python -m builders.packaging.lock_requirements``.

Needs ``pip install uv``. The pins hold for every system and for Python 3.11 and newer; the file
names no index, so pip's own settings say where packages come from.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
EXTRAS = ("dev", "web", "scan", "sun", "cluster", "postgres")
LOCK = ROOT / "requirements" / "test.txt"


def main() -> None:
    """Write requirements/test.txt anew, from the newest releases that fit pyproject.toml."""
    command = [sys.executable, "-m", "uv", "pip", "compile", "pyproject.toml"]
    command += ["--universal", "--python-version=3.11", "--upgrade", "--generate-hashes"]
    command += ["--no-emit-index-url", "--no-emit-find-links", "--no-header"]
    command += [f"--extra={extra}" for extra in EXTRAS]
    command += [f"--output-file={LOCK.relative_to(ROOT)}", "--quiet"]
    sys.exit(subprocess.run(command, cwd=ROOT, check=False).returncode)


if __name__ == "__main__":
    main()
