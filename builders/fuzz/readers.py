"""Coverage-guided fuzzing of a reader: ``python -m builders.fuzz.readers NAME [SECONDS]``.

Needs ``pip install atheris`` (Linux), which is not among the development tools because only this
uses it. Stops at the first exception that is not a SitwellError, and says which bytes raised it.
Without a name it lists the readers.
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["sitwell", "PIL", "trimesh"]):
    from builders.fuzz.targets import READERS

LONGEST_BYTES = 120_000


def main() -> None:
    """Fuzz one reader from its seeds for so many seconds."""
    if len(sys.argv) < 2 or sys.argv[1] not in READERS:
        sys.exit(f"Name a reader: {', '.join(READERS)}.")
    reader = READERS[sys.argv[1]]
    seconds = sys.argv[2] if len(sys.argv) > 2 else "60"
    with tempfile.TemporaryDirectory(prefix="sitwell-corpus-") as folder:
        for index, seed in enumerate(reader.seeds()):
            (Path(folder) / f"seed-{index}").write_bytes(seed)
        found = Path(tempfile.gettempdir()) / f"sitwell-{sys.argv[1]}-"
        options = [f"-max_total_time={seconds}", f"-max_len={LONGEST_BYTES}"]
        options += ["-rss_limit_mb=6000", f"-artifact_prefix={found}"]
        atheris.Setup([sys.argv[0], *options, folder], reader.reads_or_refuses)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
